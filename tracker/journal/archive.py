"""The folder of cases: what is in it, whether it holds, and ways in, out and back from damage.

A file that is no journal is listed as foreign, never passed over. Nothing is ever rewritten: damage is
set aside under a name of its own, and the verified lines go on in a new file.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from datetime import datetime
from itertools import chain, takewhile
from pathlib import Path
from typing import Final, Literal

from msgspec import Struct
from platformdirs import user_data_dir

from tracker.core.events import Opened
from tracker.core.findings import Finding
from tracker.core.text import shown
from tracker.journal.books import ACUITY, BESIDE, CASE, Book
from tracker.journal.codes import check_code, code_order, next_code
from tracker.journal.disk import Disk, RealDisk, free_name, numbered, place
from tracker.journal.files import SUFFIX, Journal, case_path, read_case, require
from tracker.journal.hold import Hold
from tracker.journal.lines import Read
from tracker.journal.soundness import NotSound, beside_findings, check_copy, findings
from tracker.journal.trouble import Damaged, OutOfReach, Taken, Trouble, plainly

__all__ = ["ENVIRONMENT", "Archive", "CaseFile", "Mended", "NotSound", "State", "default_folder"]

ENVIRONMENT: Final = "CLOCKHOUR_ARCHIVE"
_DISK: Final = RealDisk()
_BOOKS: Final = "|".join(re.escape(book.stem) for book in BESIDE)
_BESIDE: Final = re.compile(
    rf"(?:{_BOOKS})?\.(?:lock|holder|torn-\d+\.txt|aside-\d+\.txt|(?:damaged|moved)-\d+\.jsonl|.+\.part)"
    rf"|(?:{_BOOKS})\.jsonl|(?:\.case|{_BOOKS})\.jsonl\.sha256"
)
_LONGEST_SEAL: Final = 400

_OWN_FOLDERS: Final = frozenset({"protocols", "tables", "invented", "lists", "sheets"})
"""Folders that the program itself keeps in an archive."""

State = Literal["sound", "empty", "torn", "damaged", "foreign"]


class CaseFile(Struct, frozen=True, gc=False):
    """One name in the archive.

    `code` is empty for what is foreign, and `what` then says why; for what is torn or damaged it is the
    finding. `opened` is when the case began; `entries` counts the verified ones; `invented` marks a case
    that no theatre saw.
    """

    name: str
    state: State
    code: str = ""
    opened: datetime | None = None
    entries: int = 0
    invented: bool = False
    what: str = ""


class Mended(Struct, frozen=True, gc=False):
    """What mending did: entries kept, and the names of what was set aside and of the damaged original."""

    kept: int
    aside: str
    damaged: str


def default_folder(environment: Mapping[str, str]) -> Path:
    """Where cases live: `CLOCKHOUR_ARCHIVE` if it is set, else the platform's folder for user data."""
    if chosen := environment.get(ENVIRONMENT):
        return Path(chosen).expanduser()
    return Path(user_data_dir("clockhour", appauthor=False)) / "cases"


class Archive:
    """The journals in one folder. Reading takes no lock, so a running case may be read."""

    def __init__(self, folder: Path, disk: Disk = _DISK) -> None:
        self.folder = folder
        self._disk = disk

    def codes(self) -> tuple[str, ...]:
        """The codes of all journals, by site and number."""
        names = (name for name in self._names() if self._foreign(name) is None)
        return tuple(sorted((name.removesuffix(SUFFIX) for name in names), key=code_order))

    def entries(self) -> tuple[CaseFile, ...]:
        """Every journal, verified and summed up, by code; then what is foreign here, by name."""
        names = self._names()
        listed = [entry for name in names if (entry := self._listed(name, names)) is not None]
        return tuple(sorted(listed, key=_entry_order))

    def read(self, code: str) -> Read:
        """What a journal holds.

        Raises:
            BadCode, NoSuchCase, OutOfReach: with a sentence.
        """
        return self._read(code)[1]

    def has_beside(self, code: str, book: Book) -> bool:
        """Whether a case has such a book beside it, whole or half mended.

        Raises:
            BadCode, OutOfReach: with a sentence.
        """
        path = case_path(self.folder, code, book)
        with plainly(OutOfReach, f"{book.called(code)} cannot be read"):
            names = (book.suffix, f"{book.stem}.damaged-1.jsonl")
            return any(self._disk.kind(path.with_name(f"{code}{name}")) for name in names)

    def read_beside(self, code: str, book: Book) -> Read | None:
        """What a book beside a case holds; None if there is none.

        Raises:
            BadCode, NoSuchCase, OutOfReach: with a sentence; one that is half mended is not there.
        """
        return self._read(code, book)[1] if self.has_beside(code, book) else None

    def open_beside(self, code: str, book: Book, now: str = "") -> Journal:
        """A book beside a case, gone on with or begun; nothing is in it before its first entry.

        Raises:
            BadCode, NoSuchCase, InUse, Damaged, OutOfReach: with a sentence.
        """
        if self.has_beside(code, book):
            return Journal.open(self.folder, code, self._disk, now=now, book=book)
        return Journal.create(self.folder, code, self._disk, now=now, book=book)

    def verify(self, code: str) -> tuple[Finding, ...]:
        """What is the matter with a journal and the books beside it: their first line that does not hold.

        Raises:
            BadCode, NoSuchCase, OutOfReach: with a sentence.
        """
        log = self.read(code)
        beside = (beside_findings(code, log, self.read_beside(code, book), book) for book in BESIDE)
        return (*findings(code, log), *chain.from_iterable(beside))

    def verify_all(self) -> tuple[Finding, ...]:
        """What is the matter with any journal here; one that cannot be read is a finding too."""
        return tuple(finding for code in self.codes() for finding in self._verified(code))

    def propose_code(self, site: str) -> str:
        """The next free code of a site; what is left of a case that moved away still counts.

        Raises:
            ValueError: `site` is not 1 to 4 capital letters, or its numbers are used up.
        """
        return next_code((name.partition(".")[0] for name in self._names()), site)

    def export_case(self, code: str, to_folder: Path) -> Path:
        """Copy a sound journal to `to_folder`, and its SHA-256 beside it as `sha256sum` writes it.

        The books beside it go along in the same way.

        Raises:
            BadCode, NoSuchCase, Damaged, OutOfReach: with a sentence; a file there is never replaced.
        """
        if found := self.verify(code):
            raise Damaged(found[0])
        books = (CASE, *(book for book in BESIDE if self.has_beside(code, book)))
        with plainly(OutOfReach, f"Case {code} cannot be copied to that folder"):
            self._disk.make_folder(to_folder)
            copies = [self._copied(code, to_folder, book) for book in books]
        return copies[0]

    def _copied(self, code: str, to_folder: Path, book: Book) -> Path:
        data, _ = self._read(code, book)
        copy = case_path(to_folder, code, book)
        seal = f"{hashlib.sha256(data).hexdigest()}  {copy.name}\n"
        place(self._disk, copy, data)
        place(self._disk, _seal_path(copy), seal.encode())
        return copy

    def import_case(self, path: Path) -> str:
        """Take in a copy that `export_case` made, once its digest and its lines hold; its code.

        The books beside the copy are taken in with it.

        Raises:
            BadCode, Taken, InUse, NotSound, OutOfReach: with a sentence.
        """
        code = path.name.removesuffix(SUFFIX)
        target = case_path(self.folder, code)
        with plainly(OutOfReach, f"Case {code} cannot be taken in"):
            data, read = read_case(self._disk, path)
            check_copy(code, data, findings(code, read), read, self._seal(path))
            books = {book: self._copy_beside(path, code, read, book) for book in BESIDE}
            self._disk.make_folder(self.folder)
            hold = Hold.take(self._disk, self.folder, code, "")
            try:
                if self._disk.kind(target) is not None:
                    raise Taken(f"There is already a case {code} here; it stays as it is.")
                # Its books first: what is left of an interrupted attempt is then no case without them.
                for book, copy in books.items():
                    self._take_in_beside(code, copy, book)
                place(self._disk, target, data)
            finally:
                hold.release()
        return code

    def _copy_beside(self, path: Path, code: str, log: Read, book: Book) -> bytes | None:
        beside = path.with_name(f"{code}{book.suffix}")
        if self._disk.kind(beside) is None:
            return None
        data, read = read_case(self._disk, beside)
        check_copy(code, data, beside_findings(code, log, read, book), read, self._seal(beside), book)
        return data

    def _take_in_beside(self, code: str, data: bytes | None, book: Book) -> None:
        target = case_path(self.folder, code, book)
        if data is None:
            return
        if self._disk.kind(target) is not None:
            if self._disk.read(target) == data:
                return  # of an attempt that was interrupted
            raise Taken(f"There is already a {book.named(code)} here; it stays as it is.")
        place(self._disk, target, data)

    def mend(self, code: str, book: Book = CASE) -> Mended | None:
        """Go back to the last line that holds, of the log or of a book beside it; None if all lines do.

        Everything from the first line that does not hold is copied to `<CODE>.aside-1.txt`, the original
        gets the name `<CODE>.damaged-1.jsonl` and is not touched otherwise, and the lines before go on in
        a new file. Interrupted anywhere, it may be called again.

        Raises:
            BadCode, NoSuchCase, InUse, OutOfReach: with a sentence.
        """
        path = case_path(self.folder, code, book)
        with plainly(OutOfReach, f"{book.called(code)} cannot be mended"):
            hold = Hold.take(self._disk, self.folder, code, "", book)
            try:
                return self._mend(code, path, book)
            finally:
                hold.release()

    def _mend(self, code: str, path: Path, book: Book) -> Mended | None:
        disk, folder, stem = self._disk, self.folder, f"{code}{book.stem}"
        damaged = self._latest(f"{stem}.damaged-", ".jsonl")
        if disk.kind(path) is None and damaged is not None:  # interrupted after the renaming
            data, read = read_case(disk, damaged)
            aside = self._latest(f"{stem}.aside-", ".txt")
        else:
            require(disk, path, code, book)
            data, read = read_case(disk, path)
            if read.size == len(data):
                return None
            aside = free_name(disk, folder, f"{stem}.aside-", ".txt")
            place(disk, aside, data[read.size :])
            damaged = free_name(disk, folder, f"{stem}.damaged-", ".jsonl")
            disk.rename(path, damaged)
            disk.sync_folder(folder)
        place(disk, path, data[: read.size])
        return Mended(len(read.events), aside.name if aside else "", damaged.name)

    def _latest(self, before: str, after: str) -> Path | None:
        paths = numbered(self.folder, before, after)
        taken = [*takewhile(lambda path: self._disk.kind(path) is not None, paths)]
        return taken[-1] if taken else None

    def _seal(self, path: Path) -> str:
        seal = _seal_path(path)
        if self._disk.stamp_of(seal).size > _LONGEST_SEAL:
            return ""
        return self._disk.read(seal).decode(errors="replace")

    def _names(self) -> tuple[str, ...]:
        try:
            with plainly(OutOfReach, "The folder of cases cannot be read"):
                return self._disk.names(self.folder)
        except OutOfReach:
            if self._disk.kind(self.folder) is None:
                return ()  # nobody has begun a case yet
            raise

    def _read(self, code: str, book: Book = CASE) -> tuple[bytes, Read]:
        path = case_path(self.folder, code, book)
        with plainly(OutOfReach, f"{book.called(code)} cannot be read"):
            require(self._disk, path, code, book)
            return read_case(self._disk, path)

    def _verified(self, code: str) -> tuple[Finding, ...]:
        try:
            return self.verify(code)
        except Trouble as trouble:
            mend = "See that the file can be read, then verify again"
            return (Finding(f"{code}{SUFFIX}", 0, "", str(trouble).rstrip("."), mend),)

    def _foreign(self, name: str) -> str | None:
        """Why `name` is no journal; None if it is one."""
        kind = self._disk.kind(self.folder / name)
        if kind == "link":
            return "a link; links are not followed"
        if kind == "folder":
            return "a folder; cases lie directly in the archive"
        if kind != "file" or not name.endswith(SUFFIX):
            return "not a case record"
        return None if check_code(name.removesuffix(SUFFIX)) is None else "not named by a case code"

    def _listed(self, name: str, names: tuple[str, ...]) -> CaseFile | None:
        if (why := self._foreign(name)) is None:
            return self._summary(name.removesuffix(SUFFIX))
        book = next((book for book in BESIDE if name.endswith(book.suffix)), None)
        if book and name.replace(book.suffix, SUFFIX) not in names:
            why = f"a {book.thing} whose case is not here"
        elif self._is_own(name):
            return None
        return CaseFile(shown(name), "foreign", what=why)

    def _is_own(self, name: str) -> bool:
        """Whether it is something that the program itself keeps beside the cases."""
        kind = self._disk.kind(self.folder / name)
        if kind == "file":
            return name == ACUITY or _is_beside(name)
        return kind == "folder" and name in _OWN_FOLDERS

    def _summary(self, code: str) -> CaseFile:
        try:
            read = self.read(code)
        except Trouble as trouble:
            return CaseFile(f"{code}{SUFFIX}", "damaged", code, what=str(trouble))
        found = findings(code, read)
        first = read.events[0] if read.events else None
        return CaseFile(
            name=f"{code}{SUFFIX}",
            state=_state(read, found),
            code=code,
            opened=first.at if first else None,
            entries=len(read.events),
            invented=isinstance(first, Opened) and first.invented,
            what=str(found[0]) if found else "",
        )


def _entry_order(entry: CaseFile) -> tuple[bool, tuple[str, int], str]:
    return not entry.code, code_order(entry.code) if entry.code else ("", 0), entry.name


def _is_beside(name: str) -> bool:
    code, dot, rest = name.partition(".")
    return check_code(code) is None and _BESIDE.fullmatch(dot + rest) is not None


def _state(read: Read, found: tuple[Finding, ...]) -> State:
    if not found:
        return "sound" if read.events else "empty"
    return "torn" if read.torn is not None and len(found) == 1 else "damaged"


def _seal_path(path: Path) -> Path:
    return path.with_name(f"{path.name}.sha256")
