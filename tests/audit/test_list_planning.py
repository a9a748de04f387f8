"""Planned lists: the worked example, what would change it, and the promises a forecast makes."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tracker.audit.planning import (
    START_ON_TIME,
    PlannedCase,
    PlannedList,
    changing_most,
    forecast_list,
    leave_out,
    try_orders,
)
from tracker.audit.statistics.lengths import (
    Resampled,
    belief_from,
    gap_from_history,
    length_from_history,
    typed_in,
)
from tracker.audit.statistics.lognormal import NO_BELIEF

GAP = typed_in("turnover", 22, 0.35)
RETINECTOMY, DETACHMENT, OIL_OUT = (
    PlannedCase(typed_in(label, median, sigma))
    for label, median, sigma in [("retinectomy", 135, 0.30), ("detachment", 80, 0.38), ("oil out", 48, 0.25)]
)
WORKED = PlannedList((RETINECTOMY, DETACHMENT, OIL_OUT), 360, GAP, typed_in("late start", 15, 0.60))
PAST = [95, 110, 150, 88, 132]


def test_the_worked_list():
    """Usual times add up to 322 minutes, but the list ends at 336, and after 388 in one run of five."""
    found = forecast_list(WORKED, draws=400_000)
    longer = forecast_list(replace(WORKED, session=420), draws=400_000)

    # Worked list: independent lognormals, 2,000,000 draws (recomputed; true median 335.55).
    assert found.sum_of_medians == pytest.approx(322)
    assert found.median == pytest.approx(336, abs=1)
    assert found.p80 == pytest.approx(388, abs=1)
    # Drawn apart with numpy, 2,000,000 times: p90 418.85.
    assert found.p90 == pytest.approx(418.9, abs=1)
    assert found.overrun == pytest.approx(0.34, abs=0.005)
    assert longer.overrun == pytest.approx(0.10, abs=0.005)


def test_a_forecast_repeats_itself():
    """The same seed gives the same forecast, another seed one within the stated give."""
    once, other = forecast_list(WORKED), forecast_list(WORKED, seed=99)

    assert forecast_list(WORKED) == once
    assert once.draws >= 10_000
    assert once != other
    assert abs(once.overrun - other.overrun) < 5 * once.overrun_give


def test_the_give_shrinks_with_the_draws():
    """A hundred times the draws leave a tenth of the give."""
    few, many = forecast_list(WORKED, draws=1_000), forecast_list(WORKED, draws=100_000)

    assert few.overrun_give / many.overrun_give == pytest.approx(10, rel=0.1)


def test_cases_end_one_after_the_other():
    """Each case ends after the one before it, and the last one ends with the list."""
    found = forecast_list(WORKED)
    ends = [case.ends_median for case in found.cases]

    assert ends == sorted(ends)
    assert found.cases[-1].ends_median == found.median
    assert found.cases[-1].finished == pytest.approx(1 - found.overrun)
    assert found.expected_finished == pytest.approx(sum(case.finished for case in found.cases))


def test_leaving_a_case_out():
    """The longest case frees the most time, and a start on time is compared with it."""
    found = leave_out(WORKED)

    assert [change.label for change in found] == ["retinectomy", "detachment", "oil out", START_ON_TIME]
    assert all(change.overrun_change < 0 and change.median_change < 0 for change in found)
    # Without the longest case: medians 80 + 48, one gap of 22 and the late start of 15.
    assert found[0].median == pytest.approx(172, abs=4)


def test_leaving_one_of_two_out():
    """From a list of two, leaving one out leaves the other, without a gap."""
    found = leave_out(replace(WORKED, cases=(DETACHMENT, OIL_OUT), start_delay=None))

    assert [change.label for change in found] == ["detachment", "oil out"]
    assert [change.median for change in found] == pytest.approx([48, 80], abs=0.5)


def test_a_list_without_a_case_is_that_shorter_list():
    """Each removal comes to what the list drawn without that case does, with gaps of its own too."""
    slow = PlannedCase(DETACHMENT.length, typed_in("long set-up", 60, 0.2))
    for cases in ((RETINECTOMY, DETACHMENT, OIL_OUT), (RETINECTOMY, slow, OIL_OUT)):
        found = {change.label: change for change in leave_out(replace(WORKED, cases=cases))}
        for case in cases:
            rest = forecast_list(replace(WORKED, cases=tuple(c for c in cases if c is not case)), seed=5)
            assert found[case.length.label].median == pytest.approx(rest.median, abs=1.0)
            assert found[case.length.label].overrun == pytest.approx(rest.overrun, abs=0.01)


def test_a_single_case_begun_on_time():
    """A list of one case has nothing to leave out but its late start."""
    found = leave_out(replace(WORKED, cases=(OIL_OUT,)))

    assert [change.label for change in found] == [START_ON_TIME]
    assert found[0].median == pytest.approx(48, abs=0.5)


def test_removals_that_the_draws_do_not_tell_apart():
    """Of two cases of one kind neither changes the list more; a longer one does."""
    twins = leave_out(replace(WORKED, cases=(OIL_OUT, OIL_OUT, OIL_OUT), session=200))
    worked = leave_out(WORKED)

    assert len(changing_most(twins)) == 3
    assert [change.label for change in changing_most(worked)] == ["retinectomy"]


def test_the_end_is_the_same_in_any_order():
    """With the usual gap between all cases the order leaves the end where it is, to the last digit."""
    found = try_orders(WORKED)
    first = found.rows[0]

    assert (found.n, found.end_unchanged, found.complete, len(found.rows)) == (3, True, True, 6)
    assert all(row.median == pytest.approx(first.median, abs=1e-9) for row in found.rows)
    assert all(row.overrun == pytest.approx(first.overrun, abs=1e-4) for row in found.rows)


def test_short_cases_first_leave_fewer_undone():
    """The order with the longest case last has most cases over by the end, the longest first fewest."""
    found = try_orders(WORKED)

    assert found.rows[0].labels[-1] == "retinectomy"
    assert found.rows[0].tied
    assert found.rows[-1].labels[0] == "retinectomy"
    assert not found.rows[-1].tied
    assert found.rows[0].expected_finished > found.rows[-1].expected_finished


def test_a_gap_of_its_own_makes_the_order_matter():
    """A case with a long gap before it is best first, where it needs none."""
    slow = PlannedCase(OIL_OUT.length, typed_in("long set-up", 60, 0.2))
    found = try_orders(replace(WORKED, cases=(RETINECTOMY, DETACHMENT, slow)))
    ends = {row.labels[0]: row.median for row in found.rows}

    assert not found.end_unchanged
    assert ends["oil out"] < ends["detachment"] - 30
    assert found.rows[0].labels[0] == "oil out"


def test_a_long_list_is_tried_in_three_orders():
    """Above five cases only the planned order, shortest first and longest first are tried."""
    found = try_orders(replace(WORKED, cases=(DETACHMENT, OIL_OUT) * 3, session=480))

    assert (found.complete, len(found.rows)) == (False, 3)


def test_a_list_of_one_case_has_no_gap():
    """A single case ends a late start and its own length after the planned start."""
    one = replace(WORKED, cases=(OIL_OUT,), start_delay=None, turnover=gap_from_history("turnover", []))

    assert forecast_list(one).median == pytest.approx(48, abs=0.5)
    assert leave_out(one) == ()


def test_a_list_with_an_unknown_length_is_refused():
    """A case that nobody can foretell refuses the list, and says which case and why."""
    unknown = PlannedCase(length_from_history("buckle", [60, 70]))
    plan = replace(WORKED, cases=(OIL_OUT, unknown, unknown))
    said = "too few: 2 past cases of buckle, at least 5 needed"

    assert forecast_list(plan).refused == said
    assert try_orders(plan).refused == said
    assert leave_out(plan) == ()
    assert forecast_list(plan).overrun is None


def test_an_empty_list_is_refused():
    """A list without cases has no forecast."""
    assert forecast_list(replace(WORKED, cases=())).refused == "no cases on the list"


def test_an_unknown_gap_or_start_refuses_the_list():
    """Gaps and a late start without history are named in the refusal."""
    few = gap_from_history("late start", [0, 5])
    plan = replace(WORKED, turnover=gap_from_history("turnover", [20] * 9), start_delay=few)

    assert forecast_list(plan).refused == (
        "too few: 9 past values of turnover, at least 10 needed; "
        "too few: 2 past values of late start, at least 10 needed"
    )


def test_thirty_cases_speak_for_themselves():
    """From thirty comparable cases on, those are resampled, and only their lengths are drawn."""
    past = [60.0 + i for i in range(30)]
    length = length_from_history("detachment", past, PAST)

    assert (length.n, length.others, length.basis) == (30, 5, "past cases, resampled")
    assert length.spread == Resampled(tuple(past))
    assert set(length.spread.draw(np.random.default_rng(1), 500)) <= set(past)
    assert length.spread.median == 74.5
    assert length_from_history("detachment", past[:29]).basis == "few past cases alone"


def test_few_cases_alone():
    """Five comparable cases without others give the plain log-normal bound."""
    length = length_from_history("detachment", [*PAST, None, 0])

    # Zhou and Dexter, Anesthesiology 1998;89:1228 (figures recomputed).
    assert (length.n, length.basis) == (5, "few past cases alone")
    assert length.spread.quantile(0.9) == pytest.approx(163.764208, abs=1e-5)


def test_few_cases_are_drawn_towards_the_procedure():
    """The centre lies between the few cases' and the procedure's, by 3 cases to their number."""
    others = np.random.default_rng(3).lognormal(5.2, 0.4, 40)
    length = length_from_history("detachment", PAST, others)
    own, whole = np.log(PAST).mean(), np.log(others).mean()

    assert (length.basis, length.others) == ("few past cases, drawn towards the procedure", 40)
    assert length.spread.location == pytest.approx((5 * own + 3 * whole) / 8)
    assert length.spread.df == 16 + 5


def test_no_comparable_case_leaves_the_procedure():
    """Without a comparable case the procedure's others speak, more widely than they are spread."""
    others = np.random.default_rng(3).lognormal(5.2, 0.4, 40)
    length = length_from_history("retinectomy", [], others)

    assert (length.n, length.basis) == (0, "the procedure's cases only")
    assert length.spread.median == pytest.approx(math.exp(np.log(others).mean()))
    assert length.spread.scale > np.log(others).std(ddof=1)


def test_a_belief_weighs_no_more_than_it_rests_on():
    """Five others hold a shape of 2, forty no more than 8, four nothing."""
    assert (belief_from(PAST).weight, belief_from(PAST).shape) == (3, 2)
    assert belief_from(PAST * 8).shape == 8
    assert belief_from(PAST[:4]) is NO_BELIEF


def test_lengths_all_the_same_are_refused():
    """Five cases of the same length say nothing of the spread."""
    assert length_from_history("laser", [30] * 5).refused == (
        "no spread: every past length of laser is the same"
    )


def test_a_late_start_may_be_early():
    """Past starts before time are drawn as they were."""
    length = gap_from_history("late start", [-10, -5, 0, 0, 5, 10, 15, 20, 30, 45])

    assert length.spread.draw(np.random.default_rng(1), 1_000).min() == -10


def test_the_p80_of_few_cases_holds():
    """Over 500 seeded histories of eight cases the p80 of the next single-case list holds in 8 of 10."""
    rng, held = np.random.default_rng(13), 0
    for _ in range(500):
        past, following = rng.lognormal(4.6, 0.35, 8), rng.lognormal(4.6, 0.35)
        plan = PlannedList((PlannedCase(length_from_history("case", past)),), 480, GAP)
        held += following <= forecast_list(plan, draws=2_000).p80

    assert held / 500 == pytest.approx(0.8, abs=0.05)


def test_the_fewest_cases_behind_a_forecast_are_shown():
    """A forecast carries the smallest n that any of its cases rests on."""
    plan = replace(WORKED, cases=(PlannedCase(length_from_history("a", PAST)), PlannedCase(
        length_from_history("b", range(60, 100)))))  # fmt: skip

    assert (OIL_OUT.length.n, OIL_OUT.length.others, OIL_OUT.length.basis) == (0, 0, "typed in")
    assert forecast_list(plan).fewest == 5
    assert forecast_list(WORKED).fewest == 0
