"""The real program with a station that can be made to fail: `python tests/troubled.py FLAGS WORDS...`.

Only the outermost layer is bent, while the program runs, by files in the folder FLAGS: `shift` holds seconds by which
the wall clock is off, `errno` the name of an error with which every write to a journal ends.
"""

from __future__ import annotations

import errno
import sys
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
        """Wall time, off by what the flag says."""
        return datetime.now().astimezone() + timedelta(seconds=float(_flag("shift") or 0))


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

    files.Journal.create.__func__.__defaults__ = (FailingDisk(),)  # type: ignore[attr-defined]
    files.Journal.open.__func__.__defaults__ = (FailingDisk(),)  # type: ignore[attr-defined]
    return main(sys.argv[2:])


if __name__ == "__main__":
    raise SystemExit(run())
