"""Where protocol files stand, and how they are read from there and put there."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from msgspec import Struct

import tracker
from tracker.core.findings import Finding
from tracker.core.loading import LIMIT, Loaded, load_protocol
from tracker.core.text import shown
from tracker.journal.disk import RealDisk
from tracker.journal.trouble import Trouble, plainly

SUFFIX: Final = ".toml"
"""How the name of a protocol file ends."""

_FLAGS: Final = sum(getattr(os, name, 0) for name in ("O_NONBLOCK", "O_NOCTTY", "O_CLOEXEC", "O_BINARY"))


class ProtocolNotFound(Trouble):
    """No protocol goes by that name or path; the text says where it was looked for."""


class ProtocolUnreadable(ProtocolNotFound):
    """The file is there and its text cannot be had; `finding` says why."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(str(finding))
        self.finding = finding


class ProtocolNotWritten(Trouble):
    """The disk refused a protocol file, or there was one of that name."""


class Listed(Struct, frozen=True, gc=False):
    """A protocol file as a list shows it; a file with findings goes by its name, and its counts are 0."""

    id: str
    title: str
    version: str
    path: Path
    reviewed_by: str
    stages: int
    steps: int
    findings: int


def shipped() -> Path:
    """The folder of the protocols that come with the program: in the package, or beside it in a checkout."""
    package = Path(tracker.__file__).resolve().parent
    inside = package / "protocols"
    return inside if inside.is_dir() else package.parent / "protocols"


def shelves(archive: Path) -> tuple[Path, Path]:
    """The folders of an archive's own protocols and of the shipped ones; the first wins."""
    return archive / "protocols", shipped()


def _refuse(path: Path, what: str, mend: str, line: int = 0) -> ProtocolUnreadable:
    return ProtocolUnreadable(Finding(shown(path.name), line, "", what, mend))


def _bytes(path: Path, kind: str) -> bytes:
    """At most `LIMIT` bytes and one, of a plain file only; anything else is not so much as opened."""
    if not stat.S_ISREG(path.stat().st_mode):
        raise _refuse(path, "is no plain file", f"Name {kind}")
    with os.fdopen(os.open(path, os.O_RDONLY | _FLAGS), "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise _refuse(path, "is no plain file", f"Name {kind}")
        return file.read(LIMIT + 1)


def read_text(path: Path, kind: str = "a protocol file") -> str:
    """The text of a file that people write, read as UTF-8 whatever the machine's own habit.

    Raises:
        ProtocolUnreadable: it is no plain file, holds more than `LIMIT` bytes or other than UTF-8, or the
            disk refused.
    """
    try:
        content = _bytes(path, kind)
    except (OSError, ValueError) as refusal:
        why = getattr(refusal, "strerror", None) or "no file can have this name"
        raise _refuse(path, f"cannot be read: {why}", "Look at the file and its folder") from refusal
    if len(content) > LIMIT:
        raise _refuse(path, "holds more than 1 MiB", f"Check that this is {kind}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as odd:
        line = content.count(b"\n", 0, odd.start) + 1
        raise _refuse(path, "holds bytes that are not UTF-8", "Save the file as UTF-8 text", line) from odd


def read_protocol(path: Path) -> Loaded:
    """The protocol that a file holds, or everything that is the matter with it; raises nothing."""
    try:
        return load_protocol(read_text(path), path.name)
    except ProtocolUnreadable as refusal:
        return Loaded(None, (refusal.finding,))


def _files(folders: Iterable[Path]) -> Iterator[Path]:
    for folder in folders:
        try:
            inside = sorted(path for path in folder.iterdir() if path.suffix == SUFFIX)
        except OSError:
            continue  # a folder not there, or not to be read, holds no protocols for this user
        yield from inside


def _listed(path: Path) -> Listed:
    loaded = read_protocol(path)
    if (protocol := loaded.protocol) is None:
        return Listed(shown(path.stem), "", "", path, "", 0, 0, len(loaded.findings))
    steps = sum(1 for _ in protocol.all_steps())
    head = (protocol.id, protocol.title, protocol.version, path, protocol.reviewed_by)
    return Listed(*head, len(protocol.stages), steps, 0)


def list_protocols(folders: Iterable[Path]) -> tuple[Listed, ...]:
    """The protocol files of the folders, by folder and then by file name."""
    return tuple(_listed(path) for path in _files(folders))


def _looks_like_path(name: str) -> bool:
    return name.endswith(SUFFIX) or "/" in name or os.sep in name


def _by_name(name: str, folders: Iterable[Path]) -> Path | None:
    files = list(_files(folders))
    named = (path for path in files if path.stem == name)
    return next(named, None) or next((path for path in files if _listed(path).id == name), None)


def find_protocol(name_or_path: str | Path, folders: Iterable[Path]) -> tuple[Path, str]:
    """The path and the text of a protocol named by its path, its file name without `.toml`, or its id.

    Raises:
        ProtocolNotFound: there is none, or (`ProtocolUnreadable`) there is one without a text.
    """
    name, places = str(name_or_path), tuple(folders)
    path: Path | None = Path(name) if _looks_like_path(name) else _by_name(name, places)
    if path is None or not os.path.lexists(path):
        where = "" if _looks_like_path(name) else f" in {' or '.join(map(str, places)) or 'any folder'}"
        raise ProtocolNotFound(f"There is no protocol {shown(name)}{shown(where)}.")
    return path, read_text(path)


def _put(path: Path, text: str) -> None:
    with (
        plainly(ProtocolNotWritten, f"{shown(path.name)} was not written"),
        os.fdopen(RealDisk().create(path), "wb") as file,
    ):
        try:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            path.unlink()  # half a protocol is worse than none
            raise


def new_protocol(folder: Path, ident: str, text: str) -> Path:
    """Write a protocol text under a new id, its comments kept, reviewed by nobody; the path of the file.

    Raises:
        ProtocolNotWritten: there is one of that name, or the disk refused.
    """
    named = re.sub(r"(?m)^id = .*$", f'id = "{ident}"', text, count=1)
    fresh = re.sub(r"(?m)^reviewed_by = .*$", 'reviewed_by = ""', named, count=1)
    loaded = load_protocol(fresh, f"{ident}{SUFFIX}")
    if loaded.protocol is None or loaded.protocol.id != ident:
        raise ProtocolNotWritten("The id of that file is not on a line of its own: copy and edit it by hand.")
    path = folder / f"{ident}{SUFFIX}"
    with plainly(ProtocolNotWritten, f"{ident} was not written"):
        RealDisk().make_folder(folder)
    _put(path, fresh)
    return path
