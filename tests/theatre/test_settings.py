"""The station's settings, read as a user writes them."""

from __future__ import annotations

from pathlib import Path

import pytest

from desks import desk_of
from tracker.screen.commands import by_key
from tracker.screen.paint import BRIGHTNESS
from tracker.theatre.desk import Desk
from tracker.theatre.keys import COMMANDS
from tracker.theatre.settings import (
    PRESETS,
    SECOND_FOLDER,
    read_settings,
    second_folder,
    settings_from,
    settings_path,
)


def test_everything_that_can_be_set() -> None:
    """Theme, brightness, site, station, second folder and keys."""
    settings = settings_from(
        """
        theme = "daylight"
        brightness = 2
        site = "QX"
        station = "theatre 3"
        second_folder = "/media/stick"

        [keys]
        complication = "*"
        bookmark = ["6", "f7"]
        """,
        "settings.toml",
    )

    assert settings.findings == ()
    assert (settings.theme, settings.brightness, settings.site) == ("daylight", 1, "QX")
    assert (settings.station, settings.second_folder) == ("theatre 3", Path("/media/stick"))
    keys = by_key(settings.commands)
    assert (keys["*"].id, keys["6"].id, keys["f7"].id) == ("complication", "bookmark", "bookmark")
    assert "/" not in keys


def test_a_key_given_twice_is_named_and_the_defaults_are_used() -> None:
    """The clash says which command has the key already."""
    settings = settings_from('[keys]\nbookmark = "4"\n', "settings.toml")

    assert "keys.bookmark: 4 is already the key of note" in str(settings.findings[0])
    assert settings.commands == COMMANDS


@pytest.mark.parametrize("key", ["a", "ctrl+s", "Z", "", "ab", "f13", 7, ["6", "x"]])
def test_letters_and_chords_are_no_command_keys(key: object) -> None:
    """Letters belong to the steps; chords are what terminals and multiplexers keep for themselves."""
    settings = settings_from(f"[keys]\nbookmark = {key!r}\n".replace("'", '"'), "settings.toml")

    assert [f.path for f in settings.findings] == ["keys.bookmark"]
    assert settings.commands == COMMANDS


@pytest.mark.parametrize(
    "line",
    ['theme = "neon"', "brightness = 9", "brightness = true", 'site = "toolong"', 'colour = "red"',
     'second_folder = "here"', "station = 3", 'preset = "piano"', '[keys]\nfly = "6"'],
)  # fmt: skip
def test_what_is_not_understood_is_said_and_left(line: str) -> None:
    """A bad line is one finding; the rest keeps its default."""
    settings = settings_from(line, "settings.toml")

    assert len(settings.findings) == 1
    assert (settings.theme, settings.brightness, settings.site) == ("lamp", len(BRIGHTNESS) - 1, "A")


@pytest.mark.parametrize("preset", PRESETS)
def test_presets_have_no_clashes(preset: str) -> None:
    """The keypad and the pedals are only keys, and every command keeps one."""
    settings = settings_from(f'preset = "{preset}"', "settings.toml")

    assert settings.findings == ()
    assert {c.id for c in by_key(settings.commands).values()} == {c.id for c in COMMANDS}


def test_one_hand_on_a_keypad_ticks_and_strikes() -> None:
    """With the keypad preset + ticks, Enter goes on, * strikes."""
    settings = settings_from('preset = "keypad"', "settings.toml")
    desk = Desk(desk_of().session, settings)
    before = len(desk.case.events)

    desk.press("+")
    desk.press("*")

    assert [e.kind for e in desk.case.events[before:]][-1] == "strike"


def test_no_file_is_as_good_as_an_empty_one(tmp_path: Path) -> None:
    """A station without settings has the defaults; one with an unreadable file says so and goes on."""
    assert read_settings(tmp_path / "none.toml").findings == ()
    bad = tmp_path / "bad.toml"
    bad.write_bytes(b"\xff\xfe")
    assert len(read_settings(bad).findings) == 1
    bad.write_text("theme = [", "utf-8")
    assert len(read_settings(bad).findings) == 1


def test_the_environment_may_name_the_file(tmp_path: Path) -> None:
    """CLOCKHOUR_SETTINGS says where the settings lie."""
    assert settings_path({"CLOCKHOUR_SETTINGS": str(tmp_path / "s.toml")}) == tmp_path / "s.toml"
    assert settings_path({}).name == "settings.toml"


def test_the_second_folder_lies_on_another_disk_where_there_is_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first place of another disk that may be written; the first one's own disk is passed over."""
    disks = {"cases": 1, "home": 1, "stick": 2, "third": 3}
    for name in ("home", "stick", "third"):
        (tmp_path / name).mkdir()
    monkeypatch.setattr("tracker.theatre.settings._disk_of", lambda place: disks.get(place.name))
    places = [tmp_path / name for name in ("home", "gone", "stick", "third")]

    assert second_folder(tmp_path / "cases", places).parent == tmp_path / "stick"
    assert second_folder(tmp_path / "cases", places[:1]) == SECOND_FOLDER


def test_a_folder_still_to_be_made_lies_on_the_disk_of_what_is_above_it(tmp_path: Path) -> None:
    """An archive that does not exist yet: the place beside it is no other disk."""
    assert second_folder(tmp_path / "new" / "cases", [tmp_path]) == SECOND_FOLDER
