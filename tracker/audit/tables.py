"""From the archive to tables that an engine can ask, brought up to date journal by journal.

They lie in `<archive>/tables`: one folder a table, one Parquet file a block of 250 case codes, beside them
the manifests and the texts of the protocols. All of it can be thrown away and made again from the journals.
What cannot be folded is left out and listed, never silently.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Final

from tracker.audit import blocks, parquet
from tracker.audit.beside import UNFINISHED
from tracker.audit.blocks import MANIFESTS, PROTOCOLS, Block, Job, block_of
from tracker.audit.columns import TABLES
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.core.text import shown
from tracker.journal.archive import Archive
from tracker.journal.books import CASE, FOLLOW_UP
from tracker.journal.day_lists import Lists
from tracker.journal.disk import RealDisk
from tracker.journal.trouble import InUse, OutOfReach, plainly

FOLDER: Final = "tables"
EMPTY: Final = "none"
"""A file without rows in every table, so that an archive without cases can be asked, too."""

FEWEST_FOR_A_POOL: Final = 200
"""Below so many journals a second process takes longer to begin than to help."""

Told = Callable[[int, int], None]
"""What hears how far the work is: journals done, journals in all."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A journal that is not in the tables, and why, as a sentence."""

    name: str
    why: str


@dataclass(frozen=True, slots=True)
class Made:
    """What the tables hold once they are up to date.

    `cases` are the journals in them, `open` those without an end; `folded` were read anew this time. `torn`
    names the cases and the follow-ups of which an unfinished last line is left out. `invented` cases have no
    journal behind them.
    """

    folder: Path
    cases: int
    open: int
    folded: int
    invented: int
    torn: tuple[str, ...]
    left_out: tuple[LeftOut, ...]


def bring_up_to_date(
    archive: Archive,
    folder: Path | None = None,
    *,
    again: bool = False,
    workers: int | None = None,
    told: Told | None = None,
) -> Made:
    """Fold what is new or changed into the tables; `again` folds every journal anew.

    `folder` is where the tables lie if not in the archive. `workers` is how many processes fold, all cores
    unless told.

    Raises:
        InUse: another Clockhour is at it.
        OutOfReach: the archive cannot be read, or the tables cannot be written.
    """
    tables = folder or archive.folder / FOLDER
    codes = archive.codes()
    with held(tables):
        if again:
            _throw_away(tables)
        jobs = tuple(_jobs(archive.folder, tables, codes))
        gone = tuple(_drop_others(tables, {job.block for job in jobs}))
        made = _run(jobs, workers or os.cpu_count() or 1, told or _nobody)
        strangers = (*_strangers(archive.folder, codes), *_lists(archive))
        return _summed(tables, made, (*gone, *strangers))


def protocols(folder: Path) -> Mapping[str, Protocol]:
    """The protocols of the cases in the tables, by digest; one that cannot be read any more is not there."""
    texts = {p.stem: p.read_text("utf-8") for p in sorted((folder / PROTOCOLS).glob("*.toml"))}
    loaded = {digest: load_protocol(text, digest, kept=True).protocol for digest, text in texts.items()}
    return {digest: protocol for digest, protocol in loaded.items() if protocol is not None}


def invented(tables: Path) -> int:
    """How many cases in the tables have no journal behind them."""
    held = (blocks.read_manifest(tables, name) for name in _manifests(tables))
    return sum(manifest.invented for manifest in held if manifest is not None)


def _nobody(_done: int, _of: int) -> None:
    """Hear nothing."""


@contextmanager
def held(tables: Path) -> Iterator[Path]:
    """The folder of tables, laid out, for one program at a time.

    Raises:
        InUse: another Clockhour is at it.
        OutOfReach: it cannot be written.
    """
    disk = RealDisk()
    with plainly(OutOfReach, "The tables of this archive cannot be written"):
        disk.make_folder(tables)
        try:
            lock = disk.lock(tables / ".lock")
        except BlockingIOError:
            raise InUse("Another Clockhour is bringing the tables of this archive up to date.") from None
        try:
            _lay_out(tables)
            yield tables
        finally:
            lock.release()


def _throw_away(tables: Path) -> None:
    for name in _manifests(tables):
        if not _is_invented(tables, name):
            blocks.remove(tables, name)


def _lay_out(tables: Path) -> None:
    disk = RealDisk()
    for name in (*TABLES, MANIFESTS, PROTOCOLS):
        disk.make_folder(tables / name)
    for table in TABLES:
        path = blocks.table_path(tables, table, EMPTY)
        if not path.exists() or parquet.read_definitions(path) != parquet.definitions(table):
            parquet.write(path, [parquet.batch(table, ())], table)


def _jobs(archive: Path, tables: Path, codes: Sequence[str]) -> Iterator[Job]:
    held: dict[str, list[str]] = {}
    for code in codes:
        held.setdefault(block_of(code), []).append(code)
    for block, its in held.items():
        yield Job(archive, tables, block, tuple(its))


def _drop_others(tables: Path, wanted: set[str]) -> Iterator[LeftOut]:
    """Take away the blocks whose journals are gone; invented ones without journals stay, but for another form's."""
    for name in _manifests(tables):
        if name not in wanted and not _is_invented(tables, name):
            if n := blocks.invented_in(tables, name):
                why = f"{n} cases invented straight into tables of an earlier form. `archive synthesise` makes them anew."
                yield LeftOut(name, why)
            blocks.remove(tables, name)


def _manifests(tables: Path) -> list[str]:
    return sorted(path.stem for path in (tables / MANIFESTS).glob("*.json"))


def _is_invented(tables: Path, block: str) -> bool:
    manifest = blocks.read_manifest(tables, block)
    return manifest is not None and manifest.invented > 0


def _run(jobs: Sequence[Job], workers: int, told: Told) -> list[Block]:
    of = sum(len(job.codes) for job in jobs)
    made, done = [], 0
    for block in _worked(jobs, workers if of >= FEWEST_FOR_A_POOL else 1):
        made.append(block)
        done += len(block.manifest.journals)
        told(done, of)
    return made


def _worked(jobs: Sequence[Job], workers: int) -> Iterator[Block]:
    if workers == 1 or len(jobs) < 2:
        yield from map(blocks.bring_up_to_date, jobs)
        return
    # A fresh interpreter: a forked one would inherit the locks of whatever threads a screen is running.
    with ProcessPoolExecutor(workers, get_context("spawn"), _unhurried) as pool:
        for done in as_completed([pool.submit(blocks.bring_up_to_date, job) for job in jobs]):
            yield done.result()


def _unhurried() -> None:
    """Look for rings of garbage seldom: a folded case has none, and looking takes a fifth of the time."""
    gc.freeze()
    gc.set_threshold(100_000, 50, 50)


def _strangers(archive: Path, codes: Iterable[str]) -> Iterator[LeftOut]:
    """What is named like a journal and is none, and follow-ups without a log."""
    known = {f"{code}{book.suffix}" for code in codes for book in (CASE, FOLLOW_UP)}
    for name in sorted(path.name for path in archive.iterdir()) if archive.is_dir() else ():
        if name.endswith(CASE.suffix) and name not in known:
            yield LeftOut(shown(name), "It is no plain file named by a case code.")
        elif name.endswith(FOLLOW_UP.suffix) and name not in known:
            yield LeftOut(shown(name), "There is no log of the case that it is the follow-up of.")


def _lists(archive: Archive) -> Iterator[LeftOut]:
    """Books of lists of which what does not hold is left out."""
    for finding in Lists(archive).verify():
        yield LeftOut(finding.source, f"{finding.what}.")


def _summed(tables: Path, made: Sequence[Block], others: Sequence[LeftOut]) -> Made:
    journals = {code: held for block in made for code, held in block.manifest.journals.items()}
    inside = {code: held for code, held in journals.items() if held.state != "left_out"}
    left_out = [LeftOut(code, held.why) for code, held in sorted(journals.items()) if code not in inside]
    beside = {f"{code}{FOLLOW_UP.suffix}": held.aside for code, held in sorted(inside.items()) if held.aside}
    aside = [LeftOut(name, why) for name, why in beside.items() if why != UNFINISHED]
    torn = {code for code, held in inside.items() if held.state == "torn"}
    return Made(
        folder=tables,
        cases=len(inside),
        open=sum(held.open for held in inside.values()),
        folded=sum(block.folded for block in made),
        invented=invented(tables),
        torn=tuple(sorted(torn | {name for name, why in beside.items() if why == UNFINISHED})),
        left_out=(*left_out, *aside, *others),
    )
