"""The clocks of the machine that the program runs on: the only place where time is asked for."""

from __future__ import annotations

import re
import time
import zoneinfo
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from msgspec import Struct

WIDEST: Final = (timedelta(hours=-12), timedelta(hours=14))
"""Between these offsets from UTC lie all clocks on earth."""
_WRITTEN_OUT: Final = re.compile(r"(?:[A-Za-z]{3,}|<[A-Za-z0-9+-]{3,}>)[+-]?\d")
"""How a zone begins that is no name but a rule, as `GMT0BST`."""


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
        told = _told()
        whole = told.replace(microsecond=told.microsecond // 1000 * 1000)
        return Now(whole, (self._monotonic_ns() - self.opened_ns) // 1_000_000)


def _told() -> datetime:
    """The time of day in the station's zone; in UTC where that zone cannot be told."""
    try:
        return datetime.now().astimezone()
    except (ValueError, OverflowError, OSError):
        return datetime.now(UTC)


def zone_trouble(environment: Mapping[str, str]) -> tuple[str, str] | None:
    """What is odd about the zone that the environment names, and what is to be done; None if nothing is.

    The system says nothing: a name that it does not know it takes for UTC.
    """
    zone = environment.get("TZ")
    if zone is None:
        return None
    mend = "Write a zone as Europe/London, or leave TZ out"
    if not _known(zone.removeprefix(":")):
        return f"{zone!r} is no zone that this machine knows: times are told in UTC", mend
    offset = _told().utcoffset()
    try:
        datetime.now().astimezone()
    except (ValueError, OverflowError, OSError):
        return f"{zone!r} is no offset that a clock can have: times are told in UTC", mend
    if offset is not None and not WIDEST[0] <= offset <= WIDEST[1]:
        return f"{zone!r} is further from UTC than any place: times are told in it all the same", mend
    return None


def _known(zone: str) -> bool:
    if _WRITTEN_OUT.match(zone):
        return True
    return bool(zone) and any((Path(folder) / zone).is_file() for folder in ("/", *zoneinfo.TZPATH))
