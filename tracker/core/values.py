"""What befell a case, piece by piece: the frozen values that a `Case` is made of.

Times are case seconds (`t`) and the time told (`at`). Intervals are half-open: a span holds its start and
not its stop.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from msgspec import Struct

from tracker.core.events import Scalar
from tracker.core.protocol import Need


class Moment(Struct, frozen=True, order=True, gc=False):
    """When something was: case second, the event's sequence number, time told; ordered in that order.

    `spread` is a time that the program chose: nothing is concluded from it.
    """

    t: float
    seq: int
    at: datetime
    spread: bool = False


class Tick(Struct, frozen=True, gc=False):
    """One time a step was done. A point has no stop; a span without a stop is running.

    `unmet` are the needs not met at that moment, `expected` is false for a further tick of a step that is
    done once and was not due again, `operator` the role operating at the start. `counted` are the lines of a
    count that a number was said of, each with when it was first said.
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
    counted: tuple[tuple[str, Moment], ...] = ()

    @property
    def seq(self) -> int:
        """The sequence number of the tick or start."""
        return self.start.seq

    @property
    def spread(self) -> bool:
        """Whether the program chose the time of either end."""
        return self.start.spread or (self.stop is not None and self.stop.spread)


class DueMark(Struct, frozen=True, gc=False):
    """Why a step already ticked is due again, and since when."""

    reason: str
    since: Moment


class StepState(Struct, frozen=True, gc=False):
    """Everything that befell one step. `satisfied` is what a need asks for.

    `struck` is whether a tick of it was struck.
    """

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

    @property
    def done(self) -> bool:
        """Whether it was done at all, ticked or not logged."""
        return bool(self.ticks) or self.not_logged is not None

    @property
    def choice(self) -> str | None:
        """The choice said last."""
        return next((t.choice for t in reversed(self.ticks) if t.choice is not None), None)

    @property
    def asked(self) -> tuple[Tick, ...]:
        """The last tick that was expected, and those ticked again since, which ask for nothing of their own."""
        first = max((n for n, tick in enumerate(self.ticks) if tick.expected), default=0)
        return self.ticks[first:]


class ClockRun(Struct, frozen=True, gc=False):
    """One run of a clock; without a stop it is running.

    `unsure` is a stop by something done but not logged: it had stopped by then, nobody knows since when.
    """

    clock: str
    start: Moment
    stop: Moment | None = None
    unsure: bool = False

    @property
    def spread(self) -> bool:
        """Whether the program chose the time of either end."""
        return self.start.spread or (self.stop is not None and self.stop.spread)

    def seconds(self, now_t: float) -> float:
        """How long it has run by `now_t`, or ran, to the millisecond."""
        return round((self.stop.t if self.stop else max(now_t, self.start.t)) - self.start.t, 3)


class Movement(Struct, frozen=True, gc=False):
    """Something of a pair going in (+1) or out (-1); `amount` is unknown until `amount_from` is read.

    `tick` is the sequence number of the tick or start that it came of; `unsure` is one done but not logged:
    it had happened by `when`, nobody knows since when.
    """

    sign: int
    when: Moment
    amount: int | None = None
    amount_from: str | None = None
    tick: int | None = None
    unsure: bool = False


class PairState(Struct, frozen=True, gc=False):
    """The movements of one pair."""

    movements: tuple[Movement, ...] = ()

    @property
    def ever_open(self) -> bool:
        """Whether anything ever went in."""
        return any(m.sign > 0 for m in self.movements)

    @property
    def open(self) -> bool:
        """Whether in and out differ; a way out takes all if its number or that of a way in is not known."""
        inside, known = 0, True
        for m in self.movements:
            if m.sign > 0:
                inside += 1 if m.amount is None else m.amount
                known = known and (m.amount is not None or m.amount_from is None)
            elif m.amount is None or not known:
                inside, known = 0, True
            else:
                inside -= m.amount
        return inside != 0

    def total(self, sign: int) -> int | None:
        """How many went in (+1) or out (-1); None where any number was not said."""
        amounts = [m.amount for m in self.movements if m.sign == sign]
        return None if None in amounts else sum(a for a in amounts if a is not None)


class Value(Struct, frozen=True, gc=False):
    """One reading as it stands; `step` is the tick it belongs to, by sequence number."""

    reading: str
    value: Scalar
    when: Moment
    tick: int | None = None


class Difference(Struct, frozen=True, gc=False):
    """A number said at a count that was not the number expected at that moment."""

    when: Moment
    start: int
    added: int
    removed: int
    said: int

    @property
    def expected(self) -> int:
        """What the number should have been."""
        return self.start + self.added - self.removed


class CountLine(Struct, frozen=True, gc=False):
    """One line of accountable items: start + added - removed should be the number said.

    `opened_by` is the tick of the first count, by sequence number; `added` and `removed` are since then.
    `final` is the number said last, None again as soon as an item is added or removed; `last` is when. `used` is
    since when anything was said of it, a number or a change; `unbegun` that this was a number at a later count,
    so that the first one had left it out.
    """

    start: int | None = None
    added: int = 0
    removed: int = 0
    final: int | None = None
    opened_by: int | None = None
    last: Moment | None = None
    differences: tuple[Difference, ...] = ()
    used: Moment | None = None
    unbegun: bool = False

    @property
    def expected(self) -> int | None:
        """What the next number should be; None where nothing of the line is known."""
        if self.start is None and not self.added:
            return None
        return (self.start or 0) + self.added - self.removed


class Trouble(Struct, frozen=True, gc=False):
    """A complication, from the key that stamped it until it was said to be dealt with."""

    start: Moment
    complication: str | None = None
    text: str = ""
    stop: Moment | None = None


class Post(Struct, frozen=True, gc=False):
    """Who held a post from a moment on, by role."""

    post: Literal["circulating", "operator"]
    role: str
    since: Moment
    accepted: Moment | None = None
    counts_confirmed: bool | None = None


class Change(Struct, frozen=True, gc=False):
    """A change of mind: a case fact or a decision that was one thing and became another."""

    what: str
    was: Scalar
    now: Scalar
    when: Moment
    planned: bool = False


class Said(Struct, frozen=True, gc=False):
    """Words or a bookmark with their moment."""

    kind: Literal["note", "bookmark"]
    text: str
    when: Moment


class Given(Struct, frozen=True, gc=False):
    """The reason given for a deviation."""

    reason: str
    how: str | None
    text: str
    when: Moment


class Gap(Struct, frozen=True, gc=False):
    """A time in which the journal was not open."""

    start: Moment
    stop: Moment
    torn: bool = False


class End(Struct, frozen=True, gc=False):
    """How and when the case ended.

    `stopped` is when it was said to have stopped early. The patient leaves later, and then that is `when`.
    """

    when: Moment
    how: Literal["normal", "stopped_early"]
    reason: str = ""
    stopped: Moment | None = None

    @property
    def left(self) -> bool:
        """Whether the step that ends the case was ticked, so that nothing runs on."""
        return self.stopped is None or self.when != self.stopped
