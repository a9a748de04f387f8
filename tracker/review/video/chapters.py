"""Chapters and captions on a reel.

Chapters: the first at 0, ascending, none shorter than the least length. Captions: at most two lines of 42
characters, at least 1.5 s, one at a time.
"""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import islice, pairwise
from typing import Final

from tracker.core.wording import span_words
from tracker.review.video.pieces import Kind, Piece
from tracker.review.video.reel import Cue, Reel, Shot
from tracker.review.video.remarks import Remark, some

MIN_CHAPTER_S: Final = 10.0
"""A shorter chapter cannot be chosen by hand (common practice, no source)."""
OPENING: Final = "Opening"
"""The chapter before anything was ticked."""

LINE_CHARS: Final = 42
LINES: Final = 2
MIN_CAPTION_S: Final = 1.5
LONGEST_CAPTION_S: Final = 6.0
"""Two full lines are read in less (common practice, no source)."""
MOST_LAG_S: Final = 5.0
"""A caption that would come later than this after its moment is left out (common practice, no source)."""
CAPTIONED: Final[frozenset[Kind]] = frozenset({"step", "aside", "point"})

Found = tuple[tuple[Cue, ...], tuple[Remark, ...]]


# -- chapters


def chapters(
    pieces: Iterable[Piece],
    reel: Reel,
    chosen: Collection[str] = (),
    min_s: float = MIN_CHAPTER_S,
) -> Found:
    """One chapter for each stage, or for each tick of the steps `chosen` by id, and what was left out.

    A chapter too short for the least length is taken into the one after it.
    """
    kinds = CAPTIONED if chosen else {"stage"}
    wanted = [p for p in pieces if p.kind in kinds and (not chosen or p.id in chosen)]
    starts = _starts(wanted, reel)
    if not starts:
        return (), ()
    if starts[0][0] >= max(min_s, 0.001):
        starts = [(0.0, OPENING), *starts]
    kept, short = _long_enough([(0.0, starts[0][1]), *starts[1:]], reel.length_s, min_s)
    stops = [*(s for s, _ in kept[1:]), max(reel.length_s, kept[-1][0] + 0.001)]
    cues = (Cue(round(s, 3), round(stop, 3), (title,)) for (s, title), stop in zip(kept, stops, strict=True))
    return tuple(cues), tuple(_too_short(short, min_s))


def _starts(wanted: Iterable[Piece], reel: Reel) -> list[tuple[float, str]]:
    """Film seconds and titles in order; of pieces already under way at one second the latest counts."""
    firsts = [(at_s, seen > p.start_t, p) for p in wanted for at_s, seen in _first(p, reel)]
    firsts.sort(key=lambda f: (f[0], not f[1], f[2].start_t))
    latest = {at_s: piece for at_s, under_way, piece in firsts if under_way}
    return [(at_s, p.title) for at_s, under_way, p in firsts if not under_way or latest[at_s] is p]


def _first(piece: Piece, reel: Reel) -> Iterator[tuple[float, float]]:
    seen = ((shot, shot.first_t(piece)) for shot in reel.shots)
    yield from islice(((max(0.0, shot.film_s(t)), t) for shot, t in seen if t is not None), 1)


def _long_enough(
    starts: Sequence[tuple[float, str]], length_s: float, min_s: float
) -> tuple[list[tuple[float, str]], list[str]]:
    kept: list[tuple[float, str]] = []
    short: list[str] = []
    begin = starts[0][0]
    for (_, title), (stop, _) in pairwise([*starts, (length_s, "")]):
        if stop - begin < max(min_s, 0.001):
            short.append(title)
        else:
            kept.append((begin, title))
            begin = stop
    if not kept:
        return [(0.0, starts[0][1])], [t for _, t in starts[1:]]
    return kept, short


def _too_short(titles: Sequence[str], min_s: float) -> Iterator[Remark]:
    if titles:
        named = "; ".join(titles)
        text = f"Shorter than {span_words(min_s)} and so without a chapter of their own: {named}."
        yield Remark("short_chapter", "", text)


# -- captions


def captions(pieces: Iterable[Piece], reel: Reel, kinds: Collection[Kind] = CAPTIONED) -> Found:
    """A caption for each step where a shot first shows it, with its readings; and how many found no room."""
    wanted = [p for p in pieces if p.kind in kinds]
    seen = ((shot, p, shot.first_t(p)) for shot in reel.shots for p in wanted)
    asked = [(max(0.0, shot.film_s(t)), shot, p) for shot, p, t in seen if t is not None]
    asked.sort(key=lambda a: (a[0], a[2].start_t))
    placed: list[tuple[float, Shot, Piece]] = []
    free_s = 0.0
    for at_s, shot, piece in asked:
        start_s = round(max(at_s, free_s), 3)
        if start_s - at_s <= MOST_LAG_S and start_s + MIN_CAPTION_S <= shot.end_s:
            placed.append((start_s, shot, piece))
            free_s = start_s + MIN_CAPTION_S
    left_out = len(asked) - len(placed)
    return tuple(_cues(placed)), tuple(_no_room(left_out))


def _cues(placed: Sequence[tuple[float, Shot, Piece]]) -> Iterator[Cue]:
    nexts = [*(s for s, _, _ in placed[1:]), float("inf")]
    for (start_s, shot, piece), next_s in zip(placed, nexts, strict=False):
        stop_s = min(start_s + LONGEST_CAPTION_S, shot.end_s, next_s)
        yield Cue(start_s, round(stop_s, 3), caption_lines(piece.title, piece.note))


def caption_lines(title: str, note: str) -> tuple[str, ...]:
    """Title and note as at most two lines of 42 characters; the note only if there is room for it."""
    first = _wrapped(title, LINES)
    if len(first) < LINES and note:
        return (*first, *_wrapped(note, LINES - len(first)))
    return first


def _wrapped(text: str, lines: int) -> tuple[str, ...]:
    full = textwrap.wrap(text, LINE_CHARS, break_on_hyphens=False)
    if len(full) <= lines:
        return tuple(full)
    return (*full[: lines - 1], full[lines - 1][: LINE_CHARS - 1] + "…")


def _no_room(left_out: int) -> Iterator[Remark]:
    if left_out:
        text = f"{some(left_out, 'caption')} left out: there was no room beside the others."
        yield Remark("no_room", "", text)
