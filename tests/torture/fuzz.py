"""Input from strangers, made by a coverage-guided fuzzer: `atheris`, where it is installed.

Each target runs in a process of its own, which libFuzzer ends at 2 s for one input or 500 MB in all.
"""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from terminal import ROOT
from torture.figures import Figure

TARGETS = {
    "settings": ("settings, as text", 1.0),
    "words": ("case codes and words of notes", 0.05),
    "protocol": ("protocol files, as text", 0.3),
    "lines": ("journals, as bytes", 1.0),
    "debrief": ("debriefs whose chain is true, up to the record and the films", 0.02),
    "follow_up": ("follow-ups whose chain is true, up to their lines and the rows of their table", 0.05),
    "entries": ("journals whose chain is true, with anything in them, up to their records and screens", 0.02),
    "terminal": ("what a terminal sends: no sequence a key that is none, the next key always taken", 10.0),
}
"""What is fuzzed, and which share of the inputs it gets: the slow ones get fewer, the quick one more."""

LIMITS = ("-timeout=2", "-rss_limit_mb=500", "-print_final_stats=1", "-verbosity=0")
LONGEST = {"terminal": 400}
"""Bytes of the longest input, where it is not 3000."""


def fuzz(folder: Path, name: str, seed: int, inputs: int) -> Iterator[Figure]:
    """Fuzz one target with so many inputs."""
    what, share = TARGETS[name]
    times = max(20, int(inputs * share))
    if importlib.util.find_spec("atheris") is None:
        yield Figure("fuzz", what, 0, "left out: atheris is not installed here (`pip install atheris`)")
        return
    _seeds(folder, name)
    words = [sys.executable, str(ROOT / "tests" / "torture" / "fuzzed.py"), name, *LIMITS]
    words += [
        f"-max_len={LONGEST.get(name, 3000)}",
        f"-runs={times}",
        f"-seed={seed}",
        f"-artifact_prefix={folder}/",
        str(folder / "seeds"),
    ]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, errors="replace", check=False)
    assert done.returncode == 0, f"{name}\n{done.stdout[-1500:]}\n{done.stderr[-3000:]}"
    ran, peak = (_stat(done.stderr, stat) for stat in ("number_of_executed_units", "peak_rss_mb"))
    came = f"no traceback, no input over 2 s, no control sequence let through; at most {peak} MB"
    yield Figure("fuzz", what, ran, came)


def _stat(told: str, name: str) -> int:
    found = re.search(rf"stat::{name}:\s+(\d+)", told)
    assert found, told[-2000:]
    return int(found[1])


def _seeds(folder: Path, name: str) -> None:
    from desks import SMALL
    from strangers import DIRTY, first_line, sealed
    from wires import ANSWERS

    seeds = folder / "seeds"
    seeds.mkdir(parents=True)
    texts = {
        "settings": [b'theme = "lamp"\npreset = "keypad"\nsite = "A"\n[keys]\nnote = ["f1", "4"]\n'],
        "words": [word.encode("utf-8", "replace") for word in (*DIRTY, "A-0001", "Dr Nobody 943 476 5919")],
        "protocol": [SMALL.encode(), SMALL[:900].encode()],
        "lines": [sealed([first_line('title = "x"\n')])],
        "debrief": [bytes(range(256)), bytes(range(0, 256, 7)) * 4],
        "follow_up": [bytes(range(256)), bytes(range(0, 256, 7)) * 4],
        "entries": [bytes(range(256)), bytes(range(0, 256, 7)) * 4],
        "terminal": [b"\x1f" + sent.encode() for sent in ANSWERS.values() if len(sent) < 100],
    }
    for number, text in enumerate(texts[name]):
        (seeds / str(number)).write_bytes(text)
