"""What the last key changed beside what it said: steps in and out of the case, steps due again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tracker.core.case import Case, due_marks, in_case, standing_choice
from tracker.core.wording import fact_words
from tracker.theatre.open_items import due_word

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk


def say_changes(desk: Desk, before: Case) -> None:
    """Say which steps came into or went out of the case by the last key, and which are due."""
    words = [
        f"{s.label}: {'now in the case' if in_case(desk.case, s) else 'no longer in the case'}"
        for s in desk.protocol.conditional
        if in_case(before, s) != in_case(desk.case, s)
    ]
    touched = (s for s, state in desk.case.steps.items() if state is not before.state(s))
    words += [
        f"{s.label} {due_word(desk.case, s)}: {marks[-1].reason}"
        for s in map(desk.protocol.step.__getitem__, touched)
        if len(marks := due_marks(desk.case, s)) > len(before.state(s.id).due_again)
    ]
    causes = ", ".join(_causes(desk.case, before))
    desk.hint = f"{causes}: {'. '.join(words)}" if causes and words else ". ".join(words)


def _causes(case: Case, before: Case) -> Iterator[str]:
    """The case facts and decisions that the last key changed."""
    for fact, value in case.facts.items():
        if before.facts.get(fact) != value:
            yield f"{case.protocol.label(fact)} {fact_words(case.protocol, fact, value)}"
    for step in case.protocol.decisions:
        choice = standing_choice(case, step)
        if choice is not None and choice != standing_choice(before, step):
            yield f"{step.label} {fact_words(case.protocol, step.id, choice)}"
