"""The one layer between the journal room and a disk, so that every failure of a disk can be rehearsed.

All that this room does to files goes through a `Disk`. `RealDisk` is the machine's own; tests put one in
its place that fails at any call, or loses what was not synced.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Final, Literal, NamedTuple, Protocol

_NO_LINK: Final = getattr(os, "O_NOFOLLOW", 0)
_PLAIN: Final = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0) | _NO_LINK
_NO_WAIT: Final = getattr(os, "O_NONBLOCK", 0)  # a named pipe in an archive must not hold a reader

Kind = Literal["file", "folder", "link", "other"]


class Stamp(NamedTuple):
    """What tells one file from another: its size in bytes and the file system's number for it."""

    size: int
    number: int


class Lock(Protocol):
    """A lock that is held."""

    def release(self) -> None:
        """Let go of it."""


class Disk(Protocol):
    """What the journal room asks of a disk. Everything may raise OSError."""

    def create(self, path: Path) -> int:
        """Make a new file of mode 0600 and open it for appending; FileExistsError if the name is taken."""

    def append_to(self, path: Path) -> int:
        """Open a file that exists, and is no link, for appending."""

    def write(self, handle: int, data: bytes) -> int:
        """Append `data` in one call; the number of bytes taken."""

    def sync(self, handle: int) -> None:
        """Return once the file's bytes are on the medium."""

    def cut(self, handle: int, size: int) -> None:
        """Cut the file to `size` bytes."""

    def close(self, handle: int) -> None:
        """Close the handle."""

    def stamp(self, handle: int) -> Stamp:
        """The stamp of an open file."""

    def stamp_of(self, path: Path) -> Stamp:
        """The stamp of the file that has this name now."""

    def read(self, path: Path, start: int = 0) -> bytes:
        """The bytes of a regular file, no link, from `start` on."""

    def rename(self, old: Path, new: Path) -> None:
        """Give a file a new name; FileExistsError if that name is taken."""

    def remove(self, path: Path) -> None:
        """Remove a name."""

    def make_folder(self, path: Path) -> None:
        """Make a folder, and those above it, with mode 0700 where they are missing."""

    def sync_folder(self, path: Path) -> None:
        """Return once the folder's names are on the medium."""

    def names(self, folder: Path) -> tuple[str, ...]:
        """The names in a folder, sorted."""

    def kind(self, path: Path) -> Kind | None:
        """What has this name, a link not followed; None if nothing has."""

    def lock(self, path: Path) -> Lock:
        """Take a lock that ends with the process; BlockingIOError if another holds it."""


class RealDisk:
    """The machine's own disk."""

    def create(self, path: Path) -> int:
        """Make a new file of mode 0600 and open it for appending; FileExistsError if the name is taken."""
        return os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_EXCL | _PLAIN, 0o600)

    def append_to(self, path: Path) -> int:
        """Open a file that exists, and is no link, for appending."""
        return os.open(path, os.O_RDWR | os.O_APPEND | _PLAIN)

    def write(self, handle: int, data: bytes) -> int:
        """Append `data` in one call; the number of bytes taken."""
        return os.write(handle, data)

    def sync(self, handle: int) -> None:
        """Return once the file's bytes are on the medium."""
        if sys.platform == "darwin":
            import fcntl  # noqa: PLC0415 - not there on every system

            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)  # there, fsync stops at the drive's own memory
        else:
            os.fsync(handle)

    def cut(self, handle: int, size: int) -> None:
        """Cut the file to `size` bytes."""
        os.ftruncate(handle, size)

    def close(self, handle: int) -> None:
        """Close the handle."""
        os.close(handle)

    def stamp(self, handle: int) -> Stamp:
        """The stamp of an open file."""
        facts = os.fstat(handle)
        return Stamp(facts.st_size, facts.st_ino)

    def stamp_of(self, path: Path) -> Stamp:
        """The stamp of the file that has this name now."""
        facts = path.lstat()
        return Stamp(facts.st_size, facts.st_ino)

    def read(self, path: Path, start: int = 0) -> bytes:
        """The bytes of a regular file, no link, from `start` on."""
        with os.fdopen(os.open(path, os.O_RDONLY | _NO_WAIT | _PLAIN), "rb") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise OSError(errno.EISDIR, "not a plain file")
            file.seek(start)
            return file.read()

    def rename(self, old: Path, new: Path) -> None:
        """Give a file a new name; FileExistsError if that name is taken."""
        if os.path.lexists(new):
            raise FileExistsError(errno.EEXIST, "the name is taken")
        old.rename(new)

    def remove(self, path: Path) -> None:
        """Remove a name."""
        path.unlink()

    def make_folder(self, path: Path) -> None:
        """Make a folder, and those above it, with mode 0700 where they are missing."""
        missing = [folder for folder in (path, *path.parents) if not folder.exists()]
        for folder in reversed(missing):
            folder.mkdir(mode=0o700, exist_ok=True)
            self.sync_folder(folder.parent)

    def sync_folder(self, path: Path) -> None:
        """Return once the folder's names are on the medium."""
        if sys.platform == "win32":
            return  # Windows opens no folder for syncing; its file system journals names itself
        handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        except OSError as refusal:
            if refusal.errno not in (errno.EINVAL, errno.ENOTSUP):  # some shares sync no folders
                raise
        finally:
            os.close(handle)

    def names(self, folder: Path) -> tuple[str, ...]:
        """The names in a folder, sorted."""
        return tuple(sorted(entry.name for entry in os.scandir(folder)))

    def kind(self, path: Path) -> Kind | None:
        """What has this name, a link not followed; None if nothing has."""
        try:
            mode = path.lstat().st_mode
        except (FileNotFoundError, NotADirectoryError):
            return None
        kinds: dict[int, Kind] = {stat.S_IFREG: "file", stat.S_IFDIR: "folder", stat.S_IFLNK: "link"}
        return kinds.get(stat.S_IFMT(mode), "other")

    def lock(self, path: Path) -> Lock:
        """Take a lock that ends with the process; BlockingIOError if another holds it.

        A file system without such locks is refused (ENOLCK): a stand-in would outlive a killed process.
        """
        from filelock import FileLock, SoftFileLock, Timeout  # noqa: PLC0415 - 60 ms that readers do not need

        try:
            lock = FileLock(path, mode=0o600, thread_local=False)
            lock.acquire(blocking=False)
        except Timeout:
            raise BlockingIOError(errno.EAGAIN, "held by another") from None
        except NotImplementedError:
            raise OSError(errno.ENOLCK, "no locks here") from None
        if isinstance(lock, SoftFileLock):
            lock.release()
            raise OSError(errno.ENOLCK, "no locks here")
        return lock


def write_all(disk: Disk, handle: int, data: bytes) -> None:
    """Append all of `data`, in as many calls as the disk wants, and sync it."""
    while data:
        taken = disk.write(handle, data)
        if not taken:
            raise OSError(errno.ENOSPC, "no byte taken")
        data = data[taken:]
    disk.sync(handle)


def place(disk: Disk, path: Path, data: bytes) -> None:
    """Make a file that is there whole, synced and read back, or not at all; never in another's place.

    The caller holds the lock of the case: what is left of an interrupted attempt is cleared away first.
    """
    part = path.with_name(f"{path.name}.part")
    if disk.kind(part) is not None:
        disk.remove(part)
    handle = disk.create(part)
    try:
        write_all(disk, handle, data)
    finally:
        disk.close(handle)
    if disk.read(part) != data:
        raise OSError(errno.EIO, "read back otherwise than written")
    disk.rename(part, path)
    try:
        disk.sync_folder(path.parent)
    except OSError:
        with suppress(OSError):
            disk.remove(path)
        raise


def numbered(folder: Path, before: str, after: str) -> Iterator[Path]:
    """The paths `before1after`, `before2after` and so on in `folder`."""
    return (folder / f"{before}{number}{after}" for number in count(1))


def free_name(disk: Disk, folder: Path, before: str, after: str) -> Path:
    """The first of those paths that nothing has."""
    return next(path for path in numbered(folder, before, after) if disk.kind(path) is None)
