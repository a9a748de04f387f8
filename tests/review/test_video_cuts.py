"""What goes into a cut of so many minutes, and how it is split and merged."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.review.video.align import align
from tracker.review.video.cuts import Cut, Roll, Rolls, candidates, cut
from tracker.review.video.maps import Alignment, Mark, Recording
from tracker.review.video.pieces import Kind, Piece

ONE = align([Recording("r", 3600.0)], [Mark(0.0, "r", 0.0)])
TWO = align([Recording("a", 1800.0), Recording("b", 1500.0)], [Mark(0.0, "a", 0.0), Mark(2000.0, "b", 0.0)])
"""Two files with 200 s between them that nothing recorded."""


def piece(
    title: str, start_t: float, stop_t: float | None = None, kind: Kind = "bookmark", note: str = ""
) -> Piece:
    """A piece whose id is its title."""
    return Piece(title, note, start_t, stop_t, kind, title)


def clips(made: Cut) -> list[tuple[str, float, float, str]]:
    """The clips as tuples."""
    return [(c.file, round(c.stretch.in_s, 3), round(c.stretch.out_s, 3), c.title) for c in made.clips]


def fates(made: Cut) -> list[tuple[str, str, float]]:
    """What became of each piece, with the running total."""
    return [(p.piece.title, p.fate, round(p.total_s, 3)) for p in made.picks]


MIXED = [
    piece("short", 100.0, 160.0, "step"),
    piece("second", 900.0, None, "deviation"),
    piece("first", 2000.0, None, "deviation"),
    piece("late", 3000.0),
    piece("early", 500.0),
    piece("long", 1200.0, 1500.0, "step"),
    piece("point", 700.0, None, "point"),
    piece("stage", 0.0, 3600.0, "stage"),
]


def test_bookmarks_then_deviations_then_the_longest_steps() -> None:
    """Bookmarks come in time order, deviations as the record orders them, steps by their length."""
    assert [p.title for p in candidates(MIXED)] == ["early", "late", "second", "first", "long", "short"]


def test_a_span_beside_the_operation_is_no_clip_however_long() -> None:
    """The recorder's own span would fill every budget; a bookmark within it is shown all the same."""
    made = cut([piece("recording", 0.0, 1700.0, "aside"), piece("edge", 100.0)], ONE, 8.0)

    assert [p.piece.title for p in made.picks] == ["edge"]


def test_the_running_total_keeps_to_the_budget() -> None:
    """Four moments of 45 s and a step cut short to fill five minutes; the rest is left out and said."""
    made = cut(MIXED, ONE, 5.0)
    assert fates(made) == [
        ("early", "taken", 45.0),
        ("late", "taken", 90.0),
        ("second", "taken", 135.0),
        ("first", "taken", 180.0),
        ("long", "cut short", 300.0),
        ("short", "left out", 300.0),
    ]
    assert made.seconds == pytest.approx(300.0)
    assert clips(made) == [
        ("r", 485.0, 530.0, "early"),
        ("r", 885.0, 930.0, "second"),
        ("r", 1195.0, 1315.0, "long"),
        ("r", 1985.0, 2030.0, "first"),
        ("r", 2985.0, 3030.0, "late"),
    ]
    assert [r.text for r in made.remarks] == ["Left out for want of time: 1 piece."]


def test_a_moment_is_whole_or_not_there() -> None:
    """Half a bookmark would not show its moment; what is left goes to nothing shorter than ten seconds."""
    made = cut([piece("a", 100.0), piece("b", 300.0), piece("s", 500.0, 900.0, "step")], ONE, 50 / 60)
    assert [fate for _, fate, _ in fates(made)] == ["taken", "left out", "left out"]


def test_without_a_budget_everything_is_taken() -> None:
    """No budget is no limit."""
    assert {fate for _, fate, _ in fates(cut(MIXED, ONE, None))} == {"taken"}


@pytest.mark.parametrize("budget", [0.0, -3.0, float("nan")])
def test_a_budget_of_nothing_cuts_nothing_and_says_so(budget: float) -> None:
    """Nought, less, or no number is answered with a sentence."""
    made = cut(MIXED, ONE, budget)
    assert made.clips == ()
    assert made.remarks[0].text == "The clip budget has to be more than 0 minutes; nothing is cut."


def test_what_overlaps_plays_once_under_both_titles() -> None:
    """Two bookmarks 20 s apart are one clip of 65 s under both titles; a third inside adds nothing."""
    made = cut(
        [piece("a", 100.0, note="x"), piece("b", 120.0, note="y"), piece("c", 110.0, 111.0, "step")],
        ONE,
        None,
    )
    assert clips(made) == [("r", 85.0, 150.0, "a / c / b")]
    assert made.clips[0].note == "x; y"
    assert fates(made)[-1] == ("c", "in already", 65.0)


def test_a_clip_over_two_files_is_split_and_the_hole_is_not_counted() -> None:
    """A step from one file into the next becomes two clips, without the time nobody recorded."""
    made = cut([piece("peel", 1700.0, 2100.0, "step")], TWO, None)
    assert clips(made) == [("a", 1695.0, 1800.0, "peel"), ("b", 0.0, 105.0, "peel")]
    assert made.seconds == pytest.approx(210.0)
    shorter = cut([piece("peel", 1700.0, 2100.0, "step")], TWO, 2.0)
    assert clips(shorter) == [("a", 1695.0, 1800.0, "peel"), ("b", 0.0, 15.0, "peel")]


def test_what_no_file_shows_is_said() -> None:
    """A bookmark in the hole between two files cannot be cut, and its moment is named."""
    made = cut([piece("lost", 1900.0), piece("kept", 100.0)], TWO, None)
    assert fates(made) == [("kept", "taken", 45.0), ("lost", "not recorded", 45.0)]
    assert [r.text for r in made.remarks] == ["In no recording: 1 piece, the first at 31:40."]


def test_rolls_are_those_of_the_step_or_the_usual_ones() -> None:
    """Moments have 15 s before and 30 s after, spans 5 s each, a step or a piece its own."""
    bookmark, span = piece("b", 100.0), piece("s", 100.0, 200.0, "step")
    assert (Rolls().interval(bookmark).start, Rolls().interval(bookmark).stop) == (85.0, 130.0)
    assert (Rolls().interval(span).start, Rolls().interval(span).stop) == (95.0, 205.0)
    own = Rolls({"s": Roll(0.0, 1.0), bookmark.key: Roll(2.0, 3.0)})
    assert (own.interval(span).start, own.interval(span).stop) == (100.0, 201.0)
    assert (own.interval(bookmark).start, own.interval(bookmark).stop) == (98.0, 103.0)
    assert own.interval(piece("b", 999.0)).start == 984.0


def test_a_clip_at_the_edge_of_a_recording_is_clipped_to_it() -> None:
    """The roll before the first second of a file is not there to be shown."""
    assert clips(cut([piece("a", 5.0), piece("z", 3590.0)], ONE, None)) == [
        ("r", 0.0, 35.0, "a"), ("r", 3575.0, 3600.0, "z"),
    ]  # fmt: skip


def test_a_cut_of_nothing_is_empty() -> None:
    """No pieces or no recordings give no clips and no failure."""
    assert cut([], ONE, 5.0) == Cut()
    assert cut(MIXED, Alignment(), 5.0).clips == ()


PIECES = st.lists(
    st.builds(
        lambda start, length, kind: piece(
            f"{kind} {start}", start, start + length if kind == "step" else None, kind
        ),
        st.floats(-50, 3700),
        st.floats(0, 1500),
        st.sampled_from(["bookmark", "deviation", "step"]),
    ),
    max_size=15,
)


@given(PIECES, st.none() | st.floats(0.1, 30))
def test_a_cut_keeps_its_budget_its_order_and_its_files(
    given_pieces: list[Piece], budget: float | None
) -> None:
    """Whatever the pieces, clips lie inside their files, ascend, never overlap and fit the budget."""
    made = cut(given_pieces, TWO, budget)
    assert budget is None or made.seconds <= budget * 60 + 0.01
    if made.picks:
        assert made.seconds == pytest.approx(made.picks[-1].total_s, abs=0.1 * (1 + 2 * len(made.picks)))
    for clip in made.clips:
        assert -1e-6 <= clip.stretch.in_s < clip.stretch.out_s <= {"a": 1800.0, "b": 1500.0}[clip.file] + 1e-6
    assert all(a.stretch.to_t <= b.stretch.from_t for a, b in pairwise(made.clips))
    totals = [0.0, *(p.total_s for p in made.picks)]
    assert all(b >= a for a, b in pairwise(totals))
