"""The lists of the days: TOML files in the folder `lists` of an archive, and beside each the book of its day.

The file is the plan as typed. From the first entry on the day goes by the text that the book holds; the program
writes a file once, when it is made, and never again.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import date, timedelta
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, TypeVar

from tracker import __version__
from tracker.core.case import Case
from tracker.core.day import Day, fold_day
from tracker.core.day_events import ListBegun, PlaceBegun
from tracker.core.day_plan import Plan, day_of
from tracker.core.events import Event, Opened
from tracker.core.findings import Finding
from tracker.core.loading import load_protocol
from tracker.core.loading.plan import Files, LoadedPlan, kept_plan, load_plan
from tracker.core.protocol import Protocol
from tracker.core.text import shown
from tracker.journal.archive import Archive, Mended
from tracker.journal.books import LIST, check_list_name
from tracker.journal.cases import case_of
from tracker.journal.codes import check_code, latest
from tracker.journal.disk import RealDisk
from tracker.journal.files import case_path, read_case
from tracker.journal.lines import Read
from tracker.journal.shelf import SUFFIX, ProtocolNotFound, find_protocol, list_protocols, read_text, shelves
from tracker.journal.trouble import Damaged, NotKept, OutOfReach, Trouble, plainly

FOLDER: Final = "lists"
RECENT: Final = 20
"""So many of the latest cases of each site are looked at for a case that the book of its list does not name."""

E = TypeVar("E", bound=Event)
_DISK: Final = RealDisk()


class NoList(Trouble):
    """There is no such list, or its name cannot be one."""


class BadList(Trouble):
    """The file of a list has findings; `findings` are all of them."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        super().__init__(" ".join(map(str, findings[:1])) + _more(len(findings) - 1))
        self.findings = findings


def _more(n: int) -> str:
    return f" And {n} more: clockhour list check says which." if n > 0 else ""


class Lists:
    """The lists of one archive."""

    def __init__(self, archive: Archive) -> None:
        self.archive = archive
        self.folder = archive.folder / FOLDER

    def path(self, name: str) -> Path:
        """Where the file of a list lies.

        Raises:
            NoList: the name is no day.
        """
        if (why := check_list_name(name)) is not None:
            raise NoList(why)
        return self.folder / f"{name}{SUFFIX}"

    def names(self) -> tuple[str, ...]:
        """The lists there are, by file or by book, the earliest first."""
        try:
            found = _DISK.names(self.folder)
        except OSError:
            return ()
        stems = {n.removesuffix(s) for n in found for s in (SUFFIX, LIST.suffix) if n.endswith(s)}
        return tuple(sorted(stem for stem in stems if day_of(stem) is not None))

    def about(self, today: date) -> tuple[str, ...]:
        """The lists of a day and of the day before: one may go on past midnight."""
        days = (today, today - timedelta(days=1))
        return tuple(name for day in days for name in self.names() if day_of(name) == day)

    # -- the file

    def files(self) -> Files:
        """What lists are held against: the protocols that this archive has."""
        folders = shelves(self.archive.folder)

        @cache
        def protocol(ident: str) -> Protocol | None:
            try:
                return self.protocol(ident)[0]
            except Trouble:
                return None

        known = tuple(dict.fromkeys(listed.id for listed in list_protocols(folders)))
        return Files(protocol, known, check_code)

    def protocol(self, ident: str) -> tuple[Protocol, str]:
        """A protocol by its id, and its text.

        Raises:
            Trouble: there is none, or it has findings.
        """
        path, text = find_protocol(ident, shelves(self.archive.folder))
        loaded = load_protocol(text, path.name)
        if loaded.protocol is None:
            raise Trouble(f"{path.name} has findings: clockhour protocol check {ident} says which.")
        if loaded.protocol.id != ident:
            raise ProtocolNotFound(f"There is no protocol {shown(ident)}.")
        return loaded.protocol, text

    def text(self, name: str) -> str:
        """The text of the file of a list.

        Raises:
            NoList: there is none.
            ProtocolUnreadable: it cannot be read as text.
        """
        path = self.path(name)
        if not os.path.lexists(path):
            raise NoList(f"There is no list {name}: clockhour list new begins one.")
        return read_text(path, "a list")

    def load(self, name: str) -> LoadedPlan:
        """The plan that the file of a list holds, or its findings.

        Raises:
            NoList, ProtocolUnreadable: as of its text.
        """
        return load_plan(self.text(name), name, self.files())

    def new(self, name: str, text: str) -> Path:
        """Write the file of a new list.

        Raises:
            BadList: it has findings; nothing is written.
            NotKept: there is one of that name, or the disk refused.
        """
        path = self.path(name)
        loaded = load_plan(text, name, self.files())
        if loaded.plan is None:
            raise BadList(loaded.findings)
        with plainly(NotKept, f"The list {name} was not written"):
            _DISK.make_folder(self.folder)
            _put(path, text.encode())
        return path

    # -- the day

    def day(self, name: str) -> Day:
        """A list as it stands: by its book once its day has begun, else by its file.

        Raises:
            NoList, BadList, ProtocolUnreadable, Damaged, OutOfReach: with a sentence.
        """
        read = self._read(name)
        if read is not None and read.events:
            return fold_day(name, self._kept(name, read), read.events)
        return fold_day(name, self._plan(name)[0], ())

    def changed_since(self, day: Day) -> bool:
        """Whether the file is no longer the plan that the day goes by."""
        try:
            return day.begun is not None and self.text(day.name) != day.begun.plan
        except Trouble:
            return True

    def say(self, name: str, kind: type[E], role: str, now: Any, station: str = "", **fields: Any) -> Day:
        """Append an entry to the book of a list, which is begun with the plan if there is none; the list then.

        Raises:
            NoList, BadList, InUse, Damaged, NotKept, OutOfReach: with a sentence; nothing was entered then.
        """
        plan, text = None, ""
        read = self._read(name)
        if read is None or not read.events:
            plan, text = self._plan(name)
        beside = Archive(self.folder)
        with beside.open_beside(name, LIST, f"{now.at:%H:%M:%S}") as journal:
            run = max((e.run for e in journal.events), default=0) + 1
            frame = {
                "at": now.at,
                "entered_at": now.at,
                "elapsed_ms": now.elapsed_ms,
                "run": run,
                "role": role,
            }
            if not journal.events:
                if plan is None:
                    raise NotKept(f"Nothing was entered: the book of list {name} was taken away.")
                digest = sha256(text.encode()).hexdigest()
                about = {"name": name, "plan": text, "digest": digest, "program": __version__}
                journal.append(ListBegun(seq=1, **frame, **about, station=station))
            journal.append(kind(seq=len(journal.events) + 1, **frame, **fields))
            return fold_day(name, self._kept(name, Read(journal.events, (), 0, "")), journal.events)

    def _plan(self, name: str) -> tuple[Plan, str]:
        text = self.text(name)
        loaded = load_plan(text, name, self.files())
        if loaded.plan is None:
            raise BadList(loaded.findings)
        return loaded.plan, text

    def _kept(self, name: str, read: Read) -> Plan:
        first = read.events[0]
        plan = kept_plan(first.plan) if isinstance(first, ListBegun) else None
        if plan is None or not isinstance(first, ListBegun) or first.name != name:
            raise BadList((Finding(f"{name}{LIST.suffix}", 1, "", "does not begin this list", _COPY),))
        return plan

    def _read(self, name: str) -> Read | None:
        """What the book of a list holds; None without one.

        Raises:
            Damaged: a line of it does not hold.
        """
        if check_list_name(name) is not None or not self.folder.is_dir():
            return None
        read = Archive(self.folder).read_beside(name, LIST)
        if read is not None and read.broken is not None:
            raise Damaged(read.broken)
        return read

    # -- its cases

    def cases(self, day: Day, known: Iterable[Case] = ()) -> Mapping[str, Case]:
        """The cases that were begun from a list, by code, what cannot be read left out.

        `known` are cases read already; a case says itself which list it is of, whatever the book has.
        """
        found = {case.code: case for case in known if place_of(case, day.name) is not None}
        for code in (code for place in day.places for code in place.codes if code not in found):
            with suppress(Trouble):
                case = case_of(self.archive.read(code), code)
                if place_of(case, day.name) is not None:
                    found[code] = case
        return found

    def unnamed(self, day: Day, cases: Iterable[Case]) -> tuple[Case, ...]:
        """Cases of the list that its book does not name: the program ended between the two."""
        named = {code for place in day.places for code in place.codes}
        return tuple(case for case in cases if case.code not in named and place_of(case, day.name))

    def latest_cases(self) -> tuple[Case, ...]:
        """The latest cases of each site, what cannot be read left out."""
        found = []
        for code in latest(self.archive.codes(), RECENT):
            with suppress(Trouble):
                found.append(case_of(self.archive.read(code), code))
        return tuple(found)

    def named(self, day: Day, cases: Iterable[Case], role: str, now: Any) -> Day:
        """The list with every case of it named in its book; one that the book lacked is entered.

        Raises:
            Trouble: the book does not take it.
        """
        for case in self.unnamed(day, cases):
            day = self.say(day.name, PlaceBegun, role, now, place=place_of(case, day.name), code=case.code)
        return day

    # -- whether it holds

    def verify(self) -> tuple[Finding, ...]:
        """What is the matter with the book of any list: its first line, and the first that does not hold."""
        return tuple(f for name in self.names() for f in self._verified(name))

    def _verified(self, name: str) -> tuple[Finding, ...]:
        source, path = f"{name}{LIST.suffix}", case_path(self.folder, name, LIST)
        if not path.exists():
            return ()
        try:
            with plainly(OutOfReach, f"The book of list {name} cannot be read"):
                _, read = read_case(_DISK, path)
        except OutOfReach as trouble:
            return (
                Finding(
                    source, 0, "", str(trouble).rstrip("."), "See that it can be read, then verify again"
                ),
            )
        found = [read.broken] if read.broken else []
        first = read.events[0] if read.events else None
        if first is not None and not _begins(first, name):
            found.append(Finding(source, 1, "", "Line 1 does not begin this list", _COPY))
        if read.torn is not None:
            what = f"Line {len(read.events) + 1} is unfinished ({len(read.torn)} bytes)"
            found.append(Finding(source, len(read.events) + 1, "", what, "It is set aside at the next entry"))
        return tuple(found)

    def mend(self, name: str) -> Mended | None:
        """Go back to the last line of a list's book that holds, the rest set aside; None if all lines do.

        Raises:
            NoSuchCase, InUse, OutOfReach: with a sentence.
        """
        return Archive(self.folder).mend(name, LIST)


_COPY: Final = "Look for the copy that this file was made from"


def _begins(first: Event, name: str) -> bool:
    return (
        isinstance(first, ListBegun)
        and first.name == name
        and sha256(first.plan.encode()).hexdigest() == first.digest
    )


def place_of(case: Case, name: str) -> int | None:
    """The place on a list that a case was begun from; None for a case of another list, or of none."""
    first = case.events[0] if case.events else None
    return first.place if isinstance(first, Opened) and first.day_list == name else None


def _put(path: Path, data: bytes) -> None:
    with os.fdopen(_DISK.create(path), "wb") as file:
        try:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            path.unlink()  # half a list is worse than none
            raise
