"""The right to write one journal, held by one program at a time."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tracker.core.text import shown
from tracker.journal.books import CASE, Book
from tracker.journal.disk import Disk, Lock
from tracker.journal.trouble import InUse


class Hold:
    """The right to write one journal in one folder, and a note that says who has it."""

    def __init__(self, disk: Disk, lock: Lock, note: Path) -> None:
        self._disk, self._lock, self._note = disk, lock, note
        self._held = True

    @classmethod
    def take(cls, disk: Disk, folder: Path, code: str, now: str, book: Book = CASE) -> Hold:
        """Take it.

        Raises:
            InUse: another has it.
            OSError: the disk refused.
        """
        note = folder / f"{code}{book.stem}.holder"
        try:
            lock = disk.lock(folder / f"{code}{book.stem}.lock")
        except BlockingIOError:
            raise InUse(_in_use(disk, code, note, book)) from None
        _leave_note(disk, note, now)
        return cls(disk, lock, note)

    @contextmanager
    def unless_done(self) -> Iterator[None]:
        """Let go if what is inside does not come to its end."""
        try:
            yield
        except BaseException:
            self.release()
            raise

    def release(self) -> None:
        """Let go; the note goes too."""
        if not self._held:
            return
        self._held = False
        with suppress(OSError):
            self._disk.remove(self._note)
        self._lock.release()


def _leave_note(disk: Disk, note: Path, now: str) -> None:
    """Say who holds the case; a disk that takes no note does not stop the case."""
    since = f" since {now}" if now else ""
    text = f"process {os.getpid()} on {_machine()}{since}"
    with suppress(OSError):
        if disk.kind(note) is not None:
            disk.remove(note)
        handle = disk.create(note)
        try:
            disk.write(handle, text.encode())
        finally:
            disk.close(handle)


def _machine() -> str:
    return platform.node() or "this machine"


def _in_use(disk: Disk, code: str, note: Path, book: Book) -> str:
    who = "not known who"
    with suppress(OSError):
        who = shown(disk.read(note)[:200].decode(errors="replace"))
    here = "this or another"
    if " on " in who:
        here = "this" if f" on {_machine()}" in who else "another"
    look_on = f" Only one may write: clockhour watch {code} looks on." if book is CASE else ""
    return f"{book.called(code)} is in use on {here} station ({who}).{look_on}"
