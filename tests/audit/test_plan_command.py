"""`clockhour plan` at the door: what a list rests on, when it may end, what would change it."""

from __future__ import annotations

import json

import pytest

from audit_archives import archive
from tracker.cli import main


def plan(folder, capsys, *words):
    """Run a plan: exit code, what it printed, what it said."""
    code = main(["--archive", str(folder), "plan", *words])
    told = capsys.readouterr()
    return code, told.out, told.err


def plan_json(folder, capsys, *words):
    """Run a plan as JSON."""
    return json.loads(plan(folder, capsys, *words, "--json")[1])


TWO = ("complex-pvr", "complex-pvr", "--session", "480")


def test_a_plan_in_words(many, capsys):
    """The end of the list stands beside the sum of medians, with n, basis, seed and what changes it."""
    code, told, _ = plan(many.folder, capsys, *TWO)

    assert code == 0
    for words in ("sum of medians", "p80", "p90", "P(after 480 min)", "past cases, resampled", "seed 12"):
        assert words in told
    assert "What would change it" in told
    assert "a late start" in told
    assert "All orders were tried" in told
    assert "invented" in told


def test_the_parts_agree(many, capsys):
    """Median below p80 below p90; without a case the list ends sooner; the seed repeats it all."""
    once, again = (plan_json(many.folder, capsys, *TWO, "--seed", "5") for _ in range(2))
    end = once["forecast"]

    assert once == again
    assert end["seed"] == 5
    assert end["draws"] >= 10_000
    assert end["median"] < end["p80"] < end["p90"]
    assert all(change["median_change"] < 0 for change in once["changes"])
    # Lengths are skewed to the right: the median of a sum is above the sum of the medians.
    assert end["median"] > end["sum_of_medians"]


def test_facts_choose_what_is_comparable(many, capsys):
    """Facts given once a case hold for that case; few comparable cases are drawn towards the rest."""
    told = plan_json(many.folder, capsys, *TWO, "--facts", "anaesthetic=general", "--facts", "lens=phakic")
    general, phakic = told["cases"]

    assert general["label"] == "1 complex-pvr (anaesthetic general)"
    assert general["n"] + general["others"] == phakic["n"] + phakic["others"]
    assert general["n"] < phakic["n"] + phakic["others"]


def test_a_turnover_that_is_typed_in(many, capsys):
    """A typed turnover stands in place of the past ones, and is said to be typed."""
    short = plan_json(many.folder, capsys, *TWO, "--turnover", "5", "--on-time")
    long = plan_json(many.folder, capsys, *TWO, "--turnover", "50", "--on-time")

    assert 40 < long["forecast"]["median"] - short["forecast"]["median"] < 50
    assert any("typed in: median 5 min" in remark for remark in short["remarks"])
    assert any("begin on time" in remark for remark in short["remarks"])


def test_too_few(tmp_path, capsys):
    """With one past case, or none, there is no forecast but a sentence."""
    archive(tmp_path, "AB-0001")
    code, told, _ = plan(tmp_path, capsys, "small-repair", "complex-pvr", "--session", "240")

    assert code == 0
    assert "n too small" in told
    assert "No forecast: too few" in told
    assert "--turnover MIN" in told
    assert plan(tmp_path / "nowhere", capsys, "complex-pvr", "--session", "240")[0] == 0


@pytest.mark.parametrize(
    "words", [("complex-pvr", "--session", "0"), (*TWO, "--facts", "a=b", "--facts", "a=b", "--facts", "a=b")]
)
def test_what_cannot_be_planned(many, capsys, words):
    """A session without minutes, and facts that fit no case, are refused in words."""
    code, told, said = plan(many.folder, capsys, *words)

    assert code == 2
    assert not told
    assert said
