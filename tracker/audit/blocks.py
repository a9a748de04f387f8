"""One block of an archive: up to 250 journals of one site, folded into one file of each table.

A block is worked on by one process and says in a manifest what it was made from. The manifest is taken away
before the first file changes and written after the last, so that an interrupted block is simply made anew.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, Literal, NamedTuple

import pyarrow as pa
import pyarrow.compute as pc
from msgspec import Struct

from tracker import __version__
from tracker.audit import parquet
from tracker.audit.beside import Beside, bytes_of
from tracker.audit.columns import TABLES
from tracker.audit.listed import DayBooks, list_of
from tracker.audit.rows import Rows, rows_of
from tracker.core.case import Case
from tracker.core.events import Opened
from tracker.core.fold import fold
from tracker.core.protocol import Protocol
from tracker.core.wiring import Wiring, wiring
from tracker.journal.books import CASE
from tracker.journal.cases import NotReadable, protocol_within
from tracker.journal.lines import Read, read_lines
from tracker.journal.trouble import Damaged, OutOfReach, Trouble, plainly

SIZE: Final = 250
MANIFESTS: Final = "manifests"
PROTOCOLS: Final = "protocols"

State = Literal["in", "torn", "left_out"]


@dataclass(frozen=True, slots=True)
class Held:
    """One journal as its block holds it: digest of its bytes, whether it is in, and if not, why.

    `follow_up` is the digest of its follow-up, empty without one, and `aside` why that is left out. `day_list` is
    the list of the day that it was begun from and `listed` the digest of that list's book, empty without one.
    """

    sha256: str
    state: State
    open: bool = False
    why: str = ""
    follow_up: str = ""
    aside: str = ""
    day_list: str = ""
    listed: str = ""

    def is_of(self, digest: str, follow_up: str, days: DayBooks) -> bool:
        """Whether journal, follow-up and list are as they were."""
        same_list = not self.day_list or self.listed == days.of(self.day_list)[0]
        return (self.sha256, self.follow_up) == (digest, follow_up) and same_list


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a block was made from; `invented` counts the cases of one that no journal stands behind."""

    stamp: str
    journals: Mapping[str, Held]
    invented: int = 0


@dataclass(frozen=True, slots=True)
class Job:
    """A block to bring up to date: where the journals lie, where the tables, and the codes it holds."""

    archive: Path
    tables: Path
    block: str
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A block once it is up to date; `folded` counts the journals that were read into it this time."""

    name: str
    manifest: Manifest
    folded: int = 0


class _Fresh(NamedTuple):
    held: Held
    rows: Rows | None


@cache
def stamp() -> str:
    """What the tables' form depends on: the columns' definitions and the program that folds."""
    told = "\n".join(map(parquet.definitions, TABLES))
    return sha256(f"{__version__}\n{told}".encode()).hexdigest()


def block_of(code: str) -> str:
    """The block that a case code belongs to."""
    site, _, number = code.partition("-")
    return f"{site}-{int(number) // SIZE:06d}"


def manifest_path(tables: Path, block: str) -> Path:
    """Where the manifest of a block lies."""
    return tables / MANIFESTS / f"{block}.json"


def read_manifest(tables: Path, block: str) -> Manifest | None:
    """What a block was made from; None where that is not known, or it was made in another form."""
    try:
        data = json.loads(manifest_path(tables, block).read_bytes())
        journals = {code: Held(**held) for code, held in data["journals"].items()}
        manifest = Manifest(data["stamp"], journals, data["invented"])
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
    return manifest if manifest.stamp == stamp() else None


def invented_in(tables: Path, block: str) -> int:
    """How many cases of a block no journal stands behind, by a manifest of whatever form."""
    try:
        n = json.loads(manifest_path(tables, block).read_bytes())["invented"]
    except (OSError, ValueError, TypeError, KeyError):
        return 0
    return n if isinstance(n, int) else 0


def write_manifest(tables: Path, block: str, manifest: Manifest) -> None:
    """Say what a block was made from, once all its files are there."""
    data = json.dumps(asdict(manifest), indent=0, sort_keys=True).encode()
    with parquet.placed(manifest_path(tables, block)) as file:
        file.write(data)


def remove(tables: Path, block: str) -> None:
    """Take a block away."""
    manifest_path(tables, block).unlink(missing_ok=True)
    for table in TABLES:
        table_path(tables, table, block).unlink(missing_ok=True)


def table_path(tables: Path, table: str, block: str) -> Path:
    """Where the rows of a block in one table lie."""
    return tables / table / f"{block}{parquet.SUFFIX}"


def bring_up_to_date(job: Job) -> Block:
    """Fold what is new or changed in a block, keep the rest as it is.

    Raises:
        OutOfReach: the tables cannot be written.
    """
    with plainly(OutOfReach, "The tables of this archive cannot be written"):
        manifest = read_manifest(job.tables, job.block)
        known = manifest.journals if manifest else {}
        fresh = _all_fresh(job, known)
        kept = {code: known[code] for code in job.codes if code in known and code not in fresh}
        if manifest and not fresh and len(kept) == len(known):
            return Block(job.block, manifest)
        old = _old_rows(job, kept)
        if old is None:  # a file is missing or unreadable: everything is folded again
            fresh, kept, old = _all_fresh(job, {}), {}, {}
        return _made(job, kept, old, fresh)


def _all_fresh(job: Job, known: Mapping[str, Held]) -> dict[str, _Fresh]:
    protocols, days = Protocols(job.tables), DayBooks(job.archive)
    found = ((code, _read(job, code, known.get(code), protocols, days)) for code in job.codes)
    return {code: fresh for code, fresh in found if fresh is not None}


def _made(job: Job, kept: Mapping[str, Held], old: Mapping[str, Any], fresh: Mapping[str, _Fresh]) -> Block:
    try:
        batches = _batches(fresh)
    except (pa.ArrowException, ValueError, OverflowError):
        fresh = {code: _fitting(code, found) for code, found in fresh.items()}
        batches = _batches(fresh)
    manifest_path(job.tables, job.block).unlink(missing_ok=True)
    for table, rows in batches.items():
        parts = [old[table]] if table in old else []
        parquet.write(table_path(job.tables, table, job.block), [*parts, rows], table)
    journals = {**kept, **{code: found.held for code, found in fresh.items()}}
    manifest = Manifest(stamp(), dict(sorted(journals.items())))
    write_manifest(job.tables, job.block, manifest)
    return Block(job.block, manifest, len(fresh))


def _batches(fresh: Mapping[str, _Fresh]) -> dict[str, Any]:
    gathered: dict[str, list[Struct]] = {table: [] for table in TABLES}
    for rows in (found.rows for found in fresh.values() if found.rows):
        for table, its in rows._asdict().items():
            gathered[table].extend(its)
    return {table: parquet.batch(table, rows) for table, rows in gathered.items()}


def _fitting(code: str, found: _Fresh) -> _Fresh:
    """A journal as it is; left out if it holds a value that no column takes, as a number of twenty digits."""
    try:
        _batches({code: found})
    except (pa.ArrowException, ValueError, OverflowError):
        why = f"Case {code} holds a value that the tables cannot take."
        return _Fresh(replace(found.held, state="left_out", why=why, aside=""), None)
    return found


def _old_rows(job: Job, kept: Mapping[str, Held]) -> dict[str, Any] | None:
    """The rows of the journals that are as they were, by table; None if they cannot be had."""
    if not kept:
        return {}
    codes = pa.array(kept.keys())
    try:
        tables = {t: parquet.read(table_path(job.tables, t, job.block), t) for t in TABLES}
    except (OSError, pa.ArrowException):
        return None
    return {t: rows.filter(pc.is_in(rows["code"], codes)) for t, rows in tables.items()}


# -- one journal


_READ: Final[dict[str, tuple[str, Protocol, Wiring]]] = {}
"""Protocols this process has read, by digest: one takes ten times as long as folding a case, and many share it."""


class Protocols:
    """The protocols of the cases of a block; the text of each is kept beside the tables."""

    def __init__(self, tables: Path) -> None:
        self._folder = tables / PROTOCOLS
        self._kept: set[str] = set()

    def of(self, first: Opened) -> tuple[Protocol, Wiring]:
        """The protocol in the first line of a case, and its wires.

        Raises:
            NotReadable: its text is not what its digest says, or this program cannot read it.
        """
        text, digest = first.protocol, first.digest
        if digest not in _READ or _READ[digest][0] != text:
            protocol = protocol_within(first)
            _READ[digest] = text, protocol, wiring(protocol)
        if digest not in self._kept:
            keep_protocol(self._folder, digest, text)
            self._kept.add(digest)
        return _READ[digest][1:]


def keep_protocol(folder: Path, digest: str, text: str) -> None:
    """Keep the text of a protocol, for its labels and its order of steps."""
    path = folder / f"{digest}.toml"
    if not path.exists():
        # Two processes may meet a protocol at once: each writes a file of its own that takes the name whole.
        own = folder / f"{digest}.{os.getpid()}"
        with parquet.placed(own) as file:
            file.write(text.encode())
        own.replace(path)


def case_within(code: str, read: Read, protocols: Protocols) -> Case:
    """The case that a journal named `code` tells.

    Raises:
        Damaged: a line cannot be verified.
        NotReadable: its first line opens no case, another case, or one whose protocol cannot be read.
    """
    if read.broken is not None:
        raise Damaged(read.broken)
    first = read.events[0] if read.events else None
    if not isinstance(first, Opened):
        raise NotReadable(f"Case {code} has no first line: nothing was entered in it.")
    if first.code != code:
        raise NotReadable(f"Line 1 of case {code} opens another case than the file is named for.")
    protocol, wires = protocols.of(first)
    return fold(protocol, read.events, wires)


def _read(job: Job, code: str, known: Held | None, protocols: Protocols, days: DayBooks) -> _Fresh | None:
    """What a journal gives; None if it is as it was."""
    try:
        data = bytes_of(job.archive, code, CASE)
    except Trouble as trouble:
        return _Fresh(Held("", "left_out", why=str(trouble)), None)
    beside = Beside.of(job.archive, code)
    digest = sha256(data).hexdigest()
    if known is not None and known.is_of(digest, beside.digest, days):
        return None
    return _folded(code, digest, read_lines(data, f"{code}{CASE.suffix}"), beside, protocols, days)


def _folded(
    code: str, digest: str, read: Read, beside: Beside, protocols: Protocols, days: DayBooks
) -> _Fresh:
    torn = read.torn is not None
    try:
        case = case_within(code, read, protocols)
        follow_up, aside = beside.told(code, read)
        name = list_of(case)
        book, day = days.of(name) if name else ("", None)
        rows = rows_of(case, follow_up, torn=torn, on_list=day)
    except Trouble as trouble:
        return _Fresh(Held(digest, "left_out", why=str(trouble), follow_up=beside.digest), None)
    except OSError:
        raise
    except Exception as odd:  # one journal that trips the program must not cost all the others
        why = f"Case {code} cannot be folded ({type(odd).__name__})."
        return _Fresh(Held(digest, "left_out", why=why, follow_up=beside.digest), None)
    state: State = "torn" if torn else "in"
    held = Held(
        digest, state, case.end is None, follow_up=beside.digest, aside=aside, day_list=name, listed=book
    )
    return _Fresh(held, rows)
