"""The kinds of journal that an archive keeps: the log of a case, and beside it its debrief and its follow-up."""

from __future__ import annotations

from typing import Final

from msgspec import Struct


class Book(Struct, frozen=True, gc=False):
    """A kind of journal: its file is the case code and `suffix`, what lies beside it code, `stem` and more.

    `word` is what a sentence calls it before the case code, `noun` the same at its beginning.
    """

    stem: str
    suffix: str
    word: str
    noun: str

    @property
    def thing(self) -> str:
        """What it is, without the case: `debrief`."""
        return self.word.removesuffix(" of case")

    def called(self, code: str) -> str:
        """The journal as a sentence begins with it: `Case A-0001`."""
        return f"{self.noun} {code}"

    def named(self, code: str) -> str:
        """The journal inside a sentence, without an article: `case A-0001`."""
        return f"{self.word} {code}"


CASE: Final = Book("", ".case.jsonl", "case", "Case")
DEBRIEF: Final = Book(".debrief", ".debrief.jsonl", "debrief of case", "The debrief of case")
FOLLOW_UP: Final = Book(".followup", ".followup.jsonl", "follow-up of case", "The follow-up of case")

ACUITY: Final = "acuity.toml"
"""A department's own table of acuity, in the archive folder."""

BESIDE: Final = (DEBRIEF, FOLLOW_UP)
"""The books that may lie beside a log. Each points at it by its first line, and goes where the log goes."""
