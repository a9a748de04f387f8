"""Toned text in large letters: the same letters, each word with the tone of the piece that it came from."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.screen.block import behind, block
from tracker.screen.lettering import height, large, width, wrapped

WORDS = st.lists(st.text(st.sampled_from("abvu05-"), min_size=1, max_size=8), min_size=1, max_size=6)


@given(WORDS, WORDS, st.integers(40, 150), st.sampled_from([1, 2]))
def test_pieces_are_drawn_as_their_words_together(
    one: list[str], other: list[str], room: int, scale: int
) -> None:
    """Whatever the tones, the letters are those of the whole text; from scale 2 on an empty row parts the lines."""
    drawn = block(((" ".join(one), "live"), (" ".join(other), "plain")), room, scale)
    lines = wrapped(" ".join([*one, *other]), room, scale)

    rows = ["".join(text for text, _ in row) for row in drawn]
    expected = [row for line in lines for row in large(line, scale)]
    assert [row for row in rows if row] == expected
    assert len(rows) == len(lines) * height(scale) + max(0, len(lines) - 1) * (scale > 1)


def test_each_word_has_the_tone_of_its_piece() -> None:
    """Also where a line breaks within a piece."""
    rows = block((("Edge laser", "amber"), ("further cut", "plain")), 60)

    assert [[tone for text, tone in row if text.strip()] for row in rows[::3]] == [["amber"], ["plain"]]
    assert block((("Edge", "amber"), ("cut", "plain")), 60)[0][-1] == (large("cut")[0], "plain")


@pytest.mark.parametrize("scale", [1, 2])
def test_a_time_goes_behind_the_last_word_or_under_it(scale: int) -> None:
    """Where it fits on the line it is as if it were a word of it."""
    rows = block((("Core", "live"),), 100, scale)
    there = behind(rows, ("01:23", "live"), 100, scale)
    under = behind(rows, ("01:23", "live"), width("01:23", scale), scale)

    assert ["".join(text for text, _ in row) for row in there] == list(large("Core 01:23", scale))
    assert under[: len(rows)] == rows
    assert [row[0][0] for row in under[-height(scale) :]] == list(large("01:23", scale))


def test_nothing_is_drawn_of_what_cannot_be() -> None:
    """A letter that the alphabet has not, or a word wider than the room."""
    assert block((("Höhe 3 µm", "live"),), 500) == ()
    assert block((("Haemostasis", "live"),), 20) == ()
    assert behind((), ("01:23", "live"), 500, 1) == ()
