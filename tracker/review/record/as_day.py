"""The debrief of a list on one page as text, with the register sheet of each case behind it.

It tells what was planned and what became of it, and what is still to be dealt with; nobody is judged by it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Final

from tracker.core.day_course import Course, Seat, planned_at
from tracker.core.text import shown
from tracker.core.timeline_text import cells, fitted
from tracker.core.wording import CAUTIONS, figure, span_words
from tracker.review.record.as_sheet import WIDTH, sheet_lines, wrapped
from tracker.review.record.debrief_tables import STATE_WORDS
from tracker.review.record.structure import Record

_MOST: Final = 10
"""So many lines of a section are told on the page; what is left out is counted."""
HEADINGS: Final = ("place", "case", "planned", "min", "in", "out", "took", "")
_WIDE: Final = (5, 9, 7, 5, 5, 5, 5, 32)

Records = Mapping[str, Record]


@dataclass(frozen=True, slots=True)
class DayPage:
    """The debrief of a list: its cases as rows under headings, and sections of lines."""

    title: str
    about: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sections: tuple[tuple[str, tuple[str, ...]], ...]


def day_page(its: Course, records: Records) -> DayPage:
    """What the debrief of a list tells; `records` are those of its cases, by code."""
    plan = its.day.plan
    about = [plan.station, f"planned start {plan.start}"]
    about += [f"{figure(plan.session)} min booked"] if plan.session is not None else []
    invented = " (invented cases)" if any(r.header.invented for r in records.values()) else ""
    told = (
        ("Late start", _late_start(its)),
        ("Turnovers", _turnovers(its)),
        ("End of the list", _end(its)),
        ("Differed at safety level", _safety(records)),
        ("To change, from the debriefs", _actions(records)),
        ("Still open", _open(its, records)),
    )
    return DayPage(
        f"Debrief of list {its.day.name}{invented}",
        (", ".join(filter(None, about)), ", ".join(_talked(its))),
        tuple(_row(seat, its, records) for seat in its.seats),
        tuple((title, _some([*lines])) for title, lines in told),
    )


def _some(lines: list[str]) -> tuple[str, ...]:
    if len(lines) <= _MOST:
        return tuple(lines) or ("none",)
    return (*lines[: _MOST - 1], f"and {len(lines) - _MOST + 1} more, in the records of the cases")


def _talked(its: Course) -> Iterator[str]:
    for talk in ("brief", "debrief"):
        said = its.day.talked.get(talk)
        yield f"team {talk} " + (f"{said.at:%H:%M}" if said else "not entered")


def _row(seat: Seat, its: Course, records: Records) -> tuple[str, ...]:
    planned, record = seat.place.planned, records.get(seat.code)
    booked = (
        planned.minutes if planned.minutes is not None or record is None else record.header.planned_minutes
    )
    return (
        str(seat.place.number),
        seat.case.code if seat.case else planned.code or "",
        planned.start or "",
        "" if booked is None else figure(round(booked)),
        f"{seat.came:%H:%M}" if seat.came else "",
        f"{seat.left:%H:%M}" if seat.left else "",
        "" if seat.minutes is None else figure(round(seat.minutes)),
        ", ".join(_remarks(seat, its, record)),
    )


def _remarks(seat: Seat, its: Course, record: Record | None) -> Iterator[str]:
    words, place = its.day.reason_words, seat.place
    if place.added:
        yield f"added ({words(place.added.reason)})" if place.added.reason else "added"
    for move in place.moved:
        yield f"moved ({words(move.reason)})" if move.reason else "moved"
    if seat.case is None:
        yield f"called off ({words(place.off.reason)})" if place.off else "not begun"
    elif not seat.ended:
        yield "no end logged"
    elif record and record.header.stopped:
        yield "stopped early"
    if record and seat.ended:
        yield STATE_WORDS[record.debrief.state] if record.debrief else "debrief not begun"


def _late_start(its: Course) -> Iterator[str]:
    if its.waiting_to_start or its.late_s is None:
        yield "no patient was in"
        return
    given = its.day.late_start
    reason = its.day.reason_words(given.reason) if given else "no reason given"
    early = "before" if its.late_s < 0 else "after"
    span = f"{span_words(60 * (abs(its.late_s) // 60))} {early} the planned start"
    yield f"{span}: {reason}" if its.late else f"first patient in {span}"


def _turnovers(its: Course) -> Iterator[str]:
    for t in its.turnovers:
        reason = its.day.reason_words(t.reason.reason) if t.reason else "no reason given"
        yield f"{t.after} out to {t.before} in: {figure(t.seconds // 60)} min, {reason}"


def _end(its: Course) -> Iterator[str]:
    left = max((seat.left for seat in its.seats if seat.left), default=None)
    if left is None:
        yield "no patient has left"
        return
    yield f"last patient out {left:%Y-%m-%d %H:%M}" + _against_booked(its, left)


def _against_booked(its: Course, left: Any) -> str:
    plan = its.day.plan
    if plan.session is None:
        return ""
    end = planned_at(plan.day, plan.start, left.tzinfo) + timedelta(minutes=plan.session)
    minutes = round((left - end).total_seconds() / 60)
    return f", {abs(minutes)} min {'after' if minutes > 0 else 'before'} the booked end {end:%H:%M}"


def _safety(records: Records) -> Iterator[str]:
    """What differed at safety level, of every case some; what is left out is counted by case."""
    found = {code: [d for d in r.deviations if d.level == "safety"] for code, r in records.items()}
    most = max(2, _MOST // max(1, sum(map(bool, found.values()))))
    for code, its in found.items():
        told = its if len(its) <= most else its[: most - 1]
        for d in told:
            yield f"{code} {d.at[11:16]} {d.label}: {d.words}, {d.reason_words or 'no reason yet'}"
        if len(told) < len(its):
            yield f"{code} and {len(its) - len(told)} more, in its record"


def _actions(records: Records) -> Iterator[str]:
    for code, record in records.items():
        for action in record.debrief.to_change if record.debrief else ():
            beside = ", ".join(filter(None, (action.owner_label, action.due and f"by {action.due}")))
            yield f"{code} {action.action}" + (f" ({beside})" if beside else "")


def _open(its: Course, records: Records) -> Iterator[str]:
    for seat in its.seats:
        if seat.waiting:
            yield f"place {seat.place.number}: not begun and not called off"
    for seat in its.open:
        yield f"{seat.code} no end logged"
    for code, r in records.items():
        yield from (f"{code} {pair.label}: {pair.state}" for pair in r.pairs if pair.open)
        yield from (f"{code} {span.label}: no stop logged" for span in r.spans if span.open)
        yield from (f"{code} {trouble.label}: still open" for trouble in r.complications if trouble.open)
        yield from (f"{code} {count.label}: count differs" for count in r.counts if count.agrees is False)
        if n := sum(d.level == "safety" and not (d.reason or d.text) for d in r.deviations):
            yield f"{code} {n} at safety level without a reason"


# -- as text


def text(page: DayPage, sheets: Sequence[Record]) -> str:
    """The page as text of at most 80 cells a line, and after it the register sheet of each case."""
    parts = ["\n".join(day_lines(page)), *("\n".join(sheet_lines(record)) for record in sheets)]
    return f"\n\n{'-' * WIDTH}\n\n".join(parts) + "\n"


def day_lines(page: DayPage) -> Iterator[str]:
    """The lines of the page."""
    yield shown(page.title)
    for line in page.about:
        yield from wrapped(shown(line), WIDTH)
    yield ""
    yield _columns(HEADINGS)
    for row in page.rows:
        first, *more = list(wrapped(shown(row[-1]), _WIDE[-1])) or [""]
        yield _columns((*row[:-1], first))
        yield from (f"{'':{WIDTH - _WIDE[-1]}}{line}".rstrip() for line in more)
    for title, lines in page.sections:
        yield ""
        yield title
        for told in lines:
            yield from (
                f"  {'' if n == 0 else '  '}{line}" for n, line in enumerate(wrapped(shown(told), WIDTH - 4))
            )
    yield ""
    yield from wrapped(" ".join(CAUTIONS), WIDTH)


def _columns(row: Sequence[str]) -> str:
    return " ".join(_cell(shown(text), wide) for text, wide in zip(row, _WIDE, strict=True)).rstrip()


def _cell(told: str, wide: int) -> str:
    return told + " " * (wide - cells(told)) if cells(told) <= wide else fitted(told, wide, "…")
