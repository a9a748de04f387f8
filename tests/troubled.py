"""The real program with a station that can be made to fail: `python tests/troubled.py FLAGS WORDS...`.

Only the outermost layer is bent, while the program runs, by files in the folder FLAGS: `shift` holds seconds by which
the wall clock is off, `zone` the station's zone as POSIX writes it, `slept` seconds that the machine was asleep,
`errno` the name of an error with which every write to a journal ends, `full` a folder: only writes to journals in it
end so. While `wrong` is there, every key makes the program itself go wrong.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import tracker.journal.disk as disk
import tracker.screen.station as station
import tracker.theatre.desk as desk
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
        return datetime.now(UTC) + timedelta(seconds=float(_flag("shift") or 0))


class SleepingClock(station.StationClock):
    """A monotonic clock that goes on in sleep, after a sleep as long as the flag says."""

    @staticmethod
    def _monotonic_ns() -> int:
        return station.StationClock._monotonic_ns() + round(float(_flag("slept") or 0) * 1e9)


class FailingDisk(disk.RealDisk):
    """A disk that refuses to write while the flag says so."""

    def write(self, handle: int, data: bytes) -> int:
        """Write, unless the flags name an error here."""
        if name := _flag("errno"):
            full, lies = _flag("full"), Path(f"/proc/self/fd/{handle}")
            if not full or str(lies.resolve()).startswith(full):
                raise OSError(getattr(errno, name), "as the flag says")
        return super().write(handle, data)


class WrongDesk(desk.Desk):
    """A desk that goes wrong at a key, with what was typed in its memory."""

    def press(self, key: str) -> None:
        """Take a key, or go wrong."""
        secret = f"typed {key}"
        if _flag("wrong"):
            raise RuntimeError(secret)
        super().press(key)


def run() -> int:
    """The program as it is, on the bent station."""
    station.datetime = ShiftedTime  # type: ignore[misc]
    import tracker.journal.files as files
    import tracker.theatre.live as live

    live.StationClock = SleepingClock  # type: ignore[misc]
    live.Desk = WrongDesk  # type: ignore[misc]

    files.Journal.create.__func__.__defaults__ = (FailingDisk(),)  # type: ignore[attr-defined]
    files.Journal.open.__func__.__defaults__ = (FailingDisk(),)  # type: ignore[attr-defined]
    return main(sys.argv[2:])


if __name__ == "__main__":
    raise SystemExit(run())
