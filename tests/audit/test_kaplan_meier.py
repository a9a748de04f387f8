"""Time to an event with cases still waiting, held against the 6-MP trial."""

import numpy as np
import pytest

from remissions import RELAPSED, SHARES, STEPS, TIMES
from tracker.audit.statistics.survival import kaplan_meier

# Freireich et al., Blood 1963;21:699, as in Gehan 1965; weeks of remission, each ended by a relapse.
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def test_the_treated_arm():
    """The curve, the numbers at risk and the median of the treated arm are the published ones."""
    curve = kaplan_meier(TIMES, RELAPSED)

    # Freireich et al., Blood 1963;21:699 (data read; curve recomputed with lifelines).
    assert [step.time for step in curve.steps] == STEPS
    assert [step.share for step in curve.steps] == pytest.approx(SHARES, abs=1e-6)
    assert [step.at_risk for step in curve.steps] == [21, 17, 15, 12, 11, 7, 6]
    assert (curve.n, curve.events, curve.median, curve.followed) == (21, 9, 23, 359)


def test_the_placebo_arm():
    """Where every case relapsed the median is 8 weeks and the curve ends at 0."""
    curve = kaplan_meier(PLACEBO, [True] * 21)

    # As above.
    assert (curve.median, curve.followed) == (8, 182)
    assert curve.steps[-1].share == pytest.approx(0, abs=1e-12)


def test_the_share_between_events():
    """The curve is flat between events, 1 before the first, and unknown after the last follow-up."""
    curve = kaplan_meier(TIMES, RELAPSED)

    assert curve.share_at(5.9) == 1
    assert curve.share_at(12) == curve.share_at(10) == pytest.approx(0.752941, abs=1e-6)
    assert curve.share_at(35) == pytest.approx(0.448179, abs=1e-6)
    assert curve.share_at(36) is None


def test_the_interval_between_events_is_that_of_the_last():
    """Before the first event there is no variance to estimate from, after the last follow-up no share."""
    curve = kaplan_meier(TIMES, RELAPSED)
    tenth = next(step for step in curve.steps if step.time == 10)

    assert curve.interval_at(5.9) is None
    assert curve.interval_at(12) == (tenth.low, tenth.high)
    assert curve.interval_at(36) is None


def test_the_table_of_numbers_at_risk():
    """Cases still followed just before each time can stand under the curve."""
    assert kaplan_meier(TIMES, RELAPSED).at_risk([0, 6, 7, 10, 23, 35, 36]) == (21, 21, 17, 15, 6, 1, 0)


def test_no_event_leaves_the_curve_at_one():
    """Without an event there is no step and no median, and the share stays 1."""
    curve = kaplan_meier(range(1, 13), [False] * 12)

    assert (curve.events, curve.steps, curve.median, curve.share_at(6)) == (0, (), None, 1)


def test_a_half_is_the_median():
    """The first time at which exactly half are left is the median."""
    assert kaplan_meier(range(1, 11), [True] * 10).median == 5


def test_nine_cases_have_no_curve():
    """Below ten cases there is n, the events and the time followed, and no curve."""
    curve = kaplan_meier(range(9), [True] * 9)

    assert (curve.n, curve.events, curve.followed) == (9, 9, 36)
    assert curve.refused == "too few: 9 cases, at least 10 needed"
    assert curve.share_at(3) is None


@pytest.mark.parametrize(("times", "happened"), [([1, 2], [True]), ([-1, 2], [True, False])])
def test_each_case_needs_a_time_and_an_outcome(times, happened):
    """Unequal columns, or a time before the start, are turned away."""
    with pytest.raises(ValueError, match="each case needs"):
        kaplan_meier(times, happened)


def test_the_interval_covers_a_known_share():
    """Over 300 seeded cohorts of 60, a third censored, the 95% interval at 5 holds the truth in 92 to 98."""
    rng = np.random.default_rng(8)
    truth, held = np.exp(-0.5), 0
    for _ in range(300):
        event, leaves = rng.exponential(10, 60), rng.uniform(0, 30, 60)
        curve = kaplan_meier(np.minimum(event, leaves), event <= leaves)
        step = [step for step in curve.steps if step.time <= 5][-1]
        held += step.low <= truth <= step.high

    assert 0.92 <= held / 300 <= 0.98
