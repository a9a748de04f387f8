"""The review screen as lines: every size, every load, nothing overflowing, nothing cut off in silence."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from debriefs import archive_of, desk_of, lines, press, screen
from tracker.core.timeline import Timeline
from tracker.core.usual import Usual
from tracker.review.plain_text import review_text
from tracker.review.screen.axis import View
from tracker.review.screen.desk import ReviewDesk
from tracker.review.screen.keys import COMMANDS
from tracker.review.screen.lanes import Item, Row
from tracker.review.screen.picture import BOTH, LEGEND, Page, lane
from tracker.screen.commands import by_key, key_words
from tracker.screen.lines import Size

GOLDEN = Path(__file__).parent / "review_80x24.txt"
SIZES = [(80, 24), (120, 40), (200, 60), (60, 15), (79, 23), (101, 31), (160, 45)]


@cache
def _looked() -> ReviewDesk:
    """A review with a reason, an amendment and notes, its cursor on the amended span."""
    return desk_of('r f enter o enter w "calm" enter l a t enter "09:08" enter f enter t c enter')


def test_the_screen_at_80_by_24() -> None:
    """Lanes, the entry with its original and its amendment, the keys: as in the file beside this one."""
    assert screen(_looked()) == GOLDEN.read_text("utf-8").rstrip("\n")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("keys", ["", "e", "i", "o", "?", "r", "w", "v", "+ + +", "a s enter"])
def test_every_line_is_as_wide_as_the_screen(size: tuple[int, int], keys: str) -> None:
    """With a panel or without, at any size: exactly so many lines of exactly so many cells."""
    drawn = lines(desk_of(keys).draw(Size(*size)))

    assert len(drawn) == size[1]
    assert {cell_len(line) for line in drawn} == {size[0]}


@settings(max_examples=40)
@given(st.tuples(st.integers(1, 220), st.integers(1, 70)))
def test_no_size_is_too_small(size: tuple[int, int]) -> None:
    """However small the terminal is for a moment, nothing raises and no line is too wide."""
    drawn = lines(_looked().draw(Size(*size)))

    assert len(drawn) == size[1]
    assert {cell_len(line) for line in drawn} <= {size[0]}


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
def test_every_lane_can_be_reached_and_is_then_in_view(size: tuple[int, int]) -> None:
    """Down goes through them all; the lane under the cursor is marked by a sign, not by colour alone."""
    desk = desk_of()
    seen = set()
    for _ in desk.drawn.rows:
        text = screen(desk, *size)
        [marked] = [line for line in text.splitlines() if line.startswith(">")]
        assert marked[1:].startswith(desk.here.label[:20])
        seen.add(desk.here.label)
        desk.press("down")

    assert seen == {row.label for row in desk.drawn.rows}


def test_lanes_out_of_view_are_counted() -> None:
    """The line under the lanes says which of how many are shown."""
    text = screen(desk_of())
    count = len(desk_of().drawn.rows)

    assert f"lanes 1 to 9 of {count}" in text or f"of {count}" in text
    assert f"── {count} lanes" not in text
    assert f"{count} lanes" in screen(desk_of(), 120, 60)


def test_lines_about_an_entry_that_do_not_fit_are_counted() -> None:
    """And the key that shows them all is named."""
    assert "more lines: e shows them all" in screen(desk_of("l"), 60, 18)


def test_what_lies_outside_the_view_is_told_at_the_edge() -> None:
    """A sign at either end of a lane that goes on there."""
    desk = desk_of("l + + + down")
    shown = "\n".join(line for line in screen(desk).splitlines() if line[1:].startswith("Fill and close"))

    assert "›" in shown


def test_marks_that_share_a_cell_are_counted() -> None:
    """A minute apart two ticks share a cell of a narrow screen, and none of a wide one."""
    desk = desk_of("right")

    assert "Ready: entry 2 of 3 ──" in screen(desk, 200, 40)
    assert "Ready: entry 2 of 3, 1 more in its cell" in screen(desk, 44, 40)


@pytest.mark.parametrize("width", [80, 120, 200])
def test_the_cursor_is_a_shape_on_the_axis(width: int) -> None:
    """Without any colour it is seen where in time the cursor stands."""
    assert screen(desk_of("l"), width, 40).count("▼") == 1


def page(start_t: float, stop_t: float, cells: int = 40) -> Page:
    """A picture of so many cells with no round times on it."""
    return Page(10, cells, View(start_t, stop_t), {})


def drawn(row: Row, on: Page) -> str:
    """A lane's cells."""
    return "".join(text for text, _ in lane(row, on, None, here=False))[12 : 12 + on.cells]


def test_the_usual_range_is_a_band_behind_the_bar() -> None:
    """From the first start, 10 to 30 min; the bar took 20: ten minutes under it, ten in it, ten left."""
    bar = Item("bar", "peel", "Peel", 1, 0.0, 1200.0)
    row = Row("stage", "peel", "Peel", (bar,), 1200.0, band=(600.0, 1800.0), usual=Usual(10, 30, 24))

    assert drawn(row, page(0, 2400)) == "█" * 10 + BOTH * 10 + "░" * 10 + " " * 10


def test_a_bar_is_drawn_half_open_and_never_vanishes() -> None:
    """Two bars that touch share no cell; one of a second is still a cell."""
    items = (Item("bar", "a", "A", 1, 0.0, 60.0), Item("bar", "b", "B", 2, 120.0, 121.0))
    row = Row("stage", "s", "S", items, 61.0)

    assert drawn(row, page(0, 240, 24)) == "█" * 6 + " " * 6 + "█" + " " * 11


def test_marks_stand_over_bars_the_strongest_on_top() -> None:
    """A safety deviation hides a note in its cell, never the other way round."""
    marks = tuple(Item(shape, "d", "D", n, 60.0, 60.0) for n, shape in enumerate(("safety", "note", "order")))  # type: ignore[arg-type]

    assert drawn(Row("deviation", "deviation", "D", marks), page(0, 120, 4)) == "  ▲ "


def test_the_picture_of_the_log_is_that_of_the_timeline() -> None:
    """Every bar and mark of the core's drawing is an entry that the cursor can stand on."""
    desk = desk_of()
    axis: Timeline = desk.drawn.axis
    bars = {(b.ident, b.seq) for lane_ in axis.lanes for b in lane_.bars}
    marks = {(m.ident, m.seq) for lane_ in axis.lanes for m in lane_.marks}
    items = {(i.ident, i.seq) for row in desk.drawn.rows for i in row.items}

    assert bars | marks <= items


# -- what strangers typed

STRANGE = {
    "right to left": "نزف من الحافة",
    "override": "\u202egnp.exe\u202c",
    "emoji": "👁👩‍⚕️🙂 seen",
    "control": "\x1b[2J\x1b]0;owned\x07\x00",
    "markup": "[bold red]x[/] <script>alert(1)</script> {{7*7}}",
    "wide": "玻璃体切除 內界膜",
    "huge": "long " * 4000,
    "one word": "x" * 5000,
}


@pytest.mark.parametrize("text", STRANGE.values(), ids=STRANGE)
def test_strange_words_are_shown_harmless(text: str) -> None:
    """Typed or in the log: no control code reaches the terminal, nothing is obeyed, no line is too wide."""
    desk = desk_of("w")
    desk.paste(text)
    press(desk, "enter enter o")
    for size in ((80, 24), (120, 40)):
        shown = lines(desk.draw(Size(*size)))
        assert {cell_len(line) for line in shown} == {size[0]}
        assert all(line.isprintable() or "\u200d" not in line for line in shown)
        assert not any(c in line for line in shown for c in "\x1b\x00\x07\u202e\u202c")


@pytest.mark.parametrize("text", STRANGE.values(), ids=STRANGE)
def test_strange_words_of_the_log_are_shown_harmless(text: str) -> None:
    """A bookmark's words come from the log."""
    import json

    archive = archive_of(f"09:00 opened\n09:05 tick step=in_theatre\n09:06 bookmark text={json.dumps(text)}")
    desk = desk_of("b e", archive)
    shown = lines(desk.draw(Size(80, 24)))

    assert {cell_len(line) for line in shown} == {80}
    assert not any(c in line for line in shown for c in "\x1b\x00\x07\u202e\u202c")


# -- the key sheet


def test_the_key_sheet_is_made_from_the_table() -> None:
    """Every command with its keys and what it does, and every sign of the picture."""
    desk = desk_of("?")
    assert desk.panel is not None
    rows = {(row.key, row.text) for row in desk.panel.rows()}

    assert all(any(key_words(c.key) in key and text == c.does for key, text in rows) for c in COMMANDS)
    assert set(LEGEND) <= rows


def test_no_two_commands_share_a_key() -> None:
    """A key means one thing."""
    assert len(by_key(COMMANDS)) == sum(1 + len(c.also) for c in COMMANDS)


def test_a_key_without_meaning_is_answered() -> None:
    """In words, with the key of the sheet."""
    assert desk_of("z").hint == "z: nothing here has this key. ? shows the keys"
    assert desk_of("escape").hint == "nothing lies over the timeline; Q leaves"


def test_pasted_text_has_no_place_on_the_timeline() -> None:
    """It is set aside and said."""
    desk = desk_of()
    desk.paste("dangerous\nkeys")

    assert desk.hint.startswith("14 characters came at once, as from a paste: set aside")


def test_minutes_are_rounded_as_in_the_record() -> None:
    """8 min 57 s is 9.0 minutes on the screen, in the text and on paper: halves go up."""
    case = archive_of("09:00:00 opened\n09:06:00 start step=core\n09:14:57 stop step=core ref=2")
    desk = desk_of(archive=case)
    press(desk, "down")

    assert "Peel and cut: 9.0 min" in screen(desk, 120, 40)
    assert "  Peel and cut: 9.0 min; usual range here: n too small" in review_text(desk.review, 100)
