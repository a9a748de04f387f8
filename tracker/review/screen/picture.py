"""Lanes as lines of text: bars, marks, bands, and the cursor as a shape before it is a colour."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from rich.cells import cell_len

from tracker.core.timeline import MarkKind
from tracker.core.timeline_text import fitted
from tracker.core.wording import hms
from tracker.review.screen.axis import View
from tracker.review.screen.lanes import Item, Row
from tracker.screen.lines import Line

MARKS: Final[Mapping[MarkKind, str]] = {
    "tick": "◆", "safety": "▲", "order": "△", "note": "·", "complication": "●", "bookmark": "★",
}  # fmt: skip
BAR, OPEN, BAND, BOTH, GRID, RULE, TEE, CURSOR = "█", "▶", "░", "▓", "┊", "─", "┬", "▼"
BEFORE, BEHIND = "‹", "›"
LEGEND: Final[tuple[tuple[str, str], ...]] = (
    (BAR, "from start to stop"),
    (OPEN, "no stop is logged"),
    (BAND, "usual range of a stage, 10th to 90th percentile, from its first start"),
    (BOTH, "a bar within that range"),
    (MARKS["tick"], "a tick"),
    (MARKS["safety"], "deviation, safety"),
    (MARKS["order"], "deviation, order"),
    (MARKS["note"], "deviation, note"),
    (MARKS["complication"], "complication"),
    (MARKS["bookmark"], "bookmark"),
    (f"{BEFORE} {BEHIND}", "more of the lane lies outside the view"),
    (CURSOR, "the cursor, on the time axis; > is its lane"),
)
"""The signs of the picture, for the key sheet."""

FIGURE: Final = 9
WIDEST_LABEL: Final = 36
_STRONGEST: Final = ("safety", "order", "complication", "bookmark", "note", "tick")
_COUNTED: Final = frozenset({"deviation", "complication", "bookmark"})
_TONES: Final[Mapping[str, str]] = {
    "safety": "red", "order": "amber", "note": "amber", "complication": "red", "bookmark": "echo",
    "tick": "done",
}  # fmt: skip

Cell = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Page:
    """How the picture is laid out: cells of the labels and of the axis, the view, the round times."""

    left: int
    cells: int
    view: View
    ticks: Mapping[int, str]


def laid_out(width: int, rows: Iterable[Row]) -> tuple[int, int]:
    """Cells of the labels and of the time axis on a screen of `width`."""
    longest = max((cell_len(row.label) for row in rows), default=0)
    left = min(longest, WIDEST_LABEL, width * 3 // 10)
    return left, max(1, width - left - 3 - FIGURE)


def scale(page: Page, cursor_t: float | None) -> list[Line]:
    """The time axis: round times, and under them the rule with the cursor on it."""
    marked = None if cursor_t is None else page.view.cell(cursor_t, page.cells)
    rule = [(TEE if c in page.ticks else RULE, "rule") for c in range(page.cells)]
    if marked is not None and 0 <= marked < page.cells:
        rule[marked] = (CURSOR, "key")
    blank = " " * (page.left + 2)
    return [((blank + _labels(page), "quiet"),), ((blank, "plain"), *_pieces(rule))]


def _labels(page: Page) -> str:
    row = ""
    for cell, label in page.ticks.items():
        start = min(max(0, cell - len(label) // 2), page.cells - len(label))
        if start >= len(row):
            row = row.ljust(start) + label + " "
    return row


def lane(row: Row, page: Page, cursor: Item | None, *, here: bool) -> Line:
    """One lane; `here` is whether the cursor is on it, `cursor` the entry it is at."""
    tone = "live" if here else "plain"
    before, behind = _outside(row.items, page.view)
    return (
        (">" if here else " ", "key"),
        (fitted(row.label, page.left), tone),
        (before, "key"),
        *_pieces(_cells(row, page, cursor if here else None)),
        (behind, "key"),
        (f"{figure(row):>{FIGURE}}", "quiet"),
    )


def figure(row: Row) -> str:
    """What stands at the right of a lane: how many, or how long."""
    if row.kind in _COUNTED:
        return str(len(row.items))
    if row.seconds is None:
        return ""
    told = hms(round(row.seconds))
    return told if len(told) < FIGURE else f"{row.seconds / 3600:.0f} h"


def _cells(row: Row, page: Page, cursor: Item | None) -> list[Cell]:
    cells: list[Cell] = [(GRID, "rule") if c in page.ticks else (" ", "plain") for c in range(page.cells)]
    if row.band:
        for c in page.view.covered(*row.band, page.cells):
            cells[c] = (BAND, "quiet")
    for item in row.items:
        _bar(cells, item, page, "done")
    for mark in sorted((i for i in row.items if i.shape != "bar"), key=_weakest_first):
        _mark(cells, mark, page)
    if cursor is not None:
        _bar(cells, cursor, page, "mark")
        _mark(cells, cursor, page, "mark")
    return cells


def _weakest_first(item: Item) -> int:
    return -_STRONGEST.index(item.shape)


def _bar(cells: list[Cell], item: Item, page: Page, tone: str) -> None:
    if item.shape != "bar" and item.stop_t <= item.start_t:
        return
    covered = page.view.covered(item.start_t, item.stop_t, page.cells)
    for c in covered:
        cells[c] = (BOTH if cells[c][0] in (BAND, BOTH) else BAR, tone)
    if covered and item.open and item.stop_t <= page.view.stop_t:
        cells[covered[-1]] = (OPEN, tone)


def _mark(cells: list[Cell], item: Item, page: Page, tone: str = "") -> None:
    c = page.view.cell(item.start_t, page.cells)
    if item.shape != "bar" and 0 <= c < page.cells:
        cells[c] = (MARKS[item.shape], tone or _TONES[item.shape])


def _outside(items: Sequence[Item], view: View) -> tuple[str, str]:
    """The signs that more of a lane lies before and behind the view."""
    before = any(i.start_t < view.start_t and i.stop_t <= view.start_t for i in items)
    behind = any(i.start_t > view.stop_t for i in items)
    return BEFORE if before else " ", BEHIND if behind else " "


def _pieces(cells: Iterable[Cell]) -> Iterable[Cell]:
    for tone, run in groupby(cells, key=lambda cell: cell[1]):
        yield "".join(text for text, _ in run), tone
