"""The cut as an ffconcat file, which FFmpeg plays as one film (FFmpeg documentation, concat demuxer).

It lies beside the recordings. Where pictures hang on earlier ones FFmpeg reads from before the in point; the
command in the file drops what it read too much of, the sound and everything said about the recording.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from typing import Final

from tracker.core.wording import CAUTIONS
from tracker.review.video.film import Film

# Two letters or more before a colon would be the name of a protocol, as in `concat:` or `http:`.
_PROTOCOL: Final = re.compile(r"[A-Za-z0-9+.\-]{2,}:")

ALIKE: Final = (
    "The recordings have to be alike: codec, size, time base. Where they are not, cut each line of the cut list"
    " by itself."
)


def quoted(name: str) -> str:
    """A file name in single quotes, those within it closed, escaped and opened again.

    Raises:
        ValueError: the name has a line break, which no quoting carries.
    """
    if "\n" in name or "\r" in name:
        raise ValueError("a file name with a line break cannot be listed")
    path = f"./{name}" if _PROTOCOL.match(name) else name
    return "'" + path.replace("'", r"'\''") + "'"


def render(film: Film) -> str:
    """One entry a clip, seconds to the millisecond."""
    comments = [
        *CAUTIONS,
        ALIKE,
        "Exact to the picture, without sound and without the recordings' own titles:",
    ]
    head = ["ffconcat version 1.0", *(f"# {line}" for line in comments), f"# {command(film.name)}"]
    return "\n".join([*head, *_entries(film), ""])


def command(name: str) -> str:
    """The shell command that makes a film of the file called `name`."""
    list_, film = shlex.quote(f"{name}.ffconcat"), shlex.quote(f"{name}.mp4")
    exact = "-segment_time_metadata 1 -i {} -vf select=concatdec_select,setpts=N/FRAME_RATE/TB"
    # Without -copyts times are counted from the first picture that is read, which lies before the in point.
    return (
        f"ffmpeg -copyts -f concat -safe 0 {exact.format(list_)} -an -map_metadata -1 -map_chapters -1 {film}"
    )


def _entries(film: Film) -> Iterator[str]:
    for clip in film.clips:
        yield f"file {quoted(clip.file)}"
        yield f"inpoint {clip.stretch.in_s:.3f}"
        yield f"outpoint {clip.stretch.out_s:.3f}"
