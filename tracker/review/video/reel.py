"""A film as shots: which seconds of which file, and where in the film each begins.

A whole recording is a reel whose film time is the file's own; a cut is a reel of shots end to end.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from tracker.review.video.maps import Alignment, Stretch
from tracker.review.video.pieces import Piece


@dataclass(frozen=True, slots=True)
class Cue:
    """Lines of text with their film seconds, to the millisecond; `stop_s` is after `start_s`."""

    start_s: float
    stop_s: float
    lines: tuple[str, ...]

    @property
    def text(self) -> str:
        """The lines as one."""
        return " ".join(self.lines)


@dataclass(frozen=True, slots=True)
class Shot:
    """A stretch of a recording that begins at film second `at_s`."""

    stretch: Stretch
    at_s: float

    @property
    def end_s(self) -> float:
        """The film second at which it ends."""
        return self.at_s + self.stretch.seconds

    def film_s(self, log_t: float) -> float:
        """The film second of a moment of the log that the shot shows."""
        return self.at_s + self.stretch.part.video_t(log_t) - self.stretch.in_s

    def first_t(self, piece: Piece) -> float | None:
        """The first moment of a piece that the shot shows; None if it shows nothing of it."""
        seen = max(piece.start_t, self.stretch.from_t)
        if seen >= self.stretch.to_t or (seen > piece.start_t and seen >= piece.end_t):
            return None
        return seen


@dataclass(frozen=True, slots=True)
class Reel:
    """Shots in film order and the length of the film in seconds."""

    shots: tuple[Shot, ...]
    length_s: float


def whole(alignment: Alignment, file: str, length_s: float | None = None) -> Reel:
    """One recording from its first second to its last."""
    parts = [p for p in alignment.parts if p.file == file]
    shots = [Shot(s, s.in_s) for s in (Stretch(p, p.from_t, p.to_t) for p in parts)]
    ordered = tuple(sorted(shots, key=lambda s: s.at_s))
    return Reel(ordered, max((s.end_s for s in ordered), default=0.0) if length_s is None else length_s)


def end_to_end(stretches: Iterable[Stretch]) -> Reel:
    """Stretches one after the other."""
    shots = tuple(_laid(stretches))
    return Reel(shots, shots[-1].end_s if shots else 0.0)


def _laid(stretches: Iterable[Stretch]) -> Iterator[Shot]:
    at_s = 0.0
    for stretch in stretches:
        yield Shot(stretch, at_s)
        at_s += stretch.seconds
