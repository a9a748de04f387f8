"""The clocks of the machine that the program runs on: the only place where time is asked for."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime

from msgspec import Struct


class Now(Struct, frozen=True, gc=False):
    """What the station's clocks say: the time told, to the millisecond; monotonic time since opening."""

    at: datetime
    elapsed_ms: int


Clock = Callable[[], Now]


class StationClock:
    """The station's own clocks: wall time with its offset, and monotonic time that goes on in sleep."""

    def __init__(self) -> None:
        self.opened_ns = self._monotonic_ns()

    @staticmethod
    def _monotonic_ns() -> int:
        if hasattr(time, "CLOCK_BOOTTIME"):
            return time.clock_gettime_ns(time.CLOCK_BOOTTIME)
        return time.monotonic_ns()

    def __call__(self) -> Now:
        """What the clocks say now."""
        told = datetime.now().astimezone()
        whole = told.replace(microsecond=told.microsecond // 1000 * 1000)
        return Now(whole, (self._monotonic_ns() - self.opened_ns) // 1_000_000)
