"""Three deliberate sabotages, each in a throw-away copy of the program: a test must fail each time."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from terminal import ROOT
from torture.figures import Figure


@dataclass(frozen=True)
class Sabotage:
    """What is taken out of which module, and the tests that must notice."""

    does: str
    module: str
    old: str
    new: str
    tests: str


SABOTAGES = (
    Sabotage(
        "an entry is no longer synced",
        "tracker/journal/files.py",
        "        self._disk.sync(self._file.handle)\n        if self._disk.stamp(",
        "        if self._disk.stamp(",
        "tests/journal/test_torture_short.py",
    ),
    Sabotage(
        "whatever does not verify is taken for a torn line",
        "tracker/journal/lines.py",
        '    if 0 <= tail.find(b"\\n") < len(tail) - 1:\n        return False\n',
        "    return True\n",
        "tests/journal/test_torture_short.py",
    ),
    Sabotage(
        "a case that goes on reuses the clock of the opening before",
        "tracker/theatre/session.py",
        "run = max(e.run for e in events) + 1",
        "run = max(e.run for e in events)",
        "tests/theatre/test_session.py",
    ),
)


def sabotage(folder: Path) -> Iterator[Figure]:
    """Show that the tests pass in the copy as it is, and that each sabotage makes one fail."""
    tests = sorted({s.tests for s in SABOTAGES})
    assert _run(_copied(folder / "whole"), *tests).returncode == 0, (
        "the tests do not pass before anything is changed"
    )
    for number, one in enumerate(SABOTAGES):
        copy = _copied(folder / f"copy-{number}")
        source = (copy / one.module).read_text("utf-8")
        assert source.count(one.old) == 1, f"{one.module} has changed: say the sabotage anew"
        (copy / one.module).write_text(source.replace(one.old, one.new), "utf-8")
        done = _run(copy, one.tests)
        noticed = re.search(r"FAILED \S+::(\w+)", done.stdout)
        assert noticed, f"not noticed: {one.does}\n{done.stdout}"
        yield Figure("sabotage", one.does, 1, f"noticed by `{noticed[1]}`")


def _copied(to: Path) -> Path:
    for name in ("tracker", "tests", "protocols", "shared"):
        shutil.copytree(ROOT / name, to / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", to)
    return to


def _run(copy: Path, *tests: str) -> subprocess.CompletedProcess[str]:
    words = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(words, cwd=copy, capture_output=True, text=True, check=False, env=environment)
