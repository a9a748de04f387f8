"""What the marks and parts of an alignment give cause to ask, each a small function yielding remarks.

Limits: a residual over 1 s or a pace off by more than 0.002 is questioned; quartz clocks differ by 0.07 to
0.18 s an hour (common practice, no source), and a frame rate of 29.97 taken for 30 or the other way round
by 3.6 s an hour, which is 108 frames (SMPTE ST 12-1).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, pairwise
from typing import Final

from tracker.core.text import shown
from tracker.core.wording import hms, span_words
from tracker.review.video.maps import SLACK_S, Mark, Part, line, usable
from tracker.review.video.remarks import Remark

MOST_SLOPE_OFF: Final = 0.002
"""A pace further from 1 than this is questioned."""
MISLABELLED: Final = {
    1000 / 1001: "frames made 29.97 a second are counted as 30",
    1001 / 1000: "frames made 30 a second are counted as 29.97",
}
"""The pace of a file whose frame rate is mislabelled, and how (SMPTE ST 12-1)."""
MISLABELLED_WITHIN: Final = 0.0003
"""How near a pace must come to be named so: marks half a second out tell it within half an hour apart."""
SHORTEST_BASE_S: Final = 300.0
"""Marks nearer than this tell the pace poorly: a slip of half a second shows as 0.002 (common practice)."""


def at(mark: Mark) -> str:
    """A mark in words."""
    return f"the mark at {hms(mark.log_t)} of the log ({hms(mark.video_t)} of the file)"


def doubtful(marks: Sequence[Mark]) -> Mark | None:
    """Of three or more marks the one without which the others agree best, with each other and with pace 1.

    The largest residual does not tell: of three evenly spaced marks it is always the middle one's.
    """
    if len(marks) < 3:
        return None

    def disagreement(out: Mark) -> tuple[float, float]:
        rest = [m for m in marks if m is not out]
        a, b = line(rest)
        return round(max(abs(m.video_t - a - b * m.log_t) for m in rest), 3), abs(b - 1)

    return min(marks, key=disagreement)


def lost(marks: Sequence[Mark]) -> tuple[Mark, Mark] | None:
    """The first two marks between which the file is shorter than the log, if it is nowhere longer."""
    off = [(m, n, (n.log_t - m.log_t) - (n.video_t - m.video_t)) for m, n in pairwise(marks)]
    far = [(m, n, s) for m, n, s in off if abs(s) > max(SLACK_S, MOST_SLOPE_OFF * (n.log_t - m.log_t))]
    return far[0][:2] if far and all(s > 0 for *_, s in far) else None


# -- of the marks of one segment


def contradictions(file: str, marks: Sequence[Mark]) -> Iterator[Remark]:
    """Marks of which not both can be so: as far apart as this, log and file run the same way."""
    for m, n in combinations(marks, 2):
        log_s, video_s = n.log_t - m.log_t, n.video_t - m.video_t
        if log_s * video_s <= 0 and max(abs(log_s), abs(video_s)) > SLACK_S:
            text = f"{file}: {at(m)} and {at(n)} contradict each other; one of them has to go."
            yield Remark("contradict", file, text)


def unusable(file: str, marks: Sequence[Mark]) -> Iterator[Remark]:
    """Marks through which no map of a recording goes."""
    if not usable(*line(marks)):
        text = (
            f"{file}: these marks cannot all belong together, so nothing is found in this part of the file."
        )
        yield Remark("no_map", file, text + _advice(marks))


def pace(file: str, marks: Sequence[Mark]) -> Iterator[Remark]:
    """A pace that no clock has, or that of a mislabelled frame rate."""
    _, b = line(marks)
    for wrong, how in MISLABELLED.items():
        if abs(b - wrong) <= MISLABELLED_WITHIN:
            text = f"{file}: the recording runs at {b:.5f} of the log's pace. Probably {how}: 3.6 s an hour."
            yield Remark("frame_rate", file, f"{text} The times here allow for it.")
    if abs(b - 1) > MOST_SLOPE_OFF and usable(0.0, b):
        text = f"{file}: the recording runs at {b:.5f} of the log's pace; a mark is probably wrong."
        yield Remark("slope", file, text + _advice(marks))
        base_s = marks[-1].log_t - marks[0].log_t
        if base_s < SHORTEST_BASE_S:
            text = f"{file}: the marks span only {span_words(base_s)}; take them further apart."
            yield Remark("near", file, text)


def residuals(file: str, marks: Sequence[Mark]) -> Iterator[Remark]:
    """Marks more than a second off the line through all of them."""
    a, b = line(marks)
    for mark in marks:
        off = mark.video_t - a - b * mark.log_t
        if abs(off) > SLACK_S:
            text = f"{file}: {at(mark)} lies {off:+.1f} s off the line through all marks."
            yield Remark("residual", file, text)
    if not usable(a, b) or abs(b - 1) > MOST_SLOPE_OFF:
        return
    if any(abs(m.video_t - a - b * m.log_t) > SLACK_S for m in marks) and (advice := _advice(marks)):
        yield Remark("doubtful", file, f"{file}:{advice}")


def _advice(marks: Sequence[Mark]) -> str:
    odd, pause = doubtful(marks), lost(marks)
    told = f" Look first at {at(odd)}." if odd else ""
    if pause:
        between = f"{hms(pause[0].log_t)} and {hms(pause[1].log_t)}"
        told += f" Or the recorder was paused between {between} of the log: then name the parts it recorded."
    return told


OF_MARKS: Final[tuple[Callable[[str, Sequence[Mark]], Iterator[Remark]], ...]] = (
    contradictions,
    unusable,
    pace,
    residuals,
)


# -- of the parts, in log order


def seams(parts: Sequence[Part]) -> Iterator[Remark]:
    """Neighbouring parts of one file between which seconds of the file are claimed twice or not at all."""
    for file in dict.fromkeys(p.file for p in parts):
        for before, after in pairwise(p for p in parts if p.file == file):
            hole = after.video_t(after.from_t) - before.video_t(before.to_t)
            if abs(hole) > SLACK_S:
                how = "are in neither part" if hole > 0 else "are claimed by both parts"
                where = f"about {hms(max(0.0, before.video_t(before.to_t)))} of the file"
                text = f"{shown(file)}: {span_words(abs(hole))} {how} {where}; look at the times given."
                yield Remark("seam", file, text)


def gaps_and_overlaps(parts: Sequence[Part]) -> Iterator[Remark]:
    """Log time that no part shows between two that do, or that two show."""
    reached: Part | None = None
    for part in parts:
        if reached is not None:
            yield from _between(reached, part)
        if reached is None or part.to_t > reached.to_t:
            reached = part


def _between(before: Part, after: Part) -> Iterator[Remark]:
    first, second = shown(before.file), shown(after.file)
    names = first if first == second else f"{first} and {second}"
    apart = after.from_t - before.to_t
    if apart > SLACK_S and before.closed:
        span = f"from {hms(before.to_t)} to {hms(after.from_t)} of the log ({span_words(apart)})"
        yield Remark("gap", after.file, f"{names}: nothing is recorded {span}.")
    shared = min(before.to_t, after.to_t) - after.from_t
    if shared > SLACK_S:
        span = f"from {hms(after.from_t)} to {hms(after.from_t + shared)} of the log"
        yield Remark("overlap", after.file, f"{names} both show the time {span}; {first} is used there.")


def ends(parts: Sequence[Part], until_t: float | None) -> Iterator[Remark]:
    """Log time before the first part and after the last."""
    if not parts or until_t is None:
        return
    if parts[0].from_t > SLACK_S:
        yield Remark("gap", "", f"Nothing is recorded before {hms(parts[0].from_t)} of the log.")
    last_t = max(p.to_t for p in parts)
    if until_t - last_t > SLACK_S:
        yield Remark("gap", "", f"Nothing is recorded after {hms(last_t)} of the log.")
