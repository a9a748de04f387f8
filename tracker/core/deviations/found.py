"""One deviation: a difference between a case and its file, as a value."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from msgspec import Struct

from tracker.core.case import Case, Given, Moment, Tick
from tracker.core.protocol import Level, Step


class Deviation(Struct, frozen=True, gc=False):
    """One difference between the case and its file.

    `step` is the id of a step, clock, pair, reading, counted line, fact or complication, `hand-over`, or for a
    late entry its kind; `seq` the event it shows at; `level` is the file's; `given` the reason, once there is one.
    `causes` name what it came of: what shares a cause is one line, and the others stand `beneath` it.
    `unsure` is one that hangs on a time the program chose: it is not judged, and so it is no deviation.
    """

    key: str
    code: str
    level: Level
    step: str
    when: Moment
    expected: str
    found: str
    given: Given | None = None
    causes: tuple[str, ...] = ()
    beneath: tuple[Deviation, ...] = ()
    unsure: bool = False

    @property
    def seq(self) -> int:
        """The sequence number of the event it shows at."""
        return self.when.seq

    @property
    def all(self) -> tuple[Deviation, ...]:
        """Itself and what stands beneath it."""
        return (self, *self.beneath)


Rule = Callable[[Case, float], Iterator[Deviation]]


def ticks(case: Case) -> Iterator[tuple[Step, Tick]]:
    """Every tick with its step, in the order of the file."""
    for step, state in case.steps.items():
        for tick in state.ticks:
            yield case.protocol.step[step], tick


def stage_over(case: Case, step: Step, since: Moment | None = None) -> Moment | None:
    """When, after `since`, nothing more was to be expected of a step; None while something is.

    Its stage was closed, or the case came to its usual end; that end says nothing of the steps that stand
    behind it in the file, as the debrief of the list.
    """
    closed = case.closed.get(case.protocol.stage_of.get(step.id, ""))
    ended = case.end.when if case.end and case.end.how == "normal" else None
    if step.id in case.wires.afterwards:
        ended = None
    return next((over for over in (closed, ended) if over and (since is None or over > since)), None)


def due_by(case: Case, step: Step, tick: Tick) -> tuple[Moment, ...]:
    """The moments by which what belongs to a tick was due, in order; none while it may still come.

    These are every tick of a step that needs this one, the closing of its stage, and the end of the case. What
    belongs to a span may come as long as it runs, whatever needs its start.
    """
    since = tick.stop if step.shape == "span" else tick.start
    needing = (t.start for other in case.wires.needed_by.get(step.id, ()) for t in case.state(other).ticks)
    due = [when for when in needing if since is not None and when > since]
    closed, end = stage_over(case, step), case.end
    if closed:
        due.append(closed)
    if end and tick.start <= end.when:
        due.append(end.when)
    return tuple(sorted(set(due)))


def not_logged_at_the_time(when: Moment) -> Given:
    """The reason that an entry `not logged` gives by itself: it was done, nobody ticked it."""
    return Given("not_logged", "not_logged", "", when)
