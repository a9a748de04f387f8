"""A bar on standard error for what takes longer than a second; nothing without a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import Progress

from tracker.screen.station import StationClock

AFTER_MS = 1_000

Told = Callable[[int, int], None]
"""What hears how far the work is: pieces done, pieces in all."""


@contextmanager
def progress(words: str) -> Iterator[Told]:
    """What the work tells how far it is, under these words."""
    if not sys.stderr.isatty():
        yield _nobody
        return
    clock, bar = StationClock(), Progress(console=Console(stderr=True), transient=True)
    task = bar.add_task(words, total=None)

    def told(done: int, of: int) -> None:
        bar.update(task, completed=done, total=of)
        if not bar.live.is_started and clock().elapsed_ms > AFTER_MS:
            bar.start()

    try:
        yield told
    finally:
        bar.stop()


def _nobody(_done: int, _of: int) -> None:
    """Hear nothing."""
