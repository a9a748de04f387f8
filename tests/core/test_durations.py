"""Intervals as sets of instants, and how long steps, stages and cases took."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from story import case_of, protocol_of
from tracker.core.case import Case
from tracker.core.durations import (
    Interval,
    case_seconds,
    end_t,
    intersection,
    measure,
    operators,
    pauses,
    since_previous_tick,
    stage_interval,
    stage_seconds,
    step_intervals,
    step_seconds,
    union,
    without,
)


def _intervals(*pairs: tuple[float, float]) -> list[Interval]:
    return [Interval(*pair) for pair in pairs]


# -- sets of instants


def test_measure_of_overlapping_intervals() -> None:
    """[0,3) [2,5) [7,8) cover 6 although their lengths add up to 7 (Klee's measure, 1977)."""
    given_ = _intervals((0, 3), (2, 5), (7, 8))

    assert measure(given_) == 6
    assert sum(i.seconds for i in given_) == 7


def test_measure_of_nested_and_touching_intervals() -> None:
    """Six intervals, nested, touching and below nought, cover 141 although their lengths add up to 155.

    Computed by hand: [-95,31) is 126 and [40,55) is 15.
    """
    given_ = _intervals((-95, 10), (10, 31), (5, 7), (40, 55), (50, 52), (0, 10))

    assert measure(given_) == 141
    assert sum(i.seconds for i in given_) == 155


EDGES = st.tuples(st.integers(-30, 30), st.integers(-30, 30))
SETS = st.lists(EDGES.map(lambda e: Interval(*e)), max_size=8)


def _cells(intervals: list[Interval]) -> set[int]:
    """The whole seconds that half-open intervals with whole edges hold."""
    return {n for i in intervals for n in range(int(i.start), int(i.stop))}


@given(SETS, SETS)
def test_sets_agree_with_counting_cells(some: list[Interval], others: list[Interval]) -> None:
    """Union, intersection, difference and measure are those of the whole seconds held, counted one by one."""
    assert measure(some) == len(_cells(some))
    assert _cells(list(union([*some, *others]))) == _cells(some) | _cells(others)
    assert _cells(list(intersection(some, others))) == _cells(some) & _cells(others)
    assert _cells(list(without(some, others))) == _cells(some) - _cells(others)


@given(SETS, SETS)
def test_results_are_disjoint_in_order_and_without_seams(
    some: list[Interval], others: list[Interval]
) -> None:
    """What comes out holds no empty interval, no two that touch, and stands in order."""
    for result in (union(some), intersection(some, others), without(some, others)):
        assert all(i.seconds > 0 for i in result)
        assert all(a.stop < b.start for a, b in pairwise(result))


@given(SETS, SETS)
def test_difference_and_intersection_make_the_whole(some: list[Interval], others: list[Interval]) -> None:
    """What is in the others and what is not add up to the whole."""
    assert measure(without(some, others)) + measure(intersection(some, others)) == measure(some)


def _allen(a: Interval, b: Interval) -> set[str]:
    """The relations of Allen that hold between two proper intervals (CACM 1983;26:832)."""
    (s, e), (t, f) = (a.start, a.stop), (b.start, b.stop)
    relations = {
        "before": e < t, "meets": e == t, "overlaps": s < t < e < f,
        "starts": s == t and e < f, "during": t < s and e < f, "finishes": s > t and e == f,
        "equals": s == t and e == f,
        "after": f < s, "met by": f == s, "overlapped by": t < s < f < e,
        "started by": s == t and f < e, "contains": s < t and f < e, "finished by": t > s and e == f,
    }  # fmt: skip
    return {name for name, holds in relations.items() if holds}


def test_half_open_intervals_meet_without_an_instant_in_common() -> None:
    """Exactly one of Allen's 13 relations holds; before, meets and their converses alone share nothing.

    Source: Allen, CACM 1983;26:832; all pairs of proper intervals with whole edges from 0 to 5.
    """
    proper = [Interval(a, b) for a, b in product(range(6), repeat=2) if a < b]
    seen = set()
    for a, b in product(proper, repeat=2):
        [relation] = _allen(a, b)
        seen.add(relation)
        apart = relation in {"before", "meets", "after", "met by"}
        assert (intersection([a], [b]) == ()) == apart
    assert len(seen) == 13


# -- steps and stages

FILE = protocol_of("""
[[stages]]
id = "vitrectomy"
label = "Vitrectomy"
[[stages.steps]]
id = "patient_in"
label = "Patient in"
starts_case = true
[[stages.steps]]
id = "core_vit"
label = "Core vitrectomy"
shape = "span"
[[stages.steps]]
id = "base_shave"
label = "Base shave"
shape = "span"
occurrence = "repeat"
[[stages]]
id = "leave"
label = "Leave"
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
""")


def _step(case: Case, step: str, now_t: float = 0.0) -> float | None:
    return step_seconds(case, case.protocol.step[step], now_t)


def test_points_have_no_length() -> None:
    """Only spans have a duration; a point, a span never started and a step of another shape have none."""
    case = case_of(FILE, "09:00:00 tick patient_in\n09:10:00 tick patient_in")

    assert _step(case, "patient_in") is None
    assert _step(case, "core_vit") is None
    assert step_intervals(case, FILE.step["patient_in"], 0.0) == ()


def test_span_is_as_long_as_from_start_to_stop() -> None:
    """A span of 4 min 30.250 s is that long, to the millisecond."""
    assert _step(case_of(FILE, "09:00:00 start core_vit\n09:04:30.250 stop core_vit"), "core_vit") == 270.25


def test_overlapping_spans_of_one_step_count_once() -> None:
    """Two spans of one step that overlap count their union; apart, their sum."""
    overlapping = """
    09:00:00 start base_shave
    09:02:00 start base_shave
    09:03:00 stop base_shave @1
    09:05:00 stop base_shave @2
    """
    apart = """
    09:00:00 start base_shave
    09:03:00 stop base_shave
    09:10:00 start base_shave
    09:12:00 stop base_shave
    """

    assert _step(case_of(FILE, overlapping), "base_shave") == 300.0
    assert _step(case_of(FILE, apart), "base_shave") == 300.0


def test_running_span_counts_to_now() -> None:
    """A running span has lasted up to now, never less than nought."""
    case = case_of(FILE, "09:00:00 tick patient_in\n09:01:00 start core_vit")

    assert _step(case, "core_vit", now_t=90.0) == 30.0
    assert _step(case, "core_vit", now_t=0.0) == 0.0


def test_span_nobody_stopped_ends_with_the_case() -> None:
    """A span without a stop lasts until the patient left, however late it is looked at."""
    case = case_of(FILE, "09:00:00 start core_vit\n09:30:00 tick out")

    assert _step(case, "core_vit", now_t=86_400.0) == 1800.0


def test_span_begun_after_the_end_has_no_length() -> None:
    """A span told for after the end and never stopped lasts nothing rather than less."""
    assert _step(case_of(FILE, "09:00:00 tick out\n09:30:00 start core_vit"), "core_vit", 9999.0) == 0.0


def test_early_stop_lets_spans_run_on_until_the_patient_leaves() -> None:
    """A case stopped early has its spans still running until they are stopped or the patient leaves."""
    story = "09:00:00 start core_vit\n09:10:00 stop_early collapse"

    assert _step(case_of(FILE, story), "core_vit", now_t=720.0) == 720.0
    assert _step(case_of(FILE, f"{story}\n09:15:00 tick out"), "core_vit", now_t=9999.0) == 900.0


def test_paused_time_is_taken_out() -> None:
    """Pauses are no time of a step or a stage; a pause still on lasts to now."""
    story = "09:00:00 start core_vit\n09:05:00 pause\n09:15:00 continue\n09:20:00 stop core_vit"
    case, still = case_of(FILE, story), case_of(FILE, "09:00:00 start core_vit\n09:05:00 pause")

    assert _step(case, "core_vit") == 600.0
    assert stage_seconds(case, FILE.stages[0], 0.0) == 600.0
    assert pauses(case, 0.0) == (Interval(300.0, 900.0),)
    assert _step(still, "core_vit", now_t=1000.0) == 300.0


def test_pause_ends_with_the_case() -> None:
    """A pause that nobody ended lasts until the patient left."""
    case = case_of(FILE, "09:00:00 tick patient_in\n09:05:00 pause\n09:15:00 tick out")

    assert pauses(case, 9999.0) == (Interval(300.0, 900.0),)


def test_stage_runs_from_first_start_to_last_stop() -> None:
    """A stage lasts from the first start of its spans to their last stop, what lies between included."""
    story = """
    08:00:00 tick patient_in
    09:00:00 start core_vit
    09:05:00 stop core_vit
    09:20:00 start base_shave
    09:30:00 stop base_shave
    """
    case = case_of(FILE, story)

    assert stage_interval(case, FILE.stages[0], 0.0) == Interval(3600.0, 5400.0)
    assert stage_seconds(case, FILE.stages[0], 0.0) == 1800.0
    assert stage_seconds(case, FILE.stages[1], 0.0) is None


def test_case_runs_from_its_first_step_to_its_last() -> None:
    """The case lasts from the step that starts it to the one that ends it or to now, pauses included."""
    story = "09:00:00 note before\n09:10:00 tick patient_in\n09:20:00 pause\n09:30:00 continue"
    live, done = case_of(FILE, story), case_of(FILE, f"{story}\n10:10:00 tick out")

    assert case_seconds(case_of(FILE, "09:00:00 tick out"), 0.0) is None
    assert case_seconds(live, now_t=1800.0) == 1200.0
    assert case_seconds(live, now_t=0.0) == 0.0
    assert case_seconds(done, now_t=9999.0) == 3600.0
    assert (end_t(live, 5.0), end_t(done, 5.0)) == (5.0, 4200.0)


def test_time_between_ticks_is_given_apart() -> None:
    """Each tick or start after the first has the seconds since the one before; notes and stops do not."""
    story = "09:00:00 tick patient_in\n09:01:00 note words\n09:02:00 start core_vit\n09:05:00 stop core_vit"
    story += "\n09:07:00 start base_shave"

    assert [(e.step, s) for e, s in since_previous_tick(case_of(FILE, story))] == [
        ("core_vit", 120.0),
        ("base_shave", 300.0),
    ]


# -- who operated


def test_operators_of_a_span() -> None:
    """A span is split where the operator changed; a change at its very end is not in it."""
    story = """
    09:00:00 operator consultant
    09:01:00 start core_vit
    09:05:00 operator fellow
    09:08:00 operator consultant
    09:11:00 stop core_vit
    09:11:00 operator fellow
    """
    case = case_of(FILE, story)
    [tick] = case.state("core_vit").ticks

    assert operators(case, tick, 0.0) == (
        ("consultant", Interval(60.0, 300.0)),
        ("fellow", Interval(300.0, 480.0)),
        ("consultant", Interval(480.0, 660.0)),
    )


def test_span_before_anyone_was_named() -> None:
    """Where no operator was named the role is not known, for a running span up to now."""
    case = case_of(FILE, "09:01:00 start core_vit")
    [tick] = case.state("core_vit").ticks

    assert operators(case, tick, 30.0) == ((None, Interval(0.0, 30.0)),)


# -- midnight and clock changes


def test_midnight_is_nothing_special() -> None:
    """A span over midnight is as long as it was."""
    assert _step(case_of(FILE, "23:50:00 start core_vit\n00:10:00 stop core_vit"), "core_vit") == 1200.0


@pytest.mark.parametrize(
    ("day", "before", "after", "told"),
    [
        # Europe/London goes from +00:00 to +01:00 at 01:00Z on 2026-03-29 and back at 01:00Z on 2026-10-25
        # (IANA tzdata 2026; PEP 495 for the hour told twice).
        ("2026-03-29", "+00:00", "+01:00", "02:30:00"),
        ("2026-10-25", "+01:00", "+00:00", "01:30:00"),
    ],
)
def test_change_to_and_from_summer_time(day: str, before: str, after: str, told: str) -> None:
    """A span from half an hour before a clock change to half an hour after it is an hour long."""
    begun = {"2026-03-29": "00:30:00", "2026-10-25": "01:30:00"}[day]
    story = f"day {day}\nzone {before}\n{begun} start core_vit\nzone {after}\n{told} stop core_vit"

    assert _step(case_of(FILE, story), "core_vit") == 3600.0


@pytest.mark.parametrize("set_s", [-3600, 86_400])
def test_station_clock_set_within_a_run(set_s: int) -> None:
    """A station clock set an hour back or a day forward in the middle of a span changes no length."""
    told, day = ("08:10:00", "2026-03-02") if set_s < 0 else ("09:10:00", "2026-03-03")
    story = f"09:00:00 start core_vit\nclock {set_s}\nday {day}\n{told} stop core_vit"

    assert _step(case_of(FILE, story), "core_vit") == 600.0


def test_resuming_with_the_clock_set_back_is_never_negative() -> None:
    """After a crash, on a station whose clock was set back, the gap counts nothing, nothing is negative."""
    story = "09:00:00 start core_vit\n09:05:00 note last\n08:00:00 resume\n08:02:00 stop core_vit"
    case = case_of(FILE, story)

    assert _step(case, "core_vit") == 420.0
    assert [g.stop.t - g.start.t for g in case.gaps] == [0.0]


def test_gap_between_runs_counts_wall_time() -> None:
    """Between two openings of the journal only wall time is known, and counts."""
    story = "09:00:00 start core_vit\n09:05:00 note last\n09:15:00 resume\n09:20:00 stop core_vit"

    assert _step(case_of(FILE, story), "core_vit") == 1200.0
