"""What lies over the foot of a screen: which keys it uses, which it leaves to others, when it closes."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.core.events import Scalar
from tracker.core.protocol import RESERVED_KEYS, Reading
from tracker.screen.asking import Ask, Option, Question, keyed, reading_question
from tracker.screen.panels import Figures, Row, Sheet

PRESSURE = Reading(id="pressure", label="Pressure", unit="mmHg", plausible=(0, 120), usual=(20, 30))


def _asked(reading: Reading = PRESSURE) -> tuple[Ask, list[Scalar]]:
    """A question for a reading, and where its answers go."""
    answers: list[Scalar] = []
    return Ask([reading_question(reading, reading.label, answers.append, "asked")], {}), answers


def _used(panel: Ask | Figures | Sheet, keys: str) -> list[bool]:
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


def _list(**more: bool) -> tuple[Ask, list[Scalar]]:
    """A question of two options, and where its answers go."""
    answers: list[Scalar] = []
    options = (Option("x", "one", 1), Option("y", "two", 2))
    return Ask([Question("q", "Which", answers.append, options)], {}, **more), answers


@pytest.mark.parametrize("key", ["a", "space", "left", "0", "Q"])
def test_a_key_that_is_no_option_is_not_used(key: str) -> None:
    """A question of options uses their keys, Up, Down, Enter and Esc, and no other; what becomes of it is the desk's."""
    ask, answers = _list()

    assert ask.lists
    assert (ask.press(key), ask.open, answers) == (False, True, [])


def test_nothing_is_marked_in_a_list_and_enter_takes_nothing() -> None:
    """No answer is the likely one: Enter says so until Up or Down has marked one."""
    ask, answers = _list()
    assert not any(row.marked for row in ask.rows())

    assert ask.press("enter")
    assert (answers, ask.open) == ([], True)
    assert "No answer is marked" in ask.rows()[-1].text

    _used(ask, "down enter")
    assert (answers, ask.open) == ([1], False)


def test_up_marks_the_last_option_first() -> None:
    """From nothing marked, Up comes from below."""
    ask, answers = _list()

    _used(ask, "up enter")

    assert answers == [2]


def test_a_held_answer_is_marked_by_its_letter_and_taken_by_enter() -> None:
    """Where an answer weighs, the letter alone does not give it."""
    ask, answers = _list(held=True)

    _used(ask, "y")
    assert (answers, [row.text for row in ask.rows() if row.marked]) == ([], ["two"])

    _used(ask, "enter")
    assert answers == [2]


def test_words_typed_at_a_held_answer_give_none() -> None:
    """After two letters that are no answers the next is none either, and Enter takes nothing."""
    ask, answers = _list(held=True)

    _used(ask, "q u y enter")

    assert (answers, ask.open) == ([], True)


def test_a_figure_found_again_is_kept_by_enter_and_begun_anew_by_a_figure() -> None:
    """Whoever types does not remember what stands there; whoever only looks keeps it."""
    for keys, value in (("enter", 25), ("3 1 enter", 31), ("backspace 8 enter", 28)):
        answers: list[Scalar] = []
        ask = Ask([reading_question(PRESSURE, "Pressure", answers.append, "asked")], {"asked": "25"})
        _used(ask, keys)
        assert answers == [value]


def test_a_figure_that_came_twice_at_once_is_asked_about_once() -> None:
    """A shaking hand makes 5 of 55: before it is kept, the figure is said back."""
    ask, answers = _asked()
    _used(ask, "5 5")
    ask.doubled()

    _used(ask, "enter")
    assert (answers, ask.rows()[-1].text.partition(":")[0]) == ([], "55")

    _used(ask, "enter")
    assert answers == [55]


def test_figures_nobody_asked_for_take_figures_and_no_letter() -> None:
    """Digits, point, minus and Backspace are used; Enter and Esc drop them; a letter goes elsewhere."""
    figures = Figures("2", "F1 takes them")
    assert _used(figures, "5 . 5 backspace x") == [True, True, True, True, False]
    assert (figures.typed, figures.open) == ("25.", True)

    for key in ("enter", "escape"):
        dropped = Figures("2", "F1 takes them")
        assert (dropped.press(key), dropped.open) == (True, False)


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
def test_a_sheet_uses_no_other_key(key: str) -> None:
    """A step's key pressed over a sheet is the board's; which others are, the desk says."""
    assert not Sheet("Open", lambda: [Row("", "one")], ("0",)).press(key)


def test_a_sheet_turns_to_its_end_and_back() -> None:
    """Down marks a later row, Up an earlier one, neither beyond the ends."""
    sheet = Sheet("Open", lambda: [Row("", str(n)) for n in range(6)])

    _used(sheet, "down down down")
    assert [row.text for row in sheet.rows() if row.marked] == ["5"]

    _used(sheet, "up up up")
    assert not any(row.marked for row in sheet.rows())
