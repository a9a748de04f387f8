"""The kinds of journal that an archive keeps: the log of a case, and its debrief beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Book:
    """A kind of journal: its file is the case code and `suffix`, what lies beside it code, `stem` and more.

    `word` is what a sentence calls it before the case code, `noun` the same at its beginning.
    """

    stem: str
    suffix: str
    word: str
    noun: str

    def called(self, code: str) -> str:
        """The journal as a sentence begins with it: `Case A-0001`."""
        return f"{self.noun} {code}"

    def named(self, code: str) -> str:
        """The journal inside a sentence, without an article: `case A-0001`."""
        return f"{self.word} {code}"


CASE: Final = Book("", ".case.jsonl", "case", "Case")
DEBRIEF: Final = Book(".debrief", ".debrief.jsonl", "debrief of case", "The debrief of case")
