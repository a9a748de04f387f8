"""Sheets to read: an entry in full, all deviations, the debrief so far, the keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from tracker.core.deviations import Deviation
from tracker.core.wording import clock_time
from tracker.review.plain_text import debrief_lines
from tracker.review.screen.forms import begun
from tracker.review.screen.picture import LEGEND
from tracker.review.screen.telling import (
    about,
    beneath_words,
    deviation_words,
    expected_words,
    reason_words,
    unjudged_words,
)
from tracker.screen.commands import keys_of
from tracker.screen.panels import Row, Sheet

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk


def _sheet(desk: ReviewDesk, title: str, told: Callable[[ReviewDesk], Sequence[Row]], command: str) -> None:
    desk.panel = Sheet(title, partial(told, desk), desk.keys_of(command))


def show_entry(desk: ReviewDesk) -> None:
    """Show everything about the entry under the cursor."""
    _sheet(desk, "The entry under the cursor", entry_rows, "entry")


def entry_rows(desk: ReviewDesk) -> Sequence[Row]:
    """The lines about the entry, each whole."""
    return [Row("", words) for words, _ in about(desk.around, desk.here, desk.item)]


def show_deviations(desk: ReviewDesk) -> None:
    """Show all deviations with their reasons."""
    _sheet(
        desk, "Deviations, strongest first; those not logged at the time last", deviation_rows, "deviations"
    )


def deviation_rows(desk: ReviewDesk) -> Sequence[Row]:
    """One row a deviation."""
    found = sorted(desk.drawn.found, key=lambda d: bool(d.given and d.given.how == "not_logged"))
    rows = [Row("", words) for d in found for words in _deviation_lines(desk, d)]
    rows = rows or [Row("", "nothing differs from the file")]
    return [*rows, *(Row("", _unjudged_line(desk, d)) for d in desk.drawn.unjudged)]


def _deviation_lines(desk: ReviewDesk, d: Deviation) -> Iterator[str]:
    about = f"{clock_time(d.when.at)}  {deviation_words(desk.case, d)}"
    yield f"{about}. {expected_words(d)}. {reason_words(desk.case, d)}"
    yield from (f"          {words}" for words in beneath_words(desk.case, d))


def _unjudged_line(desk: ReviewDesk, d: Deviation) -> str:
    return f"{clock_time(d.when.at)}  {unjudged_words(desk.case, d)}"


def show_debrief(desk: ReviewDesk) -> None:
    """Show what the debrief says so far."""
    _sheet(desk, "The debrief", debrief_rows, "debrief")


def debrief_rows(desk: ReviewDesk) -> Sequence[Row]:
    """What was said, then what was begun and not said."""
    return [*(Row("", line) for line in debrief_lines(desk.review)), *_begun(desk)]


def _begun(desk: ReviewDesk) -> Iterator[Row]:
    for form in begun(desk):
        yield Row("", f"begun, not said: {form.partition(':')[0].replace('_', ' ')}")


def show_keys(desk: ReviewDesk) -> None:
    """Show every key, and what the signs of the picture mean."""
    _sheet(desk, "Keys", key_rows, "key_sheet")


def key_rows(desk: ReviewDesk) -> Sequence[Row]:
    """The key sheet, from the commands as they are."""
    signs = [Row(sign, does) for sign, does in LEGEND]
    return [*(Row(keys_of(c), c.does) for c in desk.commands), *signs]
