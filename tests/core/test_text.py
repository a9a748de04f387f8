"""Text from strangers: what may be shown, and what looks like a person."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.core.text import identifying, looks_like_markup, shown, unshowable, valid_health_number


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("Peel \u2013 ILM, 0.025 \u00b5l", ()),
        ("\x1b[31mred", ("U+001B",)),
        ("one\ntwo", ("U+000A",)),
        ("zero\u200bwidth\u200b", ("U+200B",)),
        ("left\u202eright", ("U+202E",)),
        ("\ue000 private", ("U+E000",)),
        ("line\u2028line\u2029", ("U+2028", "U+2029")),
        ("\ud800 lone", ("U+D800",)),
        ("\x85 next line", ("U+0085",)),
        ("\U000e0041 tag", ("U+E0041",)),
    ],
)
def test_what_no_terminal_should_be_sent(text: str, codes: tuple[str, ...]) -> None:
    """Controls, overrides, zero widths, private, lone and separating characters are named, each once."""
    assert unshowable(text) == codes


@given(st.text())
def test_shown_text_is_showable(text: str) -> None:
    """Text made fit to be shown holds nothing unshowable, and showing it again changes nothing."""
    harmless = shown(text)

    assert unshowable(harmless) == ()
    assert shown(harmless) == harmless


@given(st.text(st.characters(categories=("L", "N", "P", "S", "Zs"))))
def test_showable_text_is_left_alone(text: str) -> None:
    """Letters, figures, signs and blanks of any script are shown as they are."""
    assert shown(text) == text
    assert all(unicodedata.category(c) != "Cc" for c in text)


def test_line_breaks_become_blanks() -> None:
    """Line breaks and tabs become a blank each, a lone carriage return cannot return."""
    assert shown("a\r\nb\nc\td\re") == "a b c d\ufffde"


@pytest.mark.parametrize("text", ["[red]x[/]", "[link=a]b", "<script>", "a < /b>", "<!-- x", "<?php", "p<a"])
def test_markup_is_seen(text: str) -> None:
    """Square and angle brackets that a renderer might obey are markup."""
    assert looks_like_markup(text)


@pytest.mark.parametrize("text", ["IOP < 5 mmHg", "5 <= x", "a ] b [ c", "rows > 2", "a -> b"])
def test_signs_are_not_markup(text: str) -> None:
    """Less-than before a figure, arrows and stray brackets are no markup."""
    assert not looks_like_markup(text)


# Published examples, in turn: the documentation of epidm (CRAN), of heidi (docs.rs), of nhs-validation (npm).
@pytest.mark.parametrize("digits", ["9434765919", "6541003238", "6716689966"])
def test_published_health_numbers_are_valid(digits: str) -> None:
    """Numbers that other packages publish as valid examples carry a valid check digit."""
    assert valid_health_number(digits)


@pytest.mark.parametrize(
    "digits",
    [
        "0000000001",  # published as not valid in the documentation of nhs-validation (npm)
        "9434765918",
        "1000000010",  # weighted sum 12, remainder 1: the check digit would be ten
        "943476591",
        "94347659190",
        "943476591x",
        "\u0669\u0664\u0663\u0664\u0667\u0666\u0665\u0669\u0661\u0669",
    ],
)
def test_other_digits_are_not_valid(digits: str) -> None:
    """A wrong check digit, another length and other characters are no health number."""
    assert not valid_health_number(digits)


@given(st.text("0123456789", min_size=9, max_size=9))
def test_one_check_digit_or_none(nine: str) -> None:
    """Nine digits have one check digit, or none where it would be ten."""
    fitting = [d for d in "0123456789" if valid_health_number(nine + d)]
    weighted = sum(int(d) * w for d, w in zip(nine, range(10, 1, -1), strict=True))

    assert len(fitting) == (0 if weighted % 11 == 1 else 1)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("Mrs Smith asked", "a title with a name"),
        ("seen by Dr. O'Neill", "a title with a name"),
        ("born 3/4/1961", "a date that could be a date of birth"),
        ("03-04-61", "a date that could be a date of birth"),
        ("1961-04-03", "a date that could be a date of birth"),
        ("3 April 1961", "a date that could be a date of birth"),
        ("943 476 5919", "a ten-digit health number"),
        ("no. 943-476-5919.", "a ten-digit health number"),
    ],
)
def test_what_looks_like_a_person(text: str, what: str) -> None:
    """A title with a name, a date and a health number are questioned, each in its own words."""
    assert identifying(text) == (what,)


@pytest.mark.parametrize(
    "text",
    ["peel took 12 min", "laser 150 mW 100 ms", "C3F8 14 %", "lot 9434765918", "dr in", "23 G, 4.0 mm", ""],
)
def test_theatre_words_are_not_a_person(text: str) -> None:
    """Figures, lots and ordinary theatre words are left alone."""
    assert identifying(text) == ()


def test_everything_found_is_said() -> None:
    """All that looks like a person is said, in one order."""
    assert len(identifying("Mr Jones, 1/2/1950, 943 476 5919")) == 3
