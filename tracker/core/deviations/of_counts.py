"""Deviations of counts: ticked and not said, said and not what it should have been."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from msgspec import Struct

from tracker.core.case import Case, Moment, Tick, lines_said, lines_unsaid
from tracker.core.deviations import causes
from tracker.core.deviations.found import Deviation, due_by
from tracker.core.protocol import Protocol, Step
from tracker.core.wording import CODE_WORDS, clock_time


def counts(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Numbers said at a count that are not what the first count and the changes since make."""
    for line, said in case.counts.items():
        for told in said.differences:
            key = f"count_discrepancy:{line}:{told.when.seq}"
            expected = f"{told.expected} ({told.start} + {told.added} - {told.removed})"
            found = f"{told.said}"
            if said.last and said.last > told.when and said.final == said.expected:
                found += f"; {said.final} at {clock_time(said.last.at)}"
            yield Deviation(key, "count_discrepancy", "safety", line, told.when, expected, found)


def counts_unsaid(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Counts that were ticked, with figures not given by the step that needs them or the end of the case.

    Of a count ticked again because it was due again, the later tick asks for the figures.
    """
    for step in case.protocol.all_steps() if case.protocol.counted else ():
        if step.count is None:
            continue
        asked = [t for t in case.state(step.id).ticks if t.expected]
        for tick, following in zip_longest(asked, asked[1:]):
            due = _due(case, step, tick)
            if due is None or (following is not None and following.start < due):
                continue
            its = saying(case, step, tick)
            if lines := lines_unsaid(case, step, lines_said(its, by=due), by=due):
                yield _unsaid(case, step, tick, due, lines)


class OpenCount(Struct, frozen=True, gc=False):
    """A count that was ticked and of which figures were asked and not given.

    `lines` are those that want one, all where none was given; `idle` those of the first count of which nothing
    was ever said in the case.
    """

    step: Step
    tick: Tick
    lines: tuple[str, ...]
    idle: tuple[str, ...]
    none_said: bool

    def words(self, protocol: Protocol, *, idle: bool = True) -> str:
        """Which count, and what was not given; `idle` names the lines never used as well."""
        named = ", ".join(map(protocol.label, (*self.lines, *(self.idle if idle else ()))))
        missing = CODE_WORDS["count_unsaid"] if self.none_said else f"no figure for {named}"
        return f"{self.step.label} {clock_time(self.tick.start.at)[:5]}: {missing}"


def open_counts(case: Case) -> Iterator[OpenCount]:
    """The counts whose figures were not given as things stand, in the order of the file."""
    for step in case.protocol.all_steps() if case.protocol.counted else ():
        asked = [t for t in case.state(step.id).ticks if t.expected]
        if step.count is None or not asked:
            continue
        its = saying(case, step, asked[-1])
        said = lines_said(its)
        # A line that came into use since the count was said makes it due again, not incomplete.
        lines = lines_unsaid(case, step, said, by=max((w for t in its for _, w in t.counted), default=None))
        never = [line for line, known in case.counts.items() if line not in said and known.used is None]
        idle = tuple(never) if said and step.count == "opening" else ()
        if lines or idle:
            yield OpenCount(step, asked[-1], lines, idle, not said)


def saying(case: Case, step: Step, tick: Tick) -> tuple[Tick, ...]:
    """The ticks whose numbers count for a tick: its own and the later ones of its step.

    For a check in between any later count will do.
    """
    if step.count != "check":
        return tuple(t for t in case.state(step.id).ticks if t.start >= tick.start)
    later = (s for s in case.protocol.all_steps() if s.count in ("check", "closing"))
    return tuple(t for s in later for t in case.state(s.id).ticks if t.start >= tick.start)


def _due(case: Case, step: Step, tick: Tick) -> Moment | None:
    due = due_by(case, step, tick)
    if not lines_unsaid(case, step, lines_said(saying(case, step, tick)), by=due[-1] if due else None):
        # All was said in the end: whether that was before a time the program chose, nobody knows.
        due = tuple(when for when in due if not when.spread)
    return due[0] if due else None


def _unsaid(case: Case, step: Step, tick: Tick, due: Moment, lines: tuple[str, ...]) -> Deviation:
    its = saying(case, step, tick)
    since = [when for t in its for line, when in t.counted if line in lines and when > due]
    named = ", ".join(map(case.protocol.label, lines))
    found = [f"no figure for {named}"] if lines_said(its, by=due) else []
    if since and not lines_unsaid(case, step, lines_said(its), by=due):
        found.append(f"given at {clock_time(max(since).at)}")
    return Deviation(
        f"count_unsaid:{step.id}:{tick.seq}", "count_unsaid", "safety", step.id, due,
        f"figures by {_by(case, due)}", "; ".join(found) or CODE_WORDS["count_unsaid"],
        causes=(causes.unsaid(step, tick),),
    )  # fmt: skip


def _by(case: Case, due: Moment) -> str:
    step = next((e.step for e in case.log if e.seq == due.seq), None)
    if step is not None:
        return case.protocol.label(step)
    return "the end of the case" if case.end and case.end.when == due else "the end of its stage"
