"""The debrief while it is being written, without a screen: decide, append, fold.

Reading a case touches nothing: the debrief's journal is begun, or opened and locked, with the first entry. If
the disk refuses an entry, it waits in memory, is said to wait, and is tried again.
"""

from __future__ import annotations

from typing import Any, Final, TypeVar

from tracker import __version__
from tracker.core.debrief import Debrief, fold_debrief
from tracker.core.debrief_events import Debriefed, DebriefEvent
from tracker.core.events import Event
from tracker.core.reviewed import Reviewed, reviewed
from tracker.core.wording import clock_time
from tracker.journal.archive import Archive
from tracker.journal.books import DEBRIEF
from tracker.journal.cases import reviewed_of
from tracker.journal.files import Journal
from tracker.journal.trouble import NotKept, Trouble
from tracker.screen.station import Clock

REVIEWER: Final = "reviewer"
"""The role of entries made before anyone said who writes."""

E = TypeVar("E", bound=DebriefEvent)


class NotOfThisLog(Trouble):
    """The debrief there is was made on another log, so nothing is added to it."""


class Debriefing:
    """The debrief of one case. `review` is what log and debrief make, `waiting` what is not on disk yet."""

    def __init__(self, archive: Archive, code: str, clock: Clock) -> None:
        """Read the case and its debrief.

        Raises:
            BadCode, NoSuchCase, Damaged, NotReadable, OutOfReach: with a sentence.
        """
        self.archive = archive
        self.code = code
        self.clock = clock
        self.role = REVIEWER
        self.log = archive.read(code)
        self.review: Reviewed = reviewed_of(self.log, archive.read_beside(code, DEBRIEF), code)
        self.waiting: tuple[Event, ...] = ()
        self.trouble = ""
        self._journal: Journal | None = None
        self._run = 1

    @property
    def debrief(self) -> Debrief:
        """What the debrief says so far."""
        return self.review.debrief

    def say(self, kind: type[E], *, why: str = "", **fields: Any) -> E:
        """Say something at the debrief, keep it, fold it.

        Raises:
            NotOfThisLog, InUse, Damaged, OutOfReach: the journal cannot be opened, and nothing was said.
        """
        self._open()
        if self.debrief.opened is None:
            head, entries = self.log.head, len(self.log.events)
            self._record(Debriefed, code=self.code, log_hash=head, log_entries=entries, program=__version__)
        event = self._record(kind, why=why, **fields)
        self.keep_waiting()
        return event

    def keep_waiting(self) -> bool:
        """Try to put what waits on disk, in order; whether all of it is."""
        while self.waiting and self._journal is not None:
            try:
                self._journal.append(self.waiting[0])
            except NotKept as refusal:
                self.trouble = str(refusal)
                return False
            self.waiting = self.waiting[1:]
        self.trouble = ""
        return True

    def close(self) -> None:
        """Let go of the journal, once more trying to put on disk what waits."""
        self.keep_waiting()
        if self._journal is not None:
            self._journal.close()

    def _open(self) -> None:
        if self.review.bond == "another log":
            text = f"The debrief of case {self.code} was made on another log than this one: nothing is added."
            raise NotOfThisLog(text)
        if self._journal is not None:
            return
        self._journal = self.archive.open_beside(self.code, DEBRIEF, clock_time(self.clock().at))
        # Someone else may have said something between reading and now.
        self._fold(self._journal.events)
        self._run = max((e.run for e in self._journal.events), default=0) + 1

    def _record(self, kind: type[E], **fields: Any) -> E:
        now, said = self.clock(), self.debrief.events
        envelope = {"seq": len(said) + 1, "at": now.at, "entered_at": now.at, "role": self.role}
        event = kind(**envelope, elapsed_ms=now.elapsed_ms, run=self._run, **fields)
        self.waiting = (*self.waiting, event)
        self._fold((*said, event))
        return event

    def _fold(self, events: tuple[Event, ...]) -> None:
        if events != self.debrief.events:
            self.review = reviewed(self.review.logged, fold_debrief(events), self.review.bond)
