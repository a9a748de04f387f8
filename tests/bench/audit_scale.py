"""How time and memory of an audit grow with the number of cases, beside the floors of the same run.

    PYTHONPATH=tests python tests/bench/audit_scale.py [--journals N] [--cases N ...]

Journals are folded with both cores, beside parsing and validating the same lines in one process. Invented
cases of some 40 spans go straight to tables; the table of stage lengths is asked by the program and by
DuckDB's own SQL on the same files, each in a process of its own, whose peak memory is told. Every answer of
a report is asked once at each size.
"""

from __future__ import annotations

import argparse
import json
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import duckdb

from audit_archives import SHIPPED
from tracker.audit.answers.form import audit_of
from tracker.audit.columns import TABLES
from tracker.audit.engine import MEMORY, connected
from tracker.audit.population import Filters, population, rows
from tracker.audit.questions import stage_lengths
from tracker.audit.report.book import QUESTIONS, keys
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import FOLDER, bring_up_to_date
from tracker.core.events import event_from
from tracker.journal.archive import Archive

SPANS = 40
VERY_MANY = 1_000_000
SQL = """
    select stage, count(minutes), count(*) - count(minutes), count(*) filter (late and minutes is not null),
           quantile_cont(minutes, [0.1, 0.25, 0.5, 0.75, 0.9])
    from '{0}/stages/*.parquet' semi join (
        select code from '{0}/cases/*.parquet' where not open and ending = 'usual') using (code)
    group by stage
"""
"""What a person would write for the same table."""


def seconds(run: Callable[[], object]) -> float:
    """How long one run takes."""
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


# -- journals


def fold(folder: Path, n: int) -> str:
    """A row on folding n journals into tables."""
    archive = Archive(folder)
    synthesise(archive, SHIPPED, n, 5, as_journals=True)
    files = sorted(folder.glob("*.case.jsonl"))
    floor = seconds(lambda: parse(files))
    ours = seconds(lambda: bring_up_to_date(archive))
    again = seconds(lambda: bring_up_to_date(archive))
    return (
        f"| {n:,} journals | {ours:.1f} s | {n / ours:.0f} cases/s | {floor:.1f} s | {ours / floor:.2f} | 3 |"
        f" {again:.2f} s |"
    )


def parse(files: list[Path]) -> None:
    """The floor: every line parsed and validated, nothing kept."""
    for file in files:
        for line in file.read_bytes().splitlines():
            event_from(json.loads(line))


# -- tables, each measured in a process of its own


def made(folder: str, n: str) -> None:
    """Invent cases straight to tables; of very many, all but their single entries, which no figure asks for."""
    only = [table for table in TABLES if table != "entries" or int(n) < VERY_MANY]
    synthesise(Archive(Path(folder)), SHIPPED, int(n), 5, as_journals=False, spans=SPANS, only=only)


def asked(folder: str) -> None:
    """The stage lengths as the program asks them."""
    with connected(Path(folder) / FOLDER) as tables:
        rows(stage_lengths(population(tables, Filters()).tables))


def by_hand(folder: str) -> None:
    """The stage lengths in DuckDB's own SQL, with as much memory."""
    settings = {"memory_limit": MEMORY, "temp_directory": str(Path(folder) / "spill")}
    duckdb.connect(config=settings).sql(SQL.format(Path(folder) / FOLDER)).fetchall()


def reported(folder: str) -> None:
    """Every answer of a report."""
    with connected(Path(folder) / FOLDER) as tables:
        audit = audit_of(tables, Path(folder) / FOLDER)
        for key in keys():
            QUESTIONS[key].ask(audit)


CHILDREN = {"made": made, "asked": asked, "by_hand": by_hand, "reported": reported}


def measured(*words: str) -> tuple[float, float]:
    """Seconds within a child, the second of two runs where it may run twice, and its peak memory in MB."""
    told = subprocess.run(
        [sys.executable, __file__, "--child", *words], stdout=subprocess.PIPE, text=True, check=True
    )
    took, peak = told.stdout.split()[-2:]
    return float(took), float(peak)


def child(name: str, *words: str) -> None:
    """Run one of the measured things and print what it took."""
    if name != "made":
        CHILDREN[name](*words)
    took = seconds(lambda: CHILDREN[name](*words))
    print(took, peak_mb())


def peak_mb() -> float:
    """The most memory that this process has held, in MB."""
    status = Path("/proc/self/status")
    if status.exists():  # what getrusage tells there may still be the parent's
        return float(re.findall(r"VmHWM:\s+(\d+)", status.read_text())[0]) / 1000
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def scale(folder: Path, n: int) -> str:
    """A row on n invented cases."""
    make, make_mb = measured("made", str(folder), str(n))
    hand, hand_mb = measured("by_hand", str(folder))
    ask, ask_mb = measured("asked", str(folder))
    whole, whole_mb = measured("reported", str(folder))
    size = sum(f.stat().st_size for f in folder.rglob("*.parquet")) / 1e6
    return (
        f"| {n:,} | {make:.0f} s, {make_mb:.0f} MB | {size:,.0f} MB | {ask:.2f} s, {ask_mb:.0f} MB |"
        f" {hand:.2f} s, {hand_mb:.0f} MB | {ask / hand:.2f} | {whole:.1f} s, {whole_mb:.0f} MB |"
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--journals", type=int, default=2_000)
    parser.add_argument("--cases", type=int, nargs="*", default=[1_000, 10_000, 100_000])
    parser.add_argument("--child", nargs="*", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        child(*args.child)
        return
    with tempfile.TemporaryDirectory() as name:
        if args.journals:
            print("| journals to tables | took | rate | parse and validate | ratio | target | nothing new |")
            print("|---|---|---|---|---|---|---|")
            print(fold(Path(name) / "journals", args.journals), flush=True)
        print(
            "\n| cases | invented | on disk | stage table | DuckDB's own SQL | ratio (2.5) | whole report |"
        )
        print("|---|---|---|---|---|---|---|")
        for n in args.cases:
            print(scale(Path(name) / str(n), n), flush=True)


if __name__ == "__main__":
    main()
