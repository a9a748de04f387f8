"""From a case and its recordings to the films that the exports write.

The one way in: consent is asked first, every word is looked through, and what could not be done is said.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from tracker.core.case import Case
from tracker.core.durations import end_t
from tracker.core.text import shown
from tracker.review.video.align import align
from tracker.review.video.chapters import MIN_CHAPTER_S, captions, chapters
from tracker.review.video.consent import Refusal, consent
from tracker.review.video.cuts import Clip, Cut, Rolls, cut
from tracker.review.video.maps import Alignment, Mark, Recording, Segment
from tracker.review.video.pieces import Piece, pieces, screened
from tracker.review.video.reel import Cue, Reel, end_to_end, whole
from tracker.review.video.remarks import Remark

BUDGET_MIN = 8.0
"""Teaching films last 4 to 8 minutes (common practice, no source)."""
CUT = "cut"
BEFORE_SHOWING = Remark(
    "privacy",
    "",
    "Before a film is shown: take out the sound, names and dates burnt into the picture, faces before"
    " draping, and what the file says about itself.",
)


@dataclass(frozen=True, slots=True)
class Film:
    """What the exports write: a recording, without clips, or the cut, with them."""

    name: str
    length_s: float
    chapters: tuple[Cue, ...] = ()
    captions: tuple[Cue, ...] = ()
    clips: tuple[Clip, ...] = ()


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is asked of the films: steps that get chapters instead of the stages, lengths, rolls."""

    chosen: frozenset[str] = frozenset()
    min_chapter_s: float = MIN_CHAPTER_S
    budget_min: float | None = BUDGET_MIN
    rolls: Rolls = field(default_factory=Rolls)


@dataclass(frozen=True, slots=True)
class Films:
    """The recordings, the cut last if there is anything in it, and all that is to be said."""

    films: tuple[Film, ...]
    alignment: Alignment
    cut: Cut
    remarks: tuple[Remark, ...]


def films(
    case: Case,
    now_t: float,
    recordings: Iterable[Recording],
    marks: Iterable[Mark],
    segments: Iterable[Segment] = (),
    wishes: Wishes | None = None,
) -> Films | Refusal:
    """Everything to be written of a case as of `now_t`, or why there is no export."""
    if refusal := consent(case):
        return refusal
    given, wishes = tuple(recordings), wishes or Wishes()
    lengths = {r.file: r.length_s for r in reversed(given)}
    alignment = align(given, marks, segments, end_t(case, now_t))
    shown_pieces, said = screened(pieces(case, now_t))
    chosen = [_unknown(case, step) for step in sorted(wishes.chosen) if step not in case.protocol.step]
    picked = cut(shown_pieces, alignment, wishes.budget_min, wishes.rolls)
    made = [
        _film(file, shown_pieces, whole(alignment, file, lengths[file]), wishes)
        for file in dict.fromkeys(p.file for p in alignment.parts)
    ]
    if picked.clips:
        made.append(_film(CUT, shown_pieces, end_to_end(c.stretch for c in picked.clips), wishes, picked))
    privacy = (BEFORE_SHOWING,) if made else ()
    told = (*alignment.remarks, *said, *chosen, *picked.remarks, *(r for _, rs in made for r in rs), *privacy)
    return Films(tuple(f for f, _ in made), alignment, picked, tuple(dict.fromkeys(told)))


def _unknown(case: Case, step: str) -> Remark:
    title = case.protocol.title
    return Remark("chosen", step, f"“{shown(step)[:40]}” is no step of {title}, so it has no chapters.")


def _film(
    name: str, given: tuple[Piece, ...], reel: Reel, wishes: Wishes, picked: Cut | None = None
) -> tuple[Film, tuple[Remark, ...]]:
    marks, short = chapters(given, reel, wishes.chosen, wishes.min_chapter_s)
    texts, no_room = captions(given, reel)
    clips = picked.clips if picked else ()
    return Film(name, reel.length_s, marks, texts, clips), (*short, *no_room)
