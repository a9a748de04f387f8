"""What a debrief amends and adds, in words: as written first, and what it became. Nothing is left out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tracker.core import debrief_events as db
from tracker.core.amendable import told_at
from tracker.core.amendments import ADDED
from tracker.core.case import Case
from tracker.core.events import Read, Scalar
from tracker.core.protocol import Protocol
from tracker.core.reviewed import Reviewed
from tracker.core.wording import clock_time, value_words
from tracker.review.record import debrief_structure as ds
from tracker.review.record.logbook import as_written
from tracker.review.record.plain import HOW_WORDS, choice_words, joined, stamp

NOTHING_LOGGED: Final = "nothing was logged"


def amendments(review: Reviewed) -> Iterator[ds.DebriefAmendmentLine]:
    """Every amendment and addition of the debrief, with what was written first; withdrawn ones do not stand.

    What was added has the number under which it stands beside the log's entries.
    """
    written = {e.seq: e for e in review.logged.events}
    for event in review.debrief.events:
        if isinstance(event, db.Amended):
            first = written.get(event.entry)
            original = as_written(review.logged, first) if first else "no such entry"
            yield _amendment(review, event, event.entry, original)
        elif isinstance(event, db.Added):
            yield _amendment(review, event, ADDED + event.seq, NOTHING_LOGGED)


def _amendment(
    review: Reviewed, event: db.Amended | db.Added, entry: int, original: str
) -> ds.DebriefAmendmentLine:
    stands = event.seq not in review.debrief.void | review.idle and review.bond != "another log"
    return ds.DebriefAmendmentLine(
        seq=event.seq,
        at=stamp(event.at),
        role=event.role,
        entry=entry,
        original=original,
        became=became(review.logged, event),
        reason=because(review.logged.protocol, event),
        stands=stands,
    )


def became(logged: Case, event: db.Amended | db.Added) -> str:
    """What an amendment makes of its entry, or what an addition adds, in words."""
    return _added(logged.protocol, event) if isinstance(event, db.Added) else _became(logged, event)


def _became(logged: Case, event: db.Amended) -> str:
    protocol = logged.protocol
    entry = next((e for e in logged.log if e.seq == event.entry), None)
    step = protocol.step.get(entry.step or "") if entry else None
    choice = choice_words(step, event.choice) if step else event.choice
    value = ""
    if event.value is not None:
        read = entry.event if entry else None
        value = _value(protocol, read.reading if isinstance(read, Read) else "", event.value)
    return joined(
        "void" if event.void else "",
        "" if event.step is None else protocol.label(event.step),
        choice or "",
        value,
        _time("at ", event.told),
        _time("stopped at ", event.stopped),
    )


def _added(protocol: Protocol, event: db.Added) -> str:
    step, value = protocol.step.get(event.ident), ""
    if event.value is not None:
        is_choice = step is not None and event.adds == "step"
        value = choice_words(step, str(event.value)) if step and is_choice else ""
        value = value or _value(protocol, event.ident, event.value)
    about = {"bookmark": "bookmark", "operator": "operating"}.get(event.adds, "")
    what = protocol.label(event.ident) or ("complication" if event.adds == "complication" else "")
    return joined(about, what, value, event.words, _time("at ", event.told), _time("to ", event.until))


def _time(before: str, told: str | None) -> str:
    if told is None:
        return ""
    at = told_at(told)
    return f"{before}{clock_time(at)}" if at else told


def _value(protocol: Protocol, reading: str, value: Scalar) -> str:
    known = protocol.reading.get(reading)
    return value_words(known, value) if known else str(value)


def because(protocol: Protocol, event: db.Amended | db.Added | db.Reasoned) -> str:
    """Why, as an entry gives it."""
    how = event.how if isinstance(event, db.Reasoned) else None
    return why_words(protocol, event.reason, how, event.text)


def why_words(protocol: Protocol, reason: str, how: str | None, text: str) -> str:
    """A reason in words: the file's, how it came about, free words."""
    return joined(protocol.label(reason), HOW_WORDS.get(how or "", ""), text)
