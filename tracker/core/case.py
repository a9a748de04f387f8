"""What is known of a case at one moment, made by the fold and by nothing else; what follows from it.

The pieces are those of `values`, and may be had from here too.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Literal
from typing import Protocol as Shape

from msgspec import Struct, field

from tracker.core.entries import NO_RUNS, Entry, RunBases
from tracker.core.events import Event, Scalar
from tracker.core.protocol import Condition, Need, Protocol, Step, Test
from tracker.core.values import (
    Change,
    ClockRun,
    CountLine,
    Difference,
    DueMark,
    End,
    Gap,
    Given,
    Moment,
    Movement,
    PairState,
    Post,
    Said,
    StepState,
    Tick,
    Trouble,
    Value,
)
from tracker.core.wiring import Wiring, wiring

__all__ = [
    "Case", "Change", "ClockRun", "CountLine", "Difference", "DueMark", "End", "Gap", "Given", "Known",
    "Moment", "Movement", "PairState", "Post", "Said", "Status", "StepState", "Tick", "Trouble", "Value",
    "blank", "due_marks", "holds", "in_case", "lines_said", "lines_unsaid",
    "need_met", "plan", "running_tick", "satisfied",
    "standing_choice", "status", "step_met",
]  # fmt: skip

Status = Literal[
    "not_reached", "due", "running", "ticked", "not_needed", "not_logged", "struck", "not_in_case"
]


class Case(Struct, frozen=True, gc=False):
    """Everything known of a case. `log` is what stands, in order; `events` is every line, as written.

    `asked` are the facts as first given, `reached` the place of the furthest stage entered, `odd` the entries
    that mean nothing here: kinds, steps and references that neither the program nor the file knows.
    """

    protocol: Protocol
    wires: Wiring
    events: tuple[Event, ...] = ()
    bases: RunBases = NO_RUNS
    log: tuple[Entry, ...] = ()
    code: str = ""
    digest: str = ""
    program: str = ""
    invented: bool = False
    facts: Mapping[str, Scalar] = field(default_factory=dict)
    asked: Mapping[str, Scalar] = field(default_factory=dict)
    steps: Mapping[str, StepState] = field(default_factory=dict)
    clocks: tuple[ClockRun, ...] = ()
    pairs: Mapping[str, PairState] = field(default_factory=dict)
    readings: tuple[Value, ...] = ()
    counts: Mapping[str, CountLine] = field(default_factory=dict)
    troubles: tuple[Trouble, ...] = ()
    posts: tuple[Post, ...] = ()
    changes: tuple[Change, ...] = ()
    said: tuple[Said, ...] = ()
    reasons: Mapping[str, Given] = field(default_factory=dict)
    pauses: tuple[tuple[Moment, Moment | None], ...] = ()
    gaps: tuple[Gap, ...] = ()
    closed: Mapping[str, Moment] = field(default_factory=dict)
    reached: int = 0
    started: Moment | None = None
    end: End | None = None
    odd: tuple[Entry, ...] = ()

    @property
    def last_t(self) -> float:
        """The case second of the last entry."""
        return self.log[-1].t if self.log else 0.0

    def post(self, post: Literal["circulating", "operator"]) -> str | None:
        """The role that holds a post now."""
        return holder(self.posts, post)

    def state(self, step: str) -> StepState:
        """What befell a step; steps the protocol does not know have an empty state."""
        return self.steps.get(step, NOTHING_YET)


NOTHING_YET = StepState()


def holder(posts: Sequence[Post], post: Literal["circulating", "operator"]) -> str | None:
    """The role that took a post last."""
    return next((p.role for p in reversed(posts) if p.post == post), None)


class Known(Shape):
    """As much of a case as its conditions and needs ask for; a `Case` has it, as has one in the making."""

    @property
    def protocol(self) -> Protocol:
        """The file of the case."""

    @property
    def facts(self) -> Mapping[str, Scalar]:
        """The case facts as they stand."""

    @property
    def steps(self) -> Mapping[str, StepState]:
        """What befell each step."""

    @property
    def pairs(self) -> Mapping[str, PairState]:
        """The movements of each pair."""

    @property
    def counts(self) -> Mapping[str, CountLine]:
        """What was said of each counted line."""


def blank(protocol: Protocol, wires: Wiring | None = None) -> Case:
    """A case of which nothing is known yet; `wires`, if given, are those of this protocol."""
    return Case(
        protocol=protocol,
        wires=wires or wiring(protocol),
        facts=dict(protocol.defaults),
        steps=dict.fromkeys(protocol.step, NOTHING_YET),
        pairs={p.id: PairState() for p in protocol.pairs},
        counts={c.id: CountLine() for c in protocol.counted},
    )


def plan(case: Known, step: Step) -> str | None:
    """What the case facts plan for a decision, if the file says where the plan stands."""
    value = case.facts.get(step.plan_fact) if step.plan_fact else None
    return value if isinstance(value, str) else None


def standing_choice(case: Known, step: Step) -> str | None:
    """The choice of a decision as it stands: what was said last, else the plan."""
    said = case.steps[step.id].choice
    return plan(case, step) if said is None else said


def _passes(case: Known, test: Test) -> bool:
    if test.pair is not None:
        pair = case.pairs[test.pair]
        return pair.ever_open if test.state == "ever_open" else pair.open
    if test.step is not None:
        return case.steps[test.step].done
    if test.decision is not None:
        return standing_choice(case, case.protocol.step[test.decision]) in test.choice
    value = case.facts.get(test.fact or "")
    if test.at_least is not None:
        return isinstance(value, int | float) and not isinstance(value, bool) and value >= test.at_least
    return value in test.choice


def holds(case: Known, condition: Condition | None) -> bool:
    """Whether a condition is met as things stand; none at all is always met."""
    if condition is None:
        return True
    return all(_passes(case, t) != t.negate for t in condition.all) and (
        not condition.any or any(_passes(case, t) != t.negate for t in condition.any)
    )


def in_case(case: Known, step: Step) -> bool:
    """Whether a step belongs to this case as things stand.

    A step whose condition is unmet does not, nor does one of a group that another has settled; a step that
    was done all the same does.
    """
    if case.steps[step.id].done:
        return True
    if step.group and any(case.steps[other].done for other in case.protocol.groups[step.group]):
        return False
    return holds(case, step.when)


def running_tick(step: Step, state: StepState) -> Tick | None:
    """The latest tick of a span step that has no stop."""
    if step.shape != "span":
        return None
    return next((t for t in reversed(state.ticks) if t.stop is None), None)


def satisfied(case: Known, step: Step) -> bool:
    """Whether nothing more is asked of a step: done or decided against, and not due again.

    A step done whose condition is no longer met is not due again, whatever happened since.
    """
    state = case.steps[step.id]
    return state.satisfied or (state.done and not holds(case, step.when))


def step_met(case: Known, step_id: str, until: str = "start") -> bool:
    """Whether a step has been done, decided against or does not belong to the case, and is not due again.

    A count that was ticked and not said is not done yet.
    """
    step, state = case.protocol.step[step_id], case.steps[step_id]
    if satisfied(case, step):
        if step.count is not None and state.ticks and lines_unsaid(case, step, lines_said(state.asked)):
            return False
        return until != "stop" or state.not_logged is not None or running_tick(step, state) is None
    return not in_case(case, step)


def lines_said(its: Iterable[Tick], by: Moment | None = None) -> frozenset[str]:
    """The counted lines that a number was said of for some ticks, up to a moment if one is given."""
    return frozenset(line for tick in its for line, when in tick.counted if by is None or when <= by)


def lines_unsaid(case: Known, step: Step, said: Collection[str], by: Moment | None = None) -> tuple[str, ...]:
    """The lines that a count leaves without a number: those in use, by a moment if given, or all if none was said.

    A line is in use once a number was said of it, or an item opened or handed off. Of the first count nothing
    is asked for an item that was opened later, but for one that only a later count told of.
    """
    if not said:
        return tuple(c.id for c in case.protocol.counted)
    first = step.count == "opening"
    return tuple(
        line
        for line, known in case.counts.items()
        if line not in said
        and (known.unbegun if first else known.used is not None and (by is None or known.used <= by))
    )


def _any_met(case: Known, need: Need) -> bool:
    # One decided against does not stand for the others; only when none is left to be done is nothing needed.
    if any(case.steps[s].done and step_met(case, s, need.until) for s in need.any_step):
        return True
    return all(not case.steps[s].done and step_met(case, s) for s in need.any_step)


def need_met(case: Known, need: Need) -> bool:
    """Whether a need is met as things stand."""
    if need.step is not None:
        return step_met(case, need.step, need.until)
    if need.pair_open is not None:
        return case.pairs[need.pair_open].open
    if need.pair_closed is not None:
        return not case.pairs[need.pair_closed].open
    return _any_met(case, need)


def due_marks(case: Known, step: Step) -> tuple[DueMark, ...]:
    """Why a step is due again; nothing once its condition is no longer met."""
    marks = case.steps[step.id].due_again
    return marks if marks and holds(case, step.when) else ()


def status(case: Case, step: Step) -> Status:
    """The one word that tells how a step stands; once a case was stopped early nothing is due any more."""
    state, going_on = case.state(step.id), case.end is None or case.end.how == "normal"
    if running_tick(step, state):
        return "running"
    if going_on and due_marks(case, step):
        return "due"
    if state.ticks:
        return "ticked"
    if state.not_needed:
        return "not_needed"
    if state.not_logged:
        return "not_logged"
    if not in_case(case, step):
        return "not_in_case"
    if state.struck:
        return "struck"
    return "due" if going_on and _expected_now(case, step) else "not_reached"


def _expected_now(case: Case, step: Step) -> bool:
    stage = case.protocol.stage_of.get(step.id)
    return (
        stage is not None
        and case.protocol.stage_index[stage] <= case.reached
        and step.occurrence != "optional"
    )
