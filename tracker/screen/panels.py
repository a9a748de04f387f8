"""What may lie over the foot of the board: a question, a count, a line of text, a sheet to read.

A panel says of a key whether it used it. What becomes of one that it did not use is the desk's to decide: a list
of letters is never left by a letter that is not its own, or a slip would write. Whatever was typed is kept as a
draft and found again. Keys are named as by Textual, a printable one by its character.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Protocol

from msgspec import Struct
from msgspec.structs import replace

from tracker.core.text import identifying, shown

NOTE_LENGTH = 2000
"""Longest note that is kept, in characters."""
TAIL = 240
"""How much of its end is shown while it is written."""
LARGEST = 1e9
"""No number larger than this is taken, as in a protocol file."""
LEAF = 4
"""Rows that Up and Down turn a sheet by."""
_TURNS = {"up": -LEAF, "down": LEAF, "pageup": -2 * LEAF, "pagedown": 2 * LEAF}
FIGURE_LENGTH = 9
"""Most characters of a figure."""
DIGITS = tuple("0123456789")
FIGURES = (*DIGITS, ".", "-")
"""What a figure is typed with, asked for or not."""


class Row(Struct, frozen=True, gc=False):
    """A line of a panel: the key that picks it, its words, whether it is marked."""

    key: str
    text: str
    marked: bool = False


class Panel(Protocol):
    """Something over the foot of the board."""

    open: bool

    @property
    def title(self) -> str:
        """Its heading."""

    @property
    def lists(self) -> bool:
        """Whether letters answer it: then a letter that is not its own is refused, and goes nowhere else."""

    def rows(self) -> Sequence[Row]:
        """Its lines."""

    def press(self, key: str) -> bool:
        """Use a key; false where it means nothing here."""

    def types(self, key: str) -> bool:
        """Whether a key is typed into it: then the same key twice at once is two letters or two figures."""

    def doubled(self) -> None:
        """Hear that the last thing typed came twice at once."""


class PlainPanel:
    """What holds of a panel that says nothing else: no letter answers it, nothing is typed into it."""

    @property
    def lists(self) -> bool:
        """No letter answers it."""
        return False

    def types(self, key: str) -> bool:  # noqa: ARG002 - for those that are typed into
        """Nothing is typed into it."""
        return False

    def doubled(self) -> None:
        """Nothing is kept of it, or it is looked at before it is kept."""


def number(typed: str) -> int | float | None:
    """The number that was typed, whole if it is; None where it is none, or one that no file could hold."""
    try:
        value = float(typed)
    except ValueError:
        return None
    if not abs(value) <= LARGEST:
        return None
    return int(value) if value.is_integer() else value


def inside(value: float, bounds: tuple[float, float]) -> bool:
    """Whether a value is within bounds, both included."""
    return bounds[0] <= value <= bounds[1]


def blanks(text: str) -> str:
    """Text with blanks as the board shows them: none at the beginning, one between words."""
    return re.sub(r"\s+", " ", text).lstrip()


class Figures(PlainPanel):
    """Figures typed where none was asked for: nothing is written, and the next reading may take them along."""

    title = "Figures that nothing asked for"

    def __init__(self, key: str, offer: str) -> None:
        """`key` is the first of them, `offer` says how they may become a reading."""
        self.typed = key
        self.offer = offer
        self.open = True

    def types(self, key: str) -> bool:
        """Figures are typed here."""
        return key in FIGURES

    def rows(self) -> Sequence[Row]:
        """What was typed, and what may become of it."""
        return [Row("", f"{self.typed}_", marked=True), Row("", f"{self.offer}; Enter or Esc drops them")]

    def press(self, key: str) -> bool:
        """Take a figure more, correct, or drop them."""
        if key in ("enter", "escape"):
            self.open = False
        elif key == "backspace":
            self.typed = self.typed[:-1]
        elif key in FIGURES:
            self.typed = (self.typed + key)[:FIGURE_LENGTH]
        else:
            return False
        return True


class Write(PlainPanel):
    """A line of free words. Everything printable goes into it; Enter keeps it, Esc leaves it as a draft."""

    def __init__(self, ident: str, title: str, done: Callable[[str], None], drafts: dict[str, str]) -> None:
        self.ident = ident
        self.title = title
        self.done = done
        self.drafts = drafts
        self.questioned = ""
        self.says = ""
        self.open = True

    def types(self, key: str) -> bool:
        """Whatever prints is typed here."""
        return len(key) == 1 or key == "space"

    def rows(self) -> Sequence[Row]:
        """What is written so far."""
        text = self.drafts.get(self.ident, "")
        before = len(text) - TAIL
        tail = f"({before} characters before) {text[-TAIL:]}" if before > 0 else text
        rows = [Row("", f"{shown(tail)}_", marked=True)]
        return [*rows, Row("", self.says or "Enter keeps it, Esc leaves it")]

    def press(self, key: str) -> bool:
        """Write, correct, keep or leave."""
        text = self.drafts.get(self.ident, "")
        if key == "escape":
            self.open = False
        elif key == "backspace":
            self.drafts[self.ident] = text[:-1]
        elif key == "enter":
            self._keep(text.strip())
        elif key == "space":
            self.paste(" ")
        elif len(key) == 1:
            self.paste(key)
        return True

    def paste(self, more: str) -> None:
        """Add text; what is over the longest length is cut, and said."""
        text = blanks(self.drafts.get(self.ident, "") + shown(more))
        self.drafts[self.ident] = text[:NOTE_LENGTH]
        self.says = (
            f"a note holds {NOTE_LENGTH} characters: the rest was cut" if len(text) > NOTE_LENGTH else ""
        )

    def _keep(self, text: str) -> None:
        person = identifying(text)
        if person and self.questioned != text:
            self.questioned = text
            self.says = f"looks like {' and '.join(person)}: no patient identifiers. Enter again keeps it"
            return
        self.open = False
        self.drafts.pop(self.ident, None)
        if text:
            self.done(text)


class Sheet(PlainPanel):
    """Something to read; Esc and the keys that opened it close it."""

    def __init__(self, title: str, told: Callable[[], Sequence[Row]], own: Sequence[str] = ()) -> None:
        self.title = title
        self.told = told
        self.closing = ("escape", *own)
        self.at = 0
        self.open = True

    def rows(self) -> Sequence[Row]:
        """What there is to read; the row that was turned to is marked, and so is always in view."""
        return [replace(row, marked=0 < self.at == i) for i, row in enumerate(self.told())]

    def press(self, key: str) -> bool:
        """Leave, or turn over a long sheet."""
        if key in self.closing:
            self.open = False
        elif by := _TURNS.get(key):
            self.at = min(max(0, self.at + by), max(0, len(self.told()) - 1))
        return key in self.closing or key in _TURNS
