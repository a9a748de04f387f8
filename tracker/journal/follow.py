"""Looking on at a case that another program writes: read-only, without a lock, verified line by line."""

from __future__ import annotations

from pathlib import Path

from tracker.core.events import Event
from tracker.journal.disk import Disk, RealDisk, Stamp
from tracker.journal.files import read_case
from tracker.journal.lines import START, Read, read_lines
from tracker.journal.trouble import OutOfReach, plainly


class Follower:
    """Follows the journal at `path`; `problem` is a sentence while there is something to say, else None.

    What has been shown stays shown: a file that comes to hold another story is reported and not read.
    """

    def __init__(self, path: Path, disk: Disk | None = None) -> None:
        self.path = path
        self.problem: str | None = None
        self._disk = disk or RealDisk()
        self._seen = Stamp(0, 0)  # the verified length, and the file it was verified in
        self._head = START
        self._count = 0

    def poll(self) -> tuple[Event, ...]:
        """The verified entries since the last poll. An unfinished last line is waited for."""
        try:
            with plainly(OutOfReach, "The file of this case cannot be read at the moment"):
                return self._news(self._disk.stamp_of(self.path))
        except OutOfReach as refusal:
            self.problem = str(refusal)
            return ()

    def _news(self, stamp: Stamp) -> tuple[Event, ...]:
        if stamp.number != self._seen.number or stamp.size < self._seen.size:
            return self._anew(stamp)
        if stamp.size == self._seen.size:
            self.problem = None
            return ()
        tail = self._disk.read(self.path, self._seen.size)
        read = read_lines(tail, self.path.name, self._head, self._count)
        return self._took(read, read.events, Stamp(self._seen.size + read.size, stamp.number))

    def _anew(self, stamp: Stamp) -> tuple[Event, ...]:
        """Read a file that took the place of the one seen, or was cut, from its beginning."""
        _, read = read_case(self._disk, self.path)
        before = (START, *read.hashes)[: self._count + 1]
        if before[-1] != self._head:
            what = "another record than was" if len(before) > self._count else "fewer entries than were"
            self.problem = f"The file now holds {what} shown here: look on anew."
            return ()
        return self._took(read, read.events[self._count :], Stamp(read.size, stamp.number))

    def _took(self, read: Read, news: tuple[Event, ...], seen: Stamp) -> tuple[Event, ...]:
        self._seen, self._head = seen, read.head
        self._count += len(news)
        self.problem = str(read.broken) if read.broken else None
        return news
