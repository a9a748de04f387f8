"""The real program with a station that can be made to fail: `python tests/troubled.py FLAGS WORDS...`.

Only the outermost layer is bent, while the program runs, by files in the folder FLAGS: `shift` holds seconds by which
the wall clock is off, `zone` the station's zone as POSIX writes it, `slept` seconds that the machine was asleep,
`errno` the name of an error with which every write to a journal ends.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

import tracker.journal.disk as disk
import tracker.screen.station as station
from tracker.cli import main

FLAGS = Path(sys.argv[1])


def _flag(name: str) -> str:
    path = FLAGS / name
    return path.read_text("utf-8") if path.exists() else ""


class ShiftedTime(datetime):
    """A wall clock that somebody sets."""

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
        """Wall time, off by what the flag says, in the zone that the flag says."""
        if zone := _flag("zone"):
            os.environ["TZ"] = zone
            time.tzset()
        return datetime.now().astimezone() + timedelta(seconds=float(_flag("shift") or 0))


class SleepingClock(station.StationClock):
    """A monotonic clock that goes on in sleep, after a sleep as long as the flag says."""

    @staticmethod
    def _monotonic_ns() -> int:
        return station.StationClock._monotonic_ns() + round(float(_flag("slept") or 0) * 1e9)


class FailingDisk(disk.RealDisk):
    """A disk that refuses to write while the flag says so."""

    def write(self, handle: int, data: bytes) -> int:
        """Write, unless the flag names an error."""
        if name := _flag("errno"):
            raise OSError(getattr(errno, name), "as the flag says")
        return super().write(handle, data)


def run() -> int:
    """The program as it is, on the bent station."""
    station.datetime = ShiftedTime  # type: ignore[misc]
    import tracker.journal.files as files
    import tracker.theatre.live as live

    live.StationClock = SleepingClock  # type: ignore[misc]

    files.Journal.create.__func__.__defaults__ = (FailingDisk(),)  # type: ignore[attr-defined]
    files.Journal.open.__func__.__defaults__ = (FailingDisk(),)  # type: ignore[attr-defined]
    return main(sys.argv[2:])


if __name__ == "__main__":
    raise SystemExit(run())
