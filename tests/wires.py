"""What terminals send that nobody typed, and what must hold after it; for the tests and for the fuzzer."""

from __future__ import annotations

from collections.abc import Iterable

from hypothesis import strategies as st

from tracker.screen.hand import Hand
from tracker.screen.sequences import SEQUENCES
from tracker.screen.wire import LONGEST, PASTE_MOST, SLOW_S, Heard, Key, Pasted, Synchronises, Wire

ANSWERS = {
    "what terminal it is": "\x1b[?62;22c",
    "its second answer": "\x1b[>1;7802;0c",
    "its third": "\x1bP!|00000000\x1b\\",
    "a colour": "\x1b]11;rgb:0000/0000/0000\x1b\\",
    "a colour, ended by a bell": "\x1b]11;rgb:rrrr/ssss/llll\x07",
    "its version": "\x1bP>|slrsl(390)\x1b\\",
    "a window size": "\x1b[8;24;80t",
    "a window size unasked": "\x1b[48;24;80;480;800t",
    "a title": "\x1b]lslsr\x1b\\",
    "a setting": "\x1bP1$r0;1m\x1b\\",
    "a capability": "\x1bP1+r544e=787465726d\x1b\\",
    "where the cursor is": "\x1b[24;80R",
    "that all is well": "\x1b[0n",
    "a mode": "\x1b[?2048;2$y",
    "the focus": "\x1b[I\x1b[O",
    "a mouse": "\x1b[<35;80;24M\x1b[<0;3;4m",
    "a mouse of old": "\x1b[M rs",
    "a mouse of urxvt": "\x1b[32;80;24M",
    "a picture's": "\x1b_Gi=31;OK\x1b\\",
    "a privacy message": "\x1b^rsl\x1b\\",
    "a start of string": "\x1bXrsl\x1b\\",
    "eight-bit ones": "\x9b?62;22c\x9d11;rgb:s\x9c\x90>|rsl\x9c\x9fr\x9c\x9es\x9c\x98l\x9c",
    "a key of the newer protocol": "\x1b[115;1:1u\x1b[54;1:1u\x1b[115;;115u",
    "a key with a code beyond all": "\x1b[99999999999u",
    "a key with a colon": "\x1b[:A\x1b[1:A\x1b[;:u",
    "a key with Shift, Ctrl, Alt": "\x1b[1;2A\x1b[1;5P\x1b[3;3~\x1b[27;5;115~",
    "a pedal beyond F12": "\x1b[25~\x1b[34~",
    "an old key with others held": "\x1bOa\x1bO5A\x1b[a",
    "a number beyond all": f"\x1b[{'9' * 5000}~",
    "a control character within": "\x1b[1\r;\ts\x1b[1;5\nA",
    "a paste's end without its begin": "\x1b[201~",
}
"""Each in a terminal's own words; letters in them are steps of the tests' files."""

_BODY = st.text("0123456789;:<=>? !\"#$%&'()*+,-./\r\n\t\x00", max_size=40)
_FINAL = st.characters(min_codepoint=0x40, max_codepoint=0x7E)
_INSIDE = st.text(st.characters(exclude_characters="\x1b\x07\x9c", exclude_categories=("Cs",)), max_size=40)
_CUT_OFF = "".join(chr(n) for n in range(0x20)) + "\x7f"


def _unknown(whole: str) -> bool:
    """Whether a sequence is none of ours, and begins nothing more: a paste, a mouse's, a console's."""
    told = whole.translate({ord(sign): None for sign in _CUT_OFF})
    return told not in SEQUENCES and told not in ("[200~", "[M", "[[")


def foreign() -> st.SearchStrategy[str]:
    """A complete sequence that is no key: CSI, SS3, or a string, in the old form or the eight-bit one."""
    sequences = st.builds("{}{}{}".format, st.sampled_from("[O"), _BODY, _FINAL).filter(_unknown)
    csi = sequences.flatmap(
        lambda whole: st.sampled_from(["\x1b" + whole, {"[": "\x9b", "O": "\x8f"}[whole[0]] + whole[1:]])
    )
    begin = st.sampled_from(["\x1bP", "\x1b]", "\x1bX", "\x1b^", "\x1b_", *"\x90\x9d\x98\x9e\x9f"])
    strings = st.builds("{}{}{}".format, begin, _INSIDE, st.sampled_from(["\x1b\\", "\x07", "\x9c"]))
    mouse = st.builds("\x1b[M{}".format, st.text(_FINAL, min_size=3, max_size=3))
    return st.one_of(csi, strings, mouse, st.sampled_from(list(ANSWERS.values())))


_BEGUN = [
    "\x1b",
    "\x1b[",
    "\x1b[200~",
    "\x1b[201~",
    "\x1b]",
    "\x1bP",
    "\x1bO",
    "\x9b",
    "\x9d",
    "\x1b\\",
    "\x07",
    "\x1b[M",
]
NOISE = st.lists(
    st.tuples(
        st.one_of(foreign(), st.text(max_size=30), st.sampled_from(_BEGUN)),
        st.sampled_from([0.0, 0.0, 0.001, 0.04, 0.06, 0.3, 1.2]),
    ),
    max_size=8,
)
"""Pieces of anything, each with the pause before it."""


def words(heard: Iterable[Heard]) -> list[str]:
    """What was heard, in short."""
    return [_word(one) for one in heard]


def _word(one: Heard) -> str:
    if isinstance(one, Key):
        return one.name
    if isinstance(one, Pasted):
        return f"pasted {one.text}"
    return "synchronises" if isinstance(one, Synchronises) else one.words


def next_key_works(pieces: Iterable[tuple[str, float]]) -> list[Heard]:
    """Give pieces with pauses to the wire and the hand, wait, press a key: it must be that key and no more.

    Raises:
        AssertionError: it is not, or more is kept than the bounds say.
    """
    wire, hand, now, heard = Wire(), Hand(0.0), 0.0, []
    for text, pause in pieces:
        heard += _silence(wire, hand, now, now + pause)
        now += pause
        heard += hand.take(wire.feed(text, now), now, now)
        assert len(wire._begun) <= LONGEST
        assert sum(map(len, wire._paste)) <= PASTE_MOST
    heard += _silence(wire, hand, now, now + 2 * SLOW_S)
    now += 2 * SLOW_S
    told = hand.take(wire.feed("s", now), now, now)
    assert words(told) == ["s"], (heard, told)
    return heard


_KINDS = ("\x1b[", "\x1bO", "\x9b", "\x8f", "\x1bP", "\x1b]", "\x1bX", "\x1b^", "\x1b_", "\x90", "\x9d")
_PAUSES = (0.0, 0.0, 0.0, 0.02, 0.06, 0.3, 1.2)


def take_bytes(data: bytes) -> None:
    """Bytes of a stranger as what a terminal sends: raw, in pieces with pauses; and as what a sequence holds.

    Raises:
        AssertionError: a sequence that is no key was one, or the next key was not taken.
    """
    if not data:
        return
    size = 1 + data[0] % 32
    parts = [data[n : n + size] for n in range(1, len(data), size)]
    next_key_works((part.decode("utf-8", "replace"), _PAUSES[part[0] % len(_PAUSES)]) for part in parts)
    whole = _sequence_of(data)
    if whole:
        heard = Wire().feed(f"{whole}s", 0.0)
        assert words(heard) == ["s"], (whole, heard)


def _sequence_of(data: bytes) -> str:
    """A complete sequence that holds these bytes, if it is none of our keys."""
    begin = _KINDS[data[0] % len(_KINDS)]
    if begin[-1] in "[O\x9b\x8f":
        body = "".join(chr(0x20 + byte % 0x20) for byte in data[2:])
        sort = {"\x9b": "[", "\x8f": "O"}.get(begin, begin[-1])
        final = chr(0x40 + data[-1] % 0x3F)
        return f"{begin}{body}{final}" if _unknown(f"{sort}{body}{final}") else ""
    inside = data[2:].decode("latin-1").translate({ord(sign): None for sign in "\x1b\x07\x9c"})
    return begin + inside + ("\x1b\\", "\x07", "\x9c")[data[-1] % 3]


def _silence(wire: Wire, hand: Hand, now: float, until: float) -> list[Heard]:
    """Listen as the program does, a tenth of a second at a time."""
    heard: list[Heard] = []
    while (now := now + 0.1) < until:
        heard += [*hand.tick(now), *wire.tick(now)]
    return heard
