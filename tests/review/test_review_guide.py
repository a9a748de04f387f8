"""The guide says what the review does: its keys and the kinds of the debrief are checked against it."""

from __future__ import annotations

import pytest

from terminal import ROOT
from tracker.core.debrief_events import DEBRIEF_KINDS
from tracker.review.film_files import AS_NAMES
from tracker.review.screen.acts import ACTS
from tracker.review.screen.keys import COMMANDS
from tracker.screen.commands import Command, keys_of

GUIDE = (ROOT / "shared" / "guide.md").read_text("utf-8")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.id)
def test_every_key_of_the_review_is_in_the_guide(command: Command) -> None:
    """The guide's table of the review's keys is its key sheet."""
    assert f"| {keys_of(command)} | {command.id} | {command.does} |" in GUIDE


@pytest.mark.parametrize("kind", DEBRIEF_KINDS, ids=lambda k: k.__name__)
def test_every_kind_of_a_debrief_is_in_the_guide(kind: type) -> None:
    """The guide's table of the debrief's kinds is the journal's."""
    assert f"| {kind.model_fields['kind'].default} |" in GUIDE  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", AS_NAMES)
def test_every_film_format_is_in_the_guide(name: str) -> None:
    """Those of `record --as`."""
    assert f"| {name} |" in GUIDE


def test_every_command_does_something() -> None:
    """The table of keys and the table of acts name the same commands."""
    assert {c.id for c in COMMANDS} == ACTS.keys()
