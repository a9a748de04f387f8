"""A browser's own text-track parser reads the WebVTT files: headless Chromium, driven by a page alone."""

from __future__ import annotations

import base64
import html
import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tracker.review.video import as_vtt_captions, as_vtt_chapters
from tracker.review.video.film import Film
from tracker.review.video.reel import Cue

pytestmark = [pytest.mark.media, pytest.mark.browser]

MISSING = (
    "Chromium is needed for this test: install Debian's package chromium, or put a chromium on the path."
)
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")

PAGE = """<!doctype html><meta charset="utf-8"><video>
<track kind="chapters" src="data:text/vtt;base64,CHAPTERS">
<track kind="captions" src="data:text/vtt;base64,CAPTIONS"></video><pre></pre>
<script>
const told = cue => [cue.id, cue.startTime, cue.endTime, cue.getCueAsHTML().textContent];
const tracks = [...document.querySelectorAll("track")];
const loaded = t => new Promise(done => { t.onload = t.onerror = done; t.track.mode = "hidden"; });
Promise.all(tracks.map(loaded)).then(() => {
  const read = tracks.map(t => [t.track.kind, t.readyState, [...(t.track.cues || [])].map(told)]);
  document.querySelector("pre").textContent = JSON.stringify(read);
});
</script>"""

ODD = (
    ("PFCL & peel <30s",),
    ("in --> out",),
    ("<b>bold</b>, <!-- not --> & &lt;",),
    ("مرحبا بالعالم", "שלום"),
    ("eye 👁 and 🙂",),
    ("NOTE this",),
    ("STYLE ::cue {}", "REGION"),
    ("WEBVTT",),
    ("00:00:01.000 →",),
    ("{\\an8}top",),
    ("x" * 42, "y" * 42),
)


def chromium() -> str:
    """Where Chromium is."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.fail(MISSING, pytrace=False)
    return found


def dumped(page: Path) -> str:
    """The page as Chromium has it once its script has run."""
    words = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--virtual-time-budget=10000",
    ]
    profile = f"--user-data-dir={page.parent / 'profile'}"
    done = subprocess.run(
        [chromium(), *words, profile, "--dump-dom", page.as_uri()],
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")[-2000:]
    return done.stdout.decode()


def read(film: Film, folder: Path) -> list[list[Any]]:
    """Kind, ready state and cues of both tracks of a film, as Chromium parsed them."""
    page = PAGE
    for word, render in (("CHAPTERS", as_vtt_chapters.render), ("CAPTIONS", as_vtt_captions.render)):
        page = page.replace(word, base64.b64encode(render(film).encode()).decode())
    path = folder / "film.html"
    path.write_text(page, encoding="utf-8")
    shown = re.search(r"<pre>(.*?)</pre>", dumped(path), re.DOTALL)
    assert shown is not None
    found: list[list[Any]] = json.loads(html.unescape(shown[1]))
    return found


def test_chromium_reads_every_cue_as_it_was_written(tmp_path: Path) -> None:
    """Chapters and captions with odd words come out of a browser with their times, names and text."""
    cues = tuple(Cue(3600.0 * i + 0.001, 3600.0 * i + 9.999, lines) for i, lines in enumerate(ODD))
    chapters = tuple(Cue(c.start_s, c.stop_s, (c.text,)) for c in cues)
    told = [
        [
            kind,
            2,
            [[f"{kind[:-1]}-{n}", c.start_s, c.stop_s, "\n".join(c.lines)] for n, c in enumerate(given, 1)],
        ]
        for kind, given in (("chapters", chapters), ("captions", cues))
    ]
    assert read(Film("r", 1e5, chapters, cues), tmp_path) == told
