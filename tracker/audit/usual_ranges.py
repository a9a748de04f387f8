"""What the stages of a procedure usually take here, for the record and the review of one more case."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import quantiles
from typing import Final

from tracker.core.case import Case
from tracker.core.durations import stage_seconds
from tracker.core.protocol import Stage
from tracker.core.usual import LEAST, Usual, UsualRanges
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.codes import latest
from tracker.journal.trouble import Trouble

MOST: Final = 100
"""The latest so many cases of each site are read: enough for a 90th percentile, few enough to wait for."""


def usual_ranges(archive: Archive, case: Case, least: int = LEAST) -> UsualRanges:
    """The usual range of each stage, from the latest other cases of the same protocol that came to their end.

    An invented case is compared with invented ones, a real one with real ones. Percentiles are type 7 of
    Hyndman and Fan 1996, as `statistics.quantiles` calls "inclusive". A stage of under `least` cases is absent.
    """
    others = list(_comparable(archive, case))
    ranges: dict[str, Usual] = {}
    for stage in case.protocol.stages:
        took = (
            stage_seconds(other, known, other.last_t) for other in others for known in _same(other, stage.id)
        )
        minutes = [seconds / 60 for seconds in took if seconds is not None]
        if len(minutes) >= max(2, least):
            tenths = quantiles(minutes, n=10, method="inclusive")
            ranges[stage.id] = Usual(round(tenths[0], 3), round(tenths[-1], 3), len(minutes))
    return ranges


def _same(other: Case, stage: str) -> Iterator[Stage]:
    return (s for s in other.protocol.stages if s.id == stage)


def _comparable(archive: Archive, case: Case) -> Iterator[Case]:
    for code in latest(archive.codes(), MOST):
        try:
            other = case_of(archive.read(code), code)
        except Trouble:
            continue
        usual_end = other.end is not None and other.end.how == "normal"
        alike = other.protocol.id == case.protocol.id and other.invented == case.invented
        if usual_end and alike and code != case.code:
            yield other
