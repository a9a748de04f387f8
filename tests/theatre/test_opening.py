"""The page before the board: facts with defaults, and no case on disk before it is wanted."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from desks import SMALL, desk_of, lines, protocol_of, shipped
from tracker.core.events import Scalar
from tracker.journal.archive import Archive
from tracker.journal.trouble import OutOfReach
from tracker.screen.lines import Size
from tracker.theatre.desk import Desk
from tracker.theatre.live import opening
from tracker.theatre.opening import Opening
from tracker.theatre.settings import Settings

DEFAULTS = {
    "lens": "phakic", "fill_plan": "gas", "length": 24, "grade": "CP3", "video": False,
    "operator": "consultant",
}  # fmt: skip


class Begun:
    """Notes the facts of the case that is begun."""

    def __init__(self) -> None:
        self.facts: Mapping[str, Scalar] | None = None

    def __call__(self, _: str, facts: Mapping[str, Scalar]) -> Desk:
        """Begin it."""
        self.facts = dict(facts)
        return desk_of(SMALL, facts=facts)


def _page(keys: str, text: str = SMALL) -> tuple[Opening, Begun]:
    begun = Begun()
    page = Opening(protocol_of(text), lambda: "T-0001", begun)
    for key in keys.split():
        page.press(key)
    return page, begun


def _text(page: Opening, width: int = 80, height: int = 24) -> str:
    return "\n".join(line.rstrip() for line in lines(page.draw(Size(width, height))))


def _words(page: Opening, width: int = 80, height: int = 24) -> str:
    """The page as words, wherever its lines break."""
    return " ".join(_text(page, width, height).split())


def test_enter_starts_at_once_with_the_defaults() -> None:
    """One key starts a case with the facts as the file has them."""
    page, begun = _page("enter")

    assert begun.facts == DEFAULTS
    assert page.become is not None
    assert not page.left


def test_the_page_shows_every_fact_with_its_default() -> None:
    """All facts are on the page, the cautions above them, the keys below."""
    text = _words(_page("")[0], 80, 30)

    for words in ("Lens now: own lens", "Planned tamponade: gas", "Axial length: 24 mm", "PVR grade: CP3"):
        assert words in text
    assert "Not a medical device" in text
    assert "not reviewed locally" in text
    assert "Up Down move, a letter or Left Right answers, Enter starts" in text
    assert "Enter starts the case, Esc leaves without one" in text


def test_a_choice_is_one_key_and_the_mark_stays() -> None:
    """A choice's key answers the marked fact and no other; Down marks the next one."""
    assert _page("a down o enter")[1].facts == DEFAULTS | {"lens": "aphakic", "fill_plan": "oil"}

    page, begun = _page("a o")
    assert "o is no answer here: p own lens a none" in _words(page)

    page.press("enter")
    assert begun.facts == DEFAULTS | {"lens": "aphakic"}


def test_left_and_right_go_through_the_choices() -> None:
    """Right takes the next choice and left the one before; a yes-or-no turns over."""
    assert _page("right enter")[1].facts == DEFAULTS | {"lens": "aphakic"}
    assert _page("right left enter")[1].facts == DEFAULTS
    assert _page("down down down down right enter")[1].facts == DEFAULTS | {"video": True}


@pytest.mark.parametrize("typed", ["down down down c", "down down 9 9"])
def test_what_is_begun_holds_nobody_up(typed: str) -> None:
    """A grade or a number typed in part: Up and Down go on, and it stands at its fact until it is mended."""
    page, begun = _page(f"{typed} up up")
    assert "(typed, not taken)" in _words(page)

    page.press("enter")
    assert begun.facts is None
    assert f"> {'PVR grade: c_' if 'c' in typed else 'Axial length: 99_ mm'}" in _words(page)


def test_the_page_says_of_esc_what_it_does() -> None:
    """Over something typed Esc drops it and the page stays; with nothing typed it leaves without a case."""
    page, _ = _page("down down 2 7")
    assert "Enter or Down takes what is typed, Esc drops it" in _words(page)
    assert "Enter starts the case" not in _words(page)

    page.press("escape")
    assert "Axial length: 24 mm" in _words(page)
    assert "Esc leaves without one" in _words(page)
    assert not page.left

    page.press("escape")
    assert (page.left, page.become) == (True, None)


def test_yes_or_no_is_one_key() -> None:
    """One key, y or n, answers what may only be yes or no."""
    assert _page("down down down down y enter")[1].facts == DEFAULTS | {"video": True}


def test_a_number_is_typed_and_entered() -> None:
    """Digits make the number, enter takes it; enter again starts."""
    page, begun = _page("down down 2 6 . 5 enter")
    assert begun.facts is None

    page.press("enter")

    assert begun.facts == DEFAULTS | {"length": 26.5}


def test_a_number_can_be_corrected_and_given_up() -> None:
    """Backspace corrects what is typed; Esc gives it up and keeps the page."""
    assert _page("down down 2 7 backspace 5 enter enter")[1].facts == DEFAULTS | {"length": 25}

    page, begun = _page("down down 2 7 escape enter")
    assert (page.left, begun.facts) == (False, DEFAULTS)


def test_an_implausible_number_is_asked_about_once() -> None:
    """Outside the file's range enter asks once; enter again keeps the number."""
    page, begun = _page("down down 9 9 enter")
    assert "outside 18 to 36 mm: Enter again keeps it" in _text(page)

    for _ in range(2):
        page.press("enter")

    assert begun.facts == DEFAULTS | {"length": 99}


@pytest.mark.parametrize("typed", ["1 n a n", "- i n f", "1 e 9 9 9", ". .", "-", "1 , 5", "9 " * 30])
def test_what_is_no_number_is_none(typed: str) -> None:
    """Nothing that is not a finite number of a believable size becomes a fact."""
    page, begun = _page(f"down down {typed} enter enter enter")

    assert begun.facts is None
    assert "digits, and a point if need be" in _words(page)


def test_a_number_does_not_begin_with_a_letter() -> None:
    """It is no answer, and said; the default stands."""
    page, _ = _page("down down n")

    assert "n is no answer here" in _text(page)
    assert "Axial length: 24 mm" in _text(page)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("B", "B"),
        ("c p 3 - c a 2", "CP3-CA2"),
        ("C P 1 2", "CP12"),
        ("c p 4 space t y p e space 1", "CP4 TYPE 1"),
    ],
)
def test_a_grade_is_typed(typed: str, kept: str) -> None:
    """A grade of the classification is taken, in capitals or not."""
    assert _page(f"down down down {typed} enter enter")[1].facts == DEFAULTS | {"grade": kept}


@pytest.mark.parametrize("typed", ["D", "c p 1 3", "c p 0", "3"])
def test_what_is_no_grade_is_answered(typed: str) -> None:
    """What the classification does not have is not taken, and the page says how a grade is written."""
    page, begun = _page(f"down down down {typed} enter enter enter")

    assert begun.facts is None
    assert "a grade is A, B, CP 1 to 12 or CA 1 to 12, as CP3-CA2" in _words(page)


def test_a_key_that_is_no_answer_is_answered() -> None:
    """A key that is no choice of the marked fact is answered with those that are."""
    page, _ = _page("x")

    assert "x is no answer here: p own lens a none" in _text(page)


def test_escape_begins_nothing_on_disk(tmp_path: Path) -> None:
    """Esc leaves the page, and the archive is as it was."""
    page = opening(protocol_of(SMALL), SMALL, Archive(tmp_path), Settings())
    page.press("escape")
    page.close()

    assert (page.left, page.become) == (True, None)
    assert list(tmp_path.iterdir()) == []


def test_a_case_is_on_disk_once_it_is_started(tmp_path: Path) -> None:
    """Enter begins the journal under the proposed code, and its first entries are there at once."""
    page = opening(protocol_of(SMALL), SMALL, Archive(tmp_path), Settings())
    page.press("a")
    page.press("enter")
    desk = page.become
    assert desk is not None
    desk.close()

    assert Archive(tmp_path).codes() == (page.code,)
    assert desk.case.facts["lens"] == "aphakic"
    assert [e.kind for e in desk.case.events] == ["opened", "facts", "operator"]


def test_a_disk_that_refuses_is_said_and_the_page_stays() -> None:
    """If the case cannot be begun, the page says why and the facts are still there."""

    def refuse(_: str, _facts: Mapping[str, Scalar]) -> Desk:
        raise OutOfReach("Case T-0001 cannot be begun in this folder: the disk is full.")

    page = Opening(protocol_of(SMALL), lambda: "T-0001", refuse)
    for key in ("a", "enter"):
        page.press(key)

    assert (page.left, page.become) == (False, None)
    assert "the disk is full" in _text(page)
    assert "Lens now: none" in _text(page)


def test_a_code_that_another_station_took_meanwhile_is_exchanged_and_said(tmp_path: Path) -> None:
    """Two pages propose the same code: the second says whose it is and, with its facts kept, starts the next."""
    first, second = (opening(protocol_of(SMALL), SMALL, Archive(tmp_path), Settings()) for _ in "ab")
    first.press("enter")
    second.press("a")
    second.press("enter")

    assert second.become is None
    assert "Enter starts this one as A-0002" in _words(second)

    second.press("enter")
    assert isinstance(first.become, Desk)
    assert isinstance(second.become, Desk)
    assert (second.become.case.code, second.become.case.facts["lens"]) == ("A-0002", "aphakic")
    first.become.close()
    second.become.close()


def test_pasted_text_answers_nothing() -> None:
    """A paste is set aside, and said."""
    page, _ = _page("")

    page.paste("aoy")

    assert "3 characters came at once, as from a paste: set aside" in _text(page)
    assert "Lens now: own lens" in _text(page)


@pytest.mark.parametrize("size", [(80, 24), (60, 15), (120, 40), (200, 60)])
def test_the_marked_fact_and_what_is_said_of_it_are_in_view(size: tuple[int, int]) -> None:
    """However long the list of facts, the marked one and the answer to a key are on the page."""
    protocol = protocol_of(shipped())
    for at, fact in enumerate(protocol.facts):
        page, _ = _page("down " * at, shipped())
        text = _words(page, *size)
        assert f"> {fact.label.split()[0]}" in text
        if fact.kind == "choice":
            page.press("%")
            assert "% is no answer here" in _words(page, *size)
