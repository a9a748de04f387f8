"""The board as lines: every size, every load, nothing overflowing and nothing lost without being counted."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from rich.cells import cell_len

from desks import SMALL, board, clock_of, desk_of, lines, press, read, shipped
from large_letters import PLAIN_CAPITAL, arcmin, capital, columns, written
from tracker.core import events as ev
from tracker.core.forecast import Forecast
from tracker.screen.lettering import SIGNS, STATES, height, large
from tracker.screen.lettering import width as lettering_width
from tracker.screen.lines import SHORT, Size
from tracker.theatre.acts.screen import key_rows, open_rows
from tracker.theatre.board import draw
from tracker.theatre.desk import Desk
from tracker.theatre.drawing.calls import LOW
from tracker.theatre.path import first_mark
from tracker.theatre.scene import Look, scene

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
    ANY_SIZE,
    st.sampled_from([_long, _wide]),
    st.sampled_from(["", "<open>", "?", "<note>", "<reading>", "/", "'", "Q", "<entries>", "5"]),
)
@example((60, 15), _long, "<open>")
@example((80, 24), _wide, "?")
def test_every_line_is_as_wide_as_the_screen(size: tuple[int, int], label: Labels, key: str) -> None:
    """Whatever the size, the labels and the panel, the board has exactly its lines, each exactly as wide."""
    if key in ("<open>", "?"):
        desk = _busy(label)
        press(desk, key)
    else:
        desk = desk_of(_loaded(label), f"a b m +200 {key}")

    _fits(desk, size)


@settings(max_examples=60, deadline=None)
@given(st.tuples(st.integers(1, 70), st.integers(1, 25)))
def test_no_size_is_too_small_to_be_drawn(size: tuple[int, int]) -> None:
    """A terminal smaller than any that is meant is drawn as far as it goes."""
    for keys in ("", "<open>", "/ /", "5 0"):
        _fits(desk_of(SMALL, f"i c escape t v P 5 0 enter {keys}"), size)


@pytest.mark.parametrize(
    ("keys", "words"),
    [("<note>", "Note"), ("Q", "Leave?"), ("w", "no step within reach has this key"), ("5", "Figures")],
)
def test_what_takes_the_keys_is_said_on_the_smallest_screen(keys: str, words: str) -> None:
    """At 24 by 5 cells a panel, or what is said of a key, has its lines before the clock has."""
    assert words in _words(desk_of(SMALL, f"i {keys}"), (24, 5))


@pytest.mark.parametrize("size", SIZES)
@given(st.text(max_size=200))
def test_a_note_of_anything_overflows_nothing(size: tuple[int, int], text: str) -> None:
    """Wide letters, control codes, directions: nothing written widens a line or acts on a terminal."""
    desk = desk_of(SMALL, "i <note>")
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

    large = " ".join(columns(_drawn(desk, size), 2 if size[0] >= 190 else 1))
    whole = set(re.findall(r"end(\d\d)x+ 01:59", f"{text} {large}"))
    more = re.search(r"\+ (\d+) more", text)
    only_counted = re.search(r"(\d+) running[,:]", text)
    assert len(whole) + int(more[1] if more else 0) == 17 or (only_counted and only_counted[1] == "17")


def test_open_sheet_reaches_every_line() -> None:
    """Down goes through the sheet of what is open until its last line has been in view."""
    desk = desk_of(_loaded(_long), "a b c d e f g h i j k l +119.5 m <open>")
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
    desk = desk_of(SMALL, "i i i c escape ; ; right <not_needed> f enter d z p +61 p l l k k")
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
    assert "settling 02:00 to 3 min" in read(desk)

    press(desk, "+120")

    assert "settling 03:00 3 min reached" in read(desk)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (119, "raised pressure 01:59"),
        (120, "raised pressure 02:00 amber: 2 min reached, figure in your file"),
        (300, "raised pressure 05:00 red: 5 min reached, figure in your file"),
    ],
)
def test_a_maximum_clock_says_what_was_reached(seconds: int, words: str) -> None:
    """Amber and red are words, with the figure that stands in the file."""
    assert words in read(desk_of(SMALL, f"P 5 0 enter +{seconds}"))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("keys", ["", "<open>", "?", "<note>", "<decision>", "/ /", "5"])
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
@pytest.mark.parametrize("keys", ["?", "<note>", "<reading>"])
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
        ("<bookmark>", "", "bookmark"),
        ("i <back_stamp>", "", "Into theatre"),
    ],
)
@pytest.mark.parametrize("width", [80, 300])
def test_the_last_entry_begins_with_the_sign_of_what_was_done(
    keys: str, sign: str, what: str, width: int
) -> None:
    """A tick, a start, a stop and a strike differ by shape before a word is read, large or plain."""
    mark = f"{SIGNS[sign]} " if sign else ""
    drawn = _drawn(desk_of(SMALL, keys), (width, 24))
    beside = [line.partition("│")[2].strip("\n ").rstrip() for line in drawn[1 : 1 + height()]]

    enlarged = [row.strip() for row in large(f"{mark}{what}")]
    assert beside == enlarged if lettering_width(f"{mark}{what}") <= width - 24 else beside[0] == mark + what


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
            "<open>",
            "= f",
            "c 1 enter 1 enter n",
            "x",
            "Q",
            "<note>",
            "5",
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
    press(desk, "<pause> <pause>")
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


# -- what the eye sees from three metres

READ = [(80, 24), (120, 40), (200, 60)]
LEAST_ARCMIN = 10
SIDED = (
    SMALL.replace("[[facts]]", 'side_fact = "lens"\n\n[[facts]]', 1)
    .replace('label = "Lens now"', 'label = "eye"')
    .replace('label = "none", key = "a"', 'label = "left", key = "a"')
)


def _shown(stage: int, marked: str, *said: tuple[type[ev.Event], str, int]) -> Desk:
    """A desk on a stage, after steps that were begun, ended or ticked, some seconds apart."""
    desk = desk_of(SMALL, "i t")
    for kind, step, seconds in said:
        begun = desk.case.state(step).last
        pointing = {"ref": begun.start.seq} if kind is ev.Stop and begun else {}
        desk.say(kind, step=step, **pointing)
        clock_of(desk).on(seconds)
    desk.panel, desk.hint, desk.stage, desk.marked = None, "", stage, marked
    return desk


def _cut_again() -> Desk:
    """A cut made again: the edge laser is due again while the cut runs."""
    return _shown(
        1, "cut", (ev.Start, "cut", 20), (ev.Stop, "cut", 9), (ev.Start, "laser", 9), (ev.Stop, "laser", 9),
        (ev.Start, "cut", 5),
    )  # fmt: skip


@pytest.mark.parametrize("size", READ)
def test_what_runs_and_what_is_due_are_read_at_three_metres(size: tuple[int, int]) -> None:
    """Label and time of what runs, label of what is due, in letters of ten minutes of arc or more."""
    desk = _cut_again()
    found = [w for scale in (1, 2) for w in written(_drawn(desk, size), scale)]
    text = " ".join(columns(_drawn(desk, size), 2 if size[0] >= 190 else 1))

    assert "retina cut 00:05" in text
    assert "edge laser" in text
    assert "a further cut was made" in (text if size[1] >= 40 else read(desk, *size))
    assert min(capital(w.scale, size[1]) for w in found) >= LEAST_ARCMIN


@pytest.mark.parametrize("size", READ)
def test_why_the_marked_step_is_due_again_is_told_with_it(size: tuple[int, int]) -> None:
    """Large where there is room for it, else beside its word; asked once more, it goes to where the others are."""
    desk = _cut_again()
    desk.marked = "laser"
    asked = lines(draw(replace(desk.scene(), ask="l once more"), Size(*size), desk.all_commands))

    assert "edge laser" in columns(_drawn(desk, size))[0]
    text = " ".join(columns(_drawn(desk, size))) if size[1] >= LOW else read(desk, *size)
    assert "a further cut was made" in text
    everything = " ".join(" ".join([*asked, *columns(asked, 2 if size[0] >= 190 else 1)]).split()).lower()
    assert "a further cut was made" in everything


def test_plain_letters_are_not_read_at_three_metres() -> None:
    """So what has to be read there is large at every size: plain capitals are of 7.8, 4.7 and 3.1 minutes of arc."""
    assert [round(arcmin(PLAIN_CAPITAL, rows), 1) for _, rows in READ] == [7.8, 4.7, 3.1]
    assert [round(capital(Size(*size).scale, size[1]), 1) for size in READ] == [35.7, 21.4, 28.5]
    assert [round(capital(1, rows), 1) for _, rows in READ] == [35.7, 21.4, 14.3]


@pytest.mark.parametrize("size", [(120, 40), (200, 60)])
def test_how_each_step_stands_is_read_at_three_metres(size: tuple[int, int]) -> None:
    """At 120 by 40 as a large sign before each, at 200 by 60 in large letters, the marked one at the top."""
    desk = _shown(1, "peel", (ev.Start, "core", 60), (ev.Stop, "core", 0), (ev.Start, "peel", 0))
    rows = _drawn(desk, size)

    text = " ".join(columns(rows, 2 if size[0] >= 190 else 1))
    body = "\n".join(rows[9:])

    assert "membrane peel 00:00" in text
    for told, how in (("core vitrectomy: ticked 09:01", "ticked"), ("heavy liquid in: due", "due")):
        assert told in text or all(row in body for row in large(STATES[how])), how
    if size == (200, 60):
        assert "core vitrectomy: ticked 09:01" in text
        assert text.count("membrane peel") == 2, "the last entry and the marked step, not in the list again"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("keys", ["", "i t right v +4000 k", "P 5 0 enter +400", "?"])
def test_the_side_of_the_eye_is_always_in_the_same_place(size: tuple[int, int], keys: str) -> None:
    """At the right edge beside the clock, large, whatever else is on the board."""
    rows = _drawn(desk_of(SIDED, keys, facts={"lens": "aphakic"}), size)

    if size[1] < SHORT:
        assert " LEFT EYE " in rows[1]
    else:
        scale = Size(*size).scale
        drawn = large("left eye", scale)
        assert [row[-len(drawn[0]) - 1 :].rstrip() for row in rows[1 : 1 + len(drawn)]] == [
            row.rstrip() for row in drawn
        ]


@pytest.mark.parametrize("size", [*SIZES, (40, 20), (50, 24)])
def test_a_side_that_is_not_chosen_is_said(size: tuple[int, int]) -> None:
    """In words, at every size; a file that does not say which fact it is has no such words."""
    desk = desk_of(SIDED)
    unsaid = replace(desk.scene(), side="SIDE NOT CHOSEN")
    rows = lines(draw(unsaid, Size(*size), desk.all_commands))

    told = " ".join([*rows, *columns(rows)]).upper()
    assert all(word in told for word in ("SIDE", "NOT", "CHOSEN"))
    assert "SIDE" not in " ".join(_drawn(desk_of(SMALL), size)).upper()


@pytest.mark.parametrize("size", SIZES)
def test_steps_of_other_stages_are_told_with_their_stage(size: tuple[int, int]) -> None:
    """Those beside stand with the steps and name their stage; those ahead are on one line, or counted."""
    desk = desk_of(SMALL, "i c escape t right")
    look = Look(1, "core", ("count_in",), ("fill", "closing"))
    now = desk.session.now_t(desk.session.clock())
    beside = scene(desk.case, now, desk.session.clock().at, look, ())
    rows = lines(draw(beside, Size(*size), desk.all_commands))
    told = " ".join(" ".join([*rows, *columns(rows, 2 if size[0] >= 190 else 1)]).split()).lower()

    assert "first" in told
    assert "stage 1 ticked" in told or "ticked 09:00, stage 1" in told
    assert "next 3 fill and close d tamponade" in told or "2 next" in told


@pytest.mark.parametrize("size", READ)
def test_what_is_asked_once_more_stands_in_place_of_the_marked_step(size: tuple[int, int]) -> None:
    """In large letters on a ground of its own, and nothing above it moves."""
    desk = desk_of(SMALL, "i")
    calm = draw(desk.scene(), Size(*size), desk.all_commands)
    asked = draw(replace(desk.scene(), ask="Iridotomy: y once more"), Size(*size), desk.all_commands)
    above = 1 + height(Size(*size).scale) + 1

    assert calm[:above] == asked[:above]
    assert "iridotomy: y once more" in " ".join(columns(lines(asked)))
    assert {tone for _, tone in asked[above]} == {"mark"}


def test_words_too_long_to_be_asked_large_are_asked_in_plain_letters() -> None:
    """Whole, over as many lines as they take."""
    desk = desk_of(SMALL, "i")
    words = "A step that is not in this case, as the lens is still there: the same key once more writes it all the same"
    rows = lines(draw(replace(desk.scene(), ask=words), Size(80, 24), desk.all_commands))

    assert words in " ".join(" ".join(rows).split())


def test_the_last_entry_names_its_stage_when_another_is_shown() -> None:
    """A step of the stage shown is told by itself."""
    assert "Core vitrectomy started" in board(desk_of(SMALL, "right v"))
    assert "stage" not in board(desk_of(SMALL, "right v")).splitlines()[4]
    assert "Core vitrectomy started, stage 2" in board(desk_of(SMALL, "right v right"))
    assert "Core vitrectomy started, stage 2" in board(desk_of(SMALL, "right v right left left"))


@pytest.mark.parametrize("size", SIZES)
def test_what_differs_pushes_no_key_away(size: tuple[int, int]) -> None:
    """However much differs, the steps and the foot are as they were, and it takes three lines at most."""
    desk = desk_of(SMALL, "i t right")
    few, many = (
        lines(draw(replace(desk.scene(), deviations=tuple(f"Step {n}: no tick" for n in range(count))), Size(*size),
                   desk.all_commands))
        for count in (1, 200)
    )  # fmt: skip

    steps = [row for row in few if "Core vitrectomy" in row or "Heavy liquid in" in row]
    assert set(steps) <= set(many)
    foot = next(i for i, row in enumerate(few) if "keys" in row or "Space" in row)
    assert few[foot:] == many[foot:]
    assert sum("no tick" in row for row in many) <= 3


def test_two_screens_that_come_upon_a_case_mark_the_same_step() -> None:
    """What was begun last of what runs, else what is expected after the last entry."""
    assert first_mark(desk_of(SMALL, "right v +5 h p +5 h").case) == "peel"
    assert first_mark(desk_of(SMALL, "right v +5 v").case) == "peel"
    assert first_mark(desk_of(SMALL).case) == "in_theatre"
