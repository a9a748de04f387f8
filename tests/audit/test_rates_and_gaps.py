"""Rates, rare events and Pareto tables, held against published values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from tracker.audit.statistics.rates import (
    cases_between,
    pareto,
    rate,
)


@pytest.mark.parametrize(
    ("events", "n", "low", "high"),
    # Newcombe, Stat Med 1998;17:857, table I, method 3; to six places recomputed.
    [(81, 263, 0.255289, 0.366210), (15, 148, 0.062386, 0.160487)],
)
def test_wilson_interval(events, n, low, high):
    """Wilson's interval is Newcombe's third method."""
    found = rate(events, n)

    assert (found.low, found.high) == pytest.approx((round(low, 4), round(high, 4)), abs=5e-5)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-6)


@pytest.mark.parametrize(("events", "n", "percent"), [(53, 60, 88), (36, 264, 14), (24, 60, 40)])
def test_rate_per_100(events, n, percent):
    """Lists booked to the mean overran in 88 of 100, and 14 of 100 patients were cancelled."""
    # 60 urology lists, abstract at neuroscience.ox.ac.uk/publications/1080233
    assert round(rate(events, n).per_100) == percent


def test_wilson_interval_of_the_lists_that_overran():
    """53 of 60 lists gives 0.778 to 0.942."""
    found = rate(53, 60)

    # Counts as above; interval recomputed.
    assert (found.low, found.high) == pytest.approx((0.77821, 0.94232), abs=1e-5)


@given(st.integers(5, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_wilson_agrees_with_a_library(counted):
    """For any counts the interval is statsmodels', and stays within 0 and 1."""
    events, n = counted
    found = rate(events, n)

    assert (found.low, found.high) == pytest.approx(proportion_confint(events, n, method="wilson"), abs=1e-9)
    assert 0 <= found.low <= found.share <= found.high <= 1


def test_the_wilson_interval_covers_a_known_rate():
    """Over 4,000 seeded samples of 40 cases the 95% interval holds a true 10 in 100 in 93 to 97."""
    counts = np.random.default_rng(4).binomial(40, 0.1, 4000)
    held = {k: (r := rate(int(k), 40)).low <= 0.1 <= r.high for k in set(counts.tolist())}

    assert 0.93 <= np.mean([held[k] for k in counts.tolist()]) <= 0.97


def test_four_cases_have_no_rate():
    """Below five cases there is n, the events, and no rate."""
    found = rate(1, 4)

    assert (found.n, found.events, found.refused) == (4, 1, "too few: 4 cases, at least 5 needed")
    assert (found.share, found.per_100, found.low) == (None, None, None)


@pytest.mark.parametrize(("events", "n"), [(-1, 5), (6, 5)])
def test_impossible_counts(events, n):
    """More events than cases, or fewer than none, are turned away."""
    with pytest.raises(ValueError, match="events in"):
        rate(events, n)


def test_cases_between_events():
    """Gaps are the cases in between; what came before the first and after the last is no gap."""
    events = [
        False,
        True,
        False,
        False,
        True,
        True,
        False,
        True,
        False,
        True,
        False,
        False,
        False,
        True,
        False,
    ]
    found = cases_between(events)

    assert (found.n, found.events, found.since) == (15, 6, 1)
    assert found.gaps == (2, 0, 1, 1, 3)
    assert found.mean == 1.4


def test_events_in_every_case_have_no_gap():
    """Where every case has the event the mean gap is 0."""
    found = cases_between([True] * 6)

    assert (found.gaps, found.mean) == ((0, 0, 0, 0, 0), 0)


def test_few_gaps_have_no_mean():
    """Five events make four gaps, which are too few; no event at all leaves only the cases since."""
    assert cases_between([True] * 5).refused == "too few: 4 gaps between events, at least 5 needed"
    assert cases_between([False] * 8).since == 8


DEVIATIONS = (
    [("out_of_order", "count_2", "oversight")] * 6
    + [("skipped", "cannula_recheck", "oversight")] * 3
    + [("out_of_order", "peel_ant", "forced by finding")] * 1
)


def test_a_pareto_table_adds_up():
    """The commonest comes first, and the cumulative share ends at 1."""
    found = pareto(DEVIATIONS, 40)

    assert (found.n, found.total) == (40, 10)
    assert [(row.step, row.count) for row in found.rows] == [
        ("count_2", 6), ("cannula_recheck", 3), ("peel_ant", 1),
    ]  # fmt: skip
    assert [row.per_100 for row in found.rows] == [15, 7.5, 2.5]
    assert [row.cumulative for row in found.rows] == pytest.approx([0.6, 0.9, 1.0])


def test_a_pareto_of_four_cases_is_refused():
    """Below five cases the deviations are counted and not listed."""
    found = pareto(DEVIATIONS, 4)

    assert (found.total, found.rows) == (10, ())
    assert found.refused == "too few: 4 cases, at least 5 needed"
