"""Slips at a review: words typed one screen early, a menu left open, a key that comes twice, a sign-off half meant."""

from __future__ import annotations

import string
from collections.abc import Mapping
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debriefs import (
    HERE,
    archive_of,
    desk_of,
    disk_of,
    events_of,
    log_bytes,
    pause,
    press,
    screen,
    told,
)
from tracker.core.events import Opened
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.review.screen.desk import ReviewDesk
from tracker.review.screen.forms import begun
from tracker.screen.asking import Ask

OPEN_AT: Mapping[str, str] = MappingProxyType(
    {
        "why": "r",
        "how it came about": "r f enter",
        "owner": 'c "drill" enter',
        "by when": 'c "drill" enter a enter',
        "what it belongs to": 'c "drill" enter a enter w enter',
        "begun before": 'c "drill" enter escape c',
        "who took part": "t",
        "who signs": "s",
        "the sign-off said back": "s c enter",
        "who writes": "u",
        "taking back": 'w "one" enter w "two" enter backspace',
        "amend": "l a",
        "another step": "l a s enter",
        "why it is amended": "l a v enter",
        "which reading": "l a r enter",
        "what was not logged": "A",
        "a reading not logged": "A r enter",
        "a stage": "A s enter",
        "a step": "A s enter b enter",
        "a decision": "A s enter c enter a enter",
        "a complication": "A c enter",
        "an operator": "A o enter",
        "why it is added": 'A b enter "edge" enter "9:22" enter',
        "video": "v",
        "a file": 'v f enter "rec1.mp4" enter - enter v m enter',
        "compare": "x",
        "leave": 'w "half" escape Q',
    }
)
"""Every list of the review, and the keys that open it."""


def two_cases() -> Archive:
    """An archive with a second case, to compare with."""
    archive = archive_of()
    first, second, *_ = events_of("09:00 opened\n09:01 tick step=in_theatre")
    assert isinstance(first, Opened)
    with Journal.create(HERE, "A-0003", disk_of(archive)) as journal:
        journal.append(first.model_copy(update={"code": "A-0003"}))
        journal.append(second)
    return archive


def at_list(name: str) -> tuple[ReviewDesk, Ask]:
    """A desk with a list of the review open, and that list."""
    desk = desk_of(OPEN_AT[name], two_cases())
    assert isinstance(desk.panel, Ask), name
    assert desk.panel.lists, name
    return desk, desk.panel


def kept(desk: ReviewDesk) -> tuple[object, ...]:
    """All that a key could have written, chosen, begun or left."""
    answers = {form: dict(given) for form, given in desk.held.items()}
    said = (desk.debrief.events, desk.debriefing.role, desk.comparison, desk.left)
    return (*said, answers, dict(desk.drafts), desk.panel, desk.row, desk.place)


def type_out(desk: ReviewDesk, words: str) -> None:
    """Type words as a hand does, each letter a press of its own, and Enter after them."""
    for letter in words:
        pause(desk)
        desk.press("space" if letter == " " else letter)
    pause(desk)
    desk.press("enter")


# -- words typed one screen early


def test_words_typed_one_screen_early_are_no_reason() -> None:
    """`r` asks for a reason of the file: a sentence meant for the words to it gives none, and is answered."""
    desk = desk_of('r "for our own reasons" enter enter')

    assert told(desk) == []
    assert begun(desk) == ()
    assert "for our own reasons_" in screen(desk)
    assert "Nothing is taken: no answer is marked" in screen(desk)


@pytest.mark.parametrize("name", OPEN_AT)
def test_words_of_nothing_but_a_list_s_own_letters_answer_no_list(name: str) -> None:
    """Two words of one letter, a word of two letters, a word begun again: each with Enter, twice over."""
    desk, panel = at_list(name)
    own = [option.key for option in panel.question.options]
    other = own[1] if len(own) > 1 else "z"
    before = kept(desk)
    for words in (f"{own[0]} {own[0]}", f"{own[0]}{other}", f"{other}{other}{own[0]}", f" {own[0]}"):
        type_out(desk, words)
        type_out(desk, "")
        assert kept(desk) == before
        assert panel.open
        for _ in words:
            pause(desk)
            desk.press("backspace")


@settings(max_examples=150)
@given(
    st.sampled_from(sorted(OPEN_AT)),
    st.lists(st.text(st.sampled_from(string.ascii_letters + ",.'-?=é0123456789"), min_size=1), min_size=2),
    st.integers(1, 3),
)
def test_no_sentence_typed_at_any_list_of_the_review_changes_anything(
    name: str, words: list[str], lines: int
) -> None:
    """At least two words and Enter, a line or more of them: nothing said, chosen, begun or left; the list stays."""
    desk, panel = at_list(name)
    log, before = log_bytes(desk.debriefing.archive), kept(desk)
    for _ in range(lines):
        type_out(desk, " ".join(words))

    assert kept(desk) == before
    assert panel.open
    assert log_bytes(desk.debriefing.archive) == log
    assert desk.hint or "no answer is marked" in screen(desk)


def test_a_letter_mistyped_is_taken_back_and_the_right_one_marks() -> None:
    """Backspace as in any line of text; Enter takes what is marked."""
    desk = desk_of("r o")
    assert desk.hint == "o is no answer here; Esc goes back"
    press(desk, "f enter")
    assert begun(desk) == ()
    press(desk, "backspace backspace f")
    assert ">f" in screen(desk)
    press(desk, "enter")
    assert list(desk.held.values()) == [{"reason": "forced"}]
    press(desk, "i enter")

    assert told(desk)[0].endswith(" forced intended")


def test_a_letter_that_is_no_answer_takes_the_mark_away() -> None:
    """`f`, then `z`: Enter takes nothing; Up and Down mark an answer whatever was typed."""
    desk = desk_of("r f z enter")
    assert begun(desk) == ()
    press(desk, "down enter")
    assert list(desk.held.values()) == [{"reason": "forced"}]


def test_nothing_is_taken_by_enter_alone() -> None:
    """At no list is an answer marked before one was."""
    for name in OPEN_AT:
        desk, panel = at_list(name)
        before = kept(desk)
        press(desk, "enter enter")
        assert kept(desk) == before, name
        assert panel.open, name


def test_a_figure_typed_among_words_is_asked_for_once_more() -> None:
    """`in 2 of 5 eyes` is no value of 25: Enter says so, Backspace corrects."""
    desk = desk_of('A r enter a enter "in 2 of 5 eyes" enter')
    assert desk.panel is not None
    assert desk.panel.rows()[-1].text == "other keys came with 25: Enter again keeps it, Backspace corrects"
    press(desk, "backspace 0 enter")
    assert desk.held["add"]["value"] == 20


# -- a menu left open


def test_a_menu_left_open_takes_no_command_for_itself() -> None:
    """The list of video, then `s c` for a sign-off: nothing is signed, and each key is refused in words."""
    desk = desk_of("v s")
    assert desk.hint == "s is no answer here; Esc goes back"
    press(desk, "c")
    assert desk.hint == "c is no answer here; Esc goes back"
    press(desk, "enter y enter")

    assert told(desk) == []
    assert desk.panel is not None
    assert desk.panel.title == "Video"


def test_a_sheet_lets_a_command_through_for_it_takes_no_letter() -> None:
    """It is only read: `i`, then `r` asks why."""
    desk = desk_of("i r")

    assert desk.panel is not None
    assert "Why" in desk.panel.title


# -- the sign-off


def test_a_sign_off_takes_a_letter_of_its_own_after_it_was_said_back() -> None:
    """The role and Enter do not sign, nor does Enter again, nor the role's letter again."""
    desk = desk_of("s c enter enter c enter")
    assert told(desk) == []
    assert desk.debrief.state == "not begun"
    press(desk, "escape s c enter y enter")

    assert told(desk) == ["signed consultant"]


def test_a_sign_off_that_was_left_asks_again_who_signs() -> None:
    """No answer of it is kept, so nobody signs as whom somebody else chose."""
    desk = desk_of("s c enter escape")
    assert begun(desk) == ()
    press(desk, "s")
    assert desk.panel is not None
    assert desk.panel.title.endswith("As")
    press(desk, "d enter y enter")
    assert told(desk) == ["signed fellow"]


def test_a_sign_off_that_the_disk_refused_is_asked_anew() -> None:
    """Another review writes; once it is gone neither the role nor the second act is taken as given."""
    archive = archive_of()
    other, desk = desk_of('w "first" enter', archive), desk_of("s c enter y enter", archive)
    assert desk.hint.endswith("Nothing was said.")
    other.close()
    press(desk, "s")
    assert desk.panel is not None
    assert desk.panel.title.endswith("As")
    press(desk, "escape")

    assert "signed" not in "".join(told(desk))


def test_a_sign_off_says_back_what_was_begun_and_not_said() -> None:
    """Words that were left are not in the debrief that is signed."""
    desk = desk_of('w "half a thou" escape s c enter')

    assert desk.panel is not None
    assert "; 1 begun and not said. " in desk.panel.title


# -- a key that comes twice at once


def at_once(desk: ReviewDesk, *keys: str) -> None:
    """Press keys at one moment."""
    for key in keys:
        desk.press(key)


def test_a_key_that_opened_a_page_is_not_typed_into_it() -> None:
    """`r r` asks why with nothing typed, `w w` has no word yet, `e e e` still shows the entry."""
    desk = desk_of()
    at_once(desk, "r", "r")
    assert desk.hint == "r twice at once is one press"
    press(desk, "f enter")
    assert list(desk.held.values()) == [{"reason": "forced"}]

    desk = desk_of()
    at_once(desk, "w", "w", "w", "w")
    assert desk.drafts == {}

    desk = desk_of()
    at_once(desk, "e", "e", "e")
    assert desk.panel is not None


def test_enter_twice_at_once_confirms_nothing_and_leaves_nothing() -> None:
    """A note about a person is questioned and not yet kept; the page after a list stays open."""
    desk = desk_of('w "Mrs Invented was calm"')
    at_once(desk, "enter", "enter")
    assert told(desk) == []

    desk = desk_of("l a v enter =")
    at_once(desk, "enter", "enter")
    assert desk.panel is not None
    assert desk.panel.title == "Why it is amended, in words"


def test_what_goes_on_by_one_may_come_twice_at_once() -> None:
    """Deviations, lanes, and letters of words."""
    once, twice = desk_of("d"), desk_of()
    at_once(twice, "d", "d")
    assert once.item != twice.item

    desk = desk_of("w")
    at_once(desk, *"calll", "backspace", "backspace", *"ed")
    press(desk, "enter")
    assert told(desk) == ["went_well caled"]


def test_the_same_key_a_moment_later_is_another_press() -> None:
    """Half a second; a key held down is one press as long as it is held."""
    desk = desk_of("e")
    pause(desk, 499)
    desk.press("e")
    pause(desk, 499)
    desk.press("e")
    assert desk.panel is not None
    pause(desk, 500)
    desk.press("e")
    assert desk.panel is None
