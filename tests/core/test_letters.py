"""Remarks on letters that could mean two things: what `protocol check` says, and of a file that it says it of."""

from __future__ import annotations

import pytest

from desks import ROOT, shipped
from tracker.cli import main
from tracker.core.loading import letter_remarks, load_protocol

SOUND = """
format = 1
id = "lettered"
version = "1"
title = "Lettered"

[[facts]]
id = "planned"
label = "Planned"
kind = "choice"
choices = [{ id = "oil", label = "oil", key = "o" }, { id = "gas", label = "gas", key = "g" }]

[[stages]]
id = "first"
label = "First"
steps = [{ id = "one", label = "One", key = "a" }]

[[stages]]
id = "second"
label = "Second"
steps = [
  { id = "fill", label = "Fill", key = "f", shape = "decision", choices = [
    { id = "oil", label = "oil", key = "o" }, { id = "gas", label = "gas", key = "g" },
  ] },
  { id = "cut", label = "Cut", key = "c", shape = "span", occurrence = "repeat" },
]

[[stages]]
id = "third"
label = "Third"
steps = [{ id = "laser", label = "Laser", key = "l", shape = "span", occurrence = "repeat" }]

[[stages]]
id = "fourth"
label = "Fourth"
steps = [{ id = "four", label = "Four", key = "a" }]

[[stages]]
id = "fifth"
label = "Fifth"
steps = [{ id = "five", label = "Five", key = "e" }]

[[loops]]
id = "cutting"
steps = ["cut", "laser"]
stages = ["second", "third"]
"""
"""A file in which no letter means two things in three stages in a row; the first and the fourth share one."""

CHANGES = [
    pytest.param(
        'label = "Laser", key = "l"',
        'label = "Laser", key = "a"',
        ["stages.third.steps.laser.key: the key a is also that of one, in the stage First, 2 before this one",
         "stages.fourth.steps.four.key: the key a is also that of laser, in the stage Third, 1 before this one"],
        id="two stages before",
    ),
    pytest.param(
        'label = "Cut", key = "c"',
        'label = "Cut", key = "a"',
        ["stages.second.steps.cut.key: the key a is also that of one, in the stage First, 1 before this one",
         "stages.fourth.steps.four.key: the key a is also that of cut, in the stage Second, 2 before this one"],
        id="the stage before",
    ),
    pytest.param('label = "Five", key = "e"', 'label = "Five", key = "c"', [], id="three stages before"),
    pytest.param(
        'stages = ["second", "third"]',
        'stages = ["second", "third", "fifth"]',
        [],
        id="a loop in a stage of other letters",
    ),
    pytest.param(
        'stages = ["second", "third"]\n',
        'stages = ["second", "third", "fifth"]\n\n[[stages]]\nid = "sixth"\nlabel = "Sixth"\n'
        'steps = [{ id = "six", label = "Six", key = "i" }]\n',
        [],
        id="a stage more",
    ),
    pytest.param(
        '{ id = "gas", label = "gas", key = "g" },\n',
        '{ id = "gas", label = "gas", key = "s" },\n',
        ["stages.second.steps.fill.choices.gas.key: the answer gas has the key s here and g at facts.planned.choices.gas"],
        id="one choice, two letters",
    ),
]  # fmt: skip


def _said(text: str) -> list[str]:
    """Where and what is remarked, without what is to be done."""
    loaded = load_protocol(text, "own.toml")
    assert loaded.protocol is not None, "\n".join(map(str, loaded.findings))
    return [f"{r.path}: {r.what}" for r in letter_remarks(text, "own.toml")]


def test_of_a_sound_file_nothing_is_remarked() -> None:
    """A letter may come again once two stages with other letters lie between."""
    assert _said(SOUND) == []


@pytest.mark.parametrize(("old", "new", "said"), CHANGES)
def test_what_is_remarked(old: str, new: str, said: list[str]) -> None:
    """Each letter that could mean two things is named with both, and where."""
    assert SOUND.count(old) == 1
    assert _said(SOUND.replace(old, new)) == said


def test_a_loop_that_shares_a_letter_with_a_stage_it_stays_in_is_remarked() -> None:
    """Both steps would be on the screen with one key; far apart in the file, no other remark says it."""
    text = SOUND.replace('label = "Five", key = "e"', 'label = "Five", key = "c"').replace(
        'stages = ["second", "third"]', 'stages = ["second", "third", "fifth"]'
    )

    assert _said(text) == [
        "loops.cutting.steps: cut and five have the same key and are shown together in fifth"
    ]


def test_a_digit_for_an_answer_is_remarked() -> None:
    """Digits are figures everywhere; a fact with such an answer can be used all the same."""
    asked = '{ id = "gas", label = "gas", key = "g" }]\n'
    text = SOUND.replace(asked, asked.replace('"g"', '"3"'), 1)

    assert _said(text)[0] == "facts.planned.choices.gas.key: the answer gas has the digit 3"


@pytest.mark.parametrize("path", sorted((ROOT / "protocols").glob("*.toml")), ids=lambda p: p.stem)
def test_the_shipped_files_have_no_letter_that_could_mean_two_things(path: object) -> None:
    """Not one remark: neither neighbours, nor loops, nor answers."""
    name = str(getattr(path, "stem", ""))

    assert list(letter_remarks(shipped(name), f"{name}.toml")) == []


def test_protocol_check_says_remarks_and_calls_the_file_sound(
    tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each on a line with what to do; the file is used as it is, and the exit code says so."""
    folder = tmp_path_factory.mktemp("letters")
    own = folder / "own.toml"
    own.write_text(SOUND.replace('label = "Cut", key = "c"', 'label = "Cut", key = "a"'), "utf-8")

    assert main(["--archive", str(folder), "protocol", "check", str(own)]) == 0

    out, talk = capsys.readouterr()
    assert "Give another key: three neighbouring stages share their letters" in out
    assert "no findings" in talk
    assert "2 remarks on letters: the file can be used as it is" in talk
