"""How a list goes: its places with the times of their cases, who is next, how late, how long between two patients.

Times planned are times of the day on the day of the list; a case tells its own, midnight passed or not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from itertools import zip_longest
from typing import Final

from msgspec import Struct

from tracker.core.case import Case
from tracker.core.day import Day, Place
from tracker.core.day_events import TurnoverReason
from tracker.core.day_plan import clock_minutes, day_of

LATE_AFTER_S: Final = 60.0
"""A list that begins so many seconds after its planned start, or fewer, began on time."""


class Seat(Struct, frozen=True):
    """A place with a case of it, if one was begun: when the patient came and left, as far as that is logged."""

    place: Place
    case: Case | None = None
    came: datetime | None = None
    left: datetime | None = None
    ended: bool = False

    @property
    def code(self) -> str:
        """The code of its case, or the one it is to have; empty for the next free one."""
        return self.case.code if self.case else self.place.planned.code or ""

    @property
    def waiting(self) -> bool:
        """Whether its case is still to come."""
        return self.case is None and self.place.off is None

    @property
    def minutes(self) -> float | None:
        """Minutes from patient in to patient out; None while one of the two is not logged."""
        return (self.left - self.came).total_seconds() / 60 if self.came and self.left else None


class Turnover(Struct, frozen=True):
    """The time from one patient out to the next one in; `before` is empty while it runs."""

    after: str
    before: str
    seconds: float
    since: datetime
    reason: TurnoverReason | None = None


class Course(Struct, frozen=True):
    """A list at one moment.

    `seats` are the cases that were begun by their time, then the places that wait, then those called off.
    `late_s` is how long after the planned start the first patient came, or how long none has come yet; below nought
    is early, None where nobody can say.
    """

    day: Day
    seats: tuple[Seat, ...]
    late_s: float | None = None
    waiting_to_start: bool = True
    turnovers: tuple[Turnover, ...] = ()
    running: Turnover | None = None

    @property
    def next(self) -> Seat | None:
        """The place whose case comes next."""
        return next((seat for seat in self.seats if seat.waiting), None)

    @property
    def open(self) -> tuple[Seat, ...]:
        """The cases that were begun and have no end yet."""
        return tuple(seat for seat in self.seats if seat.case and not seat.ended)

    @property
    def done(self) -> tuple[Seat, ...]:
        """The cases that have ended."""
        return tuple(seat for seat in self.seats if seat.ended)

    @property
    def late(self) -> bool:
        """Whether the list began late, or has not begun and is."""
        return self.late_s is not None and self.late_s > LATE_AFTER_S

    @property
    def on(self) -> tuple[str, ...]:
        """Who is on, by role: of the case that is open, else of the one that ended last."""
        its = [seat.case for seat in (self.open[-1:] or self.done[-1:]) if seat.case]
        return tuple(
            case.protocol.label(role)
            for case in its
            for post in ("circulating", "operator")
            if (role := case.post(post))
        )

    @property
    def last_turnover(self) -> Turnover | None:
        """The turnover that runs, else the last one there was."""
        return self.running or next(reversed(self.turnovers), None)


def course(day: Day, cases: Mapping[str, Case], now: datetime) -> Course:
    """How a list stands at `now`; `cases` are those of its places, by code."""
    held = {place.number: [cases[c] for c in place.codes if c in cases] for place in day.places}
    seats = [_seat(place, case) for place in day.places for case in held[place.number]]
    seats.sort(key=lambda seat: (seat.case.events[0].at, seat.code) if seat.case else (now, ""))
    bare = [Seat(place) for place in day.places if not held[place.number]]
    begun = tuple(seats)
    came = sorted((s for s in begun if s.came), key=lambda s: (s.came, s.code))
    turnovers = tuple(_turnovers(day, came, now))
    return Course(
        day,
        (*begun, *(s for s in bare if s.waiting), *(s for s in bare if not s.waiting)),
        _late_s(day, came, now),
        not came,
        tuple(t for t in turnovers if t.before),
        next((t for t in turnovers if not t.before), None),
    )


def _seat(place: Place, case: Case) -> Seat:
    end = case.end
    left = end.when.at if end and end.left else None
    return Seat(place, case, case.started.at if case.started else None, left, end is not None)


def _turnovers(day: Day, came: Sequence[Seat], now: datetime) -> Iterator[Turnover]:
    for one, other in zip_longest(came, came[1:]):
        if one.left is None or (other is None and not _goes_on(day, came)):
            continue
        until = other.came if other and other.came else now
        seconds = max(0.0, (until - one.left).total_seconds())
        yield Turnover(one.code, other.code if other else "", seconds, one.left, day.turnovers.get(one.code))


def _goes_on(day: Day, came: Sequence[Seat]) -> bool:
    """Whether a place is still to come: without one nothing turns over."""
    held = {seat.place.number for seat in came}
    return any(place.off is None and place.number not in held for place in day.places)


def _late_s(day: Day, came: Sequence[Seat], now: datetime) -> float | None:
    first = came[0].came if came else None
    if first is None and not any(place.off is None for place in day.places):
        return None
    at = first or now
    start = planned_at(day.plan.day, day.plan.start, at.tzinfo)
    return None if first is None and at < start else (at - start).total_seconds()


def planned_at(day: str, told: str, zone: tzinfo | None) -> datetime:
    """The moment of a planned time on the day of a list, by the clocks of `zone`."""
    on = day_of(day) or date.min
    return datetime(on.year, on.month, on.day, tzinfo=zone) + timedelta(minutes=clock_minutes(told))
