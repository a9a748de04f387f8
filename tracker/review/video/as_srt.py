"""Captions as SubRip text, which has no formal standard: a counter, `HH:MM:SS,mmm --> HH:MM:SS,mmm`, text."""

from __future__ import annotations

import re
from typing import Final

from tracker.review.video.film import Film
from tracker.review.video.stamps import stamp

# Players obey tags and override blocks, and there is no way to escape them.
_TAG: Final = re.compile(r"<(?=[A-Za-z/!?])")
_OVERRIDE: Final = re.compile(r"\{(?=\\)")


def plain(line: str) -> str:
    """A line that no player takes for a time line, a tag or an override."""
    return _OVERRIDE.sub("(", _TAG.sub("‹", line.replace("-->", "→")))


def render(film: Film) -> str:
    """The captions of a film."""
    blocks = []
    for n, cue in enumerate(film.captions, start=1):
        times = f"{stamp(cue.start_s, ',')} --> {stamp(cue.stop_s, ',')}"
        lines = (plain(line) for line in cue.lines if line.strip())
        blocks.append("\n".join([str(n), times, *lines, "", ""]))
    return "".join(blocks)
