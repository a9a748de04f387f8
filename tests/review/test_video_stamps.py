"""Times as typed and as written, and the drop-frame arithmetic of SMPTE ST 12-1."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.review.video.remarks import Remark
from tracker.review.video.stamps import NTSC, drop_frame_number, seconds_of, stamp


def test_a_stamp_has_two_digits_each_and_three_of_milliseconds() -> None:
    """2 h 3 min 4.005 s is 02:03:04.005, and 74.815 s is 00:01:14.815."""
    # SubRip as summarised in srt-validator's srt-spec.md; W3C WebVTT, section 4.1.
    assert stamp(2 * 3600 + 3 * 60 + 4.005) == "02:03:04.005"
    assert stamp(74.815, ",") == "00:01:14,815"


def test_a_stamp_carries_when_milliseconds_round_up() -> None:
    """59.9996 s is a whole minute, not 00:00:59.1000."""
    assert stamp(59.9996) == "00:01:00.000"


@given(st.integers(0, 360_000_000))
def test_a_stamp_is_read_back_as_it_was(ms: int) -> None:
    """Every millisecond up to a hundred hours is typed back as the same time."""
    assert seconds_of(stamp(ms / 1000)) == pytest.approx(ms / 1000, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("90", 90.0),
        ("1:30", 90.0),
        ("01:01:30", 3690.0),
        ("0:0:12.5", 12.5),
        (" 5:12,250 ", 312.25),
        ("90:00", 5400.0),
    ],
)
def test_times_are_read_as_people_type_them(typed: str, seconds: float) -> None:
    """Seconds, minutes and hours are told apart by their colons, and a fraction takes point or comma."""
    assert seconds_of(typed) == seconds


@pytest.mark.parametrize(
    "typed",
    ["", "abc", "-5", "1:60", "1:75:00", "1:2:3:4:5", "nan", "1e9", "١٢:٣٠", "00:01:00;00", "00:61:00;02",
     "00:00:00;30", "00:00:10:12", "\x1b[31m"],
)  # fmt: skip
def test_what_is_no_time_gets_a_sentence(typed: str) -> None:
    """Anything else is answered by a sentence, also a drop-frame number that does not exist."""
    answer = seconds_of(typed)
    assert isinstance(answer, Remark)
    assert answer.text.endswith(".")


@pytest.mark.parametrize(
    ("code", "frames"),
    # SMPTE ST 12-1: numbers 00 and 01 are left out at each minute but the tenths, so 1800 follows 59;29 as
    # 1:00;02, ten minutes are 17982 frames, an hour 107892 (108 fewer than 108000) and a day 2589408.
    [((0, 0, 59, 29), 1799), ((0, 1, 0, 2), 1800), ((0, 10, 0, 0), 17982), ((1, 0, 0, 0), 107892),
     ((23, 59, 59, 29), 2589407)],
)  # fmt: skip
def test_drop_frame_numbers_are_those_of_the_standard(code: tuple[int, int, int, int], frames: int) -> None:
    """Drop-frame time code counts the frames that SMPTE ST 12-1 says."""
    assert drop_frame_number(*code) == frames


def test_an_hour_of_drop_frame_is_an_hour_and_without_it_3_6_seconds_more() -> None:
    """108 frames an hour are 3.6 s: drop-frame keeps to the clock, counting without it does not."""
    # SMPTE ST 12-1: 29.97 is 30000/1001, and 108 numbers an hour are left out.
    drop, plain = seconds_of("01:00:00;00"), seconds_of("01:00:00:00", NTSC)
    assert drop == pytest.approx(3600, abs=0.004)
    assert plain == pytest.approx(3603.6, abs=1e-9)
    assert isinstance(drop, float)
    assert isinstance(plain, float)
    assert plain - drop == pytest.approx(108 * 1001 / 30000, abs=1e-9)


def test_frames_at_a_whole_rate_are_fractions_of_a_second() -> None:
    """Frame 15 at 25 a second is 0.6 s, and there is no frame 25."""
    assert seconds_of("00:00:10:15", Fraction(25)) == 10.6
    assert isinstance(seconds_of("00:00:10:25", Fraction(25)), Remark)


@given(st.integers(0, 2_589_407))
def test_every_frame_of_a_day_has_one_drop_frame_number(frame: int) -> None:
    """Numbering frames one by one, leaving out what the standard leaves out, gives back each count."""
    tens, rest = divmod(frame, 17982)
    minute, within = (0, rest) if rest < 1800 else ((rest - 1800) // 1798 + 1, (rest - 1800) % 1798 + 2)
    h, m = divmod(tens * 10 + minute, 60)
    assert drop_frame_number(h, m, *divmod(within, 30)) == frame
