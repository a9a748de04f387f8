"""What lies over the foot of a screen: which keys it uses, which it leaves to others, when it closes."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.core.events import Scalar
from tracker.core.protocol import RESERVED_KEYS, Reading
from tracker.screen.asking import Ask, Option, Question, keyed, reading_question
from tracker.screen.panels import Row, Sheet

PRESSURE = Reading(id="pressure", label="Pressure", unit="mmHg", plausible=(0, 120), usual=(20, 30))


def _asked(reading: Reading = PRESSURE) -> tuple[Ask, list[Scalar]]:
    """A question for a reading, and where its answers go."""
    answers: list[Scalar] = []
    return Ask([reading_question(reading, reading.label, answers.append, "asked")], {}), answers


def _used(panel: Ask | Sheet, keys: str) -> list[bool]:
    return [panel.press(key) for key in keys.split()]


@pytest.mark.parametrize("before", ["", "4 backspace", "4 backspace backspace"])
def test_enter_on_no_number_closes_and_is_used(before: str) -> None:
    """With nothing typed, Enter answers nothing, closes the question, and goes no further."""
    ask, answers = _asked()
    _used(ask, before)

    assert (ask.press("enter"), ask.open, answers) == (True, False, [])


def test_digits_and_enter_answer_once() -> None:
    """A number is given by its digits and Enter, and the question is closed."""
    ask, answers = _asked()

    assert _used(ask, "2 5 . 5 enter") == [True] * 5
    assert (answers, ask.open) == ([25.5], False)


@pytest.mark.parametrize("key", ["a", "space", "left", "0", "Q"])
def test_a_key_that_is_no_option_is_left_to_the_board(key: str) -> None:
    """A question of options uses their keys, Up, Down, Enter and Esc, and no other."""
    ask = Ask([Question("q", "Which", lambda _: None, (Option("x", "one", 1), Option("y", "two", 2)))], {})

    assert (ask.press(key), ask.open) == (False, True)


@pytest.mark.parametrize("key", ["/", "*", "f7"])
def test_an_option_may_have_further_keys(key: str) -> None:
    """Each key of an option gives it."""
    answers: list[Scalar] = []
    options = (Option("/", "dealt with", "dealt", ("*", "f7")), Option("b", "bleeding", "bleed"))
    ask = Ask([Question("q", "Which", answers.append, options)], {})

    assert (ask.press(key), answers, ask.open) == (True, ["dealt"], False)


def test_an_option_without_a_key_is_reached_by_arrows_alone() -> None:
    """No key at all is not a key that a press could have."""
    answers: list[Scalar] = []
    ask = Ask([Question("q", "Which", answers.append, (Option("x", "one", 1), Option("", "two", 2)))], {})

    assert not ask.press("")
    assert _used(ask, "down down enter") == [True, True, True]
    assert answers == [2]


@given(st.lists(st.none() | st.sampled_from(string.ascii_lowercase), max_size=80))
def test_options_get_letters_that_no_other_has(keys: list[str | None]) -> None:
    """Own keys stay, the rest get free letters, never one the screen keeps; when all are given out, none."""
    own = [key if key not in keys[:i] else None for i, key in enumerate(keys)]

    options = keyed([(str(i), key, i) for i, key in enumerate(own)])

    given_out = [o.key for o in options if o.key]
    assert len(set(given_out)) == len(given_out)
    assert not set(given_out) & RESERVED_KEYS
    assert all(o.key == key for o, key in zip(options, own, strict=True) if key)
    assert len(given_out) == min(len(own), len(string.ascii_letters) - len(RESERVED_KEYS))


@pytest.mark.parametrize("key", ["escape", "0", "f9"])
def test_a_sheet_is_closed_by_the_keys_that_opened_it(key: str) -> None:
    """Esc and each key of its own close a sheet, and do nothing else."""
    sheet = Sheet("Open", lambda: [Row("", "one")], ("0", "f9"))

    assert (sheet.press(key), sheet.open) == (True, False)


@pytest.mark.parametrize("key", ["1", "a", "space", "enter"])
def test_a_sheet_leaves_other_keys_to_the_board(key: str) -> None:
    """A step's key pressed over a sheet is the board's."""
    assert not Sheet("Open", lambda: [Row("", "one")], ("0",)).press(key)


def test_a_sheet_turns_to_its_end_and_back() -> None:
    """Down marks a later row, Up an earlier one, neither beyond the ends."""
    sheet = Sheet("Open", lambda: [Row("", str(n)) for n in range(6)])

    _used(sheet, "down down down")
    assert [row.text for row in sheet.rows() if row.marked] == ["5"]

    _used(sheet, "up up up")
    assert not any(row.marked for row in sheet.rows())
