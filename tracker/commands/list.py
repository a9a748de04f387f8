"""`clockhour list`: the list of a day, as a file and as it stands."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Any, TypeVar

from tracker.commands.common import archive_of, has_terminal, settings_of, talk
from tracker.commands.exits import DONE, FINDINGS, USAGE
from tracker.core.day import event_words
from tracker.core.day_course import course
from tracker.core.day_plan import day_of
from tracker.core.day_text import NewPlace, list_text
from tracker.core.events import Scalar
from tracker.core.loading.plan import unfit
from tracker.core.protocol import Fact, Protocol
from tracker.core.text import shown
from tracker.core.wording import CAUTIONS
from tracker.journal.day_lists import BadList, Lists
from tracker.journal.trouble import Trouble
from tracker.screen.panels import number
from tracker.screen.station import StationClock
from tracker.theatre.day_home import seat_line
from tracker.theatre.dialogue import clock, clock_or_nothing, minutes, words

T = TypeVar("T")


class BadPlace(Trouble):
    """What was said of a place or of a list cannot be taken; the text says why."""


def today() -> date:
    """The day that it is on this machine."""
    return StationClock()().at.date()


def name_of(given: str | None) -> str:
    """The name of a list from the command line, today's where none is given."""
    return given or today().isoformat()


def show(args: argparse.Namespace) -> int:
    """Print a list as it stands, or which lists there are."""
    lists, now = Lists(archive_of(args)), StationClock()().at
    if args.all:
        for name in lists.names():
            print(name)
        return DONE
    day = lists.day(name_of(args.day))
    its = course(day, lists.cases(day, lists.latest_cases()), now)
    booked = f", {day.plan.session:g} min booked" if day.plan.session else ""
    print(shown(f"List {day.name}, planned {day.plan.start}{booked}, {day.plan.station}".rstrip(", ")))
    for seat in its.seats:
        print(shown(f"  {seat_line(seat, day)}"))
    for event in day.events[1:]:
        struck = "  [struck]" if event.seq in day.void else ""
        print(shown(f"  {event.at:%H:%M}  {event_words(day, event)}{struck}"))
    if lists.changed_since(day):
        talk("The file was changed since the day began: the day goes on as it was typed then.")
    talk(CAUTIONS[0])
    return DONE


def check(args: argparse.Namespace) -> int:
    """Print everything that is to be mended in a list."""
    lists, name = Lists(archive_of(args)), name_of(args.day)
    return _told(name, lists.load(name).findings)


def _told(name: str, findings: tuple[object, ...]) -> int:
    for finding in findings:
        print(finding)
    talk(f"{name}: {len(findings)} findings." if findings else f"{name}: no findings.")
    return FINDINGS if findings else DONE


def new(args: argparse.Namespace) -> int:
    """Make the list of a day: by what the command line says, or by questions in a terminal."""
    lists, name = Lists(archive_of(args)), name_of(args.day)
    day = day_of(name)
    if day is None:
        talk("A list is named by its day, as 2026-12-01, or 2026-12-01-pm for a second one.")
        return USAGE
    station = args.station if args.station is not None else settings_of(args).station
    if args.place:
        start, says = clock(args.start)
        if says:
            raise BadPlace(f"--start {args.start}: {says}.")
        text = list_text(
            day.isoformat(), start, [_place(lists, p) for p in args.place], args.session, station
        )
    elif has_terminal():
        text = _asked(lists, day.isoformat(), station)
    else:
        talk("Say what is on the list: --place PROTOCOL,minutes=180,start=08:30,eye=left, once a case.")
        return USAGE
    try:
        path = lists.new(name, text)
    except BadList as bad:
        talk("The list was not written:")
        return _told(name, bad.findings)
    print(path)
    return DONE


# -- from the command line


def _place(lists: Lists, told: str) -> NewPlace:
    """A place from words like `complex-pvr,minutes=180,start=08:30,code=A-0007,eye=left`.

    Raises:
        Trouble: there is no such protocol, or a word says nothing that a place has.
    """
    ident, *parts = (part.strip() for part in told.split(","))
    protocol = lists.protocol(ident)[0]
    said: dict[str, Any] = {"facts": {}}
    for part in parts:
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals:
            raise BadPlace(f"{part} says nothing: write minutes=180, start=08:30, code=A-0007 or FACT=VALUE.")
        if key == "minutes":
            said[key] = _read(minutes, key, value)
        elif key == "start":
            said[key] = _read(clock, key, value)
        elif key == "code":
            said[key] = value
        else:
            said["facts"][key] = _fact(protocol, key, value)
    return NewPlace(ident, **said)


def _read(read: Callable[[str], tuple[T, str]], key: str, value: str) -> T:
    found, says = read(value)
    if says:
        raise BadPlace(f"{key}={value}: {says}.")
    return found


def _fact(protocol: Protocol, ident: str, value: str) -> Scalar:
    """A fact's value from a word; whether it fits is found with the rest of the list."""
    fact = protocol.fact.get(ident)
    if fact is None:
        raise BadPlace(f"{protocol.id} has no case fact {ident}: {', '.join(protocol.fact)}.")
    return _scalar(fact, value)


def _scalar(fact: Fact, value: str) -> Scalar:
    if fact.kind == "flag" and value in ("yes", "no"):
        return value == "yes"
    told = number(value) if fact.kind == "number" else None
    return value if told is None else told


# -- by questions


def _asked(lists: Lists, day: str, station: str) -> str:
    """The text of a list, by questions in the terminal; nothing is written until the last is answered."""
    print(f"The list of {day}. {CAUTIONS[-1]}")
    start = _ask("Planned start of the session (as 08:30): ", clock)
    session = _ask("Minutes booked (or nothing): ", minutes)
    place = _ask(f"Theatre, no person's name ({station or 'nothing'}): ", words) or station
    known = [ident for ident in lists.files().known if ident]
    places: list[NewPlace] = []
    while True:
        done = ", or nothing when the list is whole" if places else ""
        ident = _ask(
            f"Place {len(places) + 1}: protocol ({', '.join(known)}{done}): ", partial(_known, known)
        )
        if not ident and places:
            return list_text(day, start, places, session, place)
        if ident:
            places.append(_asked_place(lists.protocol(ident)[0]))


def _known(known: list[str], typed: str) -> tuple[str, str]:
    return typed, "" if typed in known or not typed else f"one of {', '.join(known)}"


def _asked_place(protocol: Protocol) -> NewPlace:
    code = _ask("  Case code, or nothing for the next free one: ", words)
    start = _ask("  Planned start, or nothing: ", clock_or_nothing)
    planned = _ask("  Planned minutes, or nothing: ", minutes)
    print("  What is known of the case; nothing for what is not:")
    told = {protocol.planned_minutes_fact, protocol.list_position_fact}
    asked = (f for f in protocol.facts if f.id not in told)
    facts = {f.id: _ask(f"    {f.label} ({_may_be(f)}): ", partial(_answer, f)) for f in asked}
    return NewPlace(
        protocol.id, planned, start, code or None, {k: v for k, v in facts.items() if v is not None}
    )


def _may_be(fact: Fact) -> str:
    match fact.kind:
        case "choice":
            return ", ".join(f"{c.key} {c.label}" for c in fact.choices)
        case "flag":
            return "y, n"
        case "grade":
            return "as CP3-CA2"
        case "number":
            return fact.unit or "number"


def _answer(fact: Fact, typed: str) -> tuple[Scalar | None, str]:
    if not typed:
        return None, ""
    value = _scalar(fact, typed)
    if fact.kind == "choice":
        value = next((c.id for c in fact.choices if typed in (c.key, c.id, c.label)), typed)
    if fact.kind == "flag":
        value = {"y": True, "yes": True, "n": False, "no": False}.get(typed, typed)
    if fact.kind == "grade":
        value = typed.upper()
    wanted = unfit(fact, value)
    return value, f"wanted is {wanted}" if wanted else ""


def _ask(words_: str, read: Callable[[str], tuple[T, str]]) -> T:
    while True:
        try:
            value, says = read(input(words_).strip())
        except EOFError:
            raise BadPlace("The list was not written: the answers ended before it was whole.") from None
        if not says:
            return value
        print(f"  {says}", file=sys.stderr)
