"""Ten simulated hours, thousands of entries in one case: memory, appends, the way back stay as they were."""

from __future__ import annotations

import gc
import os
import statistics
import time
import tracemalloc
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from desks import Hand, protocol_of, shipped
from torture.figures import Figure
from tracker.core.events import Event
from tracker.core.fold import fold
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.theatre.board import Size
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session

HOURS = 10.0
SIZE = Size(120, 40)


def day(folder: Path, entries: int) -> Iterator[Figure]:
    """A long case on the machine's own disk: every entry appended, synced, folded; every fiftieth painted."""
    yield memory(folder / "memory", entries)
    appends: list[tuple[float, float]] = []
    for _ in _played(folder / "times", entries, appends):
        pass
    yield _appending(appends)
    yield _resuming(folder / "times", entries)


def memory(folder: Path, entries: int) -> Figure:
    """What the program holds, as the interpreter counts it, a tenth of the case at a time.

    Raises:
        AssertionError: an entry costs more and more.
    """
    tracemalloc.start()
    try:
        sizes = [_live(), *(_live() for _ in _played(folder, entries, []))]
    finally:
        tracemalloc.stop()
    each = entries // 10
    grown = [(after - before) / each / 1024 for before, after in pairwise(sizes[1:])]
    early, late = statistics.mean(grown[:4]), statistics.mean(grown[-4:])
    assert late < 1.5 * early, grown
    came = f"{(sizes[-1] - sizes[1]) / 2**20:.0f} MiB in all; {early:.1f} KiB an entry early, {late:.1f} late"
    return Figure("long day", f"memory of a case of {HOURS:.0f} simulated hours", entries, came)


def _played(folder: Path, entries: int, appends: list[tuple[float, float]]) -> Iterator[None]:
    """Play a case, stopping at each tenth of it; `appends` gets what each append took, and a bare one."""
    text = shipped()
    protocol, clock = protocol_of(text), Hand()
    journal = Journal.create(folder, "A-0001")
    _timed(journal, folder, appends)
    facts = protocol.defaults
    desk = Desk(Session.begin(journal, protocol, text, "A-0001", facts, clock))
    steps = [s.id for s in protocol.all_steps() if not s.ends_case]
    yield
    while len(desk.case.events) < entries:
        clock.on(HOURS * 3600 / entries)
        desk.session.natural(steps[len(desk.case.events) % len(steps)])
        if len(desk.case.events) % 50 == 0:
            desk.draw(SIZE)
        if len(desk.case.events) % (entries // 10) == 0:
            yield
    journal.close()


def _live() -> int:
    gc.collect()
    return tracemalloc.get_traced_memory()[0]


def _timed(journal: Journal, folder: Path, took: list[tuple[float, float]]) -> None:
    """Time each append, and beside it a bare write and sync of as many bytes: the disk has its own moods."""
    append, bare = journal.append, (folder / "bare").open("ab", buffering=0)

    def timed(event: Event) -> None:
        before = journal.path.stat().st_size
        began = time.perf_counter()
        append(event)
        done = time.perf_counter()
        data = bytes(journal.path.stat().st_size - before)
        bare_began = time.perf_counter()
        bare.write(data)
        os.fsync(bare.fileno())
        took.append(((done - began) * 1000, (time.perf_counter() - bare_began) * 1000))

    journal.append = timed  # type: ignore[method-assign]


def _appending(took: list[tuple[float, float]]) -> Figure:
    tenth = len(took) // 10
    early, late = _beside_bare(took[tenth : 3 * tenth]), _beside_bare(took[-2 * tenth :])
    assert late < 1.5 * early, (early, late)
    ours = statistics.median(ms for ms, _ in took)
    came = f"median {ours:.2f} ms; {early:.2f} times a bare write and sync early, {late:.2f} late"
    return Figure("long day", "append with sync", len(took), came)


def _beside_bare(took: list[tuple[float, float]]) -> float:
    """How many times as long as a bare write and sync an append takes, by the medians."""
    return statistics.median(ours for ours, _ in took) / statistics.median(bare for _, bare in took)


def _resuming(folder: Path, entries: int) -> Figure:
    took = []
    for _ in range(5):
        began = time.perf_counter()
        events = Archive(folder).read("A-0001").events
        case = fold(protocol_of(shipped()), events)
        took.append(time.perf_counter() - began)
        assert len(case.events) == entries
    return Figure(
        "long day", "resume: read, verify, fold", entries, f"{min(took) * 1000:.0f} ms (500 are allowed)"
    )
