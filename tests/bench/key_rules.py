"""How a person finds the key of a step, by the rule of keys that the commit under test has."""

from __future__ import annotations

from typing import Any, Protocol

from tracker.theatre.desk import Desk
from tracker.theatre.scene import Scene


class Rule(Protocol):
    """What the typist knows of the board it sits before."""

    name: str
    lets_through: bool
    """Whether what lies over the board lets the key of a step through to it."""
    holds: bool
    """Whether a list that writes much wants Enter behind its letter."""

    def near_enough(self, believed: int, wanted: int) -> bool:
        """Whether a letter of stage `wanted` is pressed while stage `believed` is thought to be shown."""

    def asks_once_more(self, desk: Desk, written: int) -> bool:
        """Whether the last key, which made `written` entries, asks for itself once more."""


class ShownStageOnly:
    """A letter means a step of the stage shown; every other stage is reached by the stage keys first."""

    name = "a letter means a step of the stage shown"
    lets_through = True
    holds = False

    def near_enough(self, believed: int, wanted: int) -> bool:
        """Only the very stage."""
        return believed == wanted

    def asks_once_more(self, desk: Desk, written: int) -> bool:
        """It never does."""
        return False


class ThreeStages:
    """A letter means one step in three neighbouring stages; out of sight it asks for the same key again."""

    name = "a letter means one step in three neighbouring stages"
    lets_through = False
    holds = True

    def near_enough(self, believed: int, wanted: int) -> bool:
        """The stage itself and its two neighbours."""
        return abs(believed - wanted) <= 1

    def asks_once_more(self, desk: Desk, written: int) -> bool:
        """Nothing was written, no list is open, and something is said of it."""
        return not written and desk.panel is None and bool(desk.hint)


def rule_of_tree() -> Rule:
    """The rule of the commit under test, told by what its board can show."""
    fields: Any = Scene.__struct_fields__
    return ThreeStages() if {"beside", "ahead"} <= set(fields) else ShownStageOnly()
