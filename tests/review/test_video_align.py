"""Marks become maps from the log to the files, and what is odd about them is said."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.review.video.align import align, words
from tracker.review.video.maps import Alignment, Mark, Recording, Segment, line

REC = Recording("rec1.mp4", 7200.0)


def marks(*pairs: tuple[float, float], file: str = "rec1.mp4") -> list[Mark]:
    """Marks of one file from pairs of log and video seconds."""
    return [Mark(log_t, file, video_t) for log_t, video_t in pairs]


def codes(alignment: Alignment) -> list[str]:
    """The codes of all remarks in order."""
    return [r.code for r in alignment.remarks]


def text(alignment: Alignment, code: str) -> str:
    """The sentence of the first remark of a kind."""
    return next(r.text for r in alignment.remarks if r.code == code)


# -- maps


def test_one_mark_gives_the_offset_and_pace_one() -> None:
    """With one mark the recording runs as the log does, only shifted."""
    part = align([REC], marks((100.0, 40.0))).parts[0]
    assert (part.a, part.b) == (-60.0, 1.0)
    assert (part.from_t, part.to_t) == (60.0, 7260.0)


def test_two_marks_give_the_drift() -> None:
    """Between two marks the pace is that of the file against the log."""
    part = align([REC], marks((0.0, 10.0), (3600.0, 3611.8))).parts[0]
    assert part.b == pytest.approx(1 + 1.8 / 3600)
    assert part.residuals == pytest.approx((0.0, 0.0), abs=1e-9)


def test_three_marks_give_the_least_squares_line_with_its_residuals() -> None:
    """Residuals are those of the least-squares line, which add up to nothing."""
    # By hand: x = -1, 0, 1 (hours) and y = 0, 0.6, 0 s off gives slope 0, mean 0.2, residuals -.2 .4 -.2.
    given_marks = marks((0.0, 10.0), (3600.0, 3610.6), (7200.0, 7210.0))
    (part,) = align([Recording("rec1.mp4", 9000.0)], given_marks).parts
    assert part.residuals == pytest.approx((-0.2, 0.4, -0.2), abs=1e-6)


@given(
    st.floats(-2900, 3000),
    st.floats(0.9985, 1.0015),
    st.lists(st.floats(3000, 10_000), min_size=2, max_size=9, unique_by=lambda t: round(t / 600)),
)
def test_marks_on_a_line_give_that_line(a: float, b: float, times: list[float]) -> None:
    """Whatever the offset and the drift, marks that agree are mapped without residuals."""
    found = align([Recording("r", 20_000.0)], [Mark(t, "r", a + b * t) for t in times])
    (part,) = found.parts
    assert part.video_t(5000.0) == pytest.approx(a + b * 5000.0, abs=0.01)
    assert part.log_t(part.video_t(5000.0)) == pytest.approx(5000.0, abs=1e-6)
    assert set(codes(found)) <= {"frame_rate"}


def test_good_marks_leave_nothing_to_ask() -> None:
    """Three marks half a second out over two hours are not questioned."""
    assert codes(align([REC], marks((100.0, 40.5), (3600.0, 3539.7), (7000.0, 6940.2)))) == []


# -- doubts


@pytest.mark.parametrize(
    ("b", "how"),
    # SMPTE ST 12-1: 29.97 frames a second is 30000/1001, so a mislabelled rate is a pace of 1000/1001 or
    # 1001/1000, 108 frames or 3.6 s an hour.
    [(1000 / 1001, "29.97 a second are counted as 30"), (1001 / 1000, "30 a second are counted as 29.97")],
)
def test_a_mislabelled_frame_rate_is_named(b: float, how: str) -> None:
    """A pace of 1000/1001 or its inverse is named as a probable mix-up of 29.97 and 30, either way."""
    alignment = align([REC], marks(*((t, 10 + b * t) for t in (60.0, 1800.0, 3600.0))))
    assert codes(alignment) == ["frame_rate"]
    assert how in text(alignment, "frame_rate")
    assert "3.6 s an hour" in text(alignment, "frame_rate")
    assert alignment.parts[0].video_t(3600.0) == pytest.approx(10 + b * 3600)


def test_a_pace_off_by_more_than_two_thousandths_is_questioned() -> None:
    """Two marks that put the pace at 1.003 are questioned, and at 1.0015 not."""
    assert "slope" in codes(align([REC], marks((0.0, 5.0), (3600.0, 3615.8))))
    assert codes(align([REC], marks((0.0, 5.0), (3600.0, 3610.4)))) == []


@pytest.mark.parametrize("slip", [0, 1, 2])
def test_the_mark_that_slipped_is_named(slip: int) -> None:
    """Of three marks the one a minute out is named, though the middle one has the largest residual."""
    pairs = [(t, t + 10 + (60 if i == slip else 0)) for i, t in enumerate((600.0, 1800.0, 3000.0))]
    alignment = align([REC], marks(*pairs))
    said = " ".join(r.text for r in alignment.remarks)
    assert "residual" in codes(alignment)
    assert f"Look first at the mark at {('10:00', '30:00', '50:00')[slip]} of the log" in said


def test_marks_close_together_are_said_to_tell_little() -> None:
    """Half a second's slip between marks a minute apart asks for marks further apart."""
    assert "near" in codes(align([REC], marks((100.0, 40.0), (160.0, 100.5))))


def test_a_pause_nobody_mentioned_is_guessed_at() -> None:
    """Marks between which the file is two minutes shorter than the log point to a paused recorder."""
    alignment = align([REC], marks((600.0, 600.0), (1200.0, 1200.0), (2400.0, 2280.0), (3600.0, 3480.0)))
    said = " ".join(r.text for r in alignment.remarks)
    assert "paused between 20:00 and 40:00 of the log" in said


def test_marks_that_cannot_all_be_so_lay_nothing_on_the_file() -> None:
    """A later moment of the log earlier in the file is a contradiction, and no map is guessed from it."""
    alignment = align([REC], marks((600.0, 900.0), (1200.0, 300.0)))
    assert alignment.parts == ()
    assert codes(alignment) == ["contradict", "no_map"]
    assert alignment.place(700.0) is None


def test_two_files_seconds_for_one_moment_contradict() -> None:
    """The same moment of the log cannot be at two places of a file, nor one place show two moments."""
    assert "contradict" in codes(align([REC], marks((600.0, 500.0), (600.0, 520.0))))
    assert "contradict" in codes(align([REC], marks((600.0, 500.0), (640.0, 500.0), (3000.0, 2900.0))))


# -- what was given amiss


@pytest.mark.parametrize(
    ("mark", "words_of_it"),
    [
        (Mark(10.0, "other.mp4", 5.0), "not among the recordings"),
        (Mark(-1.0, "rec1.mp4", 5.0), "before the beginning"),
        (Mark(10.0, "rec1.mp4", -0.5), "before the beginning"),
        (Mark(math.nan, "rec1.mp4", 5.0), "not a number"),
        (Mark(10.0, "rec1.mp4", math.inf), "not a number"),
        (Mark(7000.0, "rec1.mp4", 7201.0), "past the file's end at 2:00:00"),
        (Mark(100.0, "rec1.mp4", 100.0), "counts once"),
    ],
)
def test_a_mark_that_cannot_be_used_is_left_out_with_a_sentence(mark: Mark, words_of_it: str) -> None:
    """Missing files, times that are none, marks past the end and doubles are said and change nothing."""
    good = marks((100.0, 100.0), (3700.0, 3700.5))
    alignment = align([REC], [*good, mark])
    assert alignment.parts == align([REC], good).parts
    assert words_of_it in text(alignment, "mark")
    assert alignment.remarks[0].text.endswith(".")


@pytest.mark.parametrize(
    ("recording", "code"),
    [
        (Recording("", 10.0), "file"),
        (Recording("a\nb.mp4", 10.0), "file"),
        (Recording("a\u202eb.mp4", 10.0), "file"),
        (Recording("a\udcffb.mp4", 10.0), "file"),
        (Recording("b.mp4", 0.0), "file"),
        (Recording("b.mp4", math.nan), "file"),
        (Recording("rec1.mp4", 10.0), "file"),
        (Recording("Mr Bloggs.mp4", 10.0), "name"),
        (Recording("b.mp4", 10.0), "no_marks"),
    ],
)
def test_a_file_that_cannot_be_used_or_should_not_is_said(recording: Recording, code: str) -> None:
    """Odd names, files without a length, doubles, names of people and files without a mark are said."""
    alignment = align([REC, recording], marks((100.0, 100.0)))
    assert code in codes(alignment)
    assert [p.file for p in alignment.parts] == ["rec1.mp4"]


def test_nothing_given_gives_nothing() -> None:
    """No recordings, no marks: an empty alignment and no remark."""
    assert align([], []) == Alignment()


# -- several parts


def test_a_paused_recorder_makes_two_parts_of_one_file() -> None:
    """After a pause of ten minutes the file goes on where it stopped, though only one part has a mark."""
    segments = [Segment("rec1.mp4", 0.0, 600.0), Segment("rec1.mp4", 1200.0, None)]
    for own in ((300.0, 300.0), (1500.0, 900.0)):
        alignment = align([REC], marks(own), segments)
        assert [(p.from_t, p.to_t, p.a) for p in alignment.parts] == [
            (0.0, 600.0, 0.0),
            (1200.0, 7800.0, -600.0),
        ]
        assert alignment.place(599.0) == ("rec1.mp4", 599.0)
        assert alignment.place(900.0) is None
        assert alignment.place(1200.0) == ("rec1.mp4", 600.0)
        assert text(alignment, "gap") == (
            "rec1.mp4: nothing is recorded from 10:00 to 20:00 of the log (10 min)."
        )


def test_parts_that_do_not_meet_in_the_file_are_questioned() -> None:
    """Seconds of a file that neither part claims, or both, are a reason to look at the times."""
    segments = [Segment("rec1.mp4", 0.0, 600.0), Segment("rec1.mp4", 1200.0, None)]
    hole = align([REC], marks((300.0, 300.0), (1500.0, 930.0)), segments)
    assert "30 s are in neither part about 10:00" in text(hole, "seam")
    double = align([REC], marks((300.0, 300.0), (1500.0, 880.0)), segments)
    assert "20 s are claimed by both parts" in text(double, "seam")


def test_split_files_are_taken_one_after_the_other() -> None:
    """A stretch over the boundary of two files is two stretches without a moment lost or shown twice."""
    files = [Recording("a.mp4", 1800.0), Recording("b.mp4", 1800.0)]
    alignment = align(files, [Mark(100.0, "a.mp4", 100.0), Mark(2000.0, "b.mp4", 200.0)], until_t=3600.0)
    assert alignment.remarks == ()
    told = [(s.part.file, s.in_s, s.out_s) for s in alignment.stretches(1790.0, 1815.0)]
    assert told == [("a.mp4", 1790.0, 1800.0), ("b.mp4", 0.0, 15.0)]


def test_gaps_and_overlaps_between_files_are_said() -> None:
    """Time between two files, before the first and after the last is said, and time that two show."""
    files = [Recording("a.mp4", 600.0), Recording("b.mp4", 600.0), Recording("c.mp4", 600.0)]
    given_marks = [Mark(100.0, "a.mp4", 40.0), Mark(700.0, "b.mp4", 0.0), Mark(1250.0, "c.mp4", 0.0)]
    alignment = align(files, given_marks, until_t=2000.0)
    assert [r.text for r in alignment.remarks] == [
        "a.mp4 and b.mp4: nothing is recorded from 11:00 to 11:40 of the log (40 s).",
        "b.mp4 and c.mp4 both show the time from 20:50 to 21:40 of the log; b.mp4 is used there.",
        "Nothing is recorded before 01:00 of the log.",
        "Nothing is recorded after 30:50 of the log.",
    ]
    assert alignment.place(1260.0) == ("b.mp4", 560.0)
    assert alignment.place(1300.0) == ("c.mp4", 50.0)


def test_a_file_of_unknown_length_reaches_to_the_next_or_the_end_of_the_log() -> None:
    """Without a length a file ends where the next begins, the last where the log ends, and that is said."""
    files = [Recording("a.mp4"), Recording("b.mp4")]
    given_marks = [Mark(100.0, "a.mp4", 100.0), Mark(700.0, "b.mp4", 0.0)]
    alignment = align(files, given_marks, until_t=2000.0)
    assert [(p.from_t, p.to_t) for p in alignment.parts] == [(0.0, 700.0), (700.0, 2000.0)]
    assert codes(alignment) == ["length", "length"]


@pytest.mark.parametrize(
    ("segments", "words_of_it"),
    [
        ([Segment("x.mp4", 0.0, 10.0)], "not among the recordings"),
        ([Segment("rec1.mp4", 10.0, 5.0)], "ends at 00:05, before it begins"),
        ([Segment("rec1.mp4", -10.0, 5.0)], "not a time of the log"),
        ([Segment("rec1.mp4", 0.0, math.inf)], "not a time of the log"),
        ([Segment("rec1.mp4", 0.0, 500.0), Segment("rec1.mp4", 400.0, 900.0)], "overlap in the log"),
    ],
)
def test_parts_named_amiss_are_left_out_with_a_sentence(segments: list[Segment], words_of_it: str) -> None:
    """Parts of no file, that end before they begin, of no time, or that overlap are said."""
    assert words_of_it in text(align([REC], marks((100.0, 100.0)), segments), "segment")


def test_a_mark_in_no_part_and_a_part_without_a_mark_are_said() -> None:
    """A mark taken while the recorder stood still cannot be right, and an isolated part needs a mark."""
    segments = [Segment("rec1.mp4", 0.0, 600.0), Segment("rec1.mp4", 1200.0, 1500.0)]
    alignment = align([REC], marks((300.0, 300.0), (900.0, 700.0)), segments)
    assert "in no part" in text(alignment, "mark")
    lonely = align(
        [REC], marks((300.0, 300.0)), [Segment("rec1.mp4", 0.0, 600.0), Segment("rec1.mp4", 9000.0)]
    )
    assert [p.to_t for p in lonely.parts] == [600.0, 15600.0]
    short = align([Recording("rec1.mp4", 400.0)], marks((300.0, 300.0)), segments)
    assert "ends 3 min 20 s before the part named for it" in text(short, "short")
    assert "nothing is laid on the part from 20:00" in text(short, "no_map")


def test_a_part_is_told_in_one_line_with_its_residuals() -> None:
    """The line shown to the surgeon has the file, the log time, offset, pace and residuals."""
    part = align([REC], marks((0.0, 10.0), (3600.0, 3610.0))).parts[0]
    assert words(part) == (
        "rec1.mp4: -00:10 to 1:59:50 of the log, 2 marks, offset +10.00 s, pace 1.00000,"
        " residuals +0.00, +0.00 s"
    )


@given(
    st.lists(
        st.builds(
            Mark, st.floats(), st.sampled_from(["a", "b", "\x1b", ""]), st.floats(),
        ) | st.builds(Mark, st.integers(0, 100).map(float), st.just("a"), st.integers(0, 100).map(float)),
        max_size=6,
    ),
    st.lists(
        st.builds(Segment, st.sampled_from("abc"), st.none() | st.floats(), st.none() | st.floats()),
        max_size=4,
    ),
    st.none() | st.floats(0, 1e6),
)  # fmt: skip
def test_nothing_that_can_be_given_raises(
    given_marks: list[Mark], segments: list[Segment], length: float | None
) -> None:
    """Whatever the marks and parts, the parts found are finite and the remarks are sentences."""
    alignment = align([Recording("a", length), Recording("b", 90.0)], given_marks, segments, until_t=100.0)
    for part in alignment.parts:
        assert math.isfinite(part.from_t)
        assert math.isfinite(part.to_t)
        assert part.to_t >= part.from_t
    assert all(r.text.endswith(".") and "\n" not in r.text for r in alignment.remarks)


def test_marks_closer_than_a_millisecond_are_one_moment() -> None:
    """Two marks at practically one log time give the offset, not a pace out of nothing."""
    assert line([Mark(0.0, "a.mp4", 5.0), Mark(3e-285, "a.mp4", 5.0)]) == (5.0, 1.0)
