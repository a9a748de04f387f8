"""Log time laid on recordings: t_video = a + b * t_log, one map for each unbroken part of a file.

Log time is case seconds, video time seconds from the file's first frame; intervals are half-open. One mark
gives the offset, two the drift, three or more a least-squares line with its residuals. A recorder that was
paused, or a recording split over files, makes several parts; where two parts show the same moment, the one
that began first is used.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, linear_regression
from typing import Final

from tracker.review.video.remarks import Remark

SAME_S: Final = 0.001
"""Marks closer than what a journal tells apart are at one moment."""
SLACK_S: Final = 1.0
"""What two hands and two clocks may differ by: the residual above which a mark is questioned."""
MOST_OFF: Final = 0.1
"""A pace further from 1 than this is no recording of this case; nothing is laid on it."""


@dataclass(frozen=True, slots=True, order=True)
class Mark:
    """The same moment in the log and in a file."""

    log_t: float
    file: str
    video_t: float


@dataclass(frozen=True, slots=True)
class Recording:
    """A file there is; `length_s` is None where nobody has said how long it is."""

    file: str
    length_s: float | None = None


@dataclass(frozen=True, slots=True)
class Segment:
    """The log time in which a file was being recorded; None for as far as the file reaches."""

    file: str
    from_t: float | None = None
    to_t: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of log time with its map to a file.

    `marks` is what the map was made of, empty where a part goes on from its neighbour; `segment` is what was
    said of when it recorded; `closed` is whether its end is known rather than assumed.
    """

    file: str
    from_t: float
    to_t: float
    a: float
    b: float = 1.0
    marks: tuple[Mark, ...] = ()
    segment: Segment | None = None
    closed: bool = True

    def video_t(self, log_t: float) -> float:
        """The second of the file that shows a moment of the log."""
        return self.a + self.b * log_t

    def log_t(self, video_t: float) -> float:
        """The moment of the log that a second of the file shows."""
        return (video_t - self.a) / self.b

    @property
    def residuals(self) -> tuple[float, ...]:
        """By how many seconds each mark lies after where the map puts it."""
        return tuple(m.video_t - self.video_t(m.log_t) for m in self.marks)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of one part, in log time."""

    part: Part
    from_t: float
    to_t: float

    @property
    def in_s(self) -> float:
        """Its first second in the file."""
        return self.part.video_t(self.from_t)

    @property
    def out_s(self) -> float:
        """Its last second in the file."""
        return self.part.video_t(self.to_t)

    @property
    def seconds(self) -> float:
        """How long it plays."""
        return self.out_s - self.in_s


def line(marks: Sequence[Mark]) -> tuple[float, float]:
    """Offset and pace of the least-squares line through one or more marks; one moment gives pace 1."""
    moments = [m.log_t for m in marks]
    if max(moments) - min(moments) < SAME_S:
        return fmean(m.video_t - m.log_t for m in marks), 1.0
    fit = linear_regression(moments, [m.video_t for m in marks])
    return fit.intercept, fit.slope


def usable(a: float, b: float) -> bool:
    """Whether a line can be the map of a recording at all."""
    return math.isfinite(a) and abs(b - 1) <= MOST_OFF


def holds(segment: Segment, log_t: float) -> bool:
    """Whether a moment of the log lies in a segment, its end included."""
    after = segment.from_t is None or log_t >= segment.from_t
    return after and (segment.to_t is None or log_t <= segment.to_t)


def marked(segments: Sequence[Segment], marks: Iterable[Mark]) -> Iterator[tuple[Segment, tuple[Mark, ...]]]:
    """Each segment with the marks in it; a mark where two meet belongs to the later one."""
    owned: dict[int, list[Mark]] = {}
    for mark in sorted(marks):
        homes = [i for i, s in enumerate(segments) if s.file == mark.file and holds(s, mark.log_t)]
        if homes:
            owned.setdefault(homes[-1], []).append(mark)
    for i, segment in enumerate(segments):
        yield segment, tuple(owned.get(i, ()))


def parts_of(recording: Recording, segments: Sequence[Segment], marks: Sequence[Mark]) -> tuple[Part, ...]:
    """The parts of one file, segments in log order; a segment without a map of its own is left out.

    A file has no hole where the recorder was paused: a segment without marks goes on in the file where the
    one before it stopped, or stops where the one after it begins.
    """
    pairs = list(marked(segments, marks))
    maps = [line(found) if found else None for _, found in pairs]
    maps = [m if m and usable(*m) else None for m in maps]
    order = range(len(pairs))
    for i, j in (*((i, i - 1) for i in order[1:]), *((i, i + 1) for i in reversed(order[:-1]))):
        if maps[i] is None and not pairs[i][1]:
            maps[i] = _carried(segments[i], segments[j], maps[j])
    made = (_part(recording, s, found, m) for (s, found), m in zip(pairs, maps, strict=True) if m is not None)
    return tuple(p for p in made if p.to_t > p.from_t)


def _carried(
    segment: Segment, other: Segment, known: tuple[float, float] | None
) -> tuple[float, float] | None:
    """The map of a segment from that of its neighbour in the same file: the seam is one second of both."""
    before = other.to_t is not None and segment.from_t is not None and other.to_t <= segment.from_t
    here, there = (segment.from_t, other.to_t) if before else (segment.to_t, other.from_t)
    if known is None or here is None or there is None:
        return None
    a, b = known
    return a + b * (there - here), b


def _part(recording: Recording, segment: Segment, marks: tuple[Mark, ...], fit: tuple[float, float]) -> Part:
    a, b = fit
    starts = -a / b
    ends = math.inf if recording.length_s is None else (recording.length_s - a) / b
    return Part(
        recording.file,
        starts if segment.from_t is None else max(segment.from_t, starts),
        ends if segment.to_t is None else min(segment.to_t, ends),
        a,
        b,
        marks,
        segment,
    )


def closed(parts: Iterable[Part], until_t: float | None) -> tuple[Part, ...]:
    """Parts in log order; one with no known end is taken to end with the log or where the next begins."""
    ordered = sorted(parts, key=lambda p: (p.from_t, p.to_t, p.file))
    ends: list[Part] = []
    for i, part in enumerate(ordered):
        if math.isfinite(part.to_t):
            ends.append(part)
            continue
        last = until_t if until_t is not None else max((m.log_t for m in part.marks), default=part.from_t)
        stop = min([last, *(p.from_t for p in ordered[i + 1 :])])
        ends.append(replace(part, to_t=max(stop, part.from_t), closed=False))
    return tuple(ends)


@dataclass(frozen=True, slots=True)
class Alignment:
    """The parts in log order, and everything there is to say about them."""

    parts: tuple[Part, ...] = ()
    remarks: tuple[Remark, ...] = ()

    def stretches(self, from_t: float, to_t: float) -> tuple[Stretch, ...]:
        """What the recordings show of an interval of the log, in log order and without doubles."""
        shown, cursor = [], from_t
        for part in self.parts:
            start, stop = max(part.from_t, cursor), min(part.to_t, to_t)
            if stop > start:
                shown.append(Stretch(part, start, stop))
                cursor = stop
        return tuple(shown)

    def place(self, log_t: float) -> tuple[str, float] | None:
        """The file and its second that show a moment of the log; None where nothing was recorded."""
        for part in self.parts:
            if part.from_t <= log_t < part.to_t:
                return part.file, part.video_t(log_t)
        return None
