"""A disk in memory that fails at any call it is told to, and loses in a crash what was not synced.

Names and bytes are kept twice: as programs see them, and as the medium has them. A sync that does not
succeed leaves the bytes it was given lost to every later sync (the behaviour of Linux since 4.13, told in
Rebello et al., "Can Applications Recover from fsync Failures?", USENIX ATC 2020), unless they are written
again.
"""

from __future__ import annotations

import errno
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from tracker.journal.disk import Kind, Stamp

Crash = Literal["kept", "lost", "half", "zeros", "reordered"]
CRASHES: tuple[Crash, ...] = ("kept", "lost", "half", "zeros", "reordered")
"""All there is; nothing that was not synced; half of the new bytes; zeros in their place; no new bytes, and
of the new names only the last change."""


@dataclass(frozen=True)
class Fault:
    """What goes amiss at one call: `code` is raised, before the work is done or, if `done`, after it.

    A write with `part` takes so many bytes; with code 0 it then says so instead of raising.
    """

    code: int = errno.EIO
    done: bool = False
    part: int | None = None


class PowerCut(BaseException):
    """The machine is off: no call does anything any more, and no program catches this."""


@dataclass
class _File:
    """`seen` is what programs see, `medium` what the medium has; the first `same` bytes of both agree."""

    number: int
    seen: bytearray = field(default_factory=bytearray)
    medium: bytes = b""
    same: int = 0
    lost_until: int = 0

    def synced(self) -> None:
        gap = max(self.lost_until - self.same, 0)
        self.medium = self.medium[: self.same] + bytes(gap) + bytes(self.seen[self.same + gap :])
        self.same = len(self.seen)

    def not_synced(self) -> None:
        self.lost_until = len(self.seen)

    def cut(self, size: int) -> None:
        del self.seen[size:]
        self.same, self.lost_until = min(self.same, size), min(self.lost_until, size)

    def remains(self, how: Crash) -> bytes:
        """What a crash leaves."""
        seen, new = bytes(self.seen), len(self.seen) - self.same
        grown = self.same == len(self.medium)
        return {
            "kept": seen,
            "lost": self.medium,
            "reordered": self.medium,
            "half": seen[: self.same + new // 2] if grown else self.medium,
            "zeros": seen[: self.same] + bytes(new) if grown else self.medium,
        }[how]


class _Lock:
    def __init__(self, disk: FaultyDisk, path: Path) -> None:
        self._disk, self._path = disk, path

    def release(self) -> None:
        self._disk.locked.discard(self._path)


class FaultyDisk:
    """See the head of this module. `calls` counts them; `faults` maps (call, its how-manieth) to a fault.

    With `dies_at`, the power goes before the call of that number, counted over all calls.
    """

    def __init__(self, faults: Mapping[tuple[str, int], Fault] | None = None, *, locks: bool = True) -> None:
        self.faults = dict(faults or {})
        self.calls: Counter[str] = Counter()
        self.locks = locks
        self.dies_at: int | None = None
        self.locked: set[Path] = set()
        self.files: dict[Path, _File] = {}
        self.folders: set[Path] = {Path("/")}
        self._medium: dict[Path, _File] = {}
        self._changes: list[tuple[Path | None, Path | None]] = []
        self._handles: dict[int, _File] = {}
        self._numbers = 0

    # -- what tests do to it -------------------------------------------------------------------------

    def crash(self, how: Crash) -> None:
        """The power goes: handles and locks end; of what was not synced remains what `how` says."""
        names = dict(self._medium if how in {"lost", "reordered"} else self.files)
        if how == "reordered" and self._changes:
            gone, come = self._changes[-1]
            names = {path: file for path, file in names.items() if path != gone}
            if come is not None and come in self.files:
                names[come] = self.files[come]
        for file in {id(file): file for file in names.values()}.values():
            file.medium = file.remains(how)
            file.seen, file.same, file.lost_until = bytearray(file.medium), len(file.medium), 0
        self.files, self._medium = dict(names), dict(names)
        self._handles, self.locked, self._changes, self.dies_at = {}, set(), [], None

    def put(self, path: Path, data: bytes) -> None:
        """A file that somebody else made, synced."""
        self._numbers += 1
        self.files[path] = self._medium[path] = _File(self._numbers, bytearray(data), data, len(data))
        self.folders |= {*path.parents}

    def text(self, path: Path) -> bytes:
        """A file's bytes as programs see them, without a call being counted."""
        return bytes(self.files[path].seen)

    # -- the disk ------------------------------------------------------------------------------------

    def create(self, path: Path) -> int:
        """As `Disk` says."""
        fault = self._called("create")
        if path in self.files:
            raise FileExistsError(errno.EEXIST, "taken")
        if path.parent not in self.folders:
            raise FileNotFoundError(errno.ENOENT, "no folder")
        self._numbers += 1
        self.files[path] = _File(self._numbers)
        self._changes.append((None, path))
        handle = self._handle(self.files[path])
        _after(fault)
        return handle

    def append_to(self, path: Path) -> int:
        """As `Disk` says."""
        self._called("append_to")
        return self._handle(self._at(path))

    def write(self, handle: int, data: bytes) -> int:
        """As `Disk` says."""
        fault = self._called("write", part=True)
        taken = len(data) if fault is None or fault.part is None else min(fault.part, len(data))
        self._handles[handle].seen += data[:taken]
        if fault is not None and fault.code:
            raise OSError(fault.code, "write")
        return taken

    def sync(self, handle: int) -> None:
        """As `Disk` says."""
        try:
            fault = self._called("sync")
        except OSError:
            self._handles[handle].not_synced()
            raise
        self._handles[handle].synced()
        _after(fault)

    def cut(self, handle: int, size: int) -> None:
        """As `Disk` says."""
        fault = self._called("cut")
        self._handles[handle].cut(size)
        _after(fault)

    def close(self, handle: int) -> None:
        """As `Disk` says; a handle is gone whatever close says."""
        try:
            self._called("close")
        finally:
            del self._handles[handle]

    def stamp(self, handle: int) -> Stamp:
        """As `Disk` says."""
        self._called("stamp")
        file = self._handles[handle]
        return Stamp(len(file.seen), file.number)

    def stamp_of(self, path: Path) -> Stamp:
        """As `Disk` says."""
        self._called("stamp_of")
        file = self._at(path)
        return Stamp(len(file.seen), file.number)

    def read(self, path: Path, start: int = 0) -> bytes:
        """As `Disk` says."""
        self._called("read")
        return bytes(self._at(path).seen[start:])

    def rename(self, old: Path, new: Path) -> None:
        """As `Disk` says."""
        fault = self._called("rename")
        if new in self.files:
            raise FileExistsError(errno.EEXIST, "taken")
        self.files[new] = self._at(old)
        del self.files[old]
        self._changes.append((old, new))
        _after(fault)

    def remove(self, path: Path) -> None:
        """As `Disk` says."""
        self._called("remove")
        self._at(path)
        del self.files[path]
        self._changes.append((path, None))

    def make_folder(self, path: Path) -> None:
        """As `Disk` says; folders survive every crash here."""
        self._called("make_folder")
        self.folders |= {path, *path.parents}

    def sync_folder(self, path: Path) -> None:
        """As `Disk` says."""
        fault = self._called("sync_folder")
        elsewhere = {name: file for name, file in self._medium.items() if name.parent != path}
        here = {name: file for name, file in self.files.items() if name.parent == path}
        self._medium = elsewhere | here
        self._changes = [change for change in self._changes if path not in {p and p.parent for p in change}]
        _after(fault)

    def names(self, folder: Path) -> tuple[str, ...]:
        """As `Disk` says."""
        self._called("names")
        if folder not in self.folders:
            raise FileNotFoundError(errno.ENOENT, "no folder")
        return tuple(sorted(path.name for path in self.files if path.parent == folder))

    def kind(self, path: Path) -> Kind | None:
        """As `Disk` says."""
        self._called("kind")
        return "file" if path in self.files else "folder" if path in self.folders else None

    def lock(self, path: Path) -> _Lock:
        """As `Disk` says; without `locks` everybody gets it, as on a share that lost it."""
        self._called("lock")
        if self.locks and path in self.locked:
            raise BlockingIOError(errno.EAGAIN, "held")
        self.locked.add(path)
        return _Lock(self, path)

    # -- inside --------------------------------------------------------------------------------------

    def _called(self, name: str, *, part: bool = False) -> Fault | None:
        self.calls[name] += 1
        if self.dies_at is not None and self.calls.total() >= self.dies_at:
            raise PowerCut
        fault = self.faults.get((name, self.calls[name]))
        if fault is not None and not fault.done and not (part and fault.part is not None):
            raise OSError(fault.code, name)
        return fault

    def _at(self, path: Path) -> _File:
        if path not in self.files:
            raise FileNotFoundError(errno.ENOENT, "no file")
        return self.files[path]

    def _handle(self, file: _File) -> int:
        self._numbers += 1
        self._handles[self._numbers] = file
        return self._numbers


def _after(fault: Fault | None) -> None:
    if fault is not None and fault.code:
        raise OSError(fault.code, "after the work was done")
