"""A short run of each part of `make torture`: the same code with smaller bounds, and nothing timed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from terminal import ROOT
from torture import archives, crashes, faults, sabotage, writers

SEED = 8785


def test_fifteen_kills_of_a_live_session_lose_nothing() -> None:
    """Kill -9 at random instants: every echoed entry is kept, none is invented, the board is the fold."""
    environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'tests'}{os.pathsep}{ROOT}"}
    words = [
        sys.executable,
        str(ROOT / "tests" / "torture"),
        "--only",
        "kills",
        "--kills",
        "15",
        "--workers",
        "1",
    ]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False, env=environment)

    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 echoed entries lost, 0 entries invented" in done.stdout


def test_every_cut_order_and_bit_is_seen(tmp_path: Path) -> None:
    """A journal of 30 entries cut at every byte, its last sectors in every order, 50 bytes in every bit."""
    found = {figure.part for figure in crashes.crashes(tmp_path, SEED, entries=30, positions=50)}

    assert found == {"cut", "sectors", "bits", "ways back"}


def test_no_single_fault_loses_an_entry() -> None:
    """Every kind of fault at every tenth of its places in a case of forty steps, then the power goes."""
    for site in faults.sites()[::10]:
        faults.play((site,))


def test_no_two_faults_lose_an_entry() -> None:
    """One fault in the middle of a case, and each other one after it or in the same step, in both orders."""
    every = faults.sites()
    seconds = {step: [kind for kind, at in every if at == step][::5] for step in range(faults.STEPS)}

    assert faults.play_with_each(every[len(every) // 2], seconds) > 30


def test_two_writers_do_not_harm_each_other(tmp_path: Path) -> None:
    """All orders of three entries of each, with the lock and without it."""
    assert len(list(writers.writers(tmp_path, each=3))) == 3


def test_an_archive_is_verified_and_travels(tmp_path: Path) -> None:
    """Forty journals, two of them damaged at a known line; sound ones are taken in elsewhere."""
    assert [figure.part for figure in archives.archives(tmp_path, SEED, 40)] == ["archive", "archive"]


@pytest.mark.parametrize("one", sabotage.SABOTAGES, ids=lambda s: s.does)
def test_every_sabotage_still_has_its_place(one: sabotage.Sabotage) -> None:
    """What `make torture` takes out of the program stands there exactly once."""
    assert (ROOT / one.module).read_text("utf-8").count(one.old) == 1
    assert (ROOT / one.tests).is_file()
