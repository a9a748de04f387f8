"""The wire from the terminal: what is a key comes through, all else is swallowed whole.

A terminal also sends what nobody typed: answers to queries, reports of mouse and focus, pastes, noise of a line. Here
is a small machine of states over what it sends, a character at a time, in constant memory. It knows the keys of
`sequences`; of every other sequence nothing comes through. Esc is a key of its own, and what stands right behind it is
the next key. Nothing pasted is a key. What is begun and does not end is given up after a while, and that is said.

Time is an argument: `at`, in seconds of any clock that does not jump.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from msgspec import Struct

from tracker.screen.sequences import CONTROLS, SEQUENCES

ESC_S: Final = 0.05
"""An Esc with nothing behind it for so long is the key. A terminal sends a sequence in one piece."""
SEQUENCE_S: Final = 0.25
"""A sequence is given up when so long nothing more of it came."""
SLOW_S: Final = 1.0
ENOUGH: Final = 60
"""A string or a paste is given up when fewer than so many characters of it came in `SLOW_S`: a hand and a key held
down are slower than that, and a line is faster, so that nobody types on into a paste whose end was lost."""
_BODY: Final = re.compile(r"[ -?]+")
LONGEST: Final = 16
"""So much of a sequence is remembered; a longer one is none that we know, and is swallowed to its end."""
PASTE_MOST: Final = 100_000
"""So many characters of a paste are kept, fifty times what a note holds; the rest is counted."""

ESC: Final = "\x1b"
BEL: Final = "\x07"
DEL: Final = "\x7f"
ST: Final = "\x9c"
_PASTE: Final = "[200~"
_PASTE_END: Final = f"{ESC}[201~"
_STRINGS: Final = "P]X^_"
"""What stands behind Esc where a DCS, OSC, SOS, PM or APC begins."""
_EIGHT_BIT: Final = {
    "\x8f": "O",
    "\x90": "P",
    "\x98": "X",
    "\x9b": "[",
    "\x9d": "]",
    "\x9e": "^",
    "\x9f": "_",
}
"""The same beginnings as one character each, by what stands behind Esc in the other form."""
_SYNCHRONISES: Final = frozenset(f"[?2026;{n}$y" for n in "123")
"""The terminal's answer that it can show a whole frame at once (mode 2026): the one answer that is of use."""
_MOUSE: Final = "[M"
_MOUSE_TAIL: Final = 3
"""A mouse of old sends three characters behind its sequence, of which each may look like a letter."""
_CONSOLE: Final = "[["
"""The function keys of the Linux console have one character more."""

UNFINISHED: Final = "the terminal sent a sequence without an end: given up, the next key is taken"
PASTE_UNFINISHED: Final = "a paste came without an end: given up, the next key is taken"


class Key(Struct, frozen=True, gc=False):
    """A key by its name, a printable one by its character; `typed` is the character, if it is one on the wire."""

    name: str
    typed: str = ""


class Pasted(Struct, frozen=True, gc=False):
    """Text that was pasted, and how many characters more were cut off."""

    text: str
    cut: int = 0


class Given(Struct, frozen=True, gc=False):
    """Something was given up; the words are for the screen."""

    words: str


class Synchronises(Struct, frozen=True, gc=False):
    """The terminal can show a whole frame at once."""


Heard = Key | Pasted | Given | Synchronises
State = Callable[["Wire", str, int], int]
"""Takes the text and where it is in it; gives where it is then."""


class Wire:
    """The state between two reads: what a sequence or a paste has brought so far, and since when."""

    def __init__(self) -> None:
        self._state: State = Wire._ground
        self._heard: list[Heard] = []
        self._begun = ""
        """Of a sequence: what stands behind its Esc, as far as it is remembered."""
        self._overlong = False
        self._tail = 0
        """So many characters more belong to the sequence, whatever they are."""
        self._owed = False
        """A string was given up; its end may still come."""
        self._paste: list[str] = []
        self._pasted = 0
        self._mark = 0
        """How much of the end of a paste has come."""
        self._last = self._since = 0.0
        self._came = 0

    def feed(self, text: str, at: float) -> list[Heard]:
        """What some text from the terminal is, which came by `at`."""
        here, size = 0, len(text)
        while here < size:
            state, began = self._state, here
            here = state(self, text, here)
            if self._state is state:
                self._came += here - began
            else:
                self._since, self._came = at, 0
        if self._state is not Wire._ground:
            self._last = at
            self._give_up_if_slow(at)
        return self._told()

    def tick(self, at: float) -> list[Heard]:
        """What it means that nothing more had come by `at`."""
        due = self.due()
        if due is not None and at >= due:
            if self._state is Wire._escaped:
                self._state = Wire._ground
                self._key("escape")
            else:
                self._give_up()
        return self._told()

    def due(self) -> float | None:
        """When `tick` is to be asked next, if nothing comes until then."""
        if self._state is Wire._ground:
            return None
        if self._state is Wire._escaped:
            return self._last + ESC_S
        slow = SLOW_S + (self._since if self._came < ENOUGH else self._last)
        if self._state in (Wire._sequence, Wire._rest) or (self._state is Wire._string and not self._came):
            return min(slow, self._last + SEQUENCE_S)
        return slow

    def _told(self) -> list[Heard]:
        heard, self._heard = self._heard, []
        return heard

    def _key(self, name: str, typed: str = "") -> None:
        self._heard.append(Key(name, typed))

    # -- giving up

    def _give_up_if_slow(self, at: float) -> None:
        if self._state is Wire._escaped or at < self._since + SLOW_S:
            return
        if self._came < ENOUGH:
            self._give_up()
        else:
            self._since, self._came = at, 0

    def _give_up(self) -> None:
        pasting = self._state is Wire._pasting
        self._owed = self._state in (Wire._string, Wire._string_escaped)
        self._state = Wire._ground
        if pasting:
            self._end_paste()
        self._heard.append(Given(PASTE_UNFINISHED if pasting else UNFINISHED))

    # -- the states

    def _ground(self, text: str, here: int) -> int:
        """Outside of everything: each character is a key, or begins something, or is nothing."""
        sign = text[here]
        if sign == ESC:
            self._state = Wire._escaped
        elif sign in CONTROLS:
            self._key(CONTROLS[sign], sign)
        elif sign in _EIGHT_BIT:
            self._begin(_EIGHT_BIT[sign])
        elif sign.isprintable():
            self._key("space" if sign == " " else sign, sign)
        return here + 1

    def _escaped(self, text: str, here: int) -> int:
        """Behind an Esc: it begins something, or was the key."""
        sign = text[here]
        if sign in "[O" or sign in _STRINGS:
            self._begin(sign)
            return here + 1
        if sign == "\\" and self._owed:
            self._owed, self._state = False, Wire._ground
            return here + 1
        self._key("escape")
        if sign == ESC:
            return here + 1
        self._state = Wire._ground
        return here

    def _begin(self, sign: str) -> None:
        self._begun, self._overlong = sign, False
        self._state = Wire._string if sign in _STRINGS else Wire._sequence

    def _sequence(self, text: str, here: int) -> int:
        """Within a CSI or SS3: figures and signs, then one letter, which ends it."""
        sign = text[here]
        if " " <= sign <= "?":
            body = _BODY.match(text, here)
            if body and len(self._begun) >= LONGEST:
                self._overlong = True
                return body.end()
            self._begun += sign
        elif "@" <= sign <= "~":
            self._end_sequence(self._begun + sign)
        elif sign == ESC:
            self._state = Wire._escaped
        elif sign in _EIGHT_BIT:
            self._begin(_EIGHT_BIT[sign])
        elif sign > DEL:
            self._state = Wire._ground
        return here + 1  # a control character within is dropped: what nobody typed may hold an Enter

    def _end_sequence(self, whole: str) -> None:
        self._state = Wire._ground
        if self._overlong:
            return
        if whole in (_MOUSE, _CONSOLE):
            self._begun, self._tail = whole, _MOUSE_TAIL if whole == _MOUSE else 1
            self._state = Wire._rest
        elif whole == _PASTE:
            self._paste, self._pasted, self._mark = [], 0, 0
            self._state = Wire._pasting
        elif whole in SEQUENCES:
            self._key(SEQUENCES[whole])
        elif whole in _SYNCHRONISES:
            self._heard.append(Synchronises())

    def _rest(self, text: str, here: int) -> int:
        """Behind a sequence that has a fixed number of characters more."""
        if text[here] == ESC:
            self._state = Wire._escaped
            return here + 1
        self._begun, self._tail = self._begun + text[here], self._tail - 1
        if not self._tail:
            self._state = Wire._ground
            if self._begun in SEQUENCES:
                self._key(SEQUENCES[self._begun])
        return here + 1

    def _string(self, text: str, here: int) -> int:
        """Within a string: all up to its end is swallowed."""
        end = _first(text, here, (ESC, BEL, ST))
        if end == len(text):
            return end
        self._state = Wire._string_escaped if text[end] == ESC else Wire._ground
        return end + 1

    def _string_escaped(self, text: str, here: int) -> int:
        """Behind an Esc in a string: its end, or something else begins and the string has none."""
        if text[here] == "\\":
            self._state = Wire._ground
            return here + 1
        self._state = Wire._escaped
        return here

    def _pasting(self, text: str, here: int) -> int:
        """Within a paste: all up to its end is text, without an Esc."""
        if not self._mark:
            end = _first(text, here, (ESC,))
            self._add(text[here:end])
            self._mark = int(end < len(text))
            return end + self._mark
        if text[here] != _PASTE_END[self._mark]:
            self._add(_PASTE_END[1 : self._mark])
            self._mark = 0
            return here
        self._mark += 1
        if self._mark == len(_PASTE_END):
            self._state = Wire._ground
            self._end_paste()
        return here + 1

    def _add(self, text: str) -> None:
        room = PASTE_MOST - self._pasted
        if text and room > 0:
            self._paste.append(text[:room])
        self._pasted += len(text)

    def _end_paste(self) -> None:
        text = "".join(self._paste)
        self._heard.append(Pasted(text, self._pasted - len(text)))
        self._paste = []


def _first(text: str, here: int, signs: tuple[str, ...]) -> int:
    """Where the first of some signs stands; the end of the text if none does."""
    return min((place for sign in signs if (place := text.find(sign, here)) >= 0), default=len(text))
