"""How quickly journals become tables, beside parsing and validating the same lines in one process.

    PYTHONPATH=tests python tests/bench/audit_journals.py [--journals N]

The journals are invented first, which takes longer than anything that is measured.
"""

from __future__ import annotations

import argparse
import json
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tracker.audit.tables import bring_up_to_date
from tracker.core.events import event_from
from tracker.journal.archive import Archive
from tracker.journal.files import SUFFIX

JOURNALS = 10_000


def took(run: Callable[[], object]) -> tuple[float, float]:
    """Seconds of the clock and of processors that one run takes."""
    start, before = time.perf_counter(), worked()
    run()
    return time.perf_counter() - start, worked() - before


def parse(files: list[Path]) -> None:
    """The floor: every line parsed and validated, nothing kept."""
    for file in files:
        for line in file.read_bytes().splitlines():
            event_from(json.loads(line))


def worked() -> float:
    """Processor seconds of this process and of those it has ended."""
    told = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(t.ru_utime + t.ru_stime for t in told)


def invent(archive: Archive, n: int) -> None:
    """Write n invented journals."""
    # Imported here: each process that folds begins with the imports of this file.
    from audit_archives import SHIPPED
    from tracker.audit.synthesis import synthesise

    synthesise(archive, SHIPPED, n, 5, as_journals=True)


def row(archive: Archive) -> str:
    """The row on folding the journals of an archive into tables."""
    files = sorted(archive.folder.glob(f"*{SUFFIX}"))
    size = sum(file.stat().st_size for file in files) / 1e6
    floor, floor_worked = took(lambda: parse(files))
    ours, ours_worked = took(lambda: bring_up_to_date(archive))
    again, _ = took(lambda: bring_up_to_date(archive))
    return (
        f"| {len(files):,} ({size:,.0f} MB) | {ours:.1f} s, {ours_worked:.1f} s | {len(files) / ours:.0f} |"
        f" {floor:.1f} s, {floor_worked:.1f} s | {ours / floor:.2f} | {again:.2f} s |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--journals", type=int, default=JOURNALS)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        archive = Archive(Path(name))
        invent(archive, args.journals)
        print(
            "| journals | to tables, of processor | cases a second | parse and validate | ratio (3) | again |"
        )
        print("|---|---|---|---|---|---|")
        print(row(archive), flush=True)


if __name__ == "__main__":
    main()
