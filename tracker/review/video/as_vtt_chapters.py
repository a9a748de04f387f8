"""Chapters as a WebVTT file (W3C WebVTT, section 4.2.3: chapter title text, no tags)."""

from __future__ import annotations

from tracker.review.video.film import Film
from tracker.review.video.vtt import document


def render(film: Film) -> str:
    """The chapters of a film for a text track of kind `chapters`."""
    return document("chapter", film.chapters)
