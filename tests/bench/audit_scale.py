"""How time and memory of an audit grow with the number of cases, beside the floors of the same run.

    PYTHONPATH=tests python tests/bench/audit_scale.py [--cases N ...]

Invented cases of some 40 spans go straight to tables. The table of stage lengths is asked by the program and
by DuckDB's own SQL on the same files, each in a process of its own; then the command writes the whole report:
every question, page, pages and flat files. The peak memory of each process is told, DuckDB's within it.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import duckdb

from audit_archives import SHIPPED
from tracker.audit.columns import TABLES
from tracker.audit.engine import MEMORY, connected
from tracker.audit.population import Filters, population, rows
from tracker.audit.questions import stage_lengths
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import FOLDER
from tracker.cli import main as clockhour
from tracker.journal.archive import Archive

SPANS = 40
CASES = (1_000, 10_000, 100_000, 1_000_000)
VERY_MANY = 1_000_000
TIMES = 5
SQL = """
    select stage, count(minutes), count(*) - count(minutes), count(*) filter (late and minutes is not null),
           quantile_cont(minutes, [0.1, 0.25, 0.5, 0.75, 0.9])
    from '{0}/stages/*.parquet' semi join (
        select code from '{0}/cases/*.parquet' where not open and ending = 'usual') using (code)
    group by stage
"""
"""What a person would write for the same table."""


@dataclass(frozen=True)
class Took:
    """Seconds, and the most memory that the process held, in MB."""

    seconds: float
    mb: float

    def __str__(self) -> str:
        """As a cell of the table."""
        seconds = f"{self.seconds:.2f}" if self.seconds < 10 else f"{self.seconds:.0f}"
        return f"{seconds} s, {self.mb:.0f} MB"


# -- each measured in a process of its own


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
    """The whole report, as the command writes it."""
    with contextlib.redirect_stdout(io.StringIO()):
        clockhour(["--archive", folder, "audit", "--to", str(Path(folder) / "report")])


ONCE: dict[str, Callable[..., None]] = {"made": made, "reported": reported}
"""What is done once, from a cold start."""
AGAIN: dict[str, Callable[..., None]] = {"asked": asked, "by_hand": by_hand}
"""What is done once to warm up, and then some times, of which the shortest counts."""


def measured(*words: str) -> Took:
    """What a child took."""
    told = subprocess.run(
        [sys.executable, __file__, "--child", *words], stdout=subprocess.PIPE, text=True, check=True
    )
    return Took(*map(float, told.stdout.split()[-2:]))


def child(name: str, *words: str) -> None:
    """Run one of the measured things and print what it took."""
    if name in ONCE:
        took = seconds(lambda: ONCE[name](*words))
    else:
        took = min([seconds(lambda: AGAIN[name](*words)) for _ in range(TIMES + 1)][1:])
    print(took, peak_mb())


def seconds(run: Callable[[], object]) -> float:
    """How long one run takes."""
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def peak_mb() -> float:
    """The most memory that this process has held, in MB."""
    status = Path("/proc/self/status")
    if status.exists():  # what getrusage tells there may still be the parent's
        return float(re.findall(r"VmHWM:\s+(\d+)", status.read_text())[0]) / 1000
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def scale(folder: Path, n: int) -> str:
    """A row on n invented cases."""
    make = measured("made", str(folder), str(n))
    size = sum(f.stat().st_size for f in folder.rglob("*.parquet")) / 1e6
    hand, ask = measured("by_hand", str(folder)), measured("asked", str(folder))
    whole = measured("reported", str(folder))
    ratio = ask.seconds / hand.seconds
    return f"| {n:,} | {make} | {size:,.0f} MB | {ask} | {hand} | {ratio:.2f} | {whole} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, nargs="*", default=CASES)
    parser.add_argument("--child", nargs="*", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.child:
        child(*args.child)
        return
    print("| cases | invented | on disk | stage table | DuckDB's own SQL | ratio (2.5) | whole report |")
    print("|---|---|---|---|---|---|---|")
    for n in args.cases:
        with tempfile.TemporaryDirectory() as folder:
            print(scale(Path(folder), n), flush=True)


if __name__ == "__main__":
    main()
