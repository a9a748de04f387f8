"""Captions as a WebVTT file (W3C WebVTT, section 4.2.2: cue text)."""

from __future__ import annotations

from tracker.review.video.film import Film
from tracker.review.video.vtt import document


def render(film: Film) -> str:
    """The captions of a film for a text track of kind `captions`."""
    return document("caption", film.captions)
