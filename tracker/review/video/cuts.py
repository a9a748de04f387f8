"""The cut: what goes into a teaching film of so many minutes.

Bookmarks come first, in time order; then deviations in the order of the record; then steps, the longest
first. Bookmarks and deviations are taken whole or not at all; a step longer than what is left is cut short.
What overlaps plays once. Ticks lag behind what they tell, so every piece has a roll before and after it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from tracker.core.durations import Interval, union, without
from tracker.core.wording import hms
from tracker.review.video.maps import Alignment, Stretch
from tracker.review.video.pieces import LONGEST_NOTE, LONGEST_TITLE, Piece, shortened
from tracker.review.video.remarks import Remark, some

MIN_CLIP_S: Final = 10.0
"""A step is not cut shorter than this (common practice, no source)."""
SLIVER_S: Final = 0.1
"""What a file boundary leaves of a clip is dropped when it is shorter: two or three frames."""

Fate = Literal["taken", "cut short", "in already", "left out", "not recorded"]


@dataclass(frozen=True, slots=True)
class Roll:
    """Seconds shown before and after a piece."""

    before_s: float
    after_s: float


POINT_ROLL: Final = Roll(15.0, 30.0)
SPAN_ROLL: Final = Roll(5.0, 5.0)
"""Both common practice, no source."""


@dataclass(frozen=True, slots=True)
class Rolls:
    """The roll of each piece: by its key, by its id, else that of moments or of spans."""

    own: Mapping[str, Roll] = field(default_factory=dict)
    point: Roll = POINT_ROLL
    span: Roll = SPAN_ROLL

    def interval(self, piece: Piece) -> Interval:
        """The log time to be shown of a piece; it is empty where a roll below 0 leaves nothing of it."""
        usual = self.point if piece.stop_t is None else self.span
        roll = self.own.get(piece.key, self.own.get(piece.id, usual))
        start = piece.start_t - roll.before_s
        return Interval(start, max(start, piece.end_t + roll.after_s))


@dataclass(frozen=True, slots=True)
class Pick:
    """What became of a piece: the seconds it adds to the film, and the film's length with it."""

    piece: Piece
    fate: Fate
    shown: Interval
    adds_s: float
    total_s: float


@dataclass(frozen=True, slots=True)
class Clip:
    """One line of the cut list: seconds of one file, with what is to be seen there."""

    stretch: Stretch
    title: str
    note: str

    @property
    def file(self) -> str:
        """The recording."""
        return self.stretch.part.file


@dataclass(frozen=True, slots=True)
class Cut:
    """The clips in log order, what became of every piece in the order they were asked, and remarks."""

    clips: tuple[Clip, ...] = ()
    picks: tuple[Pick, ...] = ()
    remarks: tuple[Remark, ...] = ()

    @property
    def seconds(self) -> float:
        """The length of the film."""
        return sum(c.stretch.seconds for c in self.clips)


def candidates(pieces: Iterable[Piece]) -> tuple[Piece, ...]:
    """The pieces a film may show, in the order in which they are asked."""
    given = tuple(pieces)
    bookmarks = sorted((p for p in given if p.kind == "bookmark"), key=lambda p: p.start_t)
    steps = sorted((p for p in given if p.kind == "step"), key=lambda p: (p.start_t - p.end_t, p.start_t))
    return (*bookmarks, *(p for p in given if p.kind == "deviation"), *steps)


def cut(
    pieces: Iterable[Piece], alignment: Alignment, budget_min: float | None, rolls: Rolls | None = None
) -> Cut:
    """The film of at most `budget_min` minutes, or of everything if that is None."""
    budget_s = math.inf if budget_min is None else budget_min * 60
    if not budget_s > 0:
        text = "The clip budget has to be more than 0 minutes; nothing is cut."
        return Cut(remarks=(Remark("budget", "", text),))
    picks = tuple(_picks(candidates(pieces), alignment, budget_s, rolls or Rolls()))
    clips = tuple(_clips(picks, alignment))
    return Cut(clips, picks, tuple(_remarks(picks)))


def _picks(asked: Iterable[Piece], alignment: Alignment, budget_s: float, rolls: Rolls) -> Iterator[Pick]:
    taken: tuple[Interval, ...] = ()
    total_s = 0.0
    for piece in asked:
        pick = _pick(piece, rolls.interval(piece), taken, alignment, budget_s, total_s)
        if pick.adds_s > 0:
            taken, total_s = union([*taken, pick.shown]), pick.total_s
        yield pick


def _pick(
    piece: Piece,
    wanted: Interval,
    taken: Sequence[Interval],
    alignment: Alignment,
    budget_s: float,
    total_s: float,
) -> Pick:
    new = _recorded(without([wanted], taken), alignment)
    adds_s, left_s = sum(s.seconds for s in new), budget_s - total_s
    if not _recorded([wanted], alignment):
        return Pick(piece, "not recorded", wanted, 0.0, total_s)
    if adds_s <= 0:
        return Pick(piece, "in already", wanted, 0.0, total_s)
    if adds_s <= left_s + 1e-6:
        return Pick(piece, "taken", wanted, adds_s, total_s + adds_s)
    if piece.kind != "step" or left_s < MIN_CLIP_S:
        return Pick(piece, "left out", wanted, 0.0, total_s)
    shorter = Interval(wanted.start, _until(new, left_s))
    return Pick(piece, "cut short", shorter, left_s, total_s + left_s)


def _recorded(intervals: Iterable[Interval], alignment: Alignment) -> list[Stretch]:
    found = (s for i in intervals for s in alignment.stretches(i.start, i.stop))
    return [s for s in found if s.seconds >= SLIVER_S]


def _until(stretches: Sequence[Stretch], seconds: float) -> float:
    """The log time at which so many seconds of the stretches have played."""
    for stretch in stretches:
        if seconds <= stretch.seconds:
            return stretch.part.log_t(stretch.in_s + seconds)
        seconds -= stretch.seconds
    return stretches[-1].to_t


def _clips(picks: Sequence[Pick], alignment: Alignment) -> Iterator[Clip]:
    used = [p for p in picks if p.fate in ("taken", "cut short", "in already")]
    for interval in union(p.shown for p in used if p.adds_s > 0):
        inside = sorted(
            (p.piece for p in used if p.shown.start < interval.stop and interval.start < p.shown.stop),
            key=lambda p: p.start_t,
        )
        title = shortened(" / ".join(dict.fromkeys(p.title for p in inside)), LONGEST_TITLE)
        note = shortened("; ".join(dict.fromkeys(p.note for p in inside if p.note)), LONGEST_NOTE)
        for stretch in _recorded([interval], alignment):
            yield Clip(stretch, title, note)


def _remarks(picks: Sequence[Pick]) -> Iterator[Remark]:
    unseen = [p for p in picks if p.fate == "not recorded"]
    if unseen:
        text = f"In no recording: {some(len(unseen), 'piece')}, the first at {hms(unseen[0].piece.start_t)}."
        yield Remark("not_recorded", "", text)
    left_out = [p for p in picks if p.fate == "left out"]
    if left_out:
        text = f"Left out for want of time: {some(len(left_out), 'piece')}."
        yield Remark("left_out", "", text)
