"""The recordings that a debrief tells of, laid on the log; and times as people type them at a review."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Final

from tracker.core import debrief_events as db
from tracker.core.case import Case
from tracker.core.durations import end_t
from tracker.core.reviewed import Reviewed
from tracker.core.text import unshowable
from tracker.core.timeline import anchors
from tracker.review.video.align import align
from tracker.review.video.consent import Refusal
from tracker.review.video.film import Films, Wishes, films
from tracker.review.video.maps import Alignment, Mark, Recording, Segment
from tracker.review.video.remarks import Remark
from tracker.review.video.stamps import seconds_of

LONGEST_NAME: Final = 400
_CLOCK: Final = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d{1,3})?))?", re.ASCII)


def recordings(review: Reviewed) -> tuple[Recording, ...]:
    """The files told of, each once; the length said last stands."""
    lengths = {r.file: r.length_s for r in review.debrief.standing(db.Recorded)}
    return tuple(Recording(file, length) for file, length in lengths.items())


def marks(review: Reviewed) -> tuple[Mark, ...]:
    """The marks that stand."""
    return tuple(Mark(m.log_t, m.file, m.video_t) for m in review.debrief.standing(db.VideoMarked))


def segments(review: Reviewed) -> tuple[Segment, ...]:
    """The parts in which files were recording."""
    return tuple(Segment(p.file, p.from_t, p.to_t) for p in review.debrief.standing(db.RecordedPart))


def aligned(review: Reviewed) -> Alignment:
    """The map from log time to the files."""
    until_t = end_t(review.case, review.logged.last_t)
    return align(recordings(review), marks(review), segments(review), until_t)


def films_of(review: Reviewed, wishes: Wishes) -> Films | Refusal:
    """Everything to be written of the recordings of a case, or why there is no export."""
    now_t = review.logged.last_t
    return films(review.case, now_t, recordings(review), marks(review), segments(review), wishes)


# -- what people type


def file_name(text: str) -> str | Remark:
    """A recording's name as typed, without blanks about it."""
    name = text.strip()
    if not name or unshowable(name) or len(name) > LONGEST_NAME:
        return Remark("file", "", "A file name is needed, of characters that can be shown, 400 at most.")
    return name


def length(text: str) -> float | Remark | None:
    """A length as typed: seconds, MM:SS or HH:MM:SS; `-` where it is not known."""
    if text.strip() == "-":
        return None
    found = seconds_of(text)
    if isinstance(found, Remark) or found > 0:
        return found
    return Remark(
        "length", "", "A recording has to be longer than nothing; write - if its length is not known."
    )


def log_second(case: Case, text: str) -> float | Remark:
    """The case second of a time as typed: the time of day told in the log, `@34` for entry 34, `+SECONDS`.

    After `+` come seconds, MM:SS or HH:MM:SS since the first entry. A time of day that the log tells twice,
    its clock having been set, is the first of the two.
    """
    typed = text.strip()
    if typed.startswith("@"):
        entry = next((e for e in case.log if str(e.seq) == typed[1:]), None)
        return entry.t if entry else Remark("time", "", f"“{typed[:40]}” is no entry that stands in the log.")
    if typed.startswith("+"):
        return seconds_of(typed[1:])
    clock = _CLOCK.fullmatch(typed)
    if clock is None or int(clock[1]) > 23 or int(clock[2]) > 59 or float(clock[3] or 0) >= 60:
        how = "write the time of day as HH:MM:SS, @34 for entry 34, or +SECONDS since the first entry."
        return Remark("time", "", f"“{typed[:40]}” is no time of the log: {how}")
    found = min(_times(case, clock), default=None)
    if found is None:
        return Remark("time", "", f"“{typed}” lies outside the times of this log.")
    return found


def _times(case: Case, clock: re.Match[str]) -> Iterator[float]:
    """The case seconds at which the log's clock showed a time, in each stretch between two settings of it."""
    known = anchors(case)
    ends = [*(t for t, _ in known[1:]), max((e.t for e in case.log), default=0.0)]
    for n, ((start_t, at), stop_t) in enumerate(zip(known, ends, strict=False)):
        first = at - timedelta(seconds=1 if n == 0 else 0)
        days = math.ceil((stop_t - start_t) / 86_400) + 1
        for day in range(days + 1):
            t = start_t + (_on(at, clock, day) - at).total_seconds()
            # The last stretch is open by a minute: a mark may lie just behind the last entry.
            slack = 60.0 if n == len(known) - 1 else 0.0
            if _on(at, clock, day) >= first and t <= stop_t + slack:
                yield round(max(t, start_t), 3)


def _on(at: datetime, clock: re.Match[str], day: int) -> datetime:
    second = float(clock[3] or 0)
    told = time(int(clock[1]), int(clock[2]), int(second), round(second % 1 * 1_000_000) % 1_000_000)
    return datetime.combine(at.date() + timedelta(days=day), told, at.tzinfo)
