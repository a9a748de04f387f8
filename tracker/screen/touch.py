"""What a hand does once: the same key again at once is the same press.

A shaking hand, a worn key and a key held down all send a key more often than it was meant. Without this a key that
opened a list would answer it too, and a second Enter would leave the question after the one that it answered.
"""

from __future__ import annotations

from typing import Final, Literal

from msgspec import Struct

from tracker.screen.panels import FIGURES, Panel

ONE_PRESS_MS: Final = 500
"""The same key again within so long is one press."""
HELD_MS: Final = 120
"""The same key again within so long is held down: no hand presses so fast."""
AT_ANY_RATE: Final = 0
"""Of a command that a key held down may give again and again."""
_AGAIN_AT_ONCE: Final = frozenset({"up", "down", "left", "right", "backspace"})
"""Keys that may well be meant twice at once wherever they go: going on by one more."""

Heard = Literal["another", "twice", "same"]
"""A press of its own; one that came at once and may be meant so; the press before once more, which does nothing."""


class Touch(Struct, frozen=True, gc=False):
    """A key, when it came last, and the panel that it met when it came first."""

    key: str
    at_ms: int
    met: Panel | None


class OnePress:
    """Tells of each key of a desk whether it is a press of its own."""

    def __init__(self) -> None:
        self._before: Touch | None = None

    def heard(self, key: str, at_ms: int, met: Panel | None, again_ms: int | None = None) -> Heard:
        """What a key is that meets a panel, or none.

        `again_ms` is after how long a command that goes on by one more may be given again; None where it may not.
        """
        before = self._before
        if before is None or before.key != key or at_ms - before.at_ms >= ONE_PRESS_MS:
            self._before = Touch(key, at_ms, met)
            return "another"
        if _may_come_twice(before, key, at_ms, met, again_ms):
            self._before = Touch(key, at_ms, met)
            return "twice"
        self._before = Touch(key, at_ms, before.met)
        return "same"


def _may_come_twice(before: Touch, key: str, at_ms: int, met: Panel | None, again_ms: int | None) -> bool:
    if met is not None and met.types(key) and key in FIGURES:
        return True
    if met is not before.met:
        return False  # what opened a page is not typed into it
    if met is not None and met.types(key):
        return True
    if met is None and again_ms is not None:
        return at_ms - before.at_ms >= again_ms
    return key in _AGAIN_AT_ONCE
