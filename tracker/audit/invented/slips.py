"""What goes otherwise in an invented case: one thing at most, so that its consequences are known to the row.

A slip changes the usual course; what it comes to as deviations is the core's business, not told here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from tracker.audit.invented.course import SAID, Course, Pace, Stroke
from tracker.core import events as ev
from tracker.core.protocol import Protocol

PAUSE: Final[Pace] = (4.0, 0.5)
AWAY: Final[Pace] = (1.5, 0.4)
TROUBLE: Final[Pace] = (3.0, 0.6)


@dataclass(frozen=True, slots=True)
class Slip:
    """A kind of slip and what it is about; the usual course with it."""

    kind: str
    about: str
    course: Course

    @property
    def name(self) -> str:
        """How it is counted."""
        return f"{self.kind}:{self.about}" if self.about else self.kind


Maker = Callable[[Protocol, Course], Iterator[tuple[str, Course]]]


def slips(protocol: Protocol, usual: Course) -> Iterator[Slip]:
    """Every slip that this course may have, a few of each kind."""
    for kind, (_, most, maker) in KINDS.items():
        for about, course in _spread(list(maker(protocol, usual)), most):
            yield Slip(kind, about, course)


def _spread(found: Sequence[tuple[str, Course]], most: int) -> Iterator[tuple[str, Course]]:
    """At most so many, taken evenly from all of them."""
    for n in range(min(most, len(found))):
        yield found[n * len(found) // min(most, len(found))]


# -- entries that are not made


def _once(course: Course, kind: type[ev.Event]) -> list[Stroke]:
    """The ticks or starts of the steps that the course does once, but for those that frame a case."""
    strokes = [s for s in course if s.step and s.kind in (ev.Tick, ev.Start)]
    steps = [s.step for s in strokes]
    return [s for s in strokes if s.kind is kind and steps.count(s.step) == 1]


def _silent(course: Course, idents: Sequence[int]) -> Course:
    return tuple(replace(s, kind=None) if s.ident in idents else s for s in course)


def _no_stop(_protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    for start in _once(course, ev.Start):
        stops = [s.ident for s in course if s.kind is ev.Stop and s.ref == start.ident]
        yield start.step, _silent(course, stops)


def _no_tick(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    for tick in _once(course, ev.Tick):
        step = protocol.step[tick.step]
        if not (step.starts_case or step.ends_case):
            yield tick.step, _silent(course, [tick.ident])


def _no_reading(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    amounts = {t.amount_from for p in protocol.pairs for t in (*p.opens, *p.closes)}
    for stroke in course:
        if stroke.kind is ev.Read and stroke.fields["reading"] not in amounts:
            yield f"{stroke.fields['reading']}@{stroke.step}", _silent(course, [stroke.ident])


def _not_logged(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    yield from _instead(protocol, course, ev.NotLogged, {})


def _not_needed(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    reason = protocol.reasons[0].id if protocol.reasons else ""
    yield from _instead(protocol, course, ev.NotNeeded, {"reason": reason})


def _instead(
    protocol: Protocol, course: Course, kind: type[ev.Event], fields: Mapping[str, Any]
) -> Iterator[tuple[str, Course]]:
    for tick in _once(course, ev.Tick):
        step = protocol.step[tick.step]
        if step.shape == "point" and not (step.readings or step.starts_case or step.ends_case):
            said = replace(tick, kind=kind, fields={"step": tick.step, **fields})
            yield tick.step, tuple(said if s.ident == tick.ident else s for s in course)


# -- entries in another order


def _swapped(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    """A step with what belongs to it, done before the step that it needs."""
    places = {s.step: s.group for s in course if s.step}
    single = {s.step for kind in (ev.Tick, ev.Start) for s in _once(course, kind)}
    for step in protocol.all_steps():
        for need in step.needs:
            if need.step in single and step.id in single and places[need.step] < places[step.id]:
                yield f"{step.id}<{need.step}", _moved(course, places[step.id], places[need.step])


def _moved(course: Course, group: int, before: int) -> Course:
    moved = [s for s in course if s.group == group]
    rest = [s for s in course if s.group != group]
    place = next(n for n, s in enumerate(rest) if s.group == before)
    return (*rest[:place], *moved, *rest[place:])


# -- entries besides


Told = tuple[type[ev.Event], Mapping[str, Any], Pace]
"""An entry made besides: its kind, what it says, how long after the one before."""


def _inserted(course: Course, after: int, *strokes: Told) -> Course:
    """The course with more strokes behind the stroke at place `after`; the second points at the first."""
    first = len(course) + 1000
    made = tuple(
        Stroke(first + n, kind, fields, first if n else None, *pace)
        for n, (kind, fields, pace) in enumerate(strokes)
    )
    return (*course[: after + 1], *made, *course[after + 1 :])


def _seams(course: Course) -> list[int]:
    """Places in the middle third of a course behind which one doing ends and another begins."""
    third = len(course) // 3
    return [n for n in range(third, 2 * third) if course[n].group != course[n + 1].group]


def _struck(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    done = {s.step for s in course}
    others = [s.id for s in protocol.all_steps() if s.id not in done and s.shape == "point" and not s.when]
    for place, step in zip(_seams(course), others, strict=False):
        yield step, _inserted(course, place, (ev.Tick, {"step": step}, SAID), (ev.Strike, {}, SAID))


def _complicated(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    for place, each in zip(_seams(course), protocol.complications, strict=False):
        begun = (ev.Complicated, {"complication": each.id}, SAID)
        yield each.id, _inserted(course, place, begun, (ev.ComplicationClosed, {}, TROUBLE))


def _handed_over(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    roles = [r.id for r in protocol.roles if r.post == "circulating"]
    if len(roles) > 1:
        fields = {"outgoing": roles[0], "incoming": roles[1], "counts_confirmed": True}
        told: list[Told] = [(ev.HandOver, fields, SAID), (ev.HandOverAccepted, {}, SAID)]
        yield from ((roles[1], _inserted(course, place, *told)) for place in _seams(course)[:1])


def _paused(_protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    for place, stroke in enumerate(course):
        if stroke.kind is ev.Start and course[place + 1].kind is ev.Stop:
            resumed = Stroke(len(course) + 1001, ev.Continued, {}, None, *PAUSE)
            begun = Stroke(len(course) + 1000, ev.Paused, {}, None, *SAID)
            yield stroke.step, (*course[: place + 1], begun, resumed, *course[place + 1 :])


def _reopened(_protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    for place in _seams(course)[:1]:
        yield "", _inserted(course, place, (ev.Resumed, {"gap_ms": 0}, AWAY))


# -- courses that end otherwise


def _left_open(_protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    for place in _seams(course)[-1:]:
        yield "", course[: place + 1]


def _stopped_early(protocol: Protocol, course: Course) -> Iterator[tuple[str, Course]]:
    reason = protocol.reasons[0].id if protocol.reasons else ""
    ends = {s.id for s in protocol.all_steps() if s.ends_case}
    for place in _seams(course)[-1:]:
        stopped = _inserted(course[: place + 1], place, (ev.StoppedEarly, {"reason": reason}, SAID))
        yield "", (*stopped, *(s for s in course[place + 1 :] if s.step in ends))


KINDS: Final[Mapping[str, tuple[float, int, Maker]]] = {
    "no_stop": (0.22, 4, _no_stop),
    "no_tick": (0.18, 4, _no_tick),
    "swapped": (0.15, 4, _swapped),
    "no_reading": (0.08, 2, _no_reading),
    "struck": (0.06, 1, _struck),
    "complication": (0.06, 2, _complicated),
    "not_logged": (0.05, 1, _not_logged),
    "not_needed": (0.04, 1, _not_needed),
    "paused": (0.05, 1, _paused),
    "handed_over": (0.04, 1, _handed_over),
    "reopened": (0.03, 1, _reopened),
    "stopped_early": (0.02, 1, _stopped_early),
    "left_open": (0.02, 1, _left_open),
}
"""Each kind of slip: how often, of all slips; how many of its kind at most; what makes it."""
