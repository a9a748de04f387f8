"""The usual course of an invented case: what would be entered, one stroke after the other, and how fast.

The fold decides which steps belong to a case and which are due again, so that an invented case goes by its
file as a real one would.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any, Final

from tracker import __version__
from tracker.core import events as ev
from tracker.core.case import Case, blank, in_case, standing_choice
from tracker.core.fold import extend
from tracker.core.protocol import Protocol, Reading, Step

Pace = tuple[float, float | None]
"""Median minutes, and the spread of ln minutes if it is not that of a step."""

GAP: Final = (0.5, 0.6)
SAID: Final = (0.15, 0.4)
AT_ONCE: Final = (0.0, 0.0)
UNTYPED_SPAN: Final = 5.0
SHORTEST_SPAN: Final = 0.5
COUNTED_AT_FIRST: Final = 10
START: Final = datetime(2024, 1, 1, tzinfo=UTC)
BEAT_S: Final = 60.0
"""Seconds between two strokes of a pattern, before its times are drawn."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One entry to be made: `median` minutes after the one before, `sigma` the spread of ln minutes.

    `kind` is None where nothing is entered and only the time passes. `ref` is the `ident` of the stroke that
    it points at; `group` counts the doings of steps, of which a stroke is a part. Without a `sigma` the
    spread is that of a step, as the truth has it.
    """

    ident: int
    kind: type[ev.Event] | None
    fields: Mapping[str, Any] = field(default_factory=dict)
    ref: int | None = None
    median: float = GAP[0]
    sigma: float | None = GAP[1]
    step: str = ""
    stage: str = ""
    group: int = -1


Course = tuple[Stroke, ...]


@dataclass(frozen=True, slots=True)
class Source:
    """A protocol and its text, as the first line of a case holds them."""

    protocol: Protocol
    text: str

    @property
    def digest(self) -> str:
        """The SHA-256 of the text."""
        return sha256(self.text.encode()).hexdigest()

    @property
    def role(self) -> str:
        """The role that circulates."""
        roles = self.protocol.roles
        return next((r.id for r in roles if r.post == "circulating"), "circulating")


def events_of(source: Source, course: Course, code: str = "SYN-0001", station: str = "") -> list[ev.Event]:
    """The entries of a course, a beat apart; what points at nothing entered is not entered either."""
    events: list[ev.Event] = []
    seqs: dict[int, int] = {}
    for place, stroke in enumerate(course):
        if not is_entered(stroke, seqs):
            continue
        seqs[stroke.ident] = len(events) + 1
        ref = {} if stroke.ref is None else {"ref": seqs[stroke.ref]}
        events.append(_event(source, stroke, place, len(events) + 1, ref, {"code": code, "station": station}))
    return events


def is_entered(stroke: Stroke, seqs: Mapping[int, int]) -> bool:
    """Whether a stroke becomes an entry, given those entered before it."""
    return stroke.kind is not None and (stroke.ref is None or stroke.ref in seqs)


def _event(
    source: Source, stroke: Stroke, place: int, seq: int, ref: Mapping[str, int], opening: Mapping[str, str]
) -> ev.Event:
    at, fields = START + timedelta(seconds=BEAT_S * place), dict(stroke.fields)
    if stroke.kind is ev.Opened:
        fields |= opening
    frame = {"at": at, "entered_at": at, "elapsed_ms": round(BEAT_S * place * 1000), "run": 1}
    kind = stroke.kind or ev.Unknown
    return kind(seq=seq, role=source.role, **frame, **ref, **fields)


class Walk:
    """A case being walked through its file; `course` are the strokes so far, `case` what they make."""

    def __init__(self, source: Source, facts: Mapping[str, ev.Scalar], parts: int = 1) -> None:
        self.source, self.parts = source, parts
        self.case: Case = blank(source.protocol)
        self.course: list[Stroke] = []
        self._group = -1
        opening = {
            "protocol": source.text, "digest": source.digest, "program": __version__, "invented": True,
        }  # fmt: skip
        self.enter(ev.Opened, opening, pace=AT_ONCE)
        self.enter(ev.Facts, {"values": dict(facts)})
        if isinstance(operator := facts.get("operator"), str):
            self.enter(ev.Operator, {"operator": operator}, pace=SAID)

    def enter(
        self,
        kind: type[ev.Event],
        fields: Mapping[str, Any],
        *,
        step: Step | None = None,
        ref: int | None = None,
        pace: Pace = GAP,
    ) -> int:
        """Make an entry; its ident."""
        protocol = self.source.protocol
        ident = len(self.course)
        self.course.append(
            Stroke(
                ident, kind, fields, ref, *pace,
                step=step.id if step else "",
                stage=protocol.stage_of.get(step.id, "") if step else "",
                group=self._group if step else -1,
            )
        )  # fmt: skip
        event = events_of_last(self.source, self.course)
        self.case = extend(self.case, event)
        return ident

    def do(self, step: Step) -> None:
        """Do a step once, with the choice, the readings and the numbers that belong to it.

        What it needs and is due again comes first.
        """
        needed = (self.source.protocol.step[n.step] for n in step.needs if n.step)
        for first in [s for s in needed if self.case.state(s.id).due_again]:
            self.do(first)
        self._group += 1
        if step.shape == "span":
            start = self.enter(ev.Start, {"step": step.id}, step=step)
            self._say(step, start)
            pace = span_pace(step, self.parts_of(step))
            self.enter(ev.Stop, {"step": step.id}, step=step, ref=start, pace=pace)
            return
        choice = {"choice": self._choice(step)} if step.choices else {}
        tick = self.enter(ev.Tick, {"step": step.id, **choice}, step=step)
        self._say(step, tick)
        if step.count:
            self.enter(ev.CountSaid, {"lines": self._numbers()}, step=step, ref=tick, pace=SAID)

    def parts_of(self, step: Step) -> int:
        """In how many parts a step is done."""
        return self.parts if step.shape == "span" and step.may_repeat else 1

    def _say(self, step: Step, tick: int) -> None:
        amounts = self._amounts(step)
        for wanted in step.readings:
            if wanted.required or wanted.id in amounts:
                reading = self.source.protocol.reading[wanted.id]
                value = amounts.get(wanted.id, usual_value(reading))
                self.enter(ev.Read, {"reading": reading.id, "value": value}, step=step, ref=tick, pace=SAID)

    def _choice(self, step: Step) -> str:
        choice = standing_choice(self.case, step)
        return choice if choice in {c.id for c in step.choices} else step.choices[0].id

    def _numbers(self) -> dict[str, int]:
        lines = self.case.counts
        return {i: COUNTED_AT_FIRST if line.expected is None else line.expected for i, line in lines.items()}

    def _amounts(self, step: Step) -> dict[str, int]:
        """What goes out is what went in."""
        amounts = {}
        for pair in self.source.protocol.pairs:
            inside = self.case.pairs[pair.id].total(+1)
            for trigger in pair.closes:
                if trigger.step == step.id and trigger.amount_from and inside is not None:
                    amounts[trigger.amount_from] = inside
        return amounts


def events_of_last(source: Source, course: Sequence[Stroke]) -> ev.Event:
    """The entry of the last stroke of a course without silent strokes."""
    last = course[-1]
    ref = {} if last.ref is None else {"ref": last.ref + 1}
    return _event(source, last, len(course) - 1, len(course), ref, {"code": "SYN-0001", "station": ""})


def span_pace(step: Step, parts: int = 1) -> Pace:
    """The usual minutes of one of so many spans: the middle of the file's range on the log scale, shared."""
    low, high = step.minutes or (UNTYPED_SPAN, UNTYPED_SPAN)
    return math.sqrt(max(low, SHORTEST_SPAN) * max(high, SHORTEST_SPAN)) / parts, None


def usual_value(reading: Reading) -> ev.Scalar:
    """A value of a reading that its file finds nothing in."""
    if reading.kind == "flag":
        return True
    if reading.kind == "choice":
        return next((c.id for c in reading.choices if c.id not in reading.caution_choices), "")
    low, high = reading.usual or reading.plausible or (1, 1)
    if reading.caution_above is not None:
        high = min(high, reading.caution_above)
    return round(low) if low == round(low) else low if reading.usual else math.ceil(min(low + 1, high))


def usual_course(source: Source, facts: Mapping[str, ev.Scalar], parts: int = 1) -> Course:
    """Walk a case of these facts through its file; steps that may repeat are done in so many parts."""
    walk = Walk(source, facts, parts)
    for stage in source.protocol.stages:
        for step in stage.steps:
            if _belongs(walk.case, step):
                for _ in range(walk.parts_of(step)):
                    walk.do(step)
        for step in _due(walk.case, stage.id):
            walk.do(step)
    return tuple(walk.course)


def course_of_spans(source: Source, facts: Mapping[str, ev.Scalar], spans: int) -> Course:
    """The usual course in so many parts that it has at least `spans` spans, if any step may repeat."""
    usual = usual_course(source, facts)
    starts = [source.protocol.step[s.step] for s in usual if s.kind is ev.Start]
    repeatable = sum(step.may_repeat for step in starts)
    wanted = spans - len(starts)
    if wanted <= 0 or not repeatable:
        return usual
    return usual_course(source, facts, 1 + math.ceil(wanted / repeatable))


def _belongs(case: Case, step: Step) -> bool:
    return step.occurrence != "optional" and in_case(case, step) and not case.state(step.id).satisfied


def _due(case: Case, stage: str) -> Iterator[Step]:
    """Steps up to a stage that are due again once it is over."""
    for each in case.protocol.stages[: case.protocol.stage_index[stage] + 1]:
        yield from (s for s in each.steps if case.state(s.id).due_again and not s.ends_case)
