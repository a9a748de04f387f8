"""The station's settings, read as a user writes them."""

from __future__ import annotations

from pathlib import Path

import pytest

from desks import desk_of, panel, press, told
from tracker.screen.commands import by_key
from tracker.screen.paint import BRIGHTNESS
from tracker.theatre.desk import Desk
from tracker.theatre.keys import COMMANDS
from tracker.theatre.settings import (
    PRESETS,
    SECOND_FOLDER,
    may_bind,
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
        bookmark = ["f11", "f12"]
        """,
        "settings.toml",
    )

    assert settings.findings == ()
    assert (settings.theme, settings.brightness, settings.site) == ("daylight", 1, "QX")
    assert (settings.station, settings.second_folder) == ("theatre 3", Path("/media/stick"))
    keys = by_key(settings.commands)
    assert (keys["*"].id, keys["f11"].id, keys["f12"].id) == ("complication", "bookmark", "bookmark")
    assert "/" not in keys


def test_a_key_given_twice_is_named_and_the_defaults_are_used() -> None:
    """The clash says which command has the key already."""
    settings = settings_from('[keys]\nbookmark = "f4"\n', "settings.toml")

    assert "keys.bookmark: F4 is already the key of note" in str(settings.findings[0])
    assert settings.commands == COMMANDS


@pytest.mark.parametrize(
    "key", ["a", "ctrl+s", "Z", "", "ab", "f13", 7, ["f11", "x"], "4", "0", ".", "-", "enter"]
)
def test_letters_figures_enter_and_chords_are_no_command_keys(key: object) -> None:
    """Letters are the steps', digits figures, Enter answers; chords are kept by terminals and multiplexers."""
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
    assert [key for key in by_key(settings.commands) if not may_bind(key)] == ["Q"]


def _station(preset: str) -> Desk:
    """A desk with the keys of a preset."""
    return Desk(desk_of().session, settings_from(f'preset = "{preset}"', "settings.toml"))


def test_one_hand_on_a_keypad_ticks_and_strikes() -> None:
    """With the keypad preset + ticks and * strikes; its figures and Enter write nothing."""
    desk = _station("keypad")

    press(desk, "+ 7 . 5 enter * 1 enter")

    assert told(desk) == ["tick in_theatre", "strike @4"]


def test_three_pedals_bookmark_tick_and_go_on() -> None:
    """A foot switch sends F7, F8 and F9; what has these keys else is on the same figures with Shift held."""
    desk = _station("pedals")

    press(desk, "right f8 +60 f9 +60 f7 & & & &")

    assert told(desk) == ["start core", "stop core @4", "start peel", "bookmark", "paused", "continued"]
    press(desk, "(")
    assert panel(desk).startswith("One of the last entries")
    press(desk, "escape *")
    assert panel(desk).startswith("Hand-over")


def test_the_keys_of_the_live_screen_are_no_letters_no_figures_and_never_enter() -> None:
    """Each command has a key of its own that a station could give it; the one letter is that for leaving, which asks."""
    keys = [key for c in COMMANDS for key in (c.key, *c.also)]

    assert len(set(keys)) == len(keys)
    assert [key for key in keys if not may_bind(key)] == ["Q"]


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
