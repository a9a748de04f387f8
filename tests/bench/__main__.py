"""Speeds as ratios to floors measured in the same run: `make bench`. Nothing here passes or fails."""

from __future__ import annotations

import json
import os
import select
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from record_alone import build
from terminal import F6, ROOT, Terminal, clockhour
from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.deviations import deviations
from tracker.core.events import Event, event_from
from tracker.core.fold import fold
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.review.record.formats import FORMATS
from tracker.screen.station import Now
from tracker.theatre.session import Session

CASES, KEYS = 4, 100


@dataclass(frozen=True)
class Row:
    """One line of the table: what, how long, against which floor, the ratio, what it should be."""

    what: str
    ours_ms: float
    floor: str
    floor_ms: float
    target: str = ""

    def line(self) -> str:
        """The row as the table prints it."""
        ratio = self.ours_ms / self.floor_ms if self.floor_ms else float("nan")
        figures = f"{self.ours_ms:.2f} | {self.floor} | {self.floor_ms:.2f} | {ratio:.2f}"
        return f"| {self.what} | {figures} | {self.target} |"


def best(run: Callable[[], object], times: int = 7) -> float:
    """The shortest of several runs, in ms."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        took.append(time.perf_counter() - start)
    return min(took) * 1000


def key_to_paint(terminal: Terminal, key: str) -> float:
    """Milliseconds from a key written to the first changed cell, once the screen stood still."""
    while terminal.read(0.03):
        pass
    start = time.perf_counter()
    terminal.send(key)
    select.select([terminal.master], [], [], 2.0)  # timed before the emulator takes it in
    took = (time.perf_counter() - start) * 1000
    terminal.read(0.1)
    return took


def percentile(values: list[float], share: float) -> float:
    """A percentile, by sorting."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def protocol() -> tuple[Protocol, str]:
    """The shipped protocol and its text."""
    text = (ROOT / "protocols" / "complex-pvr.toml").read_text("utf-8")
    loaded = load_protocol(text, "complex-pvr.toml").protocol
    assert loaded is not None
    return loaded, text


def long_case(folder: Path, entries: int, code: str = "A-0001") -> Archive:
    """A case of so many entries on disk."""
    made, text = protocol()
    start = datetime(2026, 3, 10, 8, tzinfo=UTC)
    seconds = iter(range(10**7))

    def clock() -> Now:
        s = next(seconds) * 20
        return Now(start + timedelta(seconds=s), s * 1000)

    journal = Journal.create(folder, code)
    facts = made.defaults
    session = Session.begin(journal, made, text, code, facts, clock)
    steps = [s.id for s in made.all_steps() if not s.ends_case]
    while len(session.case.events) < entries:
        session.natural(steps[len(session.case.events) % len(steps)])
    journal.close()
    return Archive(folder)


def paint_rows(folder: Path) -> Iterator[Row]:
    """Key to paint and start to first paint, beside a minimal app, in real terminals."""
    minimal = [sys.executable, str(ROOT / "tests" / "bench" / "minimal.py"), str(folder / "floor")]
    pairs: list[tuple[float, float]] = []
    for n in range(CASES):
        long_case(folder / f"cases-{n}", 200)
        ours = clockhour("--archive", str(folder / f"cases-{n}"), "theatre", "A-0001")
        with Terminal(minimal) as floor, Terminal(ours) as live:
            floor.until("ready")
            live.until("resumed")
            _rest(live, 2.5)  # the past cases are read beside the screen once it is up
            # In turn, so that both meet the same machine; every other key is a step's, every other a bookmark: the
            # recording is begun and ended at once whatever the board shows, and no key comes twice in a row.
            pairs += [(key_to_paint(floor, key), key_to_paint(live, key)) for key in ("R", F6) * (KEYS // 2)]
    floor_ms, live_ms = map(list, zip(*pairs, strict=True))
    for share in (0.5, 0.95, 0.99):
        name = f"key to durable paint, p{share * 100:.0f}, about the 250th entry"
        yield Row(
            name,
            percentile(live_ms, share),
            "minimal app with sync",
            percentile(floor_ms, share),
            "1.25",
        )
    yield Row(
        "start to first paint, resuming 300 entries", started(ours, "resumed"),
        "minimal app", started(minimal, "ready"), "1.3",
    )  # fmt: skip


def started(words: list[str], shows: str, times: int = 3) -> float:
    """The shortest time from start to a first paint, in ms."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        with Terminal(words) as terminal:
            terminal.until(shows)
            took.append((time.perf_counter() - start) * 1000)
    return min(took)


def conformance_rows() -> Iterator[Row]:
    """Nine order rules over a thousand traces, beside pm4py; a ratio under 1 is faster than the floor."""
    from conformance import measured

    ours, folded, declared, aligned = measured()
    yield Row("9 needs over 1,000 folded cases", ours, "pm4py declarative check", declared, "0.1")
    yield Row("9 needs over 1,000 folded cases", ours, "pm4py optimal alignment", aligned, "0.02")
    yield Row("the same with their fold", ours + folded, "pm4py optimal alignment", aligned, "0.02")


def idle_row(folder: Path) -> Row:
    """Processor time in ten seconds without a key, beside the minimal app, in ms a second."""
    long_case(folder / "idle", 250)
    ours = clockhour("--archive", str(folder / "idle"), "theatre", "A-0001")
    minimal = [sys.executable, str(ROOT / "tests" / "bench" / "minimal.py"), str(folder / "floor-idle")]
    used = [idle(ours, "in theatre"), idle(minimal, "ready")]
    return Row("idle, ms of a core a second (10 is 1 %)", used[0], "minimal app", used[1])


def idle(words: list[str], shows: str, seconds: float = 10.0) -> float:
    """Milliseconds of processor time that a program at rest uses in a second (Linux)."""
    with Terminal(words) as terminal:
        terminal.until(shows)
        _rest(terminal, 2.0)
        before = _used_s(terminal.process.pid)
        _rest(terminal, seconds)
        return (_used_s(terminal.process.pid) - before) / seconds * 1000


def _rest(terminal: Terminal, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        terminal.read(end - time.monotonic())


def _used_s(pid: int) -> float:
    told = Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


def append_row(folder: Path) -> Row:
    """An append that counts, beside a bare write and sync of as many bytes."""
    archive = long_case(folder / "append", 100)
    journal = Journal.open(archive.folder, "A-0001")
    size = journal.path.stat().st_size // 100
    bare = os.open(folder / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    last = journal.events[-1]

    def ours() -> None:
        nonlocal last
        last = ev.Bookmark(
            seq=last.seq + 1, at=last.at, entered_at=last.entered_at, elapsed_ms=last.elapsed_ms,
            run=last.run, role=last.role,
        )  # fmt: skip
        journal.append(last)

    def floor() -> None:
        os.write(bare, b"x" * min(size, 300))
        os.fsync(bare)

    ours_ms, floor_ms = ([timed(f) for _ in range(300)] for f in (ours, floor))
    journal.close()
    return Row(
        "append one entry",
        statistics.median(ours_ms),
        "bare write and sync",
        statistics.median(floor_ms),
        "1.5",
    )


def timed(run: Callable[[], None]) -> float:
    """One run, in ms."""
    start = time.perf_counter()
    run()
    return (time.perf_counter() - start) * 1000


def case_rows(folder: Path) -> Iterator[Row]:
    """Resume, fold, deviations and the record, beside parsing the same lines."""
    for entries in (500, 5000):
        archive = long_case(folder / f"n{entries}", entries)
        path = next(archive.folder.glob("*.case.jsonl"))
        lines = path.read_bytes().splitlines()
        floor_ms = best(lambda lines=lines: [json.loads(line) for line in lines])
        made = protocol()[0]

        def resume(archive: Archive = archive, made: Protocol = made) -> Case:
            return fold(made, archive.read("A-0001").events)

        yield Row(f"resume of {entries} entries", best(resume, 3), "json parse of its lines", floor_ms, "3")
    events = archive.read("A-0001").events[:400]
    case = fold(made, events)
    parse_ms = best(lambda: [event_from(json.loads(line)) for line in lines[:400]])
    yield Row("fold of 400 entries", best(lambda: fold(made, events)), "parse and validate them", parse_ms)
    yield Row(
        "deviations of 400 entries",
        best(lambda: deviations(case, case.last_t)),
        "parse and validate them",
        parse_ms,
    )
    yield from record_rows(case, events, parse_ms)


def record_rows(case: Case, events: tuple[Event, ...], parse_ms: float) -> Iterator[Row]:
    """The record of 400 entries in each format."""
    record = build(case, case.last_t, "0" * 64, len(events))
    yield Row(
        "record built",
        best(lambda: build(case, case.last_t, "0" * 64, len(events)), 3),
        "parse and validate",
        parse_ms,
    )
    for name, made in FORMATS.items():
        yield Row(
            f"record as {name}",
            best(lambda made=made: made.render(record), 3),
            "parse and validate",
            parse_ms,
        )


def help_row() -> Row:
    """`clockhour --help` beside a bare interpreter."""

    def run(*words: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, *words], capture_output=True, check=True, cwd=ROOT)

    return Row(
        "clockhour --help",
        best(run("-m", "tracker", "--help")),
        "bare interpreter",
        best(run("-c", "pass")),
        "4",
    )


def main() -> None:
    """Print the table."""
    print("| what | ms | floor | floor ms | ratio | target |\n|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print(help_row().line(), flush=True)
        print(append_row(folder).line(), flush=True)
        for rows in (case_rows(folder), conformance_rows(), paint_rows(folder), iter([idle_row(folder)])):
            for row in rows:
                print(row.line(), flush=True)


if __name__ == "__main__":
    main()
