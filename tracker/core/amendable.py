"""Whether what a debrief amends or adds can be: the checks, and why not in words for the screen."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.debrief_events import Added, Amended
from tracker.core.entries import MOST_BACK_S, Entry
from tracker.core.protocol import Protocol, Reading, Step

Saying = Amended | Added

WAYS: Final = ("told", "step", "choice", "value", "stopped", "void")
"""What an amendment may say of an entry."""
_TIMELESS: Final = (ev.Opened, ev.Resumed, ev.Strike, ev.Move, ev.BackStamp, ev.Chosen)
_AT_STEPS: Final = (ev.Tick, ev.Start, ev.NotNeeded, ev.NotLogged)
_ENDING: Final = ("step", "complication")
"""What is added may have an end if it is one of these."""


def told_at(text: str) -> datetime | None:
    """The moment that an amendment tells; None if the text is none, or has no offset."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at if at.tzinfo else None


def says(said: Amended, what: str) -> bool:
    """Whether an amendment says something of an entry in one of the `WAYS`."""
    value = getattr(said, what)
    return value is not None and (what != "void" or bool(value))


def beside(logged: Case, at: datetime) -> Entry:
    """The entry of the log nearest to a time told."""
    return min(logged.log, key=lambda e: (abs((e.at - at).total_seconds()), e.seq))


def why_not(logged: Case, said: Saying) -> str | None:
    """Why an amendment or an addition cannot be made, in words for the screen; None if it can."""
    return _why_not_added(logged, said) if isinstance(said, Added) else _why_not_amended(logged, said)


def _why_not_amended(logged: Case, said: Amended) -> str | None:
    event = next((e for e in logged.events if e.seq == said.entry), None)
    entry = next((e for e in logged.log if e.seq == said.entry), None)
    if event is None:
        return f"the log has no entry {said.entry}"
    if entry is None or isinstance(event, _TIMELESS):
        return "an entry that is void, a correction, or the log's own frame cannot be amended"
    if not any(says(said, what) for what in WAYS):
        return "nothing is amended"
    checks = (
        said.told is not None and _no_time(entry, said.told),
        said.step is not None and _no_step(logged.protocol, entry, said.step),
        said.choice is not None and _no_choice(_step_of(logged.protocol, entry), said.choice),
        said.value is not None and _no_value(_reading_of(logged.protocol, event), said.value),
        said.stopped is not None and _no_stop(logged, entry, said.stopped),
    )
    return next((why for why in checks if why), None)


def _no_time(entry: Entry, told: str) -> str | None:
    at = told_at(told)
    if at is None:
        return "the time is not a time with its offset"
    far = abs((entry.at - at).total_seconds()) > MOST_BACK_S
    return "the time is more than a week from the entry's own" if far else None


def _no_step(protocol: Protocol, entry: Entry, ident: str) -> str | None:
    was, step = _step_of(protocol, entry), protocol.step.get(ident)
    if was is None or not isinstance(entry.event, _AT_STEPS):
        return "the entry stands at no step, so it belongs to no other"
    if step is None:
        return "the file has no such step"
    alike = (was.shape == "span") == (step.shape == "span")
    return None if alike else "a span belongs to a span, a moment to a moment"


def _step_of(protocol: Protocol, entry: Entry) -> Step | None:
    return protocol.step.get(entry.step or "")


def _reading_of(protocol: Protocol, event: ev.Event) -> Reading | None:
    return protocol.reading.get(event.reading) if isinstance(event, ev.Read) else None


def _no_choice(step: Step | None, choice: ev.Scalar | None) -> str | None:
    if step is None or step.shape != "decision":
        return "only a decision has a choice"
    return None if choice in {c.id for c in step.choices} else "the decision has no such choice"


def _no_value(reading: Reading | None, value: ev.Scalar | None) -> str | None:
    if reading is None:
        return "only a reading has a value"
    fits = {
        "choice": value in {c.id for c in reading.choices},
        "flag": isinstance(value, bool),
        "number": isinstance(value, int | float) and not isinstance(value, bool),
    }
    return None if fits[reading.kind] else "the value is none that the reading may have"


def _no_stop(logged: Case, entry: Entry, stopped: str) -> str | None:
    step = _step_of(logged.protocol, entry)
    open_spans = {t.seq for t in logged.state(step.id).ticks if t.stop is None} if step else set()
    if step is None or step.shape != "span" or entry.seq not in open_spans:
        return "only a span without a stop can be given one"
    at = told_at(stopped)
    if at is not None and at < entry.at:
        return "the stop is before the start"
    return _no_time(entry, stopped)


def _why_not_added(logged: Case, said: Added) -> str | None:
    if not logged.log:
        return "the log has no entry beside which anything could stand"
    at, until = told_at(said.told), told_at(said.until) if said.until else None
    if at is None or (said.until and until is None):
        return "the time is not a time with its offset"
    if not logged.log[0].at <= said.at >= max(at, until or at):
        return "it is told for a time after that at which it was said"
    if until is not None and (until < at or said.adds not in _ENDING):
        return "the end is before the beginning" if until < at else "only a span or a complication has an end"
    times = (said.told, said.until) if said.until else (said.told,)
    far = (why for told in times if (why := _far(logged, told)))
    return next(far, None) or _no_such(logged.protocol, said)


def _far(logged: Case, told: str) -> str | None:
    at = told_at(told)
    return None if at is None else _no_time(beside(logged, at), told)


def _no_such(protocol: Protocol, said: Added) -> str | None:
    step = protocol.step.get(said.ident)
    if said.adds == "step":
        if step is None:
            return "the file has no such step"
        if said.until and step.shape != "span":
            return "only a span has an end"
        return None if said.value is None else _no_choice(step, said.value)
    if said.adds == "reading":
        return _no_value(protocol.reading.get(said.ident), said.value)
    known = {
        "complication": said.ident == "" or any(c.id == said.ident for c in protocol.complications),
        "operator": any(r.id == said.ident and r.post == "operator" for r in protocol.roles),
        "bookmark": True,
    }
    return None if known[said.adds] else f"the file has no such {said.adds}"
