"""The journal of one case: a file that one program appends to, each entry synced before it counts.

`<CODE>.case.jsonl` lies directly in the archive folder. Beside it may lie `<CODE>.lock` (held while the
journal is written), `<CODE>.holder` (who holds it, for the sentence that a second opener gets) and
`<CODE>.torn-1.txt` (an unfinished last line, set aside). Reading takes no lock. A debrief is such a journal
too, `<CODE>.debrief.jsonl`, with a lock of its own: the log may be written while its debrief is.
"""

from __future__ import annotations

import errno
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Final, NamedTuple, Self

from tracker.core.events import Event
from tracker.journal.books import CASE, Book
from tracker.journal.disk import Disk, RealDisk, free_name, place
from tracker.journal.hold import Hold
from tracker.journal.lines import Read, encode, read_lines
from tracker.journal.trouble import (
    BadCode,
    Damaged,
    Disturbed,
    InUse,
    NoSuchCase,
    NotKept,
    OutOfReach,
    Taken,
    Trouble,
    plainly,
)

__all__ = [
    "LARGEST", "SUFFIX", "BadCode", "Damaged", "Disturbed", "InUse", "Journal", "NoSuchCase", "NotKept",
    "OutOfReach", "Taken", "Trouble", "case_path", "read_case", "require",
]  # fmt: skip

SUFFIX: Final = CASE.suffix
LARGEST: Final = 64 * 2**20
"""Bytes of the largest journal that is read, some thirty times a case of ten hours."""

_DISK: Final = RealDisk()


def case_path(folder: Path, code: str, book: Book = CASE) -> Path:
    """Where the journal of `code` lies in `folder`: its log, or the one that `book` says.

    Raises:
        BadCode: `code` cannot be a case code, or for the book of a list no day.
    """
    if (why := book.why_not(code)) is not None:
        raise BadCode(why)
    return folder / f"{code}{book.suffix}"


def read_case(disk: Disk, path: Path) -> tuple[bytes, Read]:
    """The bytes of a journal and what they hold.

    Raises:
        OSError: the file cannot be read, or is larger than any case (EFBIG).
    """
    if disk.stamp_of(path).size > LARGEST:
        raise OSError(errno.EFBIG, "the file is larger than any case")
    data = disk.read(path)
    return data, read_lines(data, path.name)


class _File(NamedTuple):
    """An open file: its handle, and the file system's number for it."""

    handle: int
    number: int


class Journal:
    """A journal being written, of a case or a debrief. One writer; what `append` took is on the disk.

    `path` is where it lies, `head` the hash of its last line, `torn` the unfinished last line that opening
    it found and set aside, if there was one, `book` which kind of journal it is.
    """

    def __init__(
        self, disk: Disk, path: Path, hold: Hold, *, file: _File, data: bytes, read: Read, book: Book = CASE
    ) -> None:
        self.path = path
        self.book = book
        self.head = read.head
        self.torn = read.torn
        self._disk, self._hold, self._file = disk, hold, file
        self._kept = bytearray(data[: read.size])
        self._events = list(read.events)
        self._tried = b""
        self._open = True

    @classmethod
    def create(
        cls, folder: Path, code: str, disk: Disk = _DISK, *, now: str = "", book: Book = CASE
    ) -> Journal:
        """Begin the journal of a new case; `now` is the time that a second opener reads.

        Raises:
            BadCode, Taken, InUse, OutOfReach: with a sentence.
        """
        path = case_path(folder, code, book)
        with plainly(OutOfReach, f"{book.called(code)} cannot be begun in this folder"):
            disk.make_folder(folder)
            hold = Hold.take(disk, folder, code, now, book)
            with hold.unless_done():
                file = _begun(disk, path, code, book)
        return cls(disk, path, hold, file=file, data=b"", read=read_lines(b""), book=book)

    @classmethod
    def open(
        cls, folder: Path, code: str, disk: Disk = _DISK, *, now: str = "", book: Book = CASE
    ) -> Journal:
        """Go on with a case: verify it, and set an unfinished last line aside in a file of its own.

        Raises:
            BadCode, NoSuchCase, InUse, Damaged, OutOfReach: with a sentence.
        """
        path = case_path(folder, code, book)
        with plainly(OutOfReach, f"{book.called(code)} cannot be opened"):
            require(disk, path, code, book)
            hold = Hold.take(disk, folder, code, now, book)
            with hold.unless_done():
                data, read = read_case(disk, path)
                if read.broken is not None:
                    raise Damaged(read.broken)
                if read.torn is not None:
                    place(disk, free_name(disk, folder, f"{code}{book.stem}.torn-", ".txt"), read.torn)
                file = _reopened(disk, path, len(data), read.size)
        return cls(disk, path, hold, file=file, data=data, read=read, book=book)

    @property
    def code(self) -> str:
        """The case code."""
        return self.path.name.removesuffix(self.book.suffix)

    @property
    def events(self) -> tuple[Event, ...]:
        """All entries that are on the disk."""
        return tuple(self._events)

    def append(self, event: Event) -> None:
        """Write `event`, sync it, and only then count it.

        Raises:
            NotKept: it is not on the disk and does not count; trying again is safe.
            Disturbed: nor can it be, since the file is no longer as it was left; `move_to` goes on.
        """
        what = f"Entry {event.seq} of {self.book.named(self.code)} is not kept"
        line, head = self._line(event, what)
        with plainly(NotKept, what):
            self._clear()
            self._check()
            try:
                self._put(line)
            except OSError:
                with suppress(OSError):
                    self._clear()
                raise
        self._kept += line
        self._events.append(event)
        self.head = head

    def move_to(self, folder: Path, *, now: str = "") -> None:
        """Go on in another folder with the same lines, when the first is gone, full or disturbed.

        What is still to be reached of the old file gets the name `<CODE>.moved-1.jsonl`.

        Raises:
            Taken, InUse, NotKept: with a sentence; the journal then stays where it was.
        """
        code, path = self.code, case_path(folder, self.code, self.book)
        what = f"{self.book.called(code)} cannot go on in that folder"
        if not self._open:
            raise NotKept(f"{what}: the journal is closed.")
        with plainly(NotKept, what):
            self._disk.make_folder(folder)
            hold = Hold.take(self._disk, folder, code, now, self.book)
            with hold.unless_done():
                if self._disk.kind(path) is not None:
                    raise Taken(f"There is already a {self.book.named(code)} in that folder.")
                file = _landed(self._disk, path, bytes(self._kept))
        self._retire()
        self.path, self._hold, self._file, self._tried, self._open = path, hold, file, b"", True

    def close(self) -> None:
        """Let go of the file. Everything that counts is on the disk already."""
        self._shut()
        self._hold.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _line(self, event: Event, what: str) -> tuple[bytes, str]:
        if not self._open:
            raise NotKept(f"{what}: the journal is closed.")
        if event.seq != len(self._events) + 1:
            raise NotKept(f"{what}: the next entry has the number {len(self._events) + 1}.")
        try:
            return encode(event, self.head)
        except ValueError as refusal:
            raise NotKept(f"{what}: it holds something that cannot be written.") from refusal

    def _put(self, line: bytes) -> None:
        self._tried = line
        if self._disk.write(self._file.handle, line) != len(line):
            raise OSError(errno.ENOSPC, "only a part was taken")
        self._disk.sync(self._file.handle)
        if self._disk.stamp(self._file.handle).size != len(self._kept) + len(line):
            raise self._disturbed()
        self._tried = b""

    def _clear(self) -> None:
        """Cut off what an attempt that did not count may have left.

        After a sync that did not succeed the bytes may never reach the medium, whatever a second sync
        says: so they are cut off and written anew, never synced again.
        """
        if not self._tried:
            return
        if not self._tried.startswith(self._disk.read(self.path, len(self._kept))):
            raise self._disturbed()
        self._disk.cut(self._file.handle, len(self._kept))
        self._disk.sync(self._file.handle)
        self._tried = b""

    def _check(self) -> None:
        if self._disk.stamp_of(self.path) != (len(self._kept), self._file.number):
            raise self._disturbed()

    def _disturbed(self) -> Disturbed:
        return Disturbed(
            f"The file of {self.book.named(self.code)} was changed by someone else, so nothing more is"
            " written to it."
            " Go on in another folder: all entries so far go along."
        )

    def _shut(self) -> None:
        if not self._open:
            return
        with suppress(OSError, Disturbed):
            self._clear()
        with suppress(OSError):
            self._disk.close(self._file.handle)
        self._open = False

    def _retire(self) -> None:
        """Give up the old file, renamed if it is still all ours, so that nobody goes on with it."""
        with suppress(OSError, Disturbed):
            self._clear()
            self._check()
            self._shut()  # some systems rename no open file
            old = free_name(self._disk, self.path.parent, f"{self.code}{self.book.stem}.moved-", ".jsonl")
            self._disk.rename(self.path, old)
        self.close()


def require(disk: Disk, path: Path, code: str, book: Book = CASE) -> None:
    """Make sure that the journal at `path` is there.

    Raises:
        NoSuchCase: it is not; the sentence says where it went, if that is known.
    """
    if disk.kind(path) is not None:
        return
    called, stem = book.called(code), f"{code}{book.stem}"
    if disk.kind(path.with_name(f"{stem}.damaged-1.jsonl")) is not None:
        raise NoSuchCase(f"{called} is half mended: run `clockhour archive mend {code}` once more.")
    if disk.kind(path.with_name(f"{stem}.moved-1.jsonl")) is not None:
        raise NoSuchCase(f"{called} went on in another folder.")
    raise NoSuchCase(f"There is no {book.named(code)} in this folder.")


def _begun(disk: Disk, path: Path, code: str, book: Book) -> _File:
    kind = disk.kind(path)
    # Under the lock, an empty file is an attempt that never came to its first line.
    if kind is not None and (kind != "file" or disk.stamp_of(path).size):
        other = ", or take another code" if book is CASE else ""
        raise Taken(f"There is already a {book.named(code)}: open it{other}.")
    handle = disk.create(path) if kind is None else disk.append_to(path)
    try:
        disk.sync(handle)
        disk.sync_folder(path.parent)
        return _File(handle, disk.stamp(handle).number)
    except OSError:
        with suppress(OSError):
            disk.close(handle)
        raise


def _landed(disk: Disk, path: Path, data: bytes) -> _File:
    place(disk, path, data)
    try:
        return _reopened(disk, path, len(data), len(data))
    except OSError:
        with suppress(OSError):
            disk.remove(path)
        raise


def _reopened(disk: Disk, path: Path, found: int, size: int) -> _File:
    """Open a file that was just read, `found` bytes long, and cut it to `size` bytes."""
    handle = disk.append_to(path)
    try:
        size_now, number = disk.stamp(handle)
        if size_now != found:
            raise OSError(errno.EBUSY, "changed since it was read")
        if size != found:
            disk.cut(handle, size)
        disk.sync(handle)  # what a killed program wrote may not have reached the medium yet
    except OSError:
        with suppress(OSError):
            disk.close(handle)
        raise
    return _File(handle, number)
