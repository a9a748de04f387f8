"""The list of the day on the first screen: what is next, who is on, what runs, and what can be said of it.

Every action has a letter of its own that means nothing else, and only those shown may be pressed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any, Final, TypeVar

from tracker.core import day_events as de
from tracker.core.case import Case
from tracker.core.day import Day, event_words
from tracker.core.day_course import Course, Seat, course
from tracker.core.day_plan import day_of
from tracker.core.events import Event
from tracker.core.forecast import Forecaster
from tracker.core.loading.plan import given
from tracker.core.wording import figure, span_words
from tracker.journal.day_lists import Lists
from tracker.journal.trouble import Trouble
from tracker.screen.room import Room
from tracker.screen.station import Now
from tracker.theatre.live import OnList, opening, resumed
from tracker.theatre.settings import Settings

GOES_ON: Final = timedelta(hours=4)
"""So long after its last entry a list of the day before still goes on past midnight."""

SEEN_EVERY_S: Final = 10.0
"""After so long what other stations entered is looked for."""

E = TypeVar("E", bound=Event)


class ListOfDay:
    """The list that the first screen shows, read from disk; None of it while there is none."""

    def __init__(
        self,
        lists: Lists,
        clock: Callable[[], Now],
        settings: Settings,
        forecaster: Forecaster | None = None,
        sheets: Callable[[str], Room] | None = None,
    ) -> None:
        self.lists = lists
        self.clock = clock
        self.settings = settings
        self.forecaster = forecaster
        self.sheets = sheets
        self.trouble: tuple[str, ...] = ()
        self.day: Day | None = None
        self._others: tuple[Day, ...] = ()
        self._cases: dict[str, Case] = {}
        self._stamp: tuple[object, ...] = ()
        self._seen_ms = 0

    # -- reading

    def read(self, known: Sequence[Case]) -> None:
        """Find the list of this day, or the one of the day before that goes on; `known` are the latest cases."""
        now = self.clock().at
        days, trouble = [], []
        for name in self.lists.about(now.date()):
            try:
                day = self.lists.day(name)
            except Trouble as refusal:
                trouble.append(f"list {name}: {refusal}")
                continue
            if self.settings.station in ("", day.plan.station) or not day.plan.station:
                days.append(day)
        self.trouble = tuple(trouble)
        self._cases = {code: case for day in days for code, case in self.lists.cases(day, known).items()}
        for n, day in enumerate(days):
            with suppress(Trouble):
                days[n] = self.lists.named(day, self._cases.values(), self._role(), self.clock())
        shown = [day for day in days if self._is_shown(day, now)]
        self._others = tuple(shown)
        was = self.day.name if self.day else ""
        self.day = next((day for day in shown if day.name == was), None) or self._first(shown, now)
        self._stamp = self._stamps()

    def _is_shown(self, day: Day, now: datetime) -> bool:
        return day_of(day.name) == now.date() or self._goes_on(day, now)

    def _goes_on(self, day: Day, now: datetime) -> bool:
        """Whether a list of the day before still goes on."""
        its = course(day, self._cases, now)
        if not day.events or not (its.open or its.next):
            return False
        entries = [day.events[-1].entered_at, *(s.case.events[-1].entered_at for s in its.seats if s.case)]
        return bool(its.open) or now - max(entries) < GOES_ON

    def _first(self, shown: Sequence[Day], now: datetime) -> Day | None:
        """The list to begin with: one that goes on from yesterday, then the first of today with a case to come."""
        by_day = sorted(shown, key=lambda day: day.name)
        to_come = (d for d in by_day if (its := course(d, self._cases, now)).open or its.next)
        return next(to_come, by_day[-1] if by_day else None)

    def look(self) -> bool:
        """Whether what other stations entered is to be read; asked every second, answered every ten."""
        ms = self.clock().elapsed_ms
        if self.day is None or ms - self._seen_ms < SEEN_EVERY_S * 1000:
            return False
        self._seen_ms = ms
        return self._stamps() != self._stamp

    def _stamps(self) -> tuple[object, ...]:
        folder = self.lists.archive.folder
        paths = [folder / f"{code}.case.jsonl" for code in self._cases]
        if self.day is not None:
            paths += [self.lists.folder / f"{self.day.name}{end}" for end in (".toml", ".list.jsonl")]
        return tuple(map(_stamp, paths))

    @property
    def standing(self) -> Day:
        """The list that is shown.

        Raises:
            Trouble: there is none.
        """
        if self.day is None:
            raise Trouble("There is no list of this day.")
        return self.day

    @property
    def several(self) -> bool:
        """Whether there is another list to show."""
        return len(self._others) > 1

    @property
    def open_code(self) -> str:
        """The case of the list that goes on; empty while none does."""
        its = self.course()
        return its.open[-1].code if its and its.open else ""

    def course(self) -> Course | None:
        """How the list stands now."""
        return course(self.day, self._cases, self.clock().at) if self.day else None

    def _role(self) -> str:
        """Who enters: the circulating role of the case that was entered last, else the post."""
        last = max(self._cases.values(), key=lambda c: c.events[-1].entered_at, default=None)
        return (last and last.post("circulating")) or "circulating"

    # -- what is shown

    def head(self) -> Iterator[str]:
        """What is next, who is on, what runs; nothing to press."""
        yield from self.trouble
        its = self.course()
        if its is None:
            return
        yield _summary(its)
        if not its.next and not its.open:
            yield "no case is to come"
        if its.on:
            yield f"on: {', '.join(its.on)}"
        if its.running:
            t = its.running
            yield f"turnover running {span_words(t.seconds)} since {t.after} left {t.since:%H:%M}"
        if its.waiting_to_start and its.late and its.late_s:
            yield f"no patient is in: {span_words(its.late_s)} after the planned start"
        if self.lists.changed_since(its.day):
            yield "the file of this list was changed since its day began: the day goes on as it was typed then"

    def table(self) -> Iterator[str]:
        """Every place on a line."""
        its = self.course()
        for seat in its.seats if its else ():
            yield seat_line(seat, its.day) if its else ""

    def seat_words(self, seat: Seat) -> str:
        """A place in a few words."""
        planned = seat.place.planned
        parts = [f"place {seat.place.number}", planned.protocol]
        parts += [seat.code] if seat.code else []
        parts += [f"planned {planned.start}"] if planned.start else []
        parts += [f"{figure(planned.minutes)} min"] if planned.minutes is not None else []
        return ", ".join(parts)

    # -- what is done

    def start(self, seat: Seat) -> Room:
        """The page on which the case of a place is started, its facts filled in.

        Raises:
            Trouble: its protocol cannot be read, or no case can be begun.
        """
        name, number = self.standing.name, seat.place.number
        protocol, text = self.lists.protocol(seat.place.planned.protocol)
        facts = given(seat.place.planned, self._position(seat), protocol)

        def tell(code: str) -> None:
            self.lists.say(name, de.PlaceBegun, self._role(), self.clock(), place=number, code=code)

        on = OnList(name, number, seat.place.planned.code, facts, tell)
        return opening(protocol, text, self.lists.archive, self.settings, self.forecaster, on)

    def _position(self, seat: Seat) -> int:
        """Which case of the list it is, those called off left out."""
        its = self.course()
        standing = [s.place.number for s in its.seats if not s.place.off or s.case] if its else []
        return list(dict.fromkeys(standing)).index(seat.place.number) + 1

    def resumed(self, code: str) -> Room:
        """The board of a case that goes on."""
        return resumed(self.lists.archive, code, self.settings, self.forecaster)

    def other(self) -> str:
        """Show the next list of the day."""
        names = [day.name for day in self._others]
        at = names.index(self.day.name) if self.day and self.day.name in names else 0
        self.day = self._others[(at + 1) % len(names)]
        self._stamp = self._stamps()
        return f"list {self.day.name}"

    def say(self, kind: type[E], **fields: Any) -> str:
        """Enter something of the list; what is then said is the entry in words.

        Raises:
            Trouble: the book does not take it; nothing was entered.
        """
        name, station = self.standing.name, self.settings.station
        day = self.day = self.lists.say(name, kind, self._role(), self.clock(), station, **fields)
        self._others = tuple(day if other.name == name else other for other in self._others)
        self._stamp = self._stamps()
        return f"entered: {event_words(day, day.events[-1])}"


def _stamp(path: Any) -> object:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def _summary(its: Course) -> str:
    plan, off = its.day.plan, sum(s.place.off is not None and s.case is None for s in its.seats)
    head = [f"List {its.day.name}", *([plan.station] if plan.station else []), f"planned {plan.start}"]
    head += [f"{figure(plan.session)} min booked"] if plan.session is not None else []
    counts = [f"{len(its.done)} of {len(its.seats) - off} done"]
    counts += [f"{len(its.open)} open"] if its.open else []
    counts += [f"{off} called off"] if off else []
    return f"{', '.join(head)}: {', '.join(counts)}"


def seat_line(seat: Seat, day: Day) -> str:
    """A place in a line: its number, its case, how it stands, planned and real minutes."""
    planned = seat.place.planned
    told = f"{seat.place.number}. {planned.protocol}" + (f", {seat.code}" if seat.code else "")
    if seat.place.added:
        told += ", added"
    if seat.place.moved:
        told += ", moved"
    if seat.case is None:
        if seat.place.off:
            return f"{told}, called off: {day.reason_words(seat.place.off.reason)}"
        return f"{told}, to come" + (f", planned {planned.start}" if planned.start else "")
    came = f" {seat.came:%H:%M}" if seat.came else ""
    left = f" to {seat.left:%H:%M}" if seat.left else ""
    real = seat.minutes
    minutes = f", {figure(round(real))} min" if real is not None else ""
    booked = f" of {figure(planned.minutes)} planned" if planned.minutes is not None and minutes else ""
    state = "done" if seat.ended else "open"
    return f"{told}, {state}{came}{left}{minutes}{booked}"
