"""The guide says what the program does: keys, kinds, codes, commands are checked against it."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from terminal import ROOT
from tracker.core.events import KINDS
from tracker.core.wording import CAUTIONS, CODE_WORDS
from tracker.screen.commands import keys_of
from tracker.theatre.keys import COMMANDS

GUIDE = (ROOT / "shared" / "guide.md").read_text("utf-8")
README = (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.id)
def test_every_key_is_in_the_guide(command: object) -> None:
    """The guide's table of keys is the key sheet."""
    assert f"| {keys_of(command)} | {command.id} | {command.does} |" in GUIDE  # type: ignore[arg-type, attr-defined]


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_every_kind_of_entry_is_in_the_guide(kind: type) -> None:
    """The guide's table of kinds is the journal's."""
    assert f"| {kind.model_fields['kind'].default} |" in GUIDE  # type: ignore[attr-defined]


@pytest.mark.parametrize("code", CODE_WORDS)
def test_every_deviation_is_in_the_guide(code: str) -> None:
    """The guide's table of deviations has every code with its words."""
    assert f"| {code} | {CODE_WORDS[code]} |" in GUIDE


def test_the_cautions_are_where_a_newcomer_reads() -> None:
    """README and guide say what this is not."""
    for text in (README, GUIDE):
        assert "not a medical device" in text.lower()
        assert "reviewed by nobody" in " ".join(text.split()) or "reviewed\nby nobody" in text


def test_the_cautions_name_what_is_not_replaced() -> None:
    """The cautions shown at start and in every export name what the record does not replace."""
    for word in ("operation note", "safety checklist", "count board", "laser register", "incident reporting"):
        assert word in " ".join(CAUTIONS)


def test_every_command_of_the_readme_exists() -> None:
    """What the README tells a newcomer to type is understood."""
    verbs = set(re.findall(r"^\s+clockhour (\w+)", README, re.MULTILINE))
    said = subprocess.run(
        [sys.executable, "-m", "tracker", "--help"],
        capture_output=True, text=True, cwd=ROOT, check=False,
    ).stdout  # fmt: skip

    assert verbs
    assert all(verb in said for verb in verbs)


def test_pictures_of_the_guide_are_there() -> None:
    """Every picture that README and guide show is in the repository, and none has a network address."""
    pictures = ROOT / "shared" / "pictures"
    names = re.findall(r"pictures/([\w\-]+\.svg)", README + GUIDE)

    assert names
    for name in names:
        drawn = (pictures / name).read_text("utf-8")
        assert "url(" not in drawn.replace("url(#", "")
