"""Invented cases as journals: real entries, appended one by one by the real journal, marked as invented."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any

from tracker.audit.invented.casemix import CaseMix
from tracker.audit.invented.numbers import Times
from tracker.audit.invented.pattern import Pattern
from tracker.audit.invented.weave_cases import Where
from tracker.core import events as ev
from tracker.journal.books import CASE, Book
from tracker.journal.disk import RealDisk
from tracker.journal.files import Journal


class Unhurried(RealDisk):
    """A disk that is not waited for: what is invented can be invented again."""

    def sync(self, handle: int) -> None:
        """Do not wait for the medium."""


def write_journal(folder: Path, code: str, events: Iterable[ev.Event], book: Book = CASE) -> tuple[str, int]:
    """Append entries to a new journal; its last hash and its number of entries.

    Raises:
        Taken, InUse, NotKept, OutOfReach: with a sentence.
    """
    with Journal.create(folder, code, Unhurried(), now="", book=book) as journal:
        for event in events:
            journal.append(event)
        return journal.head, len(journal.events)


def told_of(
    pattern: Pattern, times: Times, row: int, code: str, where: Where, mix: CaseMix
) -> Iterator[ev.Event]:
    """The entries of the case in row `row` of `times`, with its own facts, times and station."""
    facts = mix.facts_of(int(where.cases[row]))
    opened = datetime.combine(where.days[row], time(), UTC) + timedelta(milliseconds=int(where.openings[row]))
    run_began = 0
    for column, event in enumerate(pattern.events):
        happened, entered = int(times.told[row, column]), int(times.entered[row, column])
        changed: dict[str, Any] = {
            "at": opened + timedelta(milliseconds=happened),
            "entered_at": opened + timedelta(milliseconds=entered),
        }
        match event:
            case ev.Opened():
                changed |= {"code": code, "station": where.stations[row]}
            case ev.Facts():
                changed["values"] = facts
            case ev.Operator():
                changed["operator"] = facts["operator"]
            case ev.Resumed():
                changed["gap_ms"] = entered - int(times.entered[row, column - 1])
                run_began = entered
        yield event.model_copy(update={**changed, "elapsed_ms": entered - run_began})
