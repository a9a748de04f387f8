"""Amending: what an entry of the log should have been. The log stays as it is; the review takes it so."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, time, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from tracker.core import debrief_events as db
from tracker.core.entries import Entry
from tracker.core.reviewed import why_not
from tracker.core.wording import clock_time
from tracker.review.screen import forms
from tracker.review.screen.forms import Answers, Field, Form
from tracker.screen.asking import Option, keyed

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

_OWN_WORDS: Final = "own words"
"""No id of a file has a blank in it."""
_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", re.ASCII)


def ask_amend(desk: ReviewDesk) -> None:
    """Ask what the entry under the cursor should have been, and why."""
    item = desk.item
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
        return [*what, *_details(desk, form, answers, entry, stop), *_why(desk, form, answers)]

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
    if _fits(desk, entry, told=_stamp(entry.at)):
        yield Option("t", "the start was at another time" if stop else "it was at another time", "time")
    if stop is not None and _fits(desk, stop, told=_stamp(stop.at)):
        yield Option("e", "the stop was at another time", "stop")
    if entry.step is not None and _fits(desk, entry, step=entry.step):
        yield Option("s", "it belongs to another step", "step")
    if _fits(desk, entry, void=True):
        yield Option("v", "it is void: it did not happen", "void")


def _fits(desk: ReviewDesk, entry: Entry, **fields: Any) -> bool:
    envelope = {"seq": 1, "at": entry.at, "entered_at": entry.at, "elapsed_ms": 0, "run": 1, "role": ""}
    return why_not(desk.review.logged, db.Amended(**envelope, entry=entry.seq, **fields)) is None


def _stamp(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds")


def _details(
    desk: ReviewDesk, form: str, answers: Answers, entry: Entry, stop: Entry | None
) -> Iterator[Field]:
    what = answers.get("what")
    if what in ("time", "stop"):
        of = stop if what == "stop" and stop else entry
        title = f"It was at: HH:MM:SS or HH:MM (so far {clock_time(of.at)})"
        yield forms.typed(desk, form, "told", title, _no_clock)
    elif what == "step":
        span = desk.case.protocol.step[entry.step or ""].shape == "span"
        alike = [s for s in desk.case.protocol.all_steps() if (s.shape == "span") == span]
        others = keyed([(s.label, None, s.id) for s in alike if s.id != entry.step])
        yield forms.ask(desk, "step", "It belongs to", others)


def _why(desk: ReviewDesk, form: str, answers: Answers) -> Iterator[Field]:
    reasons = [Option(r.key, r.label, r.id) for r in desk.case.protocol.reasons]
    if reasons:
        own = Option("=", "in words of my own", _OWN_WORDS)
        yield forms.ask(desk, "reason", "Why it is amended", [*reasons, own])
    if not reasons or answers.get("reason") == _OWN_WORDS:
        yield forms.write(desk, form, "text", "Why it is amended, in words")


def _no_clock(text: str) -> str:
    return "" if _CLOCK.fullmatch(text) else "a time of day as HH:MM:SS or HH:MM"


def told_near(text: str, near: datetime) -> datetime:
    """The moment nearest to `near` at which its clock shows a time of day."""
    found = _CLOCK.fullmatch(text)
    h, m, s = (int(part or 0) for part in found.groups()) if found else (near.hour, near.minute, near.second)
    at = datetime.combine(near.date(), time(h, m, s), near.tzinfo)
    days = (at - timedelta(days=1), at, at + timedelta(days=1))
    return min(days, key=lambda day: abs(day - near))


def _amend(desk: ReviewDesk, entry: Entry, stop: Entry | None, answers: Answers) -> None:
    of = stop if answers["what"] == "stop" and stop else entry
    reason, text = str(answers.get("reason", "")), str(answers.get("text", ""))
    given = {"reason": "" if reason == _OWN_WORDS else reason, "text": text}
    forms.say(desk, db.Amended, answers, entry=of.seq, **_amended(of, answers), **given)
    desk.hint = "kept: the review takes it so from now on; the log is as it was"


def _amended(of: Entry, answers: Answers) -> Mapping[str, Any]:
    if answers["what"] == "void":
        return {"void": True}
    if answers["what"] == "step":
        return {"step": str(answers["step"])}
    return {"told": _stamp(told_near(str(answers["told"]), of.at))}
