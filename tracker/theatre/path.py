"""The way through a file: which step is marked after which. It suggests nothing; it is the file's order."""

from __future__ import annotations

from collections.abc import Sequence

from tracker.core.case import Case, due_marks, in_case, satisfied, status
from tracker.core.protocol import Step


def expected_after(case: Case, step: str | None) -> str | None:
    """The next step in the file that has no tick and is not optional, after `step`, else the first one.

    Once none is expected any more, the next one after `step` that has no tick.
    """
    order = list(case.protocol.stage_of)
    start = order.index(step) + 1 if step is not None and step in order else 0
    left = (s for s in order[start:] if not case.state(s).done and in_case(case, case.protocol.step[s]))
    return first_expected(case, (*order[start:], *order[:start])) or next(left, None)


def first_expected(case: Case, steps: Sequence[str]) -> str | None:
    """The first of some steps that is expected."""
    return next((s for s in steps if is_expected(case, case.protocol.step[s])), None)


def first_mark(case: Case) -> str:
    """The step marked by a screen that comes upon a case, as one taken up again or looked on at.

    That is what was begun last of what runs, else what is expected after the last entry.
    """
    entered = [e.step for e in reversed(case.log) if e.step in case.protocol.stage_of]
    running = next((s for s in entered if s and status(case, case.protocol.step[s]) == "running"), None)
    last = next(iter(entered), None)
    return running or expected_after(case, last) or last or case.protocol.stages[-1].steps[-1].id


def is_expected(case: Case, step: Step) -> bool:
    """Whether a step of the case has no tick, or is due again; optional ones are only the latter."""
    if satisfied(case, step) or not in_case(case, step):
        return False
    return step.occurrence != "optional" or bool(due_marks(case, step))
