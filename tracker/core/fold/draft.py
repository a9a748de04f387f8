"""A case in the making. Only the fold holds one; what it hands out is the frozen `Case`."""

from __future__ import annotations

from typing import Any

from tracker.core.case import Case, Moment, StepState, holder
from tracker.core.entries import Entry


class Draft:
    """The fields of a `Case` while entries are being applied, under the same names.

    Mappings and lists are copies of its own and tuples are replaced, so the case it began from stays as it was.
    """

    def __init__(self, case: Case) -> None:
        self.protocol, self.wires = case.protocol, case.wires
        self.log, self.clocks = list(case.log), list(case.clocks)
        self.code, self.digest, self.program = case.code, case.digest, case.program
        self.invented = case.invented
        self.facts, self.asked = dict(case.facts), case.asked
        self.steps, self.pairs, self.counts = dict(case.steps), dict(case.pairs), dict(case.counts)
        self.readings, self.troubles = case.readings, case.troubles
        self.posts, self.changes, self.said = case.posts, case.changes, case.said
        self.reasons, self.closed = dict(case.reasons), dict(case.closed)
        self.pauses, self.gaps = case.pauses, case.gaps
        self.reached, self.started, self.end = case.reached, case.started, case.end
        self.odd = case.odd

    def case(self, **frame: Any) -> Case:
        """The case as it now is; `frame` sets what the draft does not hold: events and clock."""
        return Case(
            protocol=self.protocol, wires=self.wires,
            log=tuple(self.log),
            code=self.code, digest=self.digest, program=self.program, invented=self.invented,
            facts=self.facts, asked=self.asked,
            steps=self.steps, pairs=self.pairs, counts=self.counts,
            clocks=tuple(self.clocks), readings=self.readings, troubles=self.troubles,
            posts=self.posts, changes=self.changes, said=self.said,
            reasons=self.reasons, closed=self.closed,
            pauses=self.pauses, gaps=self.gaps,
            reached=self.reached, started=self.started, end=self.end,
            odd=self.odd,
            **frame,
        )  # fmt: skip

    def entry(self, seq: int | None) -> Entry | None:
        """The entry so far with a sequence number."""
        return next((e for e in reversed(self.log) if e.event.seq == seq), None)

    def reach(self, step: str) -> None:
        """The case has come as far as the stage of `step`."""
        if stage := self.protocol.stage_of.get(step):
            self.reached = max(self.reached, self.protocol.stage_index[stage])

    def operator(self) -> str | None:
        """The role operating."""
        return holder(self.posts, "operator")

    def put(self, step: str, state: StepState) -> None:
        """What now befell `step`."""
        self.steps[step] = state


def moment(entry: Entry) -> Moment:
    """When an entry was."""
    return Moment(entry.t, entry.event.seq, entry.at, entry.spread)
