"""What is known of a case at one moment: frozen values, made by the fold and by nothing else.

Times are case seconds (`t`) and the time told (`at`). Intervals are half-open: a span holds its start and
not its stop.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from tracker.core.entries import NO_RUNS, Entry, RunBases
from tracker.core.events import Event, Scalar
from tracker.core.protocol import Condition, Need, Protocol, Step, Test
from tracker.core.wiring import Wiring, wiring

Status = Literal[
    "not_reached", "due", "running", "ticked", "not_needed", "not_logged", "struck", "not_in_case"
]


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """When something was: case second, the event's sequence number, time told; ordered in that order."""

    t: float
    seq: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Tick:
    """One time a step was done. A point has no stop; a span without a stop is running.

    `unmet` are the needs not met at that moment, `expected` is false for a further tick of a step that is
    done once and was not due again, `operator` the role operating at the start.
    """

    start: Moment
    nth: int
    late_s: float = 0.0
    stop: Moment | None = None
    stop_late_s: float = 0.0
    choice: str | None = None
    unmet: tuple[Need, ...] = ()
    expected: bool = True
    operator: str | None = None

    @property
    def seq(self) -> int:
        """The sequence number of the tick or start."""
        return self.start.seq


@dataclass(frozen=True, slots=True)
class DueMark:
    """Why a step already ticked is due again, and since when."""

    reason: str
    since: Moment


@dataclass(frozen=True, slots=True)
class StepState:
    """Everything that befell one step. `satisfied` is what a need asks for."""

    ticks: tuple[Tick, ...] = ()
    satisfied: bool = False
    due_again: tuple[DueMark, ...] = ()
    not_needed: tuple[Moment, str] | None = None
    not_logged: Moment | None = None
    struck: bool = False

    @property
    def last(self) -> Tick | None:
        """The latest tick."""
        return self.ticks[-1] if self.ticks else None


@dataclass(frozen=True, slots=True)
class ClockRun:
    """One run of a clock; without a stop it is running."""

    clock: str
    start: Moment
    stop: Moment | None = None

    def seconds(self, now_t: float) -> float:
        """How long it has run by `now_t`, or ran."""
        return (self.stop.t if self.stop else max(now_t, self.start.t)) - self.start.t


@dataclass(frozen=True, slots=True)
class Movement:
    """Something of a pair going in (+1) or out (-1); `amount` is unknown until `amount_from` is read."""

    sign: int
    when: Moment
    amount: int | None = None
    amount_from: str | None = None


@dataclass(frozen=True, slots=True)
class PairState:
    """The movements of one pair."""

    movements: tuple[Movement, ...] = ()

    @property
    def ever_open(self) -> bool:
        """Whether anything ever went in."""
        return any(m.sign > 0 for m in self.movements)

    @property
    def open(self) -> bool:
        """Whether something is in: more in than out, an unnumbered way out taking all."""
        inside = 0
        for m in self.movements:
            if m.sign > 0:
                inside += 1 if m.amount is None else m.amount
            else:
                inside = 0 if m.amount is None else inside - m.amount
        return inside != 0

    def total(self, sign: int) -> int | None:
        """How many went in (+1) or out (-1); None where any number was not said."""
        amounts = [m.amount for m in self.movements if m.sign == sign]
        return None if None in amounts else sum(a for a in amounts if a is not None)


@dataclass(frozen=True, slots=True)
class Value:
    """One reading as it stands; `step` is the tick it belongs to, by sequence number."""

    reading: str
    value: Scalar
    when: Moment
    tick: int | None = None


@dataclass(frozen=True, slots=True)
class CountLine:
    """One line of accountable items: start + added - removed should be the final number said."""

    start: int | None = None
    added: int = 0
    removed: int = 0
    final: int | None = None

    @property
    def expected(self) -> int | None:
        """What the final number should be; None before a first count."""
        return None if self.start is None else self.start + self.added - self.removed


@dataclass(frozen=True, slots=True)
class Trouble:
    """A complication, from the key that stamped it until it was said to be dealt with."""

    start: Moment
    complication: str | None = None
    text: str = ""
    stop: Moment | None = None


@dataclass(frozen=True, slots=True)
class Post:
    """Who held a post from a moment on, by role."""

    post: Literal["circulating", "operator"]
    role: str
    since: Moment
    accepted: Moment | None = None
    counts_confirmed: bool | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A change of mind: a case fact or a decision that was one thing and became another."""

    what: str
    was: Scalar
    now: Scalar
    when: Moment
    planned: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """Words or a bookmark with their moment."""

    kind: Literal["note", "bookmark"]
    text: str
    when: Moment


@dataclass(frozen=True, slots=True)
class Given:
    """The reason given for a deviation."""

    reason: str
    how: str | None
    text: str
    when: Moment


@dataclass(frozen=True, slots=True)
class Gap:
    """A time in which the journal was not open."""

    start: Moment
    stop: Moment
    torn: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """How and when the case ended."""

    when: Moment
    how: Literal["normal", "stopped_early"]
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """Everything known of a case. `log` is what stands, in order; `events` is every line, as written."""

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
        return next((p.role for p in reversed(self.posts) if p.post == post), None)

    def state(self, step: str) -> StepState:
        """What befell a step; steps the protocol does not know have an empty state."""
        return self.steps.get(step, StepState())


def blank(protocol: Protocol) -> Case:
    """A case of which nothing is known yet."""
    return Case(
        protocol=protocol,
        wires=wiring(protocol),
        facts={f.id: f.default for f in protocol.facts},
        steps={s.id: StepState() for s in protocol.all_steps()},
        pairs={p.id: PairState() for p in protocol.pairs},
        counts={c.id: CountLine() for c in protocol.counted},
    )


def plan(case: Case, step: Step) -> str | None:
    """What the case facts plan for a decision, if the file says where the plan stands."""
    value = case.facts.get(step.plan_fact) if step.plan_fact else None
    return value if isinstance(value, str) else None


def standing_choice(case: Case, step: Step) -> str | None:
    """The choice of a decision as it stands: what was said last, else the plan."""
    last = case.state(step.id).last
    return last.choice if last and last.choice is not None else plan(case, step)


def _passes(case: Case, test: Test) -> bool:
    if test.pair is not None:
        pair = case.pairs.get(test.pair, PairState())
        return pair.ever_open if test.state == "ever_open" else pair.open
    if test.step is not None:
        return bool(case.state(test.step).ticks)
    if test.decision is not None:
        return standing_choice(case, case.protocol.step[test.decision]) in test.choice
    value = case.facts.get(test.fact or "")
    if test.at_least is not None:
        return isinstance(value, int | float) and not isinstance(value, bool) and value >= test.at_least
    return value in test.choice


def holds(case: Case, condition: Condition | None) -> bool:
    """Whether a condition is met as things stand; none at all is always met."""
    if condition is None:
        return True
    return all(_passes(case, t) != t.negate for t in condition.all) and (
        not condition.any or any(_passes(case, t) != t.negate for t in condition.any)
    )


def in_case(case: Case, step: Step) -> bool:
    """Whether a step belongs to this case as things stand.

    A step whose condition is unmet does not, nor does one of a group that another has settled; a step that
    was ticked all the same does.
    """
    if case.state(step.id).ticks:
        return True
    others = case.protocol.groups.get(step.group or "", ())
    if any(case.state(o).ticks for o in others if o != step.id):
        return False
    return holds(case, step.when)


def step_met(case: Case, step_id: str, until: str = "start") -> bool:
    """Whether a step has been done, decided against or does not belong to the case, and is not due again."""
    step, state = case.protocol.step[step_id], case.state(step_id)
    if state.satisfied:
        unfinished = step.shape == "span" and state.last is not None and state.last.stop is None
        return not (until == "stop" and unfinished and not state.not_logged)
    return not in_case(case, step)


def need_met(case: Case, need: Need) -> bool:
    """Whether a need is met as things stand."""
    if need.pair_open is not None:
        return case.pairs[need.pair_open].open
    if need.pair_closed is not None:
        return not case.pairs[need.pair_closed].open
    if need.step is not None:
        return step_met(case, need.step, need.until)
    states = [case.state(s) for s in need.any_step]
    if any(
        state.satisfied and step_met(case, s, need.until)
        for s, state in zip(need.any_step, states, strict=True)
    ):
        return True
    return not any(in_case(case, case.protocol.step[s]) for s in need.any_step)


def status(case: Case, step: Step) -> Status:
    """The one word that tells how a step stands."""
    state = case.state(step.id)
    if state.last and step.shape == "span" and state.last.stop is None:
        return "running"
    if state.due_again:
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
    stage = case.protocol.stage_of.get(step.id)
    if stage is None or case.protocol.stage_index[stage] > case.reached or step.occurrence == "optional":
        return "not_reached"
    return "due"
