"""Settings, codes, notes and protocols from strangers: an answer for each, and none of them is obeyed."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from desks import SMALL
from strangers import DIRTY, obeyed, take_code, take_note, take_protocol, take_settings
from tracker.cli import main
from tracker.journal.codes import check_code
from tracker.theatre.keys import COMMANDS
from tracker.theatre.settings import LIMIT, Settings, read_settings, settings_from

KEYS = (
    "theme",
    "brightness",
    "site",
    "station",
    "second_folder",
    "preset",
    "keys",
    "commands",
    "findings",
    "x",
)
VALUES = st.recursive(
    st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from(DIRTY)
    | st.sampled_from(["lamp", "A", "keypad", "/x"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from([c.id for c in COMMANDS[:4]]), inner)
    ),
    max_leaves=6,
)


# -- settings


@settings(max_examples=150)
@given(st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=6))
def test_any_values_of_settings_are_taken_or_named(table: dict[str, object]) -> None:
    """150 tables of any values under the known keys: what does not fit is a finding, its default is used."""
    import tomli_w

    text = tomli_w.dumps(table)
    take_settings(text)


@settings(max_examples=150)
@given(st.text(max_size=300))
def test_any_text_is_taken_for_settings(text: str) -> None:
    """150 texts of anything."""
    take_settings(text)
    take_settings(f"theme = {text}")


@pytest.mark.parametrize(
    "text",
    [
        'preset = ["keypad"]',
        "preset = { keypad = 1 }",
        "preset = 1",
        "brightness = " + "9" * 5000,
        "x = " + "[" * 5000,
        "x = " + "{a=" * 3000,
        "a" + ".a" * 7000 + " = 1",
        'second_folder = "/\\u0000"',
        'station = "\\u001b[2J"',
        'second_folder = "../elsewhere"',
    ],
    ids=range(10),
)
def test_foolish_settings_are_a_finding_and_the_defaults(text: str) -> None:
    """Values of another type, numbers and nesting without end, control characters, a path that climbs."""
    take_settings(text)
    made = settings_from(text, "settings.toml")

    assert made.findings
    assert made.second_folder == Settings().second_folder
    assert (made.station, made.brightness, made.commands) == ("", Settings().brightness, COMMANDS)


def test_settings_that_are_no_plain_small_file_hold_nobody_up(tmp_path: Path) -> None:
    """A named pipe, a folder, a device, a large file, bytes that are no text: said; the defaults are used."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "large").write_bytes(b"#" * (LIMIT + 1))
    (tmp_path / "odd").write_bytes(b'theme = "\xff"')
    for path in (tmp_path / "pipe", tmp_path, Path("/dev/zero"), tmp_path / "large", tmp_path / "odd"):
        made = read_settings(path)
        assert len(made.findings) == 1, path
        assert made.theme == Settings().theme
    assert read_settings(tmp_path / "none").findings == ()


# -- codes


@settings(max_examples=500)
@given(st.text(max_size=30) | st.from_regex(r"[A-Z]{0,5}-?[0-9]{0,12}", fullmatch=True))
def test_any_text_is_taken_for_a_code(text: str) -> None:
    """500 texts: one that is a code stays in its folder and names nobody."""
    take_code(text)


@pytest.mark.parametrize(
    "text",
    ["../x", "..\\x", "/etc/passwd", "A-0001/../../x", "C:A-0001", "CON", "nul", "COM1", "lpt9.txt",
     "A-0001\x00", "A-0001\n", " A-0001", "a-0001", "A-0001.", "~", "~root", "-rf", "$HOME",
     "A-\u0660\u0661\u0662\u0663", "Ａ-0001"],
)  # fmt: skip
def test_no_path_and_no_reserved_name_is_a_code(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command that takes a code refuses it in a sentence of its own, and makes nothing."""
    assert check_code(text) is not None
    archive = tmp_path / "cases"
    for words in (["archive", "verify"], ["archive", "mend"], ["record"], ["archive", "export"]):
        to = ["--to", str(tmp_path / "out")] if words[-1] in ("record", "export") else []
        assert main(["--archive", str(archive), *words, *to, "--", text]) in (2, 3)
    said = capsys.readouterr()
    assert obeyed(said.out + said.err) == set()
    assert list(tmp_path.iterdir()) == []


# -- notes


@settings(max_examples=60)
@given(st.text(max_size=80) | st.sampled_from(DIRTY))
def test_any_note_is_kept_as_harmless_words(text: str) -> None:
    """60 pastes of anything: what is kept is what can be shown."""
    take_note(text)


@pytest.mark.parametrize("words", DIRTY, ids=range(len(DIRTY)))
def test_a_dirty_note_is_kept_without_its_dirt(words: str) -> None:
    """Control characters become signs of something that cannot be shown; markup stays the letters it is."""
    kept = take_note(words)

    assert obeyed(kept) == set()
    if words.isascii() and words.isprintable():
        assert kept == words[:2000].strip()


# -- protocols


@settings(max_examples=100)
@given(st.data())
def test_a_changed_protocol_is_refused_or_runs(data: st.DataObject) -> None:
    """100 changes to a sound file: findings, or a case that can be begun, drawn and recorded."""
    lines = SMALL.splitlines(keepends=True)
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        change = data.draw(st.sampled_from(["drop", "twice", "swap", "word"]))
        if change == "drop":
            del lines[at]
        elif change == "twice":
            lines.insert(at, lines[at])
        elif change == "swap":
            other = data.draw(st.integers(0, len(lines) - 1))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines[at] = lines[at].replace('"', json.dumps(data.draw(st.sampled_from(DIRTY)))[1:-1] + '"', 1)
    take_protocol("".join(lines))


@pytest.mark.parametrize("words", DIRTY, ids=range(len(DIRTY)))
def test_a_protocol_that_tries_to_be_obeyed_is_only_words(words: str) -> None:
    """Its title, labels, reasons and units: refused where they cannot be shown, letters where they can."""
    said = json.dumps(words)[1:-1]
    for place in ('title = "', 'label = "', 'reason = "', 'unit = "'):
        take_protocol(SMALL.replace(place, f"{place}{said} ", 1))
    take_protocol(re.sub(r'((?:title|label|reason|unit) = ")', lambda found: f"{found[1]}{said} ", SMALL))
