"""When a case is expected to end, by cases like it: a value that another room computes and a screen shows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from msgspec import Struct

from tracker.core.case import Case

LEAST: Final = 10
"""Below so many comparable cases nothing is said of when a case ends."""


class Forecast(Struct, frozen=True, gc=False):
    """Minutes left from now, by `n` comparable cases: median and the 10th and 90th percentile.

    `outlasted`: none of the `n` went on so long, so that they say nothing of when this one ends.
    """

    n: int
    p10: float = 0.0
    median: float = 0.0
    p90: float = 0.0
    outlasted: bool = False

    @property
    def enough(self) -> bool:
        """Whether there are enough comparable cases to say anything."""
        return self.n >= LEAST


Forecaster = Callable[[Case, float], Forecast | None]
"""What a room that knows past cases says of a case at a case second; None until they are read."""
