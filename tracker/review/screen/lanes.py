"""A reviewed case as lanes of entries that a cursor can stand on: pure values, whatever the screen's size.

What differed, went wrong or was marked comes first, then the stages with their usual range as a band, then
clocks, pairs, operators, pauses and gaps. Places are case seconds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from tracker.core import durations
from tracker.core.case import Case, Tick
from tracker.core.deviations import Deviation, deviations, unjudged
from tracker.core.reviewed import Reviewed
from tracker.core.timeline import Lane, LaneKind, MarkKind, Timeline, timeline
from tracker.core.usual import Usual

Shape = Literal["bar"] | MarkKind
_FIRST: Final = ("deviation", "complication", "bookmark")


@dataclass(frozen=True, slots=True)
class Item:
    """Something a cursor stands on: a bar, or a moment, whose ends then are the same.

    `seq` is the log's entry that it begins with, `stop_seq` the one it ends with; `keys` are those of the
    deviations that show at either.
    """

    shape: Shape
    ident: str
    label: str
    seq: int
    start_t: float
    stop_t: float
    open: bool = False
    stop_seq: int | None = None
    keys: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        """Its length."""
        return self.stop_t - self.start_t


@dataclass(frozen=True, slots=True)
class Row:
    """One lane with its entries in order of time.

    `seconds` is what its bars come to; `band` the usual range of a stage, from its first start, in case
    seconds; `usual` the figures of that range.
    """

    kind: LaneKind
    ident: str
    label: str
    items: tuple[Item, ...]
    seconds: float | None = None
    band: tuple[float, float] | None = None
    usual: Usual | None = None


@dataclass(frozen=True, slots=True)
class Drawing:
    """All lanes, the deviations they show, the time axis, and what was not judged."""

    rows: tuple[Row, ...]
    found: tuple[Deviation, ...]
    axis: Timeline
    unjudged: tuple[Deviation, ...] = ()

    @property
    def by_key(self) -> Mapping[str, Deviation]:
        """Deviations by their stable key."""
        return {d.key: d for d in self.found}


def drawing(review: Reviewed, usual: Mapping[str, Usual]) -> Drawing:
    """The lanes of a reviewed case; `usual` is the range of a stage's minutes by its id."""
    case = review.case
    end_t = durations.until_t(case, review.logged.last_t)
    found, axis = deviations(case, end_t), timeline(case, end_t)
    lanes = sorted(axis.lanes, key=lambda lane: (lane.kind not in _FIRST, _order(lane)))
    rows = tuple(_row(case, lane, found, usual) for lane in lanes)
    return Drawing(rows, found, axis, unjudged(case, end_t))


def _order(lane: Lane) -> int:
    return _FIRST.index(lane.kind) if lane.kind in _FIRST else 0


def _row(case: Case, lane: Lane, found: Sequence[Deviation], usual: Mapping[str, Usual]) -> Row:
    if lane.kind == "deviation":
        items = [_of_deviation(case, d) for d in found if d.code != "complication"]
    elif lane.kind == "complication":
        items = list(_complications(case, lane, found))
    else:
        items = list(_items(case, lane, found))
    items.sort(key=lambda i: (i.start_t, i.seq, i.keys))
    row = Row(lane.kind, lane.ident, lane.label, tuple(items), lane.seconds)
    known = usual.get(lane.ident) if lane.kind == "stage" else None
    bars = [b.start_t for b in lane.bars]
    if known is None or not bars:
        return replace(row, usual=known)
    return replace(row, usual=known, band=(min(bars) + 60 * known.low, min(bars) + 60 * known.high))


def _of_deviation(case: Case, d: Deviation) -> Item:
    label = case.protocol.label(d.step)
    return Item(d.level, d.step, label, d.seq, d.when.t, d.when.t, keys=(d.key,))


def _complications(case: Case, lane: Lane, found: Sequence[Deviation]) -> Iterator[Item]:
    ends = {t.start.seq: t.stop for t in case.troubles}
    for mark in lane.marks:
        stop = ends.get(mark.seq)
        keys = tuple(d.key for d in found if d.code == "complication" and d.seq == mark.seq)
        yield Item(
            "complication", mark.ident, mark.label, mark.seq, mark.t, stop.t if stop else mark.t,
            open=stop is None, stop_seq=stop.seq if stop else None, keys=keys,
        )  # fmt: skip


def _items(case: Case, lane: Lane, found: Sequence[Deviation]) -> Iterator[Item]:
    stops = _stops(case) if lane.kind in ("stage", "anytime") else {}
    for bar in lane.bars:
        stop_seq = stops.get(bar.seq)
        keys = tuple(d.key for d in found if d.seq in (bar.seq, stop_seq) and lane.kind == "stage")
        yield Item("bar", bar.ident, bar.label, bar.seq, bar.start_t, bar.stop_t, bar.open, stop_seq, keys)
    for mark in lane.marks:
        keys = tuple(d.key for d in found if d.seq == mark.seq)
        yield Item(mark.kind, mark.ident, mark.label, mark.seq, mark.t, mark.t, keys=keys)


def _stops(case: Case) -> Mapping[int, int]:
    ticks = (t for s in case.steps.values() for t in s.ticks)
    return {t.seq: t.stop.seq for t in ticks if t.stop}


def tick_of(case: Case, item: Item) -> Tick | None:
    """The tick that an item of a stage's lane is."""
    return next((t for t in case.state(item.ident).ticks if t.seq == item.seq), None)


def spans(drawn: Drawing) -> list[tuple[int, int, Item]]:
    """The spans of the stages with the numbers of their rows and places, the longest first."""
    found = [
        (r, i, item)
        for r, row in enumerate(drawn.rows)
        if row.kind == "stage"
        for i, item in enumerate(row.items)
        if item.shape == "bar"
    ]
    return sorted(found, key=lambda f: (-f[2].seconds, f[2].start_t))
