"""The kinds of journal that an archive keeps: the log of a case, its debrief and follow-up, the book of a list."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from msgspec import Struct

from tracker.core.day_plan import day_of
from tracker.journal.codes import check_code


def check_list_name(text: str) -> str | None:
    """Why `text` cannot be the name of a list, as a sentence; None when it can."""
    if day_of(text) is None:
        return "A list is named by its day, as 2026-12-01, or 2026-12-01-pm for a second one."
    return None


class Book(Struct, frozen=True):
    """A kind of journal: its file is the case code and `suffix`, what lies beside it code, `stem` and more.

    `word` is what a sentence calls it before the case code, `noun` the same at its beginning. `why_not` says why
    a text cannot be what its file is named by; of a list that is its day.
    """

    stem: str
    suffix: str
    word: str
    noun: str
    why_not: Callable[[str], str | None] = check_code

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
LIST: Final = Book(".list", ".list.jsonl", "book of list", "The book of list", check_list_name)

ACUITY: Final = "acuity.toml"
"""A department's own table of acuity, in the archive folder."""

BESIDE: Final = (DEBRIEF, FOLLOW_UP)
"""The books that may lie beside a log. Each points at it by its first line, and goes where the log goes."""
