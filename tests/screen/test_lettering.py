"""The large letters: whole, distinct, and as wide as they say."""

from __future__ import annotations

import re
import string
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from tracker.screen.lettering import GLYPHS, SIGNS, STATES, drawable, height, large, width, wrapped

SCALES = (1, 2, 3)
TEXTS = st.text(st.sampled_from([*GLYPHS, *"éäøł—字🙂"]), max_size=30)


@pytest.mark.parametrize("glyph", GLYPHS)
def test_a_glyph_is_five_rows_of_equal_width(glyph: str) -> None:
    """Every glyph has five rows, equally wide, of dots that are on or off."""
    rows = GLYPHS[glyph]

    assert len(rows) == 5
    assert len({len(row) for row in rows}) == 1
    assert set("".join(rows)) <= {"#", "."}


@pytest.mark.parametrize("wanted", [string.ascii_uppercase, string.digits, " :.,-+/()'?%="])
def test_the_alphabet_has_what_labels_and_times_are_written_with(wanted: str) -> None:
    """All capitals, digits, and the marks of times, figures and labels are there."""
    assert set(wanted) <= set(GLYPHS)


@pytest.mark.parametrize("scale", SCALES)
def test_no_two_letters_or_digits_look_the_same(scale: int) -> None:
    """Of all letters and digits, each differs from each other by two pixels at least, however they are laid."""
    for one, other in combinations(string.ascii_uppercase + string.digits, 2):
        assert _apart(one, other, scale) >= 2, (one, other)


@pytest.mark.parametrize("alike", ["VUY", "0OD", "1I", "5S", "2Z", "8B"])
def test_letters_that_are_taken_for_each_other_differ_clearly(alike: str) -> None:
    """V is not U: of those that are alike in many alphabets each pair differs by three pixels or more, 0 and D by two."""
    for one, other in combinations(alike, 2):
        assert _apart(one, other, 1) >= (2 if {one, other} == {"0", "D"} else 3), (one, other)


def _apart(one: str, other: str, scale: int) -> int:
    """In how many pixels two glyphs differ as drawn, laid upon each other at the left or at the right."""
    drawn = [_lit(large(letter, scale), scale) for letter in (one, other)]
    wide = [max(x for x, _ in lit) + 1 for lit in drawn]
    right = {(x + wide[0] - wide[1], y) for x, y in drawn[1]}
    return min(len(drawn[0] ^ drawn[1]), len(drawn[0] ^ right))


def _lit(rows: tuple[str, ...], scale: int) -> set[tuple[int, int]]:
    """The pixels that are lit in what is drawn, read back from its blocks."""
    if scale == 1:
        upper = {(x, 2 * y) for y, row in enumerate(rows) for x, c in enumerate(row) if c in "█▀"}
        return upper | {(x, 2 * y + 1) for y, row in enumerate(rows) for x, c in enumerate(row) if c in "█▄"}
    across, down = 2 * (scale - 1), scale - 1
    return {(x // across, y // down) for y, row in enumerate(rows) for x, c in enumerate(row) if c == "█"}


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("sign", sorted({*SIGNS.values(), *STATES.values()} - set("-?")))
def test_a_sign_looks_like_nothing_else(sign: str, scale: int) -> None:
    """What was done, and how a step stands, are shapes of their own, unlike any letter, digit or mark."""
    assert all(large(sign, scale) != large(other, scale) for other in GLYPHS if other != sign)


def test_a_sign_goes_before_words_in_large_letters() -> None:
    """What a tick, a start, a stop and a strike look like before a word at the smallest scale."""
    assert large(f"{SIGNS['tick']} A") == (
        "   ▄    ▄▀▄",
        "▄ █     █▀█",
        " ▀      ▀ ▀",
    )


def test_digits_are_equally_wide() -> None:
    """A clock does not jump as its digits change."""
    assert len({width(digit) for digit in string.digits}) == 1


@given(TEXTS, st.sampled_from(SCALES))
def test_a_line_is_as_high_and_wide_as_it_says(text: str, scale: int) -> None:
    """The rows drawn are as many as `height` says, and all as wide as `width` says, in terminal cells."""
    rows = large(text, scale)

    assert len(rows) == height(scale)
    assert {cell_len(row) for row in rows} == {width(text, scale)}


@given(TEXTS, TEXTS, st.sampled_from(SCALES))
def test_text_put_together_is_never_narrower(one: str, other: str, scale: int) -> None:
    """More text is at least as wide."""
    assert width(one + other, scale) >= max(width(one, scale), width(other, scale))


@given(st.text(max_size=40))
def test_anything_can_be_drawn(text: str) -> None:
    """Whatever the text, the alphabet has a glyph for what becomes of it."""
    assert set(drawable(text)) <= set(GLYPHS)


@pytest.mark.parametrize(
    ("text", "drawn"),
    [("Gás", "GAS"), ("10\N{EN DASH}15", "10-15"), ("naïve", "NAIVE"), ("字", "?"), ("a_b", "A?B"), ("", "")],
)
def test_what_the_alphabet_has_not_becomes_plain(text: str, drawn: str) -> None:
    """Small letters become capitals, accents go, and what cannot be drawn is a question mark."""
    assert drawable(text) == drawn


@given(st.text(st.sampled_from("abcmw10 -"), max_size=60), st.integers(12, 120), st.sampled_from(SCALES))
def test_broken_text_fits_and_is_whole(text: str, room: int, scale: int) -> None:
    """Lines fit the room and hold every letter; where a word is wider than the room there are none."""
    lines = wrapped(text, room, scale)

    assert all(width(line, scale) <= room for line in lines)
    assert "".join("".join(lines).split()) in ("".join(text.split()), "")
    if text.split() and not lines:
        assert any(width(part, scale) > room for part in re.findall(r"(?:[^\s-]|(?<=\d)-(?=\d))*-?", text))


@pytest.mark.parametrize(
    ("text", "room", "lines"),
    [
        ("Peel 01:23:45", 40, ("Peel", "01:23:45")),
        ("Tip 45 mmHg", 40, ("Tip", "45 mmHg")),
        ("Air 10-15 mmHg", 38, ("Air 10-15", "mmHg")),
        ("Fluid-air 10-15", 30, ("Fluid-", "air", "10-15")),
    ],
)
def test_neither_a_time_nor_a_figure_is_broken(text: str, room: int, lines: tuple[str, ...]) -> None:
    """A clock time is one word, a range of figures too; a figure stays with its unit where a line holds both."""
    assert wrapped(text, room) == lines


@pytest.mark.parametrize("label", ["Höhe 3 µm", "字 in", "Cut & trim"])
def test_a_label_that_cannot_be_drawn_is_left_to_plain_letters(label: str) -> None:
    """A label never loses a character by being enlarged: one the alphabet has not is not enlarged at all."""
    assert wrapped(label, 500) == ()


def test_a_step_in_large_letters() -> None:
    """What a word looks like at the smallest scale."""
    assert large("Tip 7:05") == (
        "▀█▀ ▀█▀ █▀▄    ▀▀█ ▄ █▀█ █▀▀",
        " █   █  █▀      ▄▀ ▄ █ █ ▀▀█",
        " ▀  ▀▀▀ ▀       ▀    ▀▀▀ ▀▀▀",
    )
