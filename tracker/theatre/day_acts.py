"""What is said of a list on the first screen, each with a key: reasons, moves, what is added and called off."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Mapping
from typing import Any, Final

from msgspec import Struct

from tracker.core import day_events as de
from tracker.core.day import event_words, next_number
from tracker.core.day_course import Course, Seat, Turnover
from tracker.core.day_text import NewPlace, list_text
from tracker.core.wording import span_words
from tracker.journal.trouble import Trouble
from tracker.screen.asking import Option, keyed
from tracker.screen.room import Room
from tracker.theatre.day_home import ListOfDay
from tracker.theatre.dialogue import (
    Asked,
    Dialogue,
    Known,
    Pick,
    Questions,
    Typed,
    clock,
    clock_or_nothing,
    minutes,
)

END = 0
"""The answer for a place at the end of the list."""


DOES: Final[Mapping[str, str]] = {
    "n": "start the next case of the list, its facts filled in",
    "g": "go on with the case of the list that is open",
    "b": "the team brief is done",
    "l": "give the reason for the late start",
    "t": "give the reason for the turnover that runs, or for one that has none yet",
    "m": "move a place, with a reason",
    "a": "add a place, with a reason",
    "c": "call a place off, with a reason",
    "e": "the team debrief is done",
    "u": "strike the last entry of the list; again: the one before",
    "d": "show the other list of the day",
    "s": "write the sheet and debrief of the day, and show them",
    "k": "make a list for today",
}
"""What each letter of the first screen does, whatever else is on it; the guide prints this table."""

KEYS: Final = frozenset(DOES)
"""No other line of the first screen has one of these letters."""


class Action(Struct, frozen=True):
    """Something that one key does on the first screen, or what it opens."""

    key: str
    words: str
    go: Callable[[], Room | Dialogue | str]


def actions(told: ListOfDay) -> Iterator[Action]:
    """What can be done of the list as it stands, each by its own key; only those may be pressed."""
    its = told.course()
    if its is None:
        if not told.trouble:
            yield Action("k", "make a list for today", lambda: Dialogue(_make(told)))
        return
    if its.next:
        seat = its.next
        yield Action("n", f"next case: {told.seat_words(seat)}", lambda: told.start(seat))
    if code := told.open_code:
        yield Action("g", f"go on with {code}, which is open", lambda: told.resumed(code))
    yield from _sayings(told, its)
    if told.several:
        yield Action("d", "show the other list", told.other)
    if told.sheets:
        show, name = told.sheets, its.day.name
        yield Action("s", "sheet and debrief of the day", lambda: show(name))


def _sayings(told: ListOfDay, its: Course) -> Iterator[Action]:
    day, waiting = its.day, [seat for seat in its.seats if seat.waiting]
    if "brief" not in day.talked:
        yield Action("b", "the team brief is done", lambda: told.say(de.TeamTalked, talk="brief"))
    if its.late and its.late_s:
        reason = day.reason_words(day.late_start.reason) if day.late_start else "no reason yet"
        words = f"reason for the late start, {span_words(its.late_s)}: {reason}"
        yield Action("l", words, lambda: Dialogue(_late_start(told)))
    if turnover := its.last_turnover:
        reason = day.reason_words(turnover.reason.reason) if turnover.reason else "no reason yet"
        words = f"reason for the turnover after {turnover.after}, {span_words(turnover.seconds)}: {reason}"
        yield Action("t", words, lambda: Dialogue(_turnover(told, its, turnover)))
    if len(waiting) > 1:
        yield Action("m", "move a place", lambda: Dialogue(_move(told, waiting)))
    yield Action("a", "add a place", lambda: Dialogue(_add(told, waiting)))
    if waiting:
        yield Action("c", "call a place off", lambda: Dialogue(_call_off(told, waiting)))
    if its.done and not its.open and "debrief" not in day.talked:
        yield Action("e", "the team debrief is done", lambda: told.say(de.TeamTalked, talk="debrief"))
    if last := day.last_mendable():
        seq = last.seq
        yield Action("u", f"strike: {event_words(day, last)}", lambda: told.say(de.ListStruck, ref=seq))


def _late_start(told: ListOfDay) -> Questions:
    reason = yield _reasons(told, "Why did the list begin late?")
    return told.say(de.LateStartReason, reason=reason)


def _turnover(told: ListOfDay, its: Course, last: Turnover) -> Questions:
    after: str = last.after
    bare = [t for t in its.turnovers if not t.reason]
    if not its.running and len(bare) > 1:
        spans = [(f"after {t.after}, {span_words(t.seconds)}", None, t.after) for t in bare]
        after = yield Pick("Which turnover?", keyed(spans))
    reason = yield _reasons(told, f"Why the turnover after {after}?")
    return told.say(de.TurnoverReason, after=after, reason=reason)


def _call_off(told: ListOfDay, waiting: list[Seat]) -> Questions:
    place = yield _places(told, "Call off which place?", waiting)
    reason = yield _reasons(told, f"Why is place {place} called off?")
    return told.say(de.PlaceCalledOff, place=place, reason=reason)


def _move(told: ListOfDay, waiting: list[Seat]) -> Questions:
    place = yield _places(told, "Move which place?", waiting)
    others = [seat for seat in waiting if seat.place.number != place]
    before = yield _places(told, f"Before which place does place {place} come?", others, end=True)
    reason = yield _reasons(told, f"Why is place {place} moved?")
    return told.say(de.PlaceMoved, place=place, before=before or None, reason=reason)


def _add(told: ListOfDay, waiting: list[Seat]) -> Questions:
    protocol = yield _protocols(told, "Add a case of which protocol?")
    planned = yield Typed(
        "How many minutes are planned?", minutes, "digits, then Enter; nothing for not planned"
    )
    before = END
    if waiting:
        before = yield _places(told, "Before which place does it come?", waiting, end=True)
    reason = yield _reasons(told, "Why is it added?")
    return told.say(
        de.PlaceAdded, place=next_number(told.standing), protocol=protocol, minutes=planned, before=before or None,
        reason=reason,
    )  # fmt: skip


def _make(told: ListOfDay) -> Questions:
    day = told.clock().at.date().isoformat()
    start = yield Typed(f"When is the session of {day} planned to start?", clock, "as 0830, then Enter")
    session = yield Typed(
        "How many minutes are booked?", minutes, "digits, then Enter; nothing for not known"
    )
    places: list[NewPlace] = []
    while True:
        title = f"Place {len(places) + 1}: which protocol?"
        protocol = yield _protocols(told, title, over=bool(places))
        if not protocol:
            break
        places.append((yield from _place(told, len(places) + 1, protocol)))
    path = told.lists.new(day, list_text(day, start, places, session, told.settings.station))
    told.read(told.lists.latest_cases())
    return f"written: {path.name}, {len(places)} place{'' if len(places) == 1 else 's'}"


def _place(told: ListOfDay, number: int, ident: str) -> Generator[Asked, Any, NewPlace]:
    planned = yield Typed(
        f"Place {number}: how many minutes are planned?", minutes, "digits, then Enter; or nothing"
    )
    start = yield Typed(
        f"Place {number}: planned start?", clock_or_nothing, "as 1130, then Enter; or nothing"
    )
    facts = yield Known(f"Place {number}: what is known of the case?", told.lists.protocol(ident)[0])
    return NewPlace(ident, planned, start, None, facts)


# -- what is asked


def _reasons(told: ListOfDay, title: str) -> Pick:
    """The reasons of the list's file, else those of the protocol file of its first place."""
    day = told.standing
    if day.plan.reasons:
        return Pick(title, [Option(r.key, r.label, r.id) for r in day.plan.reasons])
    protocol = told.lists.protocol(day.places[0].planned.protocol)[0]
    if not protocol.reasons:
        raise Trouble(
            f"Neither the list nor {protocol.id} has reasons: add a table (reasons) to the file of the next list."
        )
    return Pick(title, [Option(r.key, r.label, r.id) for r in protocol.reasons])


def _places(told: ListOfDay, title: str, seats: list[Seat], *, end: bool = False) -> Pick:
    labels: list[tuple[str, str | None, Any]] = [
        (told.seat_words(seat), None, seat.place.number) for seat in seats
    ]
    return Pick(title, keyed([*labels, *([("at the end", "z", END)] if end else [])]))


def _protocols(told: ListOfDay, title: str, *, over: bool = False) -> Pick:
    labels: list[tuple[str, str | None, Any]] = [
        (ident, None, ident) for ident in told.lists.files().known if ident
    ]
    return Pick(title, keyed([*labels, *([("no further place: write the list", "z", "")] if over else [])]))
