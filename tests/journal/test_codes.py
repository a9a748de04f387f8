"""Case codes: what they may look like, and that they say nothing of a person."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.journal.codes import check_code, code_order, latest, next_code


@pytest.mark.parametrize("code", ["A-0001", "VR-0042", "EYES-1234", "A-12345", "A-1234567", "CON-0001"])
def test_a_code_is_a_site_and_a_number(code: str) -> None:
    """One to four capital letters, a hyphen and four to nine digits make a code."""
    assert check_code(code) is None


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "capital letters"),
        ("a-0001", "capital letters"),
        ("A-001", "capital letters"),
        ("A0001", "capital letters"),
        ("ABCDE-0001", "capital letters"),
        ("A-0001 ", "capital letters"),
        ("A-0001\n", "capital letters"),
        ("A-1234567890", "capital letters"),
        ("Ä-0001", "capital letters"),
        ("A-٠٠٠١", "capital letters"),
        ("\x1b[31mA-0001", "capital letters"),
        ("../x", "no path"),
        ("../A-0001", "no path"),
        ("A-0001/..", "no path"),
        ("C:A-0001", "no path"),
        ("\\\\host\\A-0001", "no path"),
        ("/A-0001", "no path"),
        ("CON", "device"),
        ("nul", "device"),
        ("COM1", "device"),
        ("lpt9.case", "device"),
        ("AUX .txt", "device"),
        ("Mrs Example", "title with a name"),
        ("Dr. Example", "title with a name"),
        ("12/03/1957", "date of birth"),
        ("A-1957-03-12", "date of birth"),
        ("943 476 5919", "health number"),  # NHS Data Dictionary: the worked example of the check digit
        ("A-9434765919", "health number"),
        ("A-120357", "date of birth"),
        ("A-19570312", "date of birth"),
        ("A-12031957", "date of birth"),
        ("A-03121957", "date of birth"),
    ],
)
def test_anything_else_is_refused_with_a_reason(text: str, word: str) -> None:
    """The sentence says what the matter is, and does not repeat what was typed."""
    why = check_code(text)

    assert why is not None
    assert word in why
    assert len(text) < 4 or text not in why


def test_the_first_code_of_a_site_is_number_one() -> None:
    """Where there is no case yet, counting begins at 1."""
    assert next_code([], "A") == "A-0001"


def test_the_next_code_follows_the_highest_of_its_site() -> None:
    """Gaps are not filled, other sites do not count, and what is no code is passed over."""
    assert next_code(["A-0001", "A-0007", "B-0099", "notes", "A-0003"], "A") == "A-0008"
    assert next_code(["A-9999"], "A") == "A-10000"


def test_a_number_that_reads_like_a_birth_date_is_left_out() -> None:
    """A sequence may reach such numbers; it steps over them."""
    assert next_code(["A-120356"], "A") == "A-123200"  # up to 12 31 99 all read as a day, a month, a year


@pytest.mark.parametrize("site", ["", "a", "ABCDE", "A1", "../"])
def test_a_site_is_capital_letters(site: str) -> None:
    """Nothing else is made into a code."""
    with pytest.raises(ValueError, match="capital letters"):
        next_code([], site)


def test_numbers_come_to_an_end() -> None:
    """After the last number there is no next."""
    with pytest.raises(ValueError, match="used up"):
        next_code(["A-999999999"], "A")


def test_codes_sort_by_site_and_number() -> None:
    """A-10000 comes after A-9999."""
    codes = ["B-0001", "A-10000", "A-9999"]

    assert sorted(codes, key=code_order) == ["A-9999", "A-10000", "B-0001"]


@given(st.from_regex(r"[A-Z]{1,4}", fullmatch=True), st.sets(st.integers(1, 99_999), max_size=20))
def test_a_proposed_code_is_free_and_passes(site: str, numbers: set[int]) -> None:
    """What is proposed can be taken."""
    existing = [f"{site}-{number:04d}" for number in numbers]

    code = next_code(existing, site)

    assert code not in existing
    assert check_code(code) is None


@given(st.text(max_size=40))
def test_any_text_gets_an_answer(text: str) -> None:
    """Whatever is typed, the answer is a sentence or None, and what passes is a plain file name."""
    why = check_code(text)

    assert why.endswith(".") if why else re.fullmatch(r"[A-Z]{1,4}-[0-9]{4,9}", text)


def test_the_latest_codes_are_those_of_each_site() -> None:
    """One site's many cases do not push another's out; numbers are numbers, not letters."""
    codes = ["B-0002", "A-10000", "A-9999", "A-0001", "B-0001", "B-0003"]

    assert latest(codes, 2) == ("A-9999", "A-10000", "B-0002", "B-0003")
