"""Chapters as plain lines `HH:MM:SS title`, to paste beside a film."""

from __future__ import annotations

from tracker.review.video.film import Film
from tracker.review.video.stamps import stamp


def render(film: Film) -> str:
    """One line a chapter, the second rounded down so that its first picture is not missed."""
    return "".join(f"{stamp(int(cue.start_s))[:-4]} {cue.text}\n" for cue in film.chapters)
