"""`clockhour archive followup`: what was found at visits after the operation, in a book beside the log."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, Final, TypeVar

from tracker import __version__
from tracker.commands.common import archive_of, talk
from tracker.commands.exits import DONE
from tracker.core.events import Event
from tracker.core.follow_up import FollowUp, follow_up_lines, visit_words
from tracker.core.follow_up_events import Followed, Visit, VisitStruck
from tracker.core.text import shown
from tracker.core.visit_checks import questioned, remarked, wanting
from tracker.core.wording import clock_time
from tracker.journal.archive import Archive
from tracker.journal.books import FOLLOW_UP
from tracker.journal.cases import case_of, follow_up_of
from tracker.journal.lines import Read
from tracker.journal.trouble import Trouble
from tracker.screen.station import Now, StationClock

E = TypeVar("E", bound=Event)
FIELDS: Final[Mapping[str, str]] = {
    "date": "day", "attached": "attached", "acuity": "acuity", "pressure": "pressure", "oil": "oil",
    "oil_out": "oil_out", "operation": "operation", "note": "text",
}  # fmt: skip
"""What may be said of a visit: the option by its name, and where an entry holds it."""

NOT_KNOWN: Final = "-"


class BadVisit(Trouble):
    """What was said of a visit cannot be entered; the text says why."""


def followup(args: argparse.Namespace) -> int:
    """Enter a visit, put one right or strike one; without any of that, show what is recorded."""
    archive = archive_of(args)
    log = archive.read(args.case)
    case = case_of(log, args.case)
    told = follow_up_of(log, archive.read_beside(args.case, FOLLOW_UP), args.case)
    surgery, said = case.events[0].at.date(), _said(args)
    if args.strike is not None:
        return _strike(args, archive, log, told, bool(said))
    if said or args.amend is not None:
        return _visit(args, archive, log, told, surgery, said)
    print(f"{args.case}, operated on {surgery.isoformat()}: {_visits(len(told.visits))}.")
    for line in follow_up_lines(told, surgery):
        print(shown(line))
    return DONE


def _visits(n: int) -> str:
    return f"{n or 'no'} visit{'' if n == 1 else 's'}"


def _said(args: argparse.Namespace) -> dict[str, Any]:
    """The fields of a visit that the command line gives; `-` or nothing for one that is not known."""
    given = {field: getattr(args, option) for option, field in FIELDS.items()}
    said: dict[str, Any] = {
        f: (None if v.strip() in ("", NOT_KNOWN) else v.strip()) for f, v in given.items() if v is not None
    }
    if said.get("pressure") is not None:
        said["pressure"] = _pressure(said["pressure"])
    if "text" in said:
        said["text"] = said["text"] or ""
    return said


def _pressure(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise BadVisit(f"{text} is no pressure: write it in mmHg, as 14.") from None
    if not abs(value) < 1000:
        raise BadVisit(f"{text} is no pressure: write it in mmHg, as 14.")
    return value


def _visit(
    args: argparse.Namespace, archive: Archive, log: Read, told: FollowUp, surgery: date, said: dict[str, Any]
) -> int:
    now = StationClock()()
    kept = {} if args.amend is None else _standing(told, args.amend).model_dump(include={*FIELDS.values()})
    if not {**kept, **said}.get("day"):
        raise BadVisit("A visit needs its day: --date 2026-03-31.")
    fields = {**kept, **said, "ref": args.amend, "why": args.why}

    def made(frame: Mapping[str, Any]) -> Visit:
        return Visit(**frame, **fields)

    draft = made(_frame(args.role, now, 1, 1))
    if why := [*wanting(draft, surgery, now.at.date())]:
        raise BadVisit(" ".join(why))
    if not args.sure and (asked := [*questioned(draft, surgery)]):
        raise BadVisit(" ".join([*asked, "Nothing was entered; --sure enters it as it is."]))
    visit = _entered(archive, log, args, now, made)
    print(shown(f"entry {visit.seq}: {visit.day}  {visit_words(visit)}"))
    talk(*remarked(visit, surgery))
    return DONE


def _strike(args: argparse.Namespace, archive: Archive, log: Read, told: FollowUp, more: bool) -> int:
    if more or args.amend is not None:
        raise BadVisit("A visit is struck by itself: give --strike without anything to enter.")
    _standing(told, args.strike)

    def made(frame: Mapping[str, Any]) -> VisitStruck:
        return VisitStruck(**frame, ref=args.strike, why=args.why)

    struck = _entered(archive, log, args, StationClock()(), made)
    print(f"entry {struck.seq}: entry {struck.ref} is struck, and stays legible.")
    return DONE


def _standing(told: FollowUp, number: int) -> Visit:
    """The visit of that number, if it stands.

    Raises:
        BadVisit: there is none, or it was replaced or struck.
    """
    if (by := told.gone.get(number)) is not None:
        does = f"replaced by entry {by.seq}" if isinstance(by, Visit) else f"struck by entry {by.seq}"
        raise BadVisit(f"Entry {number} was {does}: it stays as it is.")
    found = next((v for v in told.visits if v.seq == number), None)
    if found is None:
        raise BadVisit(
            f"Entry {number} is no visit; the command without options shows them with their numbers."
        )
    return found


def _entered(
    archive: Archive, log: Read, args: argparse.Namespace, now: Now, made: Callable[[Mapping[str, Any]], E]
) -> E:
    """Append an entry to the follow-up, which is begun with its first line if there is none."""
    code = args.case
    with archive.open_beside(code, FOLLOW_UP, clock_time(now.at)) as journal:
        run = max((e.run for e in journal.events), default=0) + 1
        if not journal.events:
            about = {"code": code, "log_hash": log.head, "log_entries": len(log.events)}
            journal.append(Followed(**_frame(args.role, now, 1, run), **about, program=__version__))
        event = made(_frame(args.role, now, len(journal.events) + 1, run))
        journal.append(event)
    return event


def _frame(role: str, now: Now, seq: int, run: int) -> dict[str, Any]:
    return {
        "seq": seq, "at": now.at, "entered_at": now.at, "elapsed_ms": now.elapsed_ms, "run": run, "role": role,
    }  # fmt: skip
