"""Chapters as an ffmetadata file, for writing into a recording (FFmpeg documentation, Metadata)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from tracker.core.wording import CAUTIONS
from tracker.review.video.film import Film

_SPECIAL: Final = re.compile(r"([=;#\\\n])")


def escaped(text: str) -> str:
    r"""A value with a backslash before each of `= ; # \` and the line break.

    After a last backslash comes a blank: FFmpeg takes any line break after a backslash, escaped itself or
    not, for part of the value.
    """
    value = _SPECIAL.sub(r"\\\1", text)
    return f"{value} " if value.endswith("\\") else value


def render(film: Film) -> str:
    """The chapters of a film, in milliseconds.

    The time base is always written out: where it was missing, converters have read the times as something
    else.
    """
    return "\n".join([";FFMETADATA1", *(f"; {line}" for line in CAUTIONS), *_chapters(film), ""])


def _chapters(film: Film) -> Iterator[str]:
    for cue in film.chapters:
        yield "[CHAPTER]"
        yield "TIMEBASE=1/1000"
        yield f"START={round(cue.start_s * 1000)}"
        yield f"END={round(cue.stop_s * 1000)}"
        yield f"title={escaped(cue.text)}"
