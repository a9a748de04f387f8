"""When a running case may end: from closed cases of the same protocol that reached the same stage.

A case has reached a stage with its first entry in it, if no later stage was entered before. What is left of
a case is what was left of past ones from there, given the time already spent since. Cases that no theatre
saw are compared with their like only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from threading import Thread
from typing import TYPE_CHECKING, Final, Protocol

from tracker.core.case import Case
from tracker.core.forecast import Forecast

if TYPE_CHECKING:
    from tracker.audit.statistics.remaining import Remaining

MOST: Final = 1_000
"""The latest so many cases are asked."""


@dataclass(frozen=True, slots=True)
class Past:
    """A closed case: minutes from its first line at which it was first in each stage, and at its end."""

    firsts: Mapping[str, float]
    ended: float
    invented: bool = False


class Source(Protocol):
    """Where past cases come from."""

    def __call__(self, protocol: str) -> Sequence[Past] | None:
        """The closed cases of a protocol, by its id; None where they cannot be read."""


def past_of(case: Case) -> Past | None:
    """A case as a past one; None while it is open, and where it was stopped early."""
    if case.end is None or case.end.how != "normal":
        return None
    return Past(firsts_of(case), case.end.when.t / 60, case.invented)


def firsts_of(case: Case) -> dict[str, float]:
    """The minute of the first entry in each stage of a case that has one."""
    firsts: dict[str, float] = {}
    for stage in case.protocol.stages:
        minutes = [t.start.t / 60 for s in stage.steps for t in case.state(s.id).ticks]
        if minutes:
            firsts[stage.id] = min(minutes)
    return firsts


def reached(firsts: Mapping[str, float], order: Mapping[str, int]) -> dict[str, float]:
    """The stages a case went through, each when it was reached; `order` is that of the file."""
    furthest, found = -1, {}
    for minute, place, stage in sorted((m, order[s], s) for s, m in firsts.items() if s in order):
        if place > furthest:
            furthest, found[stage] = place, minute
    return found


def remaining(case: Case, now_t: float, history: Iterable[Past]) -> Remaining:
    """What may be left of a running case at case second `now_t`, in minutes; refuses below 10 past cases."""
    # The live screen knows this module from the start, and numpy not before the first forecast.
    from tracker.audit.statistics.remaining import time_remaining  # noqa: PLC0415

    order = case.protocol.stage_index
    been = reached(firsts_of(case), order)
    if case.end is not None or not been:
        return time_remaining((), 0.0)
    stage = max(been, key=lambda s: order[s])
    alike = (p for p in history if p.invented == case.invented)
    return time_remaining(left_from(stage, order, alike), max(0.0, now_t / 60 - been[stage]))


def left_from(stage: str, order: Mapping[str, int], history: Iterable[Past]) -> list[float]:
    """The minutes from when each past case reached a stage to its end, of those that reached it."""
    at = ((past.ended, reached(past.firsts, order).get(stage)) for past in history)
    return [ended - minute for ended, minute in at if minute is not None]


def forecast(case: Case, now_t: float, history: Iterable[Past]) -> Forecast:
    """The same as the screens are told it: how many cases alone where it is refused."""
    found = remaining(case, now_t, history)
    if found.p10 is None or found.median is None or found.p90 is None:
        return Forecast(found.n, outlasted=not found.longer)
    return Forecast(found.n, found.p10, found.median, found.p90)


Later = Callable[[Callable[[], None]], None]
"""What runs a piece of work beside the screen."""


def beside(work: Callable[[], None]) -> None:
    """Run it in a thread that nothing waits for."""
    Thread(target=work, daemon=True).start()


class Expecting:
    """A forecaster that asks for past cases once a first screen is drawn, and says nothing until they are read.

    They are read anew for each running case: the one before it on the list is a past one by then.
    """

    def __init__(self, source: Source, later: Later = beside) -> None:
        self._source, self._later = source, later
        self._held: dict[str, Sequence[Past] | None] = {}
        self._asked = False

    def __call__(self, case: Case, now_t: float) -> Forecast | None:
        """What may be left of a case at a case second; None while nothing is known of past ones."""
        # The first drawing must not share the machine with the reading of an archive: the second begins it.
        if not self._asked:
            self._asked = True
            return None
        if case.code not in self._held:
            self._held[case.code] = None
            self._later(lambda: self._read(case.code, case.protocol.id))
        history = self._held[case.code]
        return None if history is None else forecast(case, now_t, history)

    def _read(self, code: str, protocol: str) -> None:
        self._held[code] = self._source(protocol)
