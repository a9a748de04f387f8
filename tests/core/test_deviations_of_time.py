"""Deviations of time: spans and clocks over and under the figures of the file."""

from __future__ import annotations

import pytest

from small_procedures import CUT
from story import case_of, codes_in, found_in, only, protocol_of
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S

# -- time

SPANS = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "core_vit"
label = "Core vitrectomy"
shape = "span"
minutes = [2, 8]
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
occurrence = "optional"
""")


def test_over_time_from_the_figure_on() -> None:
    """A span is over time beyond the file's longest, from the moment it got there, live and afterwards."""
    live = case_of(SPANS, "09:00:00 start core_vit")

    assert found_in(live, "over_time", now_t=480.0) == ()
    over = only(live, "over_time", now_t=480.5)
    assert (over.key, over.expected, over.when.at.strftime("%H:%M:%S")) == (
        "over_time:core_vit",
        "2 to 8 min",
        "09:08:00",
    )
    done = only(case_of(SPANS, "09:00:00 start core_vit\n09:10:30 stop core_vit"), "over_time")
    assert (done.when, done.found) == (over.when, "10 min 30 s")


def test_over_time_adds_the_spans_of_a_step() -> None:
    """The file's minutes are for the whole of a step: two spans of five minutes are over eight."""
    story = """
    09:00:00 start core_vit
    09:05:00 stop core_vit
    09:20:00 start core_vit
    09:25:00 stop core_vit
    """

    assert only(case_of(SPANS, story), "over_time").when.at.strftime("%H:%M:%S") == "09:23:00"


def test_over_time_from_the_end_of_a_span_that_used_it_up() -> None:
    """Where one span lasts exactly the file's longest, a further one is over from the end of the first."""
    story = "09:00:00 start core_vit\n09:08:00 stop core_vit\n09:20:00 start core_vit\n09:21:00 stop core_vit"

    assert only(case_of(SPANS, story), "over_time").when.at.strftime("%H:%M:%S") == "09:08:00"


def test_paused_time_is_not_over_time() -> None:
    """A pause within a span is not its time, and moves the moment it was over."""
    story = "09:00:00 start core_vit\n09:05:00 pause\n09:15:00 continue\n09:18:00 stop core_vit"

    assert found_in(case_of(SPANS, story), "over_time") == ()
    longer = only(case_of(SPANS, story.replace("09:18:00", "09:18:30")), "over_time")
    assert longer.when.at.strftime("%H:%M:%S") == "09:18:00"


def test_under_time_once_nothing_more_is_to_come() -> None:
    """A short span is under time only once its stage is closed or the case has ended."""
    story = "09:00:00 start core_vit\n09:01:59 stop core_vit"

    assert found_in(case_of(SPANS, story), "under_time") == ()
    assert only(case_of(SPANS, f"{story}\n09:02:00 tick out"), "under_time").found == "1 min 59 s"
    assert only(case_of(SPANS, f"{story}\n09:02:00 close stage"), "under_time").seq == 2
    assert found_in(case_of(SPANS, story.replace("1:59", "2:00") + "\n09:03:00 tick out"), "under_time") == ()


def test_step_still_running_is_not_under_time() -> None:
    """While an earlier span of a step still runs, its time is not known to be short."""
    story = "09:00:00 start core_vit\n09:00:10 start core_vit\n09:00:20 stop core_vit\n09:00:30 close stage"

    assert found_in(case_of(SPANS, story), "under_time") == ()


def test_case_stopped_early_has_no_short_spans() -> None:
    """A span cut short with the case is not under time."""
    story = "09:00:00 start core_vit\n09:01:00 stop core_vit\n09:02:00 stop_early collapse\n09:30:00 tick out"

    assert codes_in(case_of(SPANS, story)) == []


def test_span_nobody_stopped_is_unmatched_not_long() -> None:
    """A span still running when the patient leaves has no stop and so no length to compare."""
    case = case_of(SPANS, "09:00:00 start core_vit\n09:30:00 tick out")

    assert codes_in(case, now_t=86_400.0) == [("unmatched", "core_vit")]
    assert only(case, "unmatched").found == "no stop ticked"


CLOCKS = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "iodine"
label = "Iodine"
shape = "span"
occurrence = "optional"
[[stages.steps]]
id = "drape"
label = "Drape"
occurrence = "optional"
[[stages.steps]]
id = "dye_in"
label = "Dye in"
occurrence = "optional"
[[stages.steps]]
id = "dye_out"
label = "Dye out"
occurrence = "optional"
[[stages.steps]]
id = "out"
label = "Out"
occurrence = "optional"
ends_case = true

[[clocks]]
id = "contact"
label = "Iodine contact"
start = [{ step = "iodine" }]
stop = [{ step = "drape" }]
min_s = 180
level = "safety"
[[clocks]]
id = "dye"
label = "Dye"
start = [{ step = "dye_in" }]
stop = [{ step = "dye_out" }]
amber_s = 60
red_s = 120
""")


def test_clock_under_its_least_time() -> None:
    """A clock stopped before its least time is under; at exactly that time it is not."""
    under = only(case_of(CLOCKS, "09:00:00.100 start iodine\n09:03:00.099 tick drape"), "clock_under")

    assert (under.step, under.level, under.expected, under.found) == (
        "contact",
        "safety",
        "at least 3 min",
        "2 min 59 s",
    )
    assert (
        found_in(case_of(CLOCKS, "09:00:00.100 start iodine\n09:03:00.100 tick drape"), "clock_under") == ()
    )


def test_clock_reaches_its_figure() -> None:
    """A clock is over from its first figure on, inclusive, while it runs and afterwards alike."""
    live = case_of(CLOCKS, "09:00:00 tick dye_in")

    assert found_in(live, "clock_over", now_t=59.999) == ()
    over = only(live, "clock_over", now_t=60.0)
    assert (over.expected, over.when.at.strftime("%H:%M:%S")) == (
        "amber from 1 min, red from 2 min",
        "09:01:00",
    )
    done = only(case_of(CLOCKS, "09:00:00 tick dye_in\n09:02:10 tick dye_out"), "clock_over")
    assert (done.key, done.when, done.found) == (over.key, over.when, "2 min 10 s")


def test_clock_stops_with_the_case() -> None:
    """A clock nobody stopped runs until the patient left and no further."""
    case = case_of(CLOCKS, "09:00:00 tick dye_in\n09:01:30 tick out")

    assert only(case, "clock_over", now_t=86_400.0).found == "1 min 30 s"


def test_clock_stopped_by_something_not_logged_concludes_nothing() -> None:
    """How long a clock ran that something not logged stopped is not known, so nothing is said of it."""
    case = case_of(CLOCKS, "09:00:00 tick dye_in\n09:30:00 not_logged dye_out")

    assert codes_in(case) == []


@pytest.mark.parametrize(
    ("late_s", "found"),
    [
        (60, []),
        (61, ["1 min 01 s after"]),
        (1200, ["20 min after"]),
        (1201, ["20 min 01 s after, low confidence"]),
    ],
)
def test_late_entry_at_the_boundary(late_s: int, found: list[str]) -> None:
    """An entry is late over 60 s and of low confidence over 20 min (J Med Syst 2026, PMC12883500)."""
    case = case_of(SPANS, f"09:00:00 +{late_s} tick out")

    assert (LATE_S, LOW_CONFIDENCE_S) == (60.0, 1200.0)
    assert [d.found for d in found_in(case, "late_entry")] == found


def test_back_stamp_makes_an_entry_late() -> None:
    """A tick back-stamped by two minutes was entered two minutes after."""
    late = only(case_of(CLOCKS, "09:10:00 tick drape\n09:10:05 back 1 120"), "late_entry")

    assert (late.key, late.step, late.found) == ("late_entry:1", "drape", "2 min after")


def test_entry_after_the_end_is_late() -> None:
    """What is entered as done once the patient has left is late, the debrief behind the end is not."""
    story = "10:00:00 tick out\n10:00:30 tick cut\n10:10:00 tick debrief\n10:11:00 note words"
    late = found_in(case_of(CUT, story), "late_entry")

    assert [(d.step, d.found) for d in late] == [("cut", "after the case had ended")]


def test_closing_up_after_an_early_stop_is_not_late() -> None:
    """After a case stopped early the team still closes the eye: those ticks are not late."""
    story = "09:00:00 tick ports\n09:10:00 stop_early collapse\n09:20:00 tick orders"

    assert found_in(case_of(CUT, story), "late_entry") == ()
