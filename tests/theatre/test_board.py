"""The board as lines: every size, every load, nothing overflowing and nothing lost without being counted."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from desks import SMALL, board, desk_of, lines, press, shipped
from tracker.core.forecast import Forecast
from tracker.screen.lettering import SIGNS, height, large
from tracker.screen.lettering import width as lettering_width
from tracker.screen.lines import SHORT, Size
from tracker.theatre.acts.screen import key_rows, open_rows
from tracker.theatre.desk import Desk
from tracker.theatre.drawing.calls import LOW

GOLDEN = Path(__file__).parent / "board_80x24.txt"
SIZES = [(80, 24), (120, 40), (200, 60), (60, 15), (79, 23), (101, 31), (160, 45)]
ANY_SIZE = st.tuples(st.integers(60, 220), st.integers(15, 70))

Labels = Callable[[int], str]
LETTERS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMN"


def _long(n: int) -> str:
    """A label as long as the format lets it be, with a word of its own at either end."""
    return f"Label{n:02d} of a step that is as long as the format lets it be up to end{n:02d}".ljust(72, "x")


def _wide(n: int) -> str:
    """A label of letters that take two cells each."""
    return f"玻璃体切除 {n:02d} 🙂 內界膜"


def _loaded(label: Labels) -> str:
    """A file of forty steps in a stage, twelve of them spans, with five clocks."""
    steps = "".join(
        f'[[stages.steps]]\nid = "s{n}"\nlabel = "{label(n)}"\nkey = "{key}"\n'
        + ('shape = "span"\n' if n < 12 else "repeats = true\n")
        + ("starts_case = true\n" if n == 0 else "")
        for n, key in enumerate(LETTERS)
    )
    clocks = "".join(
        f'[[clocks]]\nid = "c{n}"\nlabel = "{label(50 + n)}"\nstart = [{{ step = "s{n}" }}]\n'
        f'stop = [{{ step = "s39" }}]\namber_s = 60\nred_s = {120 + n}\n'
        for n in range(5)
    )
    return (
        'format = 1\nid = "loaded"\nversion = "1"\ntitle = "Loaded"\n'
        f'[[stages]]\nid = "only"\nlabel = "{label(99)}"\n{steps}{clocks}'
    )


@cache
def _busy(label: Labels) -> Desk:
    """Twelve spans and five clocks running."""
    return desk_of(_loaded(label), "a b c d e f g h i j k l +119.5 m")


def _drawn(desk: Desk, size: tuple[int, int]) -> list[str]:
    return lines(desk.draw(Size(*size)))


def _fits(desk: Desk, size: tuple[int, int]) -> None:
    drawn = _drawn(desk, size)
    assert len(drawn) == size[1]
    assert {cell_len(line) for line in drawn} == {size[0]}


# -- every size


@settings(max_examples=60, deadline=None)
@given(
    ANY_SIZE, st.sampled_from([_long, _wide]), st.sampled_from(["", "0", "?", "4", "1", "/", "'", "Q", "9"])
)
@example((60, 15), _long, "0")
@example((80, 24), _wide, "?")
def test_every_line_is_as_wide_as_the_screen(size: tuple[int, int], label: Labels, key: str) -> None:
    """Whatever the size, the labels and the panel, the board has exactly its lines, each exactly as wide."""
    desk = _busy(label)
    desk.panel, desk.hint = None, ""
    if key in ("0", "?"):
        press(desk, key)
    elif key:
        desk = desk_of(_loaded(label), f"a b m +200 {key}")

    _fits(desk, size)


@settings(max_examples=60, deadline=None)
@given(st.tuples(st.integers(1, 70), st.integers(1, 25)))
def test_no_size_is_too_small_to_be_drawn(size: tuple[int, int]) -> None:
    """A terminal smaller than any that is meant is drawn as far as it goes."""
    for keys in ("", "0", "/ /"):
        _fits(desk_of(SMALL, f"i c escape t v P 5 0 enter {keys}"), size)


@pytest.mark.parametrize(
    ("keys", "words"), [("4", "Note"), ("Q", "Leave?"), ("z", "no step shown has this key")]
)
def test_what_takes_the_keys_is_said_on_the_smallest_screen(keys: str, words: str) -> None:
    """At 24 by 5 cells a panel, or what is said of a key, has its lines before the clock has."""
    assert words in _words(desk_of(SMALL, f"i {keys}"), (24, 5))


@pytest.mark.parametrize("size", SIZES)
@given(st.text(max_size=200))
def test_a_note_of_anything_overflows_nothing(size: tuple[int, int], text: str) -> None:
    """Wide letters, control codes, directions: nothing written widens a line or acts on a terminal."""
    desk = desk_of(SMALL, "i 4")
    desk.paste(text + "\x1b[2J\u202e字")

    _fits(desk, size)
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", "".join(_drawn(desk, size)))


# -- nothing lost


def _words(desk: Desk, size: tuple[int, int]) -> str:
    return " ".join(" ".join(_drawn(desk, size)).split())


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("marked", [0, 13, 39])
def test_steps_are_whole_or_counted(size: tuple[int, int], marked: int) -> None:
    """Of forty steps with long labels each is there with its first and last word, or counted as more."""
    desk = _busy(_long)
    desk.panel, desk.hint = None, ""
    desk.marked = f"s{marked}"

    body = _words(desk, size)

    hidden = sum(
        int(n) for counts in re.findall(r"(\d+) more steps above, (\d+) below", body) for n in counts
    )
    whole = [
        n for n in range(40) if re.search(rf" {LETTERS[n]}[> ]Label{n:02d} ", body) and f"end{n:02d}x" in body
    ]
    assert len(whole) + hidden == 40
    assert marked in whole


@pytest.mark.parametrize("size", SIZES)
def test_what_runs_is_whole_or_counted(size: tuple[int, int]) -> None:
    """Of twelve spans and five clocks each is there with its time, or counted as more."""
    desk = _busy(_long)
    desk.panel, desk.hint = None, ""

    text = _words(desk, size)

    whole = set(re.findall(r"end(\d\d)x+ 01:59", text))
    more = re.search(r"\+ (\d+) more", text)
    only_counted = re.search(r"(\d+) running[,:]", text)
    assert len(whole) + int(more[1] if more else 0) == 17 or (only_counted and only_counted[1] == "17")


def test_open_sheet_reaches_every_line() -> None:
    """Down goes through the sheet of what is open until its last line has been in view."""
    desk = desk_of(_loaded(_long), "a b c d e f g h i j k l +119.5 m 0")
    seen = board(desk)
    for _ in range(len(open_rows(desk))):
        press(desk, "down")
        seen += board(desk)

    for n in range(12):
        assert f"Label{n:02d}" in seen
        assert f"end{n:02d}x" in seen


@pytest.mark.parametrize("size", [(80, 24), (60, 15)])
def test_key_sheet_reaches_every_key(size: tuple[int, int]) -> None:
    """Down goes through the key sheet until every command and every step has been in view."""
    desk = desk_of(SMALL, "right ?")
    seen = _words(desk, size)
    for _ in range(len(key_rows(desk))):
        press(desk, "down")
        seen += " " + _words(desk, size)

    for row in key_rows(desk):
        assert f"{row.key} {row.text.split()[0]}" in seen, row


@pytest.mark.parametrize("size", [(80, 24), (79, 23), (120, 40)])
def test_every_step_that_may_have_been_missed_is_on_the_board(size: tuple[int, int]) -> None:
    """Of any stage of the shipped file and of any time, with the place whole: nothing is out of view."""
    desk = desk_of(shipped(), "s p s b '")
    for _ in (*desk.protocol.stages, "any time"):
        press(desk, "right")
        assert "lines above" not in _words(desk, size)


@pytest.mark.parametrize("size", SIZES)
def test_the_key_sheet_is_named_on_every_board(size: tuple[int, int]) -> None:
    """The way to the keys is always on the screen."""
    assert "? keys" in _words(desk_of(SMALL, "i"), size)


# -- told in words


def test_every_state_of_a_step_has_its_word() -> None:
    """How a step stands is told by a word, whatever the colour."""
    desk = desk_of(SMALL, "i i c escape ; 5 escape d z p +61 p l l left k k")
    work = board(desk)
    press(desk, "left")
    ready = board(desk)

    assert re.search(r"i[> ]Into theatre +ticked 09:00 x2", ready)
    assert re.search(r"t[> ]Time-out +done, not logged", ready)
    assert re.search(r"v[> ]Core vitrectomy +not needed", work)
    assert re.search(r"p[> ]Membrane peel +ticked 09:01", work)
    assert re.search(r"l[> ]Edge laser +due again", work)
    assert re.search(r"u[> ]Heavy liquid out +if used", work)
    assert re.search(r"k[> ]Retina cut +ticked 09:01", work)
    assert re.search(r"y[> ]Iridotomy +not in this case", board(desk_of(SMALL, "right right")))
    assert re.search(r"v[> ]Core vitrectomy +running 01:10", board(desk_of(SMALL, "right v +70")))
    assert re.search(r"i[> ]Into theatre +struck", board(desk_of(SMALL, "i backspace")))


def test_a_minimum_clock_counts_down_to_reached() -> None:
    """A clock with a least time counts down, and then says that it was reached."""
    desk = desk_of(SMALL, "t +60")
    assert "Settling 02:00 to 3 min" in board(desk)

    press(desk, "+120")

    assert "Settling 03:00 3 min reached" in board(desk)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (119, "Raised pressure 01:59"),
        (120, "Raised pressure 02:00 amber: 2 min reached, figure in your file"),
        (300, "Raised pressure 05:00 red: 5 min reached, figure in your file"),
    ],
)
def test_a_maximum_clock_says_what_was_reached(seconds: int, words: str) -> None:
    """Amber and red are words, with the figure that stands in the file."""
    assert words in board(desk_of(SMALL, f"P 5 0 enter +{seconds}"))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("keys", ["", "0", "?", "4", "2", "/ /"])
def test_a_clock_in_red_is_in_the_first_line(size: tuple[int, int], keys: str) -> None:
    """A clock in red comes to the top of the screen, whatever lies over the foot of it."""
    first = _drawn(desk_of(SMALL, f"P 5 0 enter +301 {keys}"), size)[0]

    assert "05:01" in first
    assert "Raised pressure" in first
    assert "red" in first


@pytest.mark.parametrize("size", SIZES)
def test_of_clocks_in_red_the_first_line_says_what_was_reached_and_how_many(size: tuple[int, int]) -> None:
    """With labels as long as can be, what gives way is the end of a label."""
    busy = desk_of(_loaded(_long), "a b c d e +130")
    first = _drawn(busy, size)[0]

    assert "02:10" in first
    assert "red: 2 min + 4 more: Label50" in first or "in your file + 4 more" in first


@pytest.mark.parametrize("size", SIZES)
def test_a_red_clock_moves_nothing_that_the_eye_knows(size: tuple[int, int]) -> None:
    """Red or not, case clock, last entry and marked step stay on their lines, in their letters."""
    calm, red = (_drawn(desk_of(SMALL, f"i P {n} 0 enter +310"), size) for n in (3, 5))
    top = 1 + 2 * height(Size(*size).scale) + 1 if size[1] >= SHORT else 4

    assert "red" in red[0] and "red" not in calm[0]
    assert calm[1:top] == [line.replace("50 mmHg", "30 mmHg") for line in red[1:top]]


@pytest.mark.parametrize("size", [(80, 24), (79, 23), (120, LOW - 1), (120, LOW), (120, 40), (200, 60)])
@pytest.mark.parametrize("keys", ["?", "4", "1"])
def test_a_panel_leaves_the_clock_where_it_is(size: tuple[int, int], keys: str) -> None:
    """Under thirty lines a panel has the marked step told in one plain line; from thirty up all stays."""
    free, asked = (_drawn(desk_of(SMALL, f"i P 5 0 enter +31 {k}"), size) for k in ("", keys))
    top = 1 + height(Size(*size).scale) + 1
    letters = height(Size(*size).scale)

    assert asked[:top] == free[:top]
    if size[1] < LOW:
        assert asked[top].split() == ["due", "First", "count"]
        assert set(asked[top + 1]) == {"─"}
    else:
        assert asked[top : top + letters] == free[top : top + letters]


@pytest.mark.parametrize(
    ("keys", "sign", "what"),
    [
        ("t", "tick", "Time-out"),
        ("i", "tick", "Into theatre"),
        ("right v", "start", "Core vitrectomy"),
        ("right v v", "stop", "Core vitrectomy"),
        ("right d", "tick", "Cut decision"),
        ("i backspace", "strike", "Into theatre"),
        ("6", "", "bookmark"),
        ("i -", "", "Into theatre"),
    ],
)
@pytest.mark.parametrize("width", [80, 300])
def test_the_last_entry_begins_with_the_sign_of_what_was_done(
    keys: str, sign: str, what: str, width: int
) -> None:
    """A tick, a start, a stop and a strike differ by shape before a word is read, large or plain."""
    mark = f"{SIGNS[sign]} " if sign else ""
    drawn = _drawn(desk_of(SMALL, keys), (width, 24))
    beside = [line[22:].rstrip() for line in drawn[1 : 1 + height()]]

    enlarged = [row.rstrip() for row in large(f"{mark}{what}")]
    assert beside == enlarged if lettering_width(f"{mark}{what}") <= width - 23 else beside[0] == mark + what


def test_what_does_not_fit_is_only_counted() -> None:
    """A count of what was left out names no key: a station may have given it another."""
    for size in SIZES:
        for desk in (_busy(_long), desk_of(shipped(), "right right right P O T X S A K G")):
            desk.panel, desk.hint = None, ""
            assert "shows them" not in _words(desk, size)


def test_no_unwelcome_word_is_on_any_board() -> None:
    """The board says deviation, reached, note; never error, alarm, alert, warning, failed, score."""
    seen = "".join(
        board(desk_of(SMALL, keys), 120, 40)
        for keys in (
            "right k k",
            "P 5 0 enter +400",
            "/ / b",
            "/ /",
            "?",
            "0",
            "= f",
            "c 1 enter 1 enter n",
            "Q",
            "4",
            "' ",
        )
    )

    assert not re.search(r"error|alarm|alert|warning|fail|score|violat|unsafe|recommend", seen, re.IGNORECASE)


@pytest.mark.parametrize(
    ("forecast", "words"),
    [
        (Forecast(48, 30, 55, 90), "end expected 09:55 (09:30 to 10:30, n 48)"),
        (Forecast(9), "end expected: n too small (9)"),
        (Forecast(40, outlasted=True), "end expected: longer than all 40 past cases"),
        (None, ""),
    ],
)
def test_when_the_end_is_expected(forecast: Forecast | None, words: str) -> None:
    """The end by past cases, that they are too few or all shorter, or nothing until they are read; paused too."""
    desk = desk_of(SMALL, "i")
    desk.forecaster = lambda _case, _t: forecast

    assert words in board(desk)
    assert ("end expected" in board(desk)) is bool(words)
    press(desk, "7")
    assert "paused" in board(desk)
    assert words in board(desk)


def test_no_end_is_expected_before_the_start_or_after_the_end() -> None:
    """Before the patient is in, and once the case has ended, nothing is said of when it ends."""
    desk = desk_of(SMALL, "")
    desk.forecaster = lambda _case, _t: Forecast(48, 30, 55, 90)
    assert "end expected" not in board(desk)

    press(desk, "i")
    assert "end expected" in board(desk)
    press(desk, "right right x")
    assert desk.case.end
    assert "end expected" not in board(desk)


def test_a_board() -> None:
    """A whole board of 80 by 24, to be looked at."""
    desk = desk_of(SMALL, "i c 1 0 enter 2 enter t +200 v +320 v h d z p +95 P 4 5 enter +130")
    desk.forecaster = lambda _case, _t: Forecast(48, 30, 55, 90)

    assert board(desk) + "\n" == GOLDEN.read_text("utf-8")
