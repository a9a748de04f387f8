"""What the list of a day says of a case that was begun from it: what was planned, and the reasons that were given."""

from __future__ import annotations

from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

from tracker.audit.beside import bytes_of
from tracker.core.case import Case
from tracker.core.day import Day, fold_day
from tracker.core.day_events import ListBegun, PlaceBegun
from tracker.core.day_plan import clock_minutes, day_of
from tracker.core.events import Opened
from tracker.core.loading.plan import kept_plan
from tracker.journal.books import LIST, check_list_name
from tracker.journal.day_lists import FOLDER
from tracker.journal.lines import read_lines
from tracker.journal.trouble import Trouble

PARTED: Final = "; "
"""Between the reasons of the places of a list that were called off: one reason a place."""


class Listed(NamedTuple):
    """The columns of a case that its list fills; none of them of a case that was begun from no list."""

    day_list: str | None = None
    list_day: date | None = None
    list_shift: float | None = None
    list_start_minute: float | None = None
    list_minutes: float | None = None
    planned_start_minute: float | None = None
    list_places_n: int | None = None
    called_off_n: int | None = None
    called_off: str | None = None
    late_start_reason: str | None = None
    turnover_reason: str | None = None


NOT_LISTED: Final = Listed()


class DayBooks:
    """The books of the lists of an archive, each read once."""

    def __init__(self, archive: Path) -> None:
        self._folder = archive / FOLDER
        self._read: dict[str, tuple[str, Day | None]] = {}

    def of(self, name: str) -> tuple[str, Day | None]:
        """The digest of a list's book and the list; an empty one and None where there is none to be read."""
        if name not in self._read:
            self._read[name] = self._of(name)
        return self._read[name]

    def _of(self, name: str) -> tuple[str, Day | None]:
        if check_list_name(name) is not None:
            return "", None
        try:
            data = bytes_of(self._folder, name, LIST)
        except Trouble:
            return "", None
        events = read_lines(data, name).events
        first = events[0] if events else None
        plan = kept_plan(first.plan) if isinstance(first, ListBegun) and first.name == name else None
        return sha256(data).hexdigest(), fold_day(name, plan, events) if plan else None


def list_of(case: Case) -> str:
    """The name of the list that a case was begun from; empty for none."""
    first = case.events[0]
    return (first.day_list or "") if isinstance(first, Opened) else ""


def listed(case: Case, day: Day | None) -> Listed:
    """What its list says of a case."""
    first = case.events[0]
    on = day_of(day.name) if day else None
    if day is None or on is None or not isinstance(first, Opened):
        return NOT_LISTED
    place = day.place.get(first.place or 0)
    off = [p.off for p in day.places if p.off and not p.codes]
    before = _before(day, case.code)
    turnover = day.turnovers.get(before)
    return Listed(
        day_list=day.name,
        list_day=on,
        list_shift=(first.at.date() - on).days * 1440.0,
        list_start_minute=float(clock_minutes(day.plan.start)),
        list_minutes=day.plan.session,
        planned_start_minute=float(clock_minutes(place.planned.start))
        if place and place.planned.start
        else None,
        list_places_n=len(day.places),
        called_off_n=len(off),
        called_off=PARTED.join(day.reason_words(event.reason) for event in off) or None,
        late_start_reason=day.reason_words(day.late_start.reason) if day.late_start else None,
        turnover_reason=day.reason_words(turnover.reason) if turnover else None,
    )


def _before(day: Day, code: str) -> str:
    """The case that was begun before one on its list; empty for the first."""
    begun = [event.code for event in day.events if isinstance(event, PlaceBegun)]
    return begun[begun.index(code) - 1] if code in begun[1:] else ""


def planned_minutes(case: Case, day: Day | None) -> float | None:
    """The minutes that a list plans for a case; None where it plans none, or there is no list."""
    first = case.events[0]
    place = day.place.get(first.place or 0) if day and isinstance(first, Opened) else None
    return place.planned.minutes if place else None
