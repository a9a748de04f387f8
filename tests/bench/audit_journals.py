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
from tracker.core.events import BY_KIND, Unknown
from tracker.core.follow_up_events import FOLLOW_UP_BY_KIND
from tracker.journal.archive import Archive
from tracker.journal.books import CASE, FOLLOW_UP

JOURNALS = 10_000
KINDS = {**BY_KIND, **FOLLOW_UP_BY_KIND}


def took(run: Callable[[], object]) -> tuple[float, float]:
    """Seconds of the clock and of processors that one run takes."""
    start, before = time.perf_counter(), worked()
    run()
    return time.perf_counter() - start, worked() - before


def parse(files: list[Path]) -> None:
    """The floor: every line that is folded, of logs and of follow-ups, parsed and validated, nothing kept."""
    for file in files:
        for line in file.read_bytes().splitlines():
            data = json.loads(line)
            KINDS.get(str(data.get("kind")), Unknown).model_validate(data)


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
    files = sorted(f for book in (CASE, FOLLOW_UP) for f in archive.folder.glob(f"*{book.suffix}"))
    size, n = sum(file.stat().st_size for file in files) / 1e6, len(archive.codes())
    # Half of the floor before and half behind: a machine may be quicker at one time than at another.
    first, _ = took(lambda: parse(files[:n]))
    ours, ours_worked = took(lambda: bring_up_to_date(archive))
    second, _ = took(lambda: parse(files[n:]))
    again, _ = took(lambda: bring_up_to_date(archive))
    floor = first + second
    return (
        f"| {n:,} ({size:,.0f} MB) | {ours:.1f} s, {ours_worked:.1f} s | {n / ours:.0f} |"
        f" {floor:.1f} s ({first:.1f} + {second:.1f}) | {ours / floor:.2f} | {again:.2f} s |"
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
