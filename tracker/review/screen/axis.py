"""The part of a case that is in view, and where on the screen a moment of it stands. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from math import ceil, floor
from typing import Final

from tracker.core.timeline import SHORTEST_S, Timeline

_STEPS_S: Final = (
    5, 10, 15, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 10800, 14400, 21600, 43200, 86400,
)  # fmt: skip
_SHORT_LABEL: Final = 8
_LONG_LABEL: Final = 11


@dataclass(frozen=True, slots=True)
class View:
    """Case seconds from `start_t` to `stop_t`, never shorter than a minute."""

    start_t: float
    stop_t: float

    @property
    def seconds(self) -> float:
        """Its length."""
        return self.stop_t - self.start_t

    def cell(self, t: float, cells: int) -> int:
        """The cell, of `cells`, in which a moment stands; below 0 or `cells` and above outside the view."""
        place = (t - self.start_t) / self.seconds * cells
        return cells - 1 if t == self.stop_t else floor(place + 1e-9)

    def covered(self, start_t: float, stop_t: float, cells: int) -> range:
        """The cells that a length of time touches: half-open, never none unless it is outside the view."""
        first = self.cell(start_t, cells)
        last = ceil((stop_t - self.start_t) / self.seconds * cells - 1e-9)
        return range(max(0, first), min(cells, max(first + 1, last)))

    def zoomed(self, factor: float, about_t: float, whole: View) -> View:
        """A view `factor` times as long in which `about_t` stands where it stood."""
        wanted = min(max(self.seconds * factor, SHORTEST_S), whole.seconds)
        share = min(max((about_t - self.start_t) / self.seconds, 0.0), 1.0)
        return View(about_t - share * wanted, about_t + (1 - share) * wanted).within(whole)

    def moved(self, seconds: float, whole: View) -> View:
        """The same length, so many seconds later."""
        return View(self.start_t + seconds, self.stop_t + seconds).within(whole)

    def showing(self, t: float, whole: View) -> View:
        """The view itself if `t` is in it, else one of the same length with `t` in its middle."""
        if self.start_t <= t <= self.stop_t:
            return self
        return self.moved(t - (self.start_t + self.stop_t) / 2, whole)

    def within(self, whole: View) -> View:
        """The view pushed back into the whole case."""
        length = min(self.seconds, whole.seconds)
        start_t = min(max(self.start_t, whole.start_t), whole.stop_t - length)
        return View(start_t, start_t + length)


def whole_of(axis: Timeline) -> View:
    """The view of a whole case."""
    return View(axis.start_t, axis.stop_t)


def ticks(axis: Timeline, view: View, cells: int) -> Iterator[tuple[int, str]]:
    """Cells with a round time of day, and that time, as many as there is room for."""
    if not axis.anchors:
        return
    step_s = _step_s(view, cells)
    start = axis.at(view.start_t)
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    into_s = (start - midnight) / timedelta(seconds=1)
    t = view.start_t + ceil(into_s / step_s - 1e-9) * step_s - into_s
    while t < view.stop_t:
        yield view.cell(t, cells), axis.at(t).strftime("%H:%M" if step_s >= 60 else "%H:%M:%S")
        t += step_s


def _step_s(view: View, cells: int) -> int:
    second = view.seconds / cells
    fitting = (s for s in _STEPS_S if s >= (_SHORT_LABEL if s >= 60 else _LONG_LABEL) * second)
    return next(fitting, 86_400 * ceil(_SHORT_LABEL * second / 86_400))
