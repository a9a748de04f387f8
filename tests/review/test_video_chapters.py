"""Chapters and captions on a film's own time."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.review.video.align import align
from tracker.review.video.chapters import caption_lines, captions, chapters
from tracker.review.video.maps import Mark, Recording, Segment
from tracker.review.video.pieces import Kind, Piece
from tracker.review.video.reel import Cue, Reel, end_to_end, whole


def piece(
    title: str, start_t: float, stop_t: float | None = None, kind: Kind = "stage", note: str = ""
) -> Piece:
    """A piece whose id is its title."""
    return Piece(title, note, start_t, stop_t, kind, title)


def reel(length_s: float = 600.0, offset: float = 0.0) -> Reel:
    """One recording that begins `offset` seconds into the log."""
    log_t, video_t = max(0.0, offset), max(0.0, -offset)
    alignment = align([Recording("r", length_s)], [Mark(log_t, "r", video_t)])
    return whole(alignment, "r", length_s)


def told(cues: tuple[Cue, ...]) -> list[tuple[float, float, str]]:
    """Cues as tuples."""
    return [(c.start_s, c.stop_s, c.text) for c in cues]


# -- chapters


def test_chapters_begin_at_nought_and_reach_the_end() -> None:
    """Before the first stage there is an opening, and each chapter ends where the next begins."""
    cues, said = chapters([piece("A", 60.0, 200.0), piece("B", 200.0, 500.0)], reel())
    assert told(cues) == [(0.0, 60.0, "Opening"), (60.0, 200.0, "A"), (200.0, 600.0, "B")]
    assert said == ()


def test_a_first_stage_near_the_start_begins_at_nought() -> None:
    """An opening shorter than the least length is not made."""
    cues, _ = chapters([piece("A", 4.0, 200.0)], reel())
    assert told(cues) == [(0.0, 600.0, "A")]


def test_a_short_stage_is_taken_into_the_next_and_named() -> None:
    """Stages under ten seconds have no chapter of their own, and the sentence says which."""
    stages = [piece("A", 0.0, 4.0), piece("B", 4.0, 9.0), piece("C", 9.0, 300.0), piece("D", 595.0, 600.0)]
    cues, said = chapters(stages, reel())
    assert told(cues) == [(0.0, 600.0, "C")]
    assert [r.text for r in said] == ["Shorter than 10 s and so without a chapter of their own: A; B; D."]


def test_a_recording_that_begins_within_a_stage_opens_with_it() -> None:
    """Of the stages under way when the recording starts the one begun last is the first chapter."""
    stages = [piece("A", 0.0, 400.0), piece("B", 50.0, 300.0), piece("C", 200.0, 500.0)]
    cues, _ = chapters(stages, reel(offset=100.0))
    assert told(cues) == [(0.0, 100.0, "B"), (100.0, 600.0, "C")]


def test_stages_that_the_recording_does_not_show_have_no_chapter() -> None:
    """What ended before the first picture or began after the last is not there; nothing at all is nothing."""
    stages = [piece("A", 0.0, 90.0), piece("B", 150.0, 300.0), piece("C", 800.0, 900.0)]
    assert [c.text for c in chapters(stages, reel(offset=100.0))[0]] == ["Opening", "B"]
    assert chapters([piece("C", 800.0, 900.0)], reel()) == ((), ())


def test_a_stage_begun_while_the_recorder_stood_still_begins_where_it_goes_on() -> None:
    """The first second shown of a stage begun during a pause is that at which the file goes on."""
    segments = [Segment("r", 0.0, 100.0), Segment("r", 200.0, None)]
    alignment = align([Recording("r", 400.0)], [Mark(50.0, "r", 50.0)], segments)
    cues, _ = chapters([piece("A", 0.0, 90.0), piece("B", 150.0, 300.0)], whole(alignment, "r", 400.0))
    assert told(cues) == [(0.0, 100.0, "A"), (100.0, 400.0, "B")]


def test_chosen_steps_have_chapters_instead_of_the_stages() -> None:
    """Each tick of a chosen step begins a chapter."""
    given_pieces = [
        piece("A", 0.0, 600.0),
        piece("peel", 100.0, 150.0, "step"),
        piece("laser", 300.0, None, "point"),
    ]
    cues, _ = chapters(given_pieces, reel(), {"peel", "laser"})
    assert told(cues) == [(0.0, 100.0, "Opening"), (100.0, 300.0, "peel"), (300.0, 600.0, "laser")]


@given(
    st.lists(st.tuples(st.floats(-500, 1500), st.floats(0, 900)), max_size=12),
    st.floats(0.5, 900),
    st.floats(0, 60),
    st.floats(-100, 100),
)
def test_chapters_always_begin_at_nought_ascend_and_are_long_enough(
    spans: list[tuple[float, float]], length_s: float, min_s: float, offset: float
) -> None:
    """Whatever the stages, chapters have no gap, reach the end, and only a lone one may be short."""
    stages = [piece(str(i), start, start + length) for i, (start, length) in enumerate(spans)]
    cues, _ = chapters(stages, reel(length_s, offset), (), min_s)
    assert all(c.stop_s > c.start_s for c in cues)
    assert all(a.stop_s == b.start_s for a, b in pairwise(cues))
    if cues:
        assert cues[0].start_s == 0.0
        assert cues[-1].stop_s == pytest.approx(length_s, abs=0.002)
    if len(cues) > 1:
        assert all(c.stop_s - c.start_s >= min_s - 0.002 for c in cues)


# -- captions


def test_a_caption_has_the_step_and_its_readings() -> None:
    """Step label on the first line, readings on the second, for six seconds."""
    steps = [piece("Endolaser", 60.0, 200.0, "step", "3 rows, 180 mW"), piece("stage", 0.0, 600.0)]
    cues, said = captions(steps, reel())
    assert cues == (Cue(60.0, 66.0, ("Endolaser", "3 rows, 180 mW")),)
    assert said == ()


def test_captions_give_way_to_each_other() -> None:
    """A caption ends where the next begins, and a burst of ticks queues at a second and a half each."""
    burst = [piece(str(i), 60.0 + t, None, "point") for i, t in enumerate((0.0, 0.5, 1.0, 4.0))]
    assert told(captions(burst, reel())[0]) == [
        (60.0, 61.5, "0"), (61.5, 63.0, "1"), (63.0, 64.5, "2"), (64.5, 70.5, "3"),
    ]  # fmt: skip


def test_captions_without_room_are_left_out_and_counted() -> None:
    """A caption that would come five seconds late, or run past the end, is left out and said."""
    burst = [piece(str(i), 60.0, None, "point") for i in range(10)]
    cues, said = captions([*burst, piece("last", 599.0, None, "point")], reel())
    assert [c.text for c in cues] == ["0", "1", "2", "3"]
    assert said[0].text == "7 captions left out: there was no room beside the others."


def test_each_shot_of_a_cut_says_again_what_is_under_way() -> None:
    """Two clips from one long step both begin with its caption."""
    alignment = align([Recording("r", 600.0)], [Mark(0.0, "r", 0.0)])
    film = end_to_end([*alignment.stretches(100.0, 110.0), *alignment.stretches(300.0, 310.0)])
    cues, _ = captions([piece("peel", 50.0, 400.0, "step")], film)
    assert told(cues) == [(0.0, 6.0, "peel"), (10.0, 16.0, "peel")]


@given(
    st.text(st.characters(blacklist_categories=["Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"]), max_size=300),
    st.text("ab c", max_size=99),
)
def test_captions_have_at_most_two_lines_of_forty_two(title: str, note: str) -> None:
    """However long title and note are, a caption has at most two lines of 42 characters, none blank."""
    lines = caption_lines(title.strip(), note)
    assert len(lines) <= 2
    assert all(0 < len(line.strip()) <= len(line) <= 42 for line in lines)


@given(st.lists(st.tuples(st.floats(-100, 700), st.none() | st.floats(0, 900)), max_size=40))
def test_captions_never_overlap_and_last_long_enough(times: list[tuple[float, float | None]]) -> None:
    """Whatever the steps, captions come one at a time, for a second and a half at least, inside the film."""
    steps = [
        piece(
            str(i), start, None if length is None else start + length, "point" if length is None else "step"
        )
        for i, (start, length) in enumerate(times)
    ]
    cues, said = captions(steps, reel())
    assert all(c.stop_s - c.start_s >= 1.499 for c in cues)
    assert all(a.stop_s <= b.start_s for a, b in pairwise(cues))
    assert all(c.start_s >= 0 and c.stop_s <= 600.001 for c in cues)
    assert bool(said) == (
        len(cues) < sum(1 for p in steps if any(s.first_t(p) is not None for s in reel().shots))
    )
