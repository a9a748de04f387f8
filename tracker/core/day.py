"""The list of a day as it stands: the plan with what was said since, folded from the book beside the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from tracker.core.day_events import (
    LIST_KINDS,
    LateStartReason,
    ListBegun,
    ListStruck,
    PlaceAdded,
    PlaceBegun,
    PlaceCalledOff,
    PlaceMoved,
    TeamTalked,
    TurnoverReason,
)
from tracker.core.day_plan import Plan, PlannedPlace
from tracker.core.events import Event

_MENDABLE: Final = (
    TeamTalked, PlaceAdded, PlaceMoved, PlaceCalledOff, LateStartReason, TurnoverReason,
)  # fmt: skip
"""What may be struck: a case that was begun stays begun."""


class Place(Struct, frozen=True):
    """A place as it stands. `codes` are those under which its case was begun or was to be, the last one last."""

    number: int
    planned: PlannedPlace
    added: PlaceAdded | None = None
    moved: tuple[PlaceMoved, ...] = ()
    off: PlaceCalledOff | None = None
    codes: tuple[str, ...] = ()


class Day(Struct, frozen=True):
    """A list: `places` in the order in which they stand now, `events` every line of its book as written.

    `odd` are entries that this program cannot use.
    """

    name: str
    plan: Plan
    places: tuple[Place, ...]
    events: tuple[Event, ...] = ()
    void: frozenset[int] = frozenset()
    late_start: LateStartReason | None = None
    turnovers: Mapping[str, TurnoverReason] = {}
    talked: Mapping[str, TeamTalked] = {}
    odd: tuple[Event, ...] = ()

    @property
    def begun(self) -> ListBegun | None:
        """The first line of the book; None while nothing was said of the list."""
        first = self.events[0] if self.events else None
        return first if isinstance(first, ListBegun) else None

    @property
    def place(self) -> Mapping[int, Place]:
        """Places by number."""
        return {place.number: place for place in self.places}

    def last_mendable(self) -> Event | None:
        """The last entry that a strike would act on."""
        begun = {place.added.seq for place in self.places if place.added and place.codes}
        kept = self.void | begun  # a place whose case was begun stays on the list
        return next(
            (e for e in reversed(self.events) if isinstance(e, _MENDABLE) and e.seq not in kept), None
        )

    def reason_words(self, reason: str) -> str:
        """A reason as the list's file says it, else by its id."""
        return next((r.label for r in self.plan.reasons if r.id == reason), reason.replace("_", " "))


def fold_day(name: str, plan: Plan, events: Sequence[Event]) -> Day:
    """The list that `plan` and the entries of its book, in the order of the file, make."""
    void = _struck(events)
    folding = _Folding(plan)
    odd = [e for n, e in enumerate(events) if e.seq not in void and not folding.take(e, n)]
    return Day(
        name, plan, tuple(folding.places[n] for n in folding.order), tuple(events), void,
        folding.late_start, folding.turnovers, folding.talked, tuple(odd),
    )  # fmt: skip


def _struck(events: Sequence[Event]) -> frozenset[int]:
    mendable = {e.seq for e in events if isinstance(e, _MENDABLE)}
    return frozenset(
        e.ref for e in events if isinstance(e, ListStruck) and e.ref in mendable and e.ref < e.seq
    )


class _Folding:
    """A list while its entries are taken one by one."""

    def __init__(self, plan: Plan) -> None:
        self.places = {n: Place(n, planned) for n, planned in enumerate(plan.places, 1)}
        self.order = [*self.places]
        self.late_start: LateStartReason | None = None
        self.turnovers: dict[str, TurnoverReason] = {}
        self.talked: dict[str, TeamTalked] = {}

    def take(self, event: Event, at: int) -> bool:
        """Take one entry; whether it could be used."""
        match event:
            case ListBegun():
                return at == 0
            case TeamTalked():
                self.talked.setdefault(event.talk, event)
            case LateStartReason():
                self.late_start = event
            case TurnoverReason():
                self.turnovers[event.after] = event
            case PlaceAdded():
                return self._add(event)
            case PlaceBegun() | PlaceMoved() | PlaceCalledOff():
                return event.place in self.places and self._on_place(event, self.places[event.place])
            case ListStruck():
                return True
        return isinstance(event, LIST_KINDS)

    def _add(self, event: PlaceAdded) -> bool:
        if event.place in self.places:
            return False
        planned = PlannedPlace.model_construct(
            protocol=event.protocol,
            code=None,
            start=None,
            minutes=event.minutes,
            facts=dict(event.facts or {}),
        )
        self.places[event.place] = Place(event.place, planned, event)
        self.order.insert(self._where(event.before), event.place)
        return True

    def _on_place(self, event: PlaceBegun | PlaceMoved | PlaceCalledOff, place: Place) -> bool:
        changed: Place
        match event:
            case PlaceBegun():
                changed = replace(place, codes=(*place.codes, event.code))
            case PlaceCalledOff():
                changed = replace(place, off=event)
            case PlaceMoved():
                changed = replace(place, moved=(*place.moved, event))
                self.order.remove(event.place)
                self.order.insert(self._where(event.before), event.place)
        self.places[event.place] = changed
        return True

    def _where(self, before: int | None) -> int:
        return self.order.index(before) if before in self.order else len(self.order)


def next_number(day: Day) -> int:
    """The number of the next place that is added; a struck one keeps its number."""
    added = (e.place for e in day.events if isinstance(e, PlaceAdded))
    return max([len(day.plan.places), *added]) + 1


def event_words(day: Day, event: Event) -> str:
    """What an entry of the book says, in a line."""
    return " ".join(_words(day, event))


def _words(day: Day, event: Event) -> Iterator[str]:
    match event:
        case TeamTalked():
            yield f"team {event.talk} done"
        case LateStartReason():
            yield f"late start: {day.reason_words(event.reason)}"
        case TurnoverReason():
            yield f"turnover after {event.after}: {day.reason_words(event.reason)}"
        case PlaceAdded():
            yield f"place {event.place} added: {event.protocol}"
        case PlaceMoved():
            yield f"place {event.place} moved"
        case PlaceCalledOff():
            yield f"place {event.place} called off: {day.reason_words(event.reason)}"
        case PlaceBegun():
            yield f"place {event.place} begun as {event.code}"
        case ListStruck():
            yield f"entry {event.ref} struck"
        case _:
            yield event.kind.replace("_", " ")
    if isinstance(event, PlaceAdded | PlaceMoved) and event.reason:
        yield f"({day.reason_words(event.reason)})"
