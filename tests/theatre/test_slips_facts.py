"""Slips on the page of facts, before the case and during it: of the shipped file, as they were pressed."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from desks import desk_of, lines, panel, press, protocol_of, shipped, told
from hard_eye import CUTTING, OPENING, PEELING, eye_after
from tracker.core.events import Scalar
from tracker.screen.lines import Size
from tracker.theatre.desk import Desk
from tracker.theatre.opening import Opening


class Page:
    """The page of facts of the shipped file, and the facts that a case was begun with, if one was."""

    def __init__(self, keys: str = "") -> None:
        self.begun: Mapping[str, Scalar] | None = None
        self.opening = Opening(protocol_of(shipped()), lambda: "T-0001", self._begin)
        self.press(keys)

    def _begin(self, _: str, facts: Mapping[str, Scalar]) -> Desk:
        self.begun = dict(facts)
        return desk_of(shipped(), facts=facts)

    def press(self, keys: str) -> None:
        """Press keys."""
        for key in keys.split():
            self.opening.press(key)

    @property
    def words(self) -> str:
        """The page as words."""
        return " ".join(" ".join(lines(self.opening.draw(Size(120, 40)))).split())


def _to(fact: str) -> str:
    """The keys that mark a fact from the first one on."""
    return "down " * [f.id for f in protocol_of(shipped()).facts].index(fact)


@pytest.mark.parametrize(
    "keys", ["enter", "enter enter enter", "down enter", "up enter enter", "space enter"]
)
def test_no_case_starts_before_the_side_of_the_eye_is_chosen(keys: str) -> None:
    """It has no default: Enter goes there and says that nothing is assumed, however often."""
    page = Page(keys)

    assert (page.begun, page.opening.become) == (None, None)
    assert "Eye: NOT CHOSEN" in page.words
    assert "Eye is not chosen, and nothing is assumed: press its letter" in page.words

    page.press("l enter")
    assert page.begun is not None
    assert page.begun["eye"] == "left"


def test_a_figure_meant_for_the_oil_changes_no_other_fact() -> None:
    """A choice is answered and stays marked, so the next key is still for it: a `5` there is no answer, and said."""
    page = Page(f"l {_to('tamponade_in_situ')} k 5")
    assert "5 is no answer here" in page.words

    page.press("enter")
    assert page.begun is not None
    assert (page.begun["tamponade_in_situ"], page.begun["previous_operations"]) == ("oil_1000", 1)


@pytest.mark.parametrize("ways", ["up", "down", "up up", "down down down"])
def test_a_grade_begun_holds_neither_up_nor_down(ways: str) -> None:
    """What is typed and is no grade yet stands at its fact, the mark goes on, and no case starts with it."""
    page = Page(f"l {_to('pvr_grade')} c p {ways}")
    assert (
        "PVR grade: CP (typed, not taken)" in page.words or "PVR grade: cp (typed, not taken)" in page.words
    )

    page.press("enter")
    assert page.begun is None
    assert "a grade is A, B, CP 1 to 12 or CA 1 to 12" in page.words

    page.press("4 enter enter")
    assert page.begun is not None
    assert page.begun["pvr_grade"] == "CP4"


def test_what_the_foot_says_of_esc_is_what_esc_does() -> None:
    """Over a grade that is begun it drops it and stays; else it leaves without a case."""
    page = Page(f"l {_to('pvr_grade')} c")
    assert "Esc drops it" in page.words
    page.press("escape")
    assert (page.opening.left, "PVR grade: CP3" in page.words) == (False, True)

    assert "Esc leaves without one" in page.words
    page.press("escape")
    assert (page.opening.left, page.begun) == (True, None)


def test_one_choice_has_one_letter_on_the_page_and_on_the_board() -> None:
    """Trypan blue is planned and stated by one letter, and so is a cut of part of the way, and so are all others."""
    protocol = protocol_of(shipped())
    listed = [
        *(f.choices for f in protocol.facts),
        *(s.choices for s in protocol.all_steps()),
        *(r.choices for r in protocol.readings),
    ]
    letters: dict[str, set[str]] = {}
    for choice in (c for choices in listed for c in choices):
        letters.setdefault(choice.id, set()).add(choice.key)

    assert {ident: keys for ident, keys in letters.items() if len(keys) > 1} == {}
    assert not [ident for ident, keys in letters.items() if any(key.isdigit() for key in keys)]


def test_the_letters_of_the_page_are_those_of_the_board_as_pressed() -> None:
    """`y` plans trypan blue and states it; `x` plans a cut of part of the way and states it."""
    page = Page(f"l {_to('planned_dye')} y down x enter")
    assert page.begun is not None
    assert (page.begun["planned_dye"], page.begun["planned_retinectomy"]) == ("trypan_blue", "relaxing")

    stained = eye_after(OPENING, more="v +400 v y b +200 b s +60 s d y")
    assert told(stained)[-1].startswith("choice trypan_blue")
    decided = eye_after(OPENING, PEELING, more="r x")
    assert told(decided)[-1].startswith("choice relaxing")


def test_on_the_board_a_letter_answers_the_marked_fact_and_no_step() -> None:
    """A letter that is no answer is refused with what it does on the board; nothing is kept before Enter."""
    desk = eye_after(OPENING, PEELING, CUTTING, more=f"<facts> {_to('lens')} i c")
    assert panel(desk) == "A case fact changed"
    assert desk.hint.startswith("c is no answer here. c once more: start Retina cut")
    entered = told(desk)

    press(desk, "escape <facts> enter")
    assert told(desk)[len(entered) :] == ["facts lens=pseudophakic"]


def test_a_fact_answered_on_the_board_does_not_move_the_mark() -> None:
    """Two letters in a row answer one fact; the second stands."""
    desk = eye_after(OPENING, more="<facts> r +1 l enter")

    assert desk.case.facts["eye"] == "left"
    assert not [word for word in told(desk) if word.startswith("facts")]
