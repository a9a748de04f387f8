"""Invented cases of known truth: as journals, or straight to tables where there are very many.

Both ways draw the same cases from the same seed, and folding the journals gives the very rows that the other
way writes. All of them bear site `SYN` and are marked as invented.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import pyarrow as pa

from tracker.audit import blocks, parquet, tables
from tracker.audit.columns import TABLES
from tracker.audit.invented import weave
from tracker.audit.invented.course import Source
from tracker.audit.invented.draw import Draw, Group, draw_cases
from tracker.audit.invented.journals import told_of, write_journal
from tracker.audit.invented.numbers import Times
from tracker.audit.invented.pattern import Pattern, pattern_of
from tracker.audit.invented.truth import Drawn, Truth
from tracker.audit.invented.visits import told_visits, weave_visits
from tracker.audit.invented.weave import Cloth
from tracker.audit.invented.weave_cases import Where, weave_cases, weave_facts
from tracker.audit.invented.weave_deviations import weave_deviations
from tracker.core.loading import load_protocol
from tracker.journal.archive import Archive
from tracker.journal.books import FOLLOW_UP

SITE: Final = "SYN"
AS_JOURNALS: Final = 2_000
"""Up to so many cases are written as journals unless told otherwise."""

PER_BLOCK: Final = 50_000
AT_ONCE: Final = 400_000
"""Rows of entries that are gathered before they are written."""

_SHORT_CODES: Final = 9_999
Told = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Synthesis:
    """What is true of the cases, what was drawn, and whether they lie in the archive as journals."""

    truth: Truth
    drawn: Drawn
    seed: int
    as_journals: bool


def synthesise(
    archive: Archive,
    text: str,
    cases: int,
    seed: int,
    truth: Truth | None = None,
    *,
    spans: int = 0,
    as_journals: bool | None = None,
    only: Collection[str] = tuple(TABLES),
    told: Told | None = None,
) -> Synthesis:
    """Invent cases of the protocol in `text` and add them to an archive; the same seed gives the same cases.

    Without a `truth` it is the usual one, with a change half way. Steps that may repeat are done in so many
    parts that a usual case has about `spans` spans. Straight to tables, `only` these are filled; the others
    get no rows. `told` hears how far the work is.

    Raises:
        ValueError: `text` is no protocol, or there are no cases to invent.
        Trouble: the archive cannot be written.
    """
    protocol = load_protocol(text, "protocol").protocol
    if protocol is None or cases < 1:
        raise ValueError("a protocol file that passes its checks and at least one case are needed")
    draw, drawn = draw_cases(Source(protocol, text), cases, seed, truth or _usual_truth(cases), spans)
    codes = _codes(archive, cases)
    journals = cases <= AS_JOURNALS if as_journals is None else as_journals
    write = _write_journals if journals else _write_tables
    write(archive, draw, codes, only, told or _nobody)
    return Synthesis(draw.truth, replace(drawn, first_code=codes[0], last_code=codes[-1]), seed, journals)


def _usual_truth(cases: int) -> Truth:
    """What is true unless told otherwise: a change half way."""
    return Truth(change_from=cases // 2 + 1)


def _nobody(_done: int, _of: int) -> None:
    """Hear nothing."""


def _codes(archive: Archive, cases: int) -> list[str]:
    first = int(archive.propose_code(SITE).partition("-")[2]) + tables.invented(
        archive.folder / tables.FOLDER
    )
    last = first + cases - 1
    # Six or eight digits may read like a date of birth.
    digits = 4 if last <= _SHORT_CODES else 9
    return [f"{SITE}-{number:0{digits}d}" for number in range(first, last + 1)]


def _where(draw: Draw, group: Group) -> Where:
    cases = group.cases.tolist()
    return Where(
        group.cases,
        [draw.days.day(case) for case in cases],
        draw.openings[group.cases],
        [draw.days.theatre(case) for case in cases],
    )


# -- as journals


def _write_journals(
    archive: Archive, draw: Draw, codes: Sequence[str], _only: Collection[str], told: Told
) -> None:
    done = 0
    for group in draw.groups:
        pattern = pattern_of(draw.source, group.course)
        times, where, visits = draw.times(group, pattern), _where(draw, group), draw.visits(group, pattern)
        for row, case in enumerate(group.cases.tolist()):
            events = told_of(pattern, times, row, codes[case], where, draw.mix)
            log = write_journal(archive.folder, codes[case], events)
            seen = [*told_visits(visits, row, codes[case], where.days[row], log)]
            if seen:
                write_journal(archive.folder, codes[case], seen, FOLLOW_UP)
            done += 1
            told(done, len(codes))


# -- straight to tables


def _write_tables(
    archive: Archive, draw: Draw, codes: Sequence[str], only: Collection[str], told: Told
) -> None:
    with tables.held(archive.folder / tables.FOLDER) as folder:
        blocks.keep_protocol(folder / blocks.PROTOCOLS, draw.source.digest, draw.source.text)
        loom, done = _Loom(folder, only), 0
        for group in draw.groups:
            pattern = pattern_of(draw.source, group.course)
            held = [codes[case] for case in group.cases.tolist()]
            loom.take(_woven(draw, group, pattern, draw.times(group, pattern), held, only), len(held))
            done += len(held)
            told(done, len(codes))
        loom.finish()


def _woven(
    draw: Draw, group: Group, pattern: Pattern, times: Times, codes: Sequence[str], only: Collection[str]
) -> dict[str, Any]:
    operator = draw.mix.facts.get("operator")
    roles = [str(operator.of(case)) if operator else None for case in group.cases.tolist()]
    cloth = Cloth(pattern, times, pa.array(codes, pa.string()), pa.array(roles, pa.string()))
    where = _where(draw, group)
    makers: dict[str, Callable[[], Any]] = {
        "cases": lambda: weave_cases(cloth, where, draw.mix),
        "facts": lambda: weave_facts(cloth, where, draw.mix),
        "stages": lambda: weave.weave_stages(cloth),
        "steps": lambda: weave.weave_steps(cloth),
        "spans": lambda: weave.weave_spans(cloth),
        "entries": lambda: weave.weave_entries(cloth),
        "deviations": lambda: weave_deviations(cloth),
        "readings": lambda: weave.weave_readings(cloth),
        "clocks": lambda: weave.weave_clocks(cloth),
        "pairs": lambda: weave.weave_pairs(cloth),
        "visits": lambda: weave_visits(draw.visits(group, pattern), cloth.codes, where.days),
    }
    return {table: maker() for table, maker in makers.items() if table in only}


class _Loom:
    """Rows gathered and written block by block, so that memory stays the same however many cases."""

    def __init__(self, folder: Path, only: Collection[str]) -> None:
        self._folder, self._only = folder, only
        self._gathered: dict[str, list[Any]] = {table: [] for table in TABLES}
        self._rows = self._cases = 0
        self._open = ExitStack()
        self._writers: dict[str, Any] = {}
        self._block = ""

    def take(self, woven: dict[str, Any], cases: int) -> None:
        """Take the rows of so many more cases."""
        for table, rows in woven.items():
            self._gathered[table].append(rows)
        self._rows += max((rows.num_rows for rows in woven.values()), default=0)
        self._cases += cases
        if self._rows >= AT_ONCE:
            self._write()
        if self._cases >= PER_BLOCK:
            self.finish()

    def _begin(self) -> None:
        self._block = next(b for b in _block_names() if not blocks.manifest_path(self._folder, b).exists())
        for table in TABLES:
            path = blocks.table_path(self._folder, table, self._block)
            self._writers[table] = self._open.enter_context(parquet.writer(path, table))

    def _write(self) -> None:
        if not self._writers:
            self._begin()
        for table, parts in self._gathered.items():
            if parts:
                self._writers[table].write_table(pa.concat_tables(parts))
            parts.clear()
        self._rows = 0

    def finish(self) -> None:
        """Write what is left, and close the block."""
        if not self._cases:
            return
        self._write()
        self._open.close()
        self._writers.clear()
        manifest = blocks.Manifest(blocks.stamp(), {}, self._cases)
        blocks.write_manifest(self._folder, self._block, manifest)
        self._cases = 0


def _block_names() -> Iterator[str]:
    number = 0
    while True:
        yield f"{SITE}-t{number:06d}"
        number += 1
