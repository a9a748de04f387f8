"""Amending: what an entry of the log should have been. The log stays as it is; the review takes it so."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, time, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from tracker.core import debrief_events as db
from tracker.core import events as ev
from tracker.core.amendable import why_not
from tracker.core.amendments import debrief_seq
from tracker.core.entries import Entry
from tracker.core.wording import clock_time
from tracker.review.record.logbook import as_written
from tracker.review.screen import forms
from tracker.review.screen.forms import Answers, Field, Form
from tracker.screen.asking import Option, keyed, options_of

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

_OWN_WORDS: Final = "own words"
"""No id of a file has a blank in it."""
_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", re.ASCII)


def ask_amend(desk: ReviewDesk) -> None:
    """Ask what the entry under the cursor should have been, and why."""
    item = desk.item
    if item is not None and (number := debrief_seq(item.seq)) is not None:
        desk.hint = (
            f"entry {number} of the debrief said this: {desk.key('withdraw')} takes it back,"
            f" {desk.key('missed')} adds another"
        )
        return
    entry = None if item is None else _standing(desk, item.seq)
    if item is None or entry is None:
        desk.hint = "no entry of the log stands under the cursor"
        return
    stop = None if item.stop_seq is None else _standing(desk, item.stop_seq)
    options = [] if desk.here.kind == "gap" else list(_ways(desk, entry, stop))
    if not options:
        desk.hint = "this entry is the log's own frame or a correction: it cannot be amended"
        return
    form = f"amend:{entry.seq}"
    title = f"Entry {entry.seq}, {_named(desk, entry)} {clock_time(entry.at)}: what it should have been"

    def fields(answers: Answers) -> Sequence[Field]:
        what = [forms.ask(desk, "what", title, options)]
        return [
            *what,
            *_details(desk, form, answers, entry, stop),
            *why(desk, form, answers, "Why it is amended"),
        ]

    forms.start(desk, Form(form, title, fields, partial(_amend, desk, entry, stop)))


def _named(desk: ReviewDesk, entry: Entry) -> str:
    return desk.case.protocol.label(entry.step) if entry.step else entry.event.kind.replace("_", " ")


def _standing(desk: ReviewDesk, seq: int) -> Entry | None:
    """An entry that stands in the log, at the time that stands at the review."""
    if not any(e.seq == seq for e in desk.review.logged.log):
        return None
    entries = (*desk.case.log, *desk.review.logged.log)
    return next((e for e in entries if e.seq == seq), None)


def _ways(desk: ReviewDesk, entry: Entry, stop: Entry | None) -> Iterator[Option]:
    """What can be said of an entry: those ways that an amendment may take."""
    step = desk.case.protocol.step.get(entry.step or "")
    if _fits(desk, entry, told=stamp(entry.at)):
        yield Option("t", "the start was at another time" if stop else "it was at another time", "time")
    if stop is not None and _fits(desk, stop, told=stamp(stop.at)):
        yield Option("e", "the stop was at another time", "stop")
    elif _fits(desk, entry, stopped=stamp(entry.at)):
        yield Option("e", "it stopped, and nobody logged the stop", "stopped")
    if entry.step is not None and _fits(desk, entry, step=entry.step):
        yield Option("s", "it belongs to another step", "step")
    if step is not None and step.choices and _fits(desk, entry, choice=step.choices[0].id):
        yield Option("c", "another choice was made", "choice")
    if any(_readings(desk, entry)):
        yield Option("r", "a reading had another value", "value")
    if _fits(desk, entry, void=True):
        yield Option("v", "it is void: it did not happen", "void")


def _readings(desk: ReviewDesk, entry: Entry) -> list[Entry]:
    """The readings of the log, those of a tick or near it in time first; none where an entry is no tick."""
    read = [e for e in desk.review.logged.log if isinstance(e.event, ev.Read)]
    if not isinstance(entry.event, ev.Tick | ev.Start | ev.Read):
        return []
    return sorted(read, key=lambda e: (entry.seq not in (e.seq, e.event.ref), abs(e.t - entry.t), e.seq))


def _fits(desk: ReviewDesk, entry: Entry, **fields: Any) -> bool:
    envelope = {"seq": 1, "at": entry.at, "entered_at": entry.at, "elapsed_ms": 0, "run": 1, "role": ""}
    return why_not(desk.review.logged, db.Amended(**envelope, entry=entry.seq, **fields)) is None


def stamp(at: datetime) -> str:
    """A moment as a debrief tells it."""
    return at.isoformat(timespec="milliseconds")


def _details(
    desk: ReviewDesk, form: str, answers: Answers, entry: Entry, stop: Entry | None
) -> Iterator[Field]:
    what = answers.get("what")
    if what in ("time", "stop"):
        of = stop if what == "stop" and stop else entry
        title = f"It was at: HH:MM:SS or HH:MM (so far {clock_time(of.at)})"
        yield forms.typed(desk, form, "told", title, no_clock)
    elif what == "stopped":
        title = f"It stopped at: HH:MM:SS or HH:MM (it began at {clock_time(entry.at)})"
        yield forms.typed(desk, form, "told", title, partial(_no_stop, entry))
    elif what == "step":
        span = desk.case.protocol.step[entry.step or ""].shape == "span"
        alike = [s for s in desk.case.protocol.all_steps() if (s.shape == "span") == span]
        others = keyed([(s.label, None, s.id) for s in alike if s.id != entry.step])
        yield forms.ask(desk, "step", "It belongs to", others)
    elif what == "choice":
        choices = options_of(desk.case.protocol.step[entry.step or ""].choices)
        yield forms.ask(desk, "choice", "The choice was", choices)
    elif what == "value":
        yield from _another_value(desk, form, answers, _readings(desk, entry))


def _another_value(desk: ReviewDesk, form: str, answers: Answers, readings: list[Entry]) -> Iterator[Field]:
    told = keyed([(as_written(desk.review.logged, e.event), None, e.seq) for e in readings])
    yield forms.ask(desk, "entry", "Which reading", told)
    event = next((e.event for e in readings if e.seq == answers.get("entry")), None)
    if isinstance(event, ev.Read):
        yield forms.reading(desk, form, "value", desk.case.protocol.reading[event.reading])


def why(desk: ReviewDesk, form: str, answers: Answers, title: str) -> Iterator[Field]:
    """One of the file's reasons, or words."""
    reasons = [Option(r.key, r.label, r.id) for r in desk.case.protocol.reasons]
    if reasons:
        own = Option("=", "in words of my own", _OWN_WORDS)
        yield forms.ask(desk, "reason", title, [*reasons, own])
    if not reasons or answers.get("reason") == _OWN_WORDS:
        yield forms.write(desk, form, "text", f"{title}, in words")


def given(answers: Answers) -> Mapping[str, str]:
    """The reason that was said."""
    reason, text = str(answers.get("reason", "")), str(answers.get("text", ""))
    return {"reason": "" if reason == _OWN_WORDS else reason, "text": text}


def no_clock(text: str) -> str:
    """What is amiss with a time of day as typed, or nothing."""
    return "" if _CLOCK.fullmatch(text) else "a time of day as HH:MM:SS or HH:MM"


def _no_stop(start: Entry, text: str) -> str:
    return no_clock(text) or ("" if told_near(text, start.at) >= start.at else "it began later than that")


def told_near(text: str, near: datetime) -> datetime:
    """The moment nearest to `near` at which its clock shows a time of day."""
    found = _CLOCK.fullmatch(text)
    h, m, s = (int(part or 0) for part in found.groups()) if found else (near.hour, near.minute, near.second)
    at = datetime.combine(near.date(), time(h, m, s), near.tzinfo)
    days = (at - timedelta(days=1), at, at + timedelta(days=1))
    return min(days, key=lambda day: abs(day - near))


def _amend(desk: ReviewDesk, entry: Entry, stop: Entry | None, answers: Answers) -> None:
    of = stop if answers["what"] == "stop" and stop else entry
    seq = int(answers["entry"]) if answers["what"] == "value" else of.seq
    forms.say(desk, db.Amended, answers, entry=seq, **_amended(of, answers), **given(answers))
    desk.hint = "kept: the review takes it so from now on; the log is as it was"


def _amended(of: Entry, answers: Answers) -> Mapping[str, Any]:
    match answers["what"]:
        case "void":
            return {"void": True}
        case "stopped":
            return {"stopped": stamp(told_near(str(answers["told"]), of.at))}
        case "step" | "choice" | "value" as what:
            return {str(what): answers[what]}
    return {"told": stamp(told_near(str(answers["told"]), of.at))}
