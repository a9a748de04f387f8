"""The timeline: what is on which lane, when it is told to have been, and how it looks in plain text."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from record_case import WHOLE, story
from tracker.core.fold import fold
from tracker.core.timeline import Bar, Lane, Mark, Timeline, timeline
from tracker.core.timeline_text import cells, fitted, text_timeline

GOLDEN = Path(__file__).parent.parent / "golden"

NIGHT = """
23:40:00 opened
23:45:00 tick step=in_theatre
23:50:00 start step=core
00:10:00 stop step=core ref=3
00:12:00 start step=membranes
"""


def lane(drawing: Timeline, kind: str, ident: str) -> Lane:
    """The one lane of that kind and id."""
    (found,) = [x for x in drawing.lanes if (x.kind, x.ident) == (kind, ident)]
    return found


def times(bars: tuple[Bar, ...]) -> list[tuple[str, str]]:
    """The told times of bars, `-` for no stop."""
    return [(f"{b.start_at:%H:%M:%S}", f"{b.stop_at:%H:%M:%S}" if b.stop_at else "-") for b in bars]


# -- lanes


def test_every_stage_has_a_lane_in_file_order_even_when_empty() -> None:
    """A stage nobody reached still has its line, so that two cases can be laid side by side."""
    drawing = timeline(story("09:00 opened"), 0.0)
    assert [(x.kind, x.label) for x in drawing.lanes] == [
        ("stage", "Ready"), ("stage", "Peel and cut"), ("stage", "Fill and close"),
    ]  # fmt: skip


def test_spans_are_bars_and_points_are_marks() -> None:
    """A span lies from its start to its stop, anything else stands at its tick."""
    peel = lane(timeline(story(WHOLE), 9e9), "stage", "peel")
    assert times(peel.bars) == [
        ("09:06:00", "09:16:30"), ("09:25:00", "09:31:00"),
        ("09:18:10", "09:24:10"), ("09:32:00", "09:40:00"),
    ]  # fmt: skip
    assert [(m.ident, f"{m.at:%H:%M}", m.t) for m in peel.marks] == [
        ("liquid_in", "09:17", 22 * 60.0), ("liquid_out", "09:46", 51 * 60.0),
    ]  # fmt: skip


def test_a_struck_tick_is_not_drawn_and_a_moved_one_stands_where_it_was_moved() -> None:
    """The drawing shows what stands: the second time-out was a wrong key for heavy liquid out."""
    ready = lane(timeline(story(WHOLE), 9e9), "stage", "ready")
    assert [m.ident for m in ready.marks] == ["in_theatre", "count_in", "time_out"]


def test_a_pair_is_a_bar_while_something_is_in() -> None:
    """A matched pair lies from what opened it to what closed it."""
    liquid = lane(timeline(story(WHOLE), 9e9), "pair", "liquid")
    assert times(liquid.bars) == [("09:17:00", "09:46:00")]
    assert liquid.seconds == 29 * 60
    assert liquid.label == "Heavy liquid: in the eye"


def test_clocks_pauses_and_gaps_have_lanes() -> None:
    """Whatever ran has its own lane with its length."""
    drawing = timeline(story(WHOLE), 9e9)
    assert times(lane(drawing, "clock", "raised").bars) == [("09:20:30", "09:23:10")]
    assert lane(drawing, "pause", "pause").seconds == 180
    assert lane(drawing, "gap", "gap").seconds == 240


def test_each_operator_has_a_lane_up_to_the_end_of_the_case() -> None:
    """A take-over ends one operator's bar where it begins the other's."""
    drawing = timeline(story(WHOLE), 9e9)
    assert times(lane(drawing, "operator", "consultant").bars) == [("08:55:11", "09:18:00")]
    assert times(lane(drawing, "operator", "fellow").bars) == [("09:18:00", "10:05:00")]


def test_deviations_complications_and_bookmarks_are_marks_with_their_level() -> None:
    """Each deviation stands at its event; complications have their own lane and are not drawn twice."""
    drawing = timeline(story(WHOLE), 9e9)
    marks = lane(drawing, "deviation", "deviation").marks
    assert [m.kind for m in marks].count("safety") == 2
    assert (marks[0].ident, f"{marks[0].at:%H:%M:%S}") == ("cut", "09:18:10")
    assert "bleed" not in [m.ident for m in marks]
    trouble = lane(drawing, "complication", "complication")
    assert times(trouble.bars) == [("09:20:00", "09:23:30")]
    assert [m.label for m in trouble.marks] == ["Bleeding from the cut edge"]
    assert [m.label for m in lane(drawing, "bookmark", "bookmark").marks] == ["good bit"]


def test_a_clock_stopped_by_something_not_logged_has_no_logged_end() -> None:
    """Heavy liquid that came out unlogged was out by then; when is not known, so no stop is drawn."""
    case = story(
        "09:00 opened\n09:05 tick step=liquid_in\n09:20 not_logged step=liquid_out\n09:30 note text=x"
    )
    (bar,) = lane(timeline(case, 1800.0), "clock", "liquid_time").bars
    assert bar.open
    assert bar.stop_t == 20 * 60


def test_what_runs_reaches_to_now_and_no_further_once_the_case_has_ended() -> None:
    """An open bar grows with the clock of a running case and stops at the end of an ended one."""
    running = story(NIGHT)
    assert lane(timeline(running, 2400.0), "stage", "peel").bars[-1].stop_t == 2400
    assert lane(timeline(running, 2500.0), "stage", "peel").bars[-1].stop_t == 2500
    ended = story(NIGHT + "00:20:00 tick step=out_theatre")
    assert timeline(ended, 2400.0) == timeline(ended, 9e9)
    assert lane(timeline(ended, 9e9), "stage", "peel").bars[-1].open


# -- times told


def test_a_case_over_midnight_runs_forwards() -> None:
    """Case seconds go on over midnight while the time told starts again; the heading gives both dates."""
    drawing = timeline(story(NIGHT), 2400.0)
    core = lane(drawing, "stage", "peel").bars[0]
    assert (core.start_t, core.stop_t) == (600.0, 1800.0)
    assert times((core,)) == [("23:50:00", "00:10:00")]
    text = text_timeline(drawing, 80)
    assert text[0] == "2026-10-24 23:45 to 2026-10-25 00:20 (UTC+01:00)   35 min"
    assert text[2].split() == ["23:45", "23:50", "23:55", "00:00", "00:05", "00:10", "00:15"]


def test_the_end_of_summer_time_moves_no_bar() -> None:
    """02:00 became 01:00 on 25 October 2026 in London; ten minutes before to ten after are twenty minutes.

    Source: Summer Time Order 2002 (SI 2002/262): summer time ends at 1 a.m. Greenwich mean time on the last
    Sunday in October.
    """
    case = story(
        """
        01:45:00 opened
        01:50:00 start step=core
        01:10:00 stop step=core ref=2 zone=+00:00
        01:20:00 tick step=out_theatre
        """
    )
    drawing = timeline(case, 9e9)
    (core,) = lane(drawing, "stage", "peel").bars
    assert core.stop_t - core.start_t == 20 * 60
    text = text_timeline(drawing, 80)
    assert text[0] == "2026-10-24 01:50 (UTC+01:00) to 01:20 (UTC+00:00)   30 min"
    assert text[2].split()[0] == "01:50"
    assert text[2].split()[-1] in ("01:10", "01:15", "01:20")


def test_a_station_clock_set_in_mid_case_changes_the_labels_and_not_the_lengths() -> None:
    """After the clock was put seven minutes on, the axis tells the new time and the bar keeps its length."""
    case = story("09:00 opened\n09:10 start step=core\n09:20 stop step=core ref=2")
    *before, stop = case.events
    told = stop.at + timedelta(minutes=7)
    after = fold(case.protocol, (*before, stop.model_copy(update={"at": told, "entered_at": told})))
    drawing = timeline(after, 1200.0)
    (core,) = lane(drawing, "stage", "peel").bars
    assert core.stop_t - core.start_t == 600
    assert f"{drawing.at(900.0):%H:%M}" == "09:15"
    assert f"{drawing.at(1260.0):%H:%M}" == "09:28"


# -- plain text


@pytest.mark.parametrize("width", [80, 120])
def test_the_whole_case_looks_as_it_did(width: int) -> None:
    """The drawing of the whole small case, kept as a file to be read by eye."""
    text = "".join(f"{line}\n" for line in text_timeline(timeline(story(WHOLE), 9e9), width))
    assert text == (GOLDEN / f"timeline_{width}.txt").read_text(encoding="utf-8")


def test_the_whole_case_in_ascii_looks_as_it_did() -> None:
    """A terminal without line letters gets the same picture in ASCII."""
    text = "".join(f"{line}\n" for line in text_timeline(timeline(story(WHOLE), 9e9), 80, ascii_only=True))
    assert text.isascii()
    assert text == (GOLDEN / "timeline_80_ascii.txt").read_text(encoding="ascii")


def test_a_case_over_midnight_looks_as_it_did() -> None:
    """The drawing of a running case that began before midnight."""
    text = "".join(f"{line}\n" for line in text_timeline(timeline(story(NIGHT), 2400.0), 80))
    assert text == (GOLDEN / "timeline_midnight.txt").read_text(encoding="utf-8")


def test_an_empty_case_says_so() -> None:
    """Nothing logged is one sentence and no axis."""
    assert text_timeline(timeline(story(""), 0.0), 80) == ("Nothing on the timeline yet.",)


def test_one_tick_alone_has_an_axis_of_a_minute() -> None:
    """A single moment still has somewhere to stand."""
    drawing = timeline(story("09:00 opened\n09:01 tick step=in_theatre"), 60.0)
    assert drawing.stop_t - drawing.start_t == 60
    assert "◆" in "".join(text_timeline(drawing, 80))


def test_bars_that_only_touch_share_no_cell() -> None:
    """Half-open bars: the second begins in the cell after the first, and the shortest still has one cell."""
    at = datetime.fromisoformat("2026-10-24T09:00:00+01:00")
    bars = (
        Bar("a", "a", 1, 0.0, 60.0, at, at),
        Bar("b", "b", 2, 60.0, 60.0, at, at),
        Bar("c", "c", 3, 120.0, 6000.0, at, at),
    )
    lanes = tuple(Lane("clock", b.ident, b.ident, (b,)) for b in bars)
    a, b, c = text_timeline(Timeline(lanes, 0.0, 6000.0, ((0.0, at),)), 111)[4:7]
    assert (a[2:].index("█"), a.count("█")) == (0, 1)
    assert (b[2:].index("█"), b.count("█")) == (1, 1)
    assert (c[2:].index("█"), c.count("█")) == (2, 98)


_LABELS = st.text(st.characters(codec="utf-8"), max_size=60)
_TIMES = st.floats(-1e5, 1e7, allow_nan=False)
_AT = datetime.fromisoformat("2026-03-29T00:30:00+00:00")


@st.composite
def drawings(draw: st.DrawFn) -> Timeline:
    """Any timeline at all."""
    lanes = []
    for _ in range(draw(st.integers(1, 4))):
        starts = sorted(draw(st.lists(_TIMES, min_size=2, max_size=2)))
        stop_at = draw(st.sampled_from([None, _AT]))
        bar = Bar("x", "x", 1, starts[0], starts[1], _AT, stop_at)
        kind = draw(st.sampled_from(["tick", "safety", "order", "note", "complication", "bookmark"]))
        mark = Mark(kind, "x", "x", 1, draw(_TIMES), _AT)
        lane_kind = draw(st.sampled_from(["stage", "clock", "deviation"]))
        lanes.append(
            Lane(lane_kind, "x", draw(_LABELS), (bar,), (mark,), draw(st.none() | st.floats(0, 1e9)))
        )
    reached = [t for x in lanes for b in x.bars for t in (b.start_t, b.stop_t)]
    reached += [m.t for x in lanes for m in x.marks]
    start = min(reached)
    return Timeline(tuple(lanes), start, max([*reached, start + 60]), ((0.0, _AT),))


@given(drawings(), st.integers(0, 200), st.booleans())
def test_no_line_is_wider_than_asked(drawing: Timeline, width: int, ascii_only: bool) -> None:
    """Whatever the labels and times, no line is wider than asked (or 60), nor holds a control code."""
    lines = text_timeline(drawing, width, ascii_only=ascii_only)
    assert max(map(cells, lines)) <= max(width, 60)
    assert not {c for line in lines for c in line if unicodedata.category(c)[0] == "C"}
    assert not ascii_only or "".join(lines).isascii()


@given(st.text(st.sampled_from("aé網膜ＡﾊÅ̊ 한グ"), max_size=30), st.integers(4, 40))
def test_widths_agree_with_what_the_terminal_library_counts(text: str, width: int) -> None:
    """Labels of other scripts are cut to the same number of cells that rich counts for them."""
    assert cells(text) == cell_len(text)
    assert cells(fitted(text, width)) == width


def test_a_drawing_narrower_than_sixty_is_drawn_at_sixty() -> None:
    """Below sixty cells there is nothing left to draw in."""
    drawing = timeline(story(WHOLE), 9e9)
    assert text_timeline(drawing, 10) == text_timeline(drawing, 60)


def test_the_strongest_mark_of_a_cell_is_the_one_drawn() -> None:
    """Where several deviations share a cell, the one the file takes most seriously shows."""
    mark = Mark("note", "x", "x", 1, 0.0, _AT)
    marks = (replace(mark, kind="safety"), mark, replace(mark, kind="order"))
    drawing = Timeline((Lane("deviation", "x", "Deviations", marks=marks),), 0.0, 60.0, ((0.0, _AT),))
    assert text_timeline(drawing, 80)[4].split()[1][0] == "▲"
