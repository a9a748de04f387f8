"""The parts of a WebVTT file (W3C WebVTT, section 4) that chapters and captions share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from tracker.core.wording import CAUTIONS
from tracker.review.video.reel import Cue
from tracker.review.video.stamps import stamp


def escaped(text: str) -> str:
    """A line of cue text: `&`, `<` and `>` as references, so that no `-->` is left either."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def document(kind: str, cues: Iterable[Cue]) -> str:
    """A whole file; identifiers are `kind` and a counter, lines without text are left out."""
    return "\n".join(["WEBVTT", "", "NOTE", *CAUTIONS, "", *_blocks(kind, cues)])


def _blocks(kind: str, cues: Iterable[Cue]) -> Iterator[str]:
    for n, cue in enumerate(cues, start=1):
        yield f"{kind}-{n}"
        yield f"{stamp(cue.start_s)} --> {stamp(cue.stop_s)}"
        yield from (escaped(line) for line in cue.lines if line.strip())
        yield ""
