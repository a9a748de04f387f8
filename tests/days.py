"""Lists of a day for tests: the file as a person types it, cases begun from its places, an archive that holds them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from desks import Hand, protocol_of, shipped
from tracker.core import day_events as de
from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.day_course import Course, course
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.day_lists import Lists
from tracker.journal.files import Journal
from tracker.theatre.session import Session

DAY = "2026-12-01"

SHORT = shipped().replace('id = "complex-pvr"', 'id = "short-list"', 1)
"""A second protocol: the shipped one under another name."""

THREE = """
format = 1
day = 2026-12-01
start = "08:30"
session = 480
station = "Theatre 4"

[[places]]
protocol = "complex-pvr"
start = "08:30"
minutes = 150
facts = { eye = "left", anaesthetic = "general", pvr_grade = "cp3-ca2", video_consent = true }

[[places]]
protocol = "short-list"
start = "11:30"
minutes = 120
code = "B-0007"

[[places]]
protocol = "complex-pvr"
start = "14:00"
minutes = 90

[[reasons]]
id = "ward"
label = "ward or transport"
key = "w"

[[reasons]]
id = "unfit"
label = "not fit today"
key = "u"

[[reasons]]
id = "emergency"
label = "emergency came between"
key = "e"
"""
"""Three places of two protocols, planned from half past eight."""


def at(told: str, day: int = 0) -> datetime:
    """A time of the day of the list, or of a day after it."""
    hour, minute = map(int, told.split(":"))
    return datetime(2026, 12, 1, hour, minute, tzinfo=UTC) + timedelta(days=day)


def lists_of(folder: Path, text: str = THREE, name: str = DAY) -> Lists:
    """An archive with a list in it, and the second protocol on its shelf."""
    (folder / "protocols").mkdir(parents=True, exist_ok=True)
    (folder / "protocols" / "short-list.toml").write_text(SHORT, "utf-8")
    (folder / "lists").mkdir(exist_ok=True)
    (folder / "lists" / f"{name}.toml").write_text(text, "utf-8")
    return Lists(Archive(folder))


def case(
    lists: Lists,
    place: int,
    code: str,
    came: datetime,
    left: datetime | None = None,
    *,
    name: str = DAY,
    named: bool = True,
) -> Case:
    """A case begun from a place: the patient comes ten minutes after its first line, and leaves.

    Without `named` the program ended before the book of the list had it.
    """
    clock = Hand(came - timedelta(minutes=10))
    protocol, text = lists.protocol(lists.day(name).place[place].planned.protocol)
    facts = protocol_of(text).defaults | {"eye": "left"}
    journal = Journal.create(lists.archive.folder, code)
    session = Session.begin(
        journal, protocol, text, code, facts, clock, station="Theatre 4", seat=(name, place)
    )
    if named:
        lists.say(name, de.PlaceBegun, "circulating", clock(), place=place, code=code)
    clock.now = came
    session.record(ev.Tick, step="patient_in")
    if left is not None:
        clock.now = left
        session.record(ev.Tick, step="out_theatre")
    journal.close()
    return case_of(lists.archive.read(code), code)


def standing(lists: Lists, now: datetime, name: str = DAY) -> Course:
    """How a list stands, as the first screen reads it."""
    day = lists.day(name)
    return course(day, lists.cases(day, lists.latest_cases()), now)


def say(lists: Lists, kind: type[ev.Event], now: datetime, **fields: object) -> None:
    """Enter something of the list at a time of the day."""
    lists.say(DAY, kind, "circulating", Hand(now)(), **fields)
