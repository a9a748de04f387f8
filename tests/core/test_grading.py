"""Grades of PVR are read as the updated classification of the Retina Society writes them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.core.grading import Extent, Grade, parse_grade


@pytest.mark.parametrize("letter", ["A", "B"])
def test_grades_a_and_b_stand_alone(letter: str) -> None:
    """A and B have no extent (Machemer 1991; Di Lauro 2016, Table 3)."""
    grade = parse_grade(letter)

    assert grade is not None
    assert grade == Grade(letter)
    assert (grade.posterior, grade.anterior) == (None, None)


def test_an_example_in_print_is_read() -> None:
    """CP3-CA2 is grade C over 3 clock hours behind the equator and 2 before it (figshare 376073, caption)."""
    grade = parse_grade("CP3-CA2")

    assert grade == Grade("C", posterior=Extent(3), anterior=Extent(2))


@pytest.mark.parametrize("hours", range(1, 13))
def test_extents_are_clock_hours_from_one_to_twelve(hours: int) -> None:
    """CP 1-12 and CA 1-12 are grades (Machemer 1991, Am J Ophthalmol 112:159; Di Lauro 2016, Table 3)."""
    assert parse_grade(f"CP{hours}") == Grade("C", posterior=Extent(hours))
    assert parse_grade(f"CA{hours}") == Grade("C", anterior=Extent(hours))


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "C", "CP", "CP0", "CP13", "CA0", "CA13", "CP03", "CP3.5", "D1", "D", "C3"),
        *("CA2-CP3", "CP3-CP3", "CP3-", "-CA2", "-", "CP3CA2", "CP3--CA2", "A1", "AB", "none"),
        *("CP٣", "CP3 type", "CP3 type 6"),
    ],
)
def test_what_is_no_grade_is_none(text: str) -> None:
    """There is no grade D, no extent of 0 or 13, and C says where (Machemer 1991; Di Lauro 2016, Table 3)."""
    assert parse_grade(text) is None


@pytest.mark.parametrize("number", range(1, 6))
def test_types_belong_to_one_side_of_the_equator(number: int) -> None:
    """Focal, diffuse and subretinal are posterior, the other two anterior (Di Lauro 2016, Table 3)."""
    behind, before = parse_grade(f"CP3 type {number}"), parse_grade(f"CA3 type {number}")

    assert (behind is not None) == (number in (1, 2, 3))
    assert (before is not None) == (number in (4, 5))
    assert (behind or before) is not None


def test_types_follow_each_half_in_any_order() -> None:
    """Types are kept once each, in order, with the half that they follow."""
    grade = parse_grade("cp 3 types 2, 1,2 - ca 12 type 5")

    assert grade == Grade("C", posterior=Extent(3, (1, 2)), anterior=Extent(12, (5,)))
    assert str(grade) == "CP3 type 1,2-CA12 type 5"


def _extents(types: range) -> st.SearchStrategy[Extent]:
    chosen = st.sets(st.sampled_from(types)).map(lambda some: tuple(sorted(some)))
    return st.builds(Extent, st.integers(1, 12), chosen)


GRADES = st.sampled_from([Grade("A"), Grade("B")]) | st.one_of(
    st.builds(Grade, st.just("C"), _extents(range(1, 4)), st.none() | _extents(range(4, 6))),
    st.builds(Grade, st.just("C"), st.none(), _extents(range(4, 6))),
)


@given(GRADES)
def test_a_grade_written_is_read_again(grade: Grade) -> None:
    """Writing a grade and reading it gives the same grade."""
    assert parse_grade(str(grade)) == grade


@given(st.text())
def test_any_text_is_a_grade_or_none(text: str) -> None:
    """Reading a grade never raises, and what it reads it can write."""
    grade = parse_grade(text)

    assert grade is None or parse_grade(str(grade)) == grade
