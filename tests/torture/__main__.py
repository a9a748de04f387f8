"""Durability with figures: `make torture`, or `python tests/torture --help`. Seeded and bounded.

A promise that does not hold ends its part with what was found; the program then ends with 1.
"""

from __future__ import annotations

import argparse
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from torture.figures import HEAD, Figure

Part = Callable[[Path], Iterator[Figure]]


@dataclass(frozen=True)
class Bounds:
    """How much of each."""

    kills: int = 1000
    positions: int = 2000
    entries: int = 300
    day: int = 5000
    journals: int = 1000
    inputs: int = 100_000
    pairs: int = 1

    def short(self) -> Bounds:
        """A run of about a minute."""
        return Bounds(kills=15, positions=200, entries=60, day=600, journals=40, inputs=300, pairs=40)


def parts(bounds: Bounds, seed: int, chosen: str) -> list[tuple[str, Part]]:
    """The parts asked for, each by its name."""
    from torture import archives, crashes, day, faults, fuzz, kills, sabotage, writers

    halves = [(n, bounds.kills * (n + 1) // 2 - bounds.kills * n // 2) for n in (0, 1)]
    made: list[tuple[str, Part]] = [
        ("day", partial(day.day, entries=bounds.day)),
        *[("kills", partial(kills.kills, seed=seed + n, times=times)) for n, times in halves],
        *[("faults", partial(faults.faults, every=bounds.pairs, half=n)) for n in (0, 1)],
        ("crashes", partial(crashes.crashes, seed=seed, entries=bounds.entries, positions=bounds.positions)),
        ("writers", writers.writers),
        ("archives", partial(archives.archives, seed=seed, journals=bounds.journals)),
        *[("fuzz", partial(fuzz.fuzz, name=name, seed=seed, inputs=bounds.inputs)) for name in fuzz.TARGETS],
        ("sabotage", sabotage.sabotage),
    ]
    names = set(chosen.split(",")) if chosen else {name for name, _ in made}
    return [(name, part) for name, part in made if name in names]


def run(name: str, part: Part) -> tuple[str, list[Figure], str, float]:
    """Run one part in a folder of its own: its figures, and what did not hold."""
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix=f"torture-{name}-") as folder:
        figures: list[Figure] = []
        try:
            figures.extend(part(Path(folder)))
        except Exception:
            return name, figures, traceback.format_exc(), time.monotonic() - began
    return name, figures, "", time.monotonic() - began


def main() -> int:
    """Print the table; 1 if a promise did not hold."""
    words = argparse.ArgumentParser(prog="python tests/torture", description=__doc__)
    words.add_argument("--seed", type=int, default=8785)
    words.add_argument("--short", action="store_true", help="a run of about a minute")
    words.add_argument(
        "--only", default="", metavar="PARTS", help="day,kills,faults,crashes,writers,archives,fuzz,sabotage"
    )
    words.add_argument("--kills", type=int, help="how many kills")
    words.add_argument("--workers", type=int, default=2)
    args = words.parse_args()
    bounds = Bounds().short() if args.short else Bounds()
    if args.kills is not None:
        bounds = Bounds(**{**vars(bounds), "kills": args.kills})
    began = time.monotonic()
    results = _results(parts(bounds, args.seed, args.only), args.workers)
    held = sum(map(_told, results)) == 0
    word = "every promise held" if held else "not every promise held"
    print(f"\nseed {args.seed}, {time.monotonic() - began:.0f} s in all; {word}")
    return 0 if held else 1


def _results(chosen: list[tuple[str, Part]], workers: int) -> Iterator[tuple[str, list[Figure], str, float]]:
    print(HEAD, flush=True)
    alone = [(name, part) for name, part in chosen if name == "day"]  # its figures are times
    yield from (run(*each) for each in alone)
    with ProcessPoolExecutor(workers, mp_context=get_context("fork"), max_tasks_per_child=None) as pool:
        waiting = [pool.submit(run, *each) for each in chosen if each not in alone]
        yield from (done.result() for done in as_completed(waiting))


def _told(result: tuple[str, list[Figure], str, float]) -> int:
    """Print the figures of a part; 1 if a promise did not hold."""
    name, figures, trouble, took_s = result
    for figure in figures:
        print(figure.line(), flush=True)
    if trouble:
        print(f"| {name} | did not hold after {took_s:.0f} s | | see below |\n{trouble}", flush=True)
    return bool(trouble)


if __name__ == "__main__":
    raise SystemExit(main())
