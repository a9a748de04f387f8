"""Keys of one's own for the review, as a user writes them into the settings."""

from __future__ import annotations

import pytest

from debriefs import desk_of, press, screen
from tracker.review.screen.desk import ReviewDesk
from tracker.review.screen.keys import COMMANDS, own_keys
from tracker.screen.commands import by_key
from tracker.theatre.settings import settings_from

OWN = """
[review_keys]
deviation = "n"
deviation_back = ["N", "f5"]
reason = "y"
went_well = "1"
"""


def desk(keys: str = "", settings: str = OWN) -> ReviewDesk:
    """A desk with the keys of a settings file, after some of them."""
    commands, findings = own_keys(settings_from(settings, "settings.toml").review_keys, "settings.toml")
    assert findings == ()
    made = desk_of(commands=commands)
    press(made, keys)
    return made


def test_a_command_is_given_by_its_own_key_and_no_longer_by_the_one_it_came_with() -> None:
    """`n` goes to the next deviation, `d` does nothing, and the key sheet says so."""
    assert desk("n").here.kind == "deviation"
    other = desk("d")
    assert other.here.kind == "stage"
    assert other.hint == "d: nothing here has this key. ? shows the keys"
    press(other, "?")
    assert other.panel is not None
    assert {r.key: r.text for r in other.panel.rows()}["n"] == "the next deviation"


def test_every_word_that_names_a_key_names_the_one_it_has_here() -> None:
    """The first hint, the foot, what stands under a deviation, and what is said of a reason."""
    made = desk()
    assert made.hint == "What went well is asked first: 1 says it. n goes to the first deviation"
    press(made, "n n")
    text = screen(made, 120, 40)
    assert "n deviation" in text
    assert "no reason yet (y gives one)" in text
    press(made, 'y f enter o enter 1 "calm" enter')
    assert made.hint == "kept; 1 says another"


def test_letters_may_be_given_at_a_review_where_no_step_has_one() -> None:
    """In theatre they belong to the steps."""
    settings = settings_from('[keys]\nbookmark = "n"\n[review_keys]\nbookmark = "n"', "settings.toml")

    assert [f.path for f in settings.findings] == ["keys.bookmark"]
    commands, findings = own_keys(settings.review_keys, "settings.toml")
    assert findings == ()
    assert by_key(commands)["n"].id == "bookmark"


def test_a_clash_is_named_and_the_keys_are_those_it_came_with() -> None:
    """The finding says which command has the key already."""
    commands, [found] = own_keys({"bookmark": "d"}, "settings.toml")

    assert str(found).startswith("settings.toml: review_keys.bookmark: d is already the key of deviation")
    assert commands == COMMANDS


@pytest.mark.parametrize("key", ["ctrl+s", "", "ab", "f13", 7, " ", "é", ["d", "x y"], []])
def test_chords_and_what_a_terminal_keeps_are_no_keys(key: object) -> None:
    """One finding each."""
    commands, [found] = own_keys({"bookmark": key}, "settings.toml")

    assert found.path == "review_keys.bookmark"
    assert commands == COMMANDS


@pytest.mark.parametrize(("raw", "path"), [({"fly": "x"}, "review_keys.fly"), (3, "review_keys")])
def test_a_command_that_is_none_or_no_table_is_told(raw: object, path: str) -> None:
    """The rest keeps its keys."""
    commands, [found] = own_keys(raw, "settings.toml")

    assert found.path == path
    assert commands == COMMANDS
