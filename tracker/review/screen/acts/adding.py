"""Adding: what happened and was not logged. It stands beside the log, told by the debrief, late by its nature."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from tracker.core import debrief_events as db
from tracker.core.amendable import why_not
from tracker.core.protocol import Step
from tracker.core.wording import clock_time
from tracker.review.screen import forms
from tracker.review.screen.acts.amending import given, no_clock, stamp, told_near, why
from tracker.review.screen.forms import Answers, Field, Form
from tracker.screen.asking import Option, keyed, options_of

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

_FORM: Final = "add"
_ANYTIME: Final = "at any time"
"""No id of a file has a blank in it."""
_NOT_KNOWN: Final = "-"


def ask_missed(desk: ReviewDesk) -> None:
    """Ask what was not logged, when it was, and why it is added."""
    if not desk.drawn.axis.anchors:
        desk.hint = "the log is empty: there is nothing beside which it could stand"
        return
    near = desk.drawn.axis.at(desk.item.start_t if desk.item else desk.view.start_t)

    def fields(answers: Answers) -> Sequence[Field]:
        what = [forms.ask(desk, "adds", "What happened and was not logged", list(_kinds(desk)))]
        return [
            *what,
            *_about(desk, answers),
            *_when(desk, near, answers),
            *why(desk, _FORM, answers, "Why it is added"),
        ]

    forms.start(desk, Form(_FORM, "What was not logged", fields, partial(_add, desk, near)))


def _kinds(desk: ReviewDesk) -> Iterator[Option]:
    protocol = desk.case.protocol
    yield Option("s", "a step", "step")
    if protocol.readings:
        yield Option("r", "a reading", "reading")
    yield Option("c", "a complication", "complication")
    if any(r.post == "operator" for r in protocol.roles):
        yield Option("o", "a change of operator", "operator")
    yield Option("b", "a moment worth finding in the recording", "bookmark")


def _about(desk: ReviewDesk, answers: Answers) -> Iterator[Field]:
    protocol = desk.case.protocol
    match answers.get("adds"):
        case "step":
            yield from _which_step(desk, answers)
        case "reading":
            yield forms.ask(
                desk, "ident", "Which reading", keyed([(r.label, None, r.id) for r in protocol.readings])
            )
            if (known := protocol.reading.get(str(answers.get("ident")))) is not None:
                yield forms.reading(desk, _FORM, "value", known)
        case "complication":
            named = [(c.label, None, c.id) for c in protocol.complications]
            yield forms.ask(desk, "ident", "Which complication", keyed([*named, ("none of these", None, "")]))
        case "operator":
            roles = [(r.label, None, r.id) for r in protocol.roles if r.post == "operator"]
            yield forms.ask(desk, "ident", "Who operated from then on, by role", keyed(roles))
        case "bookmark":
            yield forms.write(desk, _FORM, "words", "What it shows (no patient identifiers)")


def _which_step(desk: ReviewDesk, answers: Answers) -> Iterator[Field]:
    protocol = desk.case.protocol
    stages = [(s.label, None, s.id) for s in protocol.stages]
    yield forms.ask(desk, "stage", "A step of which stage", keyed([*stages, ("at any time", None, _ANYTIME)]))
    stage = next((s for s in protocol.stages if s.id == answers.get("stage")), None)
    steps = protocol.anytime if stage is None else stage.steps
    if "stage" in answers:
        yield forms.ask(desk, "ident", "Which step", keyed([(s.label, None, s.id) for s in steps]))
    step = _step(desk, answers)
    if step is not None and step.shape == "decision":
        yield forms.ask(desk, "value", f"{step.label}: the choice", options_of(step.choices))


def _step(desk: ReviewDesk, answers: Answers) -> Step | None:
    known = answers.get("adds") == "step"
    return desk.case.protocol.step.get(str(answers.get("ident"))) if known else None


def _when(desk: ReviewDesk, near: datetime, answers: Answers) -> Iterator[Field]:
    title = f"It was at: HH:MM:SS or HH:MM (the cursor is at {clock_time(near)})"
    yield forms.typed(desk, _FORM, "told", title, partial(_no_time, desk, near, answers))
    step = _step(desk, answers)
    if answers.get("adds") == "complication" or (step is not None and step.shape == "span"):
        title = "It ended at: HH:MM:SS or HH:MM, or - if not known"
        yield forms.typed(desk, _FORM, "until", title, partial(_no_time, desk, near, answers))


def _no_time(desk: ReviewDesk, near: datetime, answers: Answers, text: str) -> str:
    """What is amiss with a time as typed: of the beginning, or of the end once that is told."""
    field = "until" if "told" in answers else "told"
    if field == "until" and text == _NOT_KNOWN:
        return ""
    return no_clock(text) or why_not(desk.review.logged, _probe(desk, near, {**answers, field: text})) or ""


def _probe(desk: ReviewDesk, near: datetime, answers: Answers) -> db.Added:
    at = desk.debriefing.clock().at
    envelope = {"seq": 1, "at": at, "entered_at": at, "elapsed_ms": 0, "run": 1, "role": ""}
    return db.Added(**envelope, **_added(near, answers))


def _added(near: datetime, answers: Answers) -> Mapping[str, Any]:
    """What the answers say, the end on the day of the beginning or the one after."""
    told, until = told_near(str(answers["told"]), near), str(answers.get("until", _NOT_KNOWN))
    return {
        "adds": answers["adds"],
        "told": stamp(told),
        "until": None if until == _NOT_KNOWN else stamp(told_near(until, told)),
        "ident": str(answers.get("ident", "")),
        "value": answers.get("value"),
        "words": str(answers.get("words", "")),
    }


def _add(desk: ReviewDesk, near: datetime, answers: Answers) -> None:
    forms.say(desk, db.Added, answers, **_added(near, answers), **given(answers))
    desk.hint = "kept: it stands beside the log, which is as it was"
