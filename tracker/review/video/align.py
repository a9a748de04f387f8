"""From marks to an alignment: what was given is looked at, mapped, and what is odd is said.

Nothing raises: a mark or a file that cannot be used is left out with a sentence.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from tracker.core.text import identifying, shown, unshowable
from tracker.core.wording import hms, span_words
from tracker.review.video import doubts
from tracker.review.video.maps import (
    SLACK_S,
    Alignment,
    Mark,
    Part,
    Recording,
    Segment,
    closed,
    holds,
    line,
    marked,
    parts_of,
    usable,
)
from tracker.review.video.remarks import Remark, some


def align(
    recordings: Iterable[Recording],
    marks: Iterable[Mark],
    segments: Iterable[Segment] = (),
    until_t: float | None = None,
) -> Alignment:
    """The map from log time to the files, with everything there is to ask about it.

    `segments` is the log time in which a file was recording, needed only where a recorder was paused;
    `until_t` is the case second at which the log ends.
    """
    said: list[Remark] = []
    files = _recordings(recordings, said)
    lengths = {r.file: r.length_s for r in files}
    good = _segments(segments, lengths, said)
    stretches = {r.file: [s for s in good if s.file == r.file] or [Segment(r.file)] for r in files}
    used = _marks(marks, lengths, stretches, said)
    parts = closed((p for r in files for p in parts_of(r, stretches[r.file], used)), until_t)
    for recording in files:
        said += _of_file(recording, stretches[recording.file], used, parts)
    said += [*doubts.seams(parts), *doubts.gaps_and_overlaps(parts), *doubts.ends(parts, until_t)]
    return Alignment(parts, tuple(dict.fromkeys(said)))


def words(part: Part) -> str:
    """One line about a part: its file, its log time, how it is mapped, and the residuals of its marks."""
    span = f"{hms(part.from_t)} to {hms(part.to_t)} of the log"
    if not part.marks:
        return f"{shown(part.file)}: {span}, going on from the part beside it"
    residuals = ", ".join(f"{round(r, 2) + 0.0:+.2f}" for r in part.residuals)
    told = f"{some(len(part.marks), 'mark')}, offset {part.a:+.2f} s, pace {part.b:.5f}"
    return f"{shown(part.file)}: {span}, {told}, residuals {residuals} s"


# -- what was given


def _recordings(given: Iterable[Recording], said: list[Remark]) -> tuple[Recording, ...]:
    kept: dict[str, Recording] = {}
    for recording in given:
        if why := _not_a_file(recording, kept):
            said.append(Remark("file", recording.file, f"{shown(recording.file)[:80]}: {why}"))
            continue
        kept[recording.file] = recording
        if found := identifying(recording.file.replace("_", " ")):
            text = f"{shown(recording.file)}: the file's name holds {' and '.join(found)}; rename it first."
            said.append(Remark("name", recording.file, text))
    return tuple(kept.values())


def _not_a_file(recording: Recording, kept: dict[str, Recording]) -> str | None:
    if not recording.file.strip() or unshowable(recording.file):
        return "this file name is empty or holds characters that cannot be shown; rename the file."
    if recording.file in kept:
        return "this file was given twice; the first is used."
    length = recording.length_s
    if length is not None and not (math.isfinite(length) and length > 0):
        return "this file has no length, so it is not used; perhaps it could not be read."
    return None


def _segments(
    given: Iterable[Segment], lengths: dict[str, float | None], said: list[Remark]
) -> list[Segment]:
    kept: list[Segment] = []
    for segment in sorted(given, key=lambda s: (s.file, -math.inf if s.from_t is None else s.from_t)):
        before = kept[-1] if kept and kept[-1].file == segment.file else None
        if why := _not_a_segment(segment, before, lengths):
            said.append(Remark("segment", segment.file, f"{shown(segment.file)[:80]}: {why}"))
        else:
            kept.append(segment)
    return kept


def _not_a_segment(segment: Segment, before: Segment | None, lengths: dict[str, float | None]) -> str | None:
    if segment.file not in lengths:
        return "a part was named of a file that is not among the recordings."
    limits = [t for t in (segment.from_t, segment.to_t) if t is not None]
    if any(not math.isfinite(t) or t < 0 for t in limits):
        return "a part was named with a time that is not a time of the log; it is left out."
    if limits[1:] and limits[1] <= limits[0]:
        return f"a part was named that ends at {hms(limits[1])}, before it begins; it is left out."
    if before and (before.to_t is None or segment.from_t is None or segment.from_t < before.to_t):
        return "two parts named of this file overlap in the log; the later one is left out."
    return None


def _marks(
    given: Iterable[Mark],
    lengths: dict[str, float | None],
    segments: dict[str, list[Segment]],
    said: list[Remark],
) -> tuple[Mark, ...]:
    kept: list[Mark] = []
    for mark in given:
        if why := _not_a_mark(mark, kept, lengths, segments):
            said.append(Remark("mark", mark.file, f"{shown(mark.file)[:80]}: {why}"))
        else:
            kept.append(mark)
    return tuple(sorted(kept))


def _not_a_mark(
    mark: Mark, kept: list[Mark], lengths: dict[str, float | None], segments: dict[str, list[Segment]]
) -> str | None:
    if mark.file not in lengths:
        return "a mark names this file, but it is not among the recordings; the mark is left out."
    if not (math.isfinite(mark.log_t) and math.isfinite(mark.video_t)):
        return "a mark has a time that is not a number; it is left out."
    if mark.log_t < 0 or mark.video_t < 0:
        return f"{doubts.at(mark)} is before the beginning of the log or of the file; it is left out."
    length = lengths[mark.file]
    if length is not None and mark.video_t > length:
        return f"{doubts.at(mark)} is past the file's end at {hms(length)}; it is left out."
    if mark in kept:
        return f"{doubts.at(mark)} was given twice; it counts once."
    if not any(holds(s, mark.log_t) for s in segments[mark.file]):
        return f"{doubts.at(mark)} lies in no part in which the file was recording; it is left out."
    return None


# -- what came of it


def _of_file(
    recording: Recording, segments: Sequence[Segment], marks: Sequence[Mark], parts: Sequence[Part]
) -> Iterator[Remark]:
    file, name = recording.file, shown(recording.file)
    if not any(m.file == file for m in marks):
        yield Remark("no_marks", file, f"{name}: no mark is given, so nothing is found in this file.")
        return
    laid = {p.segment: p for p in parts if p.file == file}
    for segment, found in marked(segments, marks):
        for rule in doubts.OF_MARKS if found else ():
            yield from rule(name, found)
        if segment in laid:
            yield from _short(laid[segment], segment)
        elif not found or usable(*line(found)):
            since = "" if segment.from_t is None else f" from {hms(segment.from_t)} of the log"
            yield Remark(
                "no_map", file, f"{name}: nothing is laid on the part{since}; give it a mark that fits."
            )
    if any(not p.closed for p in laid.values()):
        text = f"{name}: how long the file is was not said; it is taken to reach as far as the log."
        yield Remark("length", file, text)


def _short(part: Part, segment: Segment) -> Iterator[Remark]:
    short_s = 0.0 if segment.to_t is None else segment.to_t - part.to_t
    if short_s > SLACK_S:
        text = f"{shown(part.file)}: the file ends {span_words(short_s)} before the part named for it does."
        yield Remark("short", part.file, text)
