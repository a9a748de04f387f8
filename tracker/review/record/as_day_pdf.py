"""The debrief of a list on one typeset page, and the register sheet of each case on one of its own."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from tracker.core.wording import CAUTION, CAUTIONS
from tracker.paper.typeset import all_legible, typeset
from tracker.review.record.as_day import HEADINGS, DayPage
from tracker.review.record.as_sheet import sheet_lines
from tracker.review.record.structure import Record


def pdf(page: DayPage | None, sheets: Sequence[Record], program: str) -> bytes:
    """The page, if there is one, and the register sheet of each case on a page of its own."""
    data = {
        "title": page.title if page else f"Register sheet of {', '.join(r.header.case for r in sheets)}",
        "program": program,
        "caution": CAUTION,
        "cautions": CAUTIONS,
        "about": page.about if page else (),
        "headings": HEADINGS,
        "rows": page.rows if page else (),
        "sections": page.sections if page else (),
        "sheets": [{"case": r.header.case, "lines": [*sheet_lines(r)]} for r in sheets],
        "day": page is not None,
    }
    return typeset(_template(), all_legible(data))


@cache
def _template() -> bytes:
    return files("tracker.review.record").joinpath("templates", "day.typ").read_bytes()
