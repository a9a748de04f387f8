"""What the last key changed beside what it said: steps in and out of the case, steps due again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracker.core.case import Case, in_case

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk


def say_changes(desk: Desk, before: Case) -> None:
    """Say which steps came into or went out of the case by the last key, and which are due again."""
    words = [
        f"{s.label}: {'now in the case' if in_case(desk.case, s) else 'no longer in the case'}"
        for s in desk.protocol.all_steps()
        if in_case(before, s) != in_case(desk.case, s) and not s.group
    ]
    words += [
        f"{s.label} due again: {desk.case.state(s.id).due_again[-1].reason}"
        for s in desk.protocol.all_steps()
        if len(desk.case.state(s.id).due_again) > len(before.state(s.id).due_again)
    ]
    desk.hint = ". ".join(words)
