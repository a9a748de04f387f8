"""Individuals and run charts, and the constants of the limits, held against published values."""

import math

import numpy as np
import pytest

from tracker.audit.statistics.charts import (
    D2,
    D4,
    crossings_usual,
    individuals,
    longest_run_usual,
    runs,
)

# NIST/SEMATECH e-Handbook 6.3.2.2
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_individuals_chart_of_the_handbook():
    """The handbook's flow rates give its centre and limits with the printed 1.128 and 3.267."""
    chart = individuals(FLOW, log_scale=False, fewest=10)

    # NIST/SEMATECH e-Handbook 6.3.2.2; moving-range limit 3.267 MRbar (recomputed).
    assert chart.ranges == pytest.approx((2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5))
    assert chart.centre == pytest.approx(50.81, abs=5e-5)
    assert chart.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.high == pytest.approx(55.8041, abs=5e-5)
    assert chart.low == pytest.approx(45.8159, abs=5e-5)
    assert chart.high_range == pytest.approx(6.1347, abs=2e-3)
    assert (chart.outside, chart.ranges_outside) == ((), ())


def test_the_printed_constants_are_the_closed_forms_rounded():
    """Two values have a mean range of 2 / sqrt(pi) deviations, and its spread is sqrt(2 - 4 / pi)."""
    # Closed forms, SAS/QC "Deriving Control Chart Constants"; the tables print 1.128 and 3.267.
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)

    assert pytest.approx(d2, abs=5e-4) == D2
    assert pytest.approx(1 + 3 * d3 / d2, abs=1e-3) == D4


@pytest.mark.parametrize(
    ("n", "longest", "crossings"), [(12, 7, 3), (20, 7, 6), (24, 8, 8), (30, 8, 10), (40, 8, 14)]
)
def test_run_rules_by_number_of_points(n, longest, crossings):
    """The longest usual run and the fewest usual crossings are Anhoej's."""
    # Anhoej, PLoS One 2014;9:e113825
    assert longest_run_usual(n) == longest
    assert crossings_usual(n) == crossings


def test_longest_usual_run_of_10_to_59_points():
    """The longest usual run steps up at 12, 23, 46 points, as the printed table has it."""
    # unaettie.com/en-us/faq.php, table 1, "critical values for run length in run chart".
    steps = {10: 6, 11: 6, 12: 7, 22: 7, 23: 8, 45: 8, 46: 9, 59: 9, 90: 9, 91: 10, 100: 10}

    assert {n: longest_run_usual(n) for n in steps} == steps


def shifted(found):
    """Whether the longest run is above, or the crossings below, what chance usually gives."""
    return found.longest > found.longest_usual or found.crossings < found.crossings_usual


def test_points_on_the_centre_do_not_count():
    """A run goes on over a point that lies on the centre, and that point is not counted."""
    found = runs([1, 1, 0, 1, 1, -1, -1, 1, -1, 1, 1, -1, -1, 1], 0)

    assert (found.n, found.longest, found.crossings) == (13, 4, 6)
    assert not shifted(found)


def test_a_lasting_shift_shows_as_a_run():
    """Twelve cases above and twelve below the centre are one crossing, and runs too long."""
    found = runs([1] * 12 + [-1] * 12, 0)

    assert (found.longest, found.crossings) == (12, 1)
    assert shifted(found)


def test_few_points_have_no_run_rules():
    """Eleven points off the centre are too few for the run rules."""
    found = runs([1] * 11 + [0] * 5, 0)

    assert found.refused == "too few: 11 points off the centre, at least 12 needed"


def test_log_scale_comes_back_as_a_geometric_mean():
    """On the log scale the centre in minutes is the geometric mean, and a length of 0 is left out."""
    minutes = [60, 90, 80, 70, 100, 110, 75, 85, 95, 65, 0, 105, 88, None]
    chart = individuals(minutes)
    kept = [m for m in minutes if m]

    assert (chart.n, chart.dropped) == (12, 2)
    assert math.exp(chart.centre) == pytest.approx(math.prod(kept) ** (1 / 12))
    assert math.exp(chart.low) < min(kept) < max(kept) < math.exp(chart.high)


def test_a_length_below_a_minute_is_charted():
    """Only a length of 0 has no logarithm; half a minute stays on the chart."""
    assert individuals([0.5, 1.0, 0.0, *range(2, 12)]).n == 12


def test_a_baseline_is_not_moved_by_what_follows():
    """Limits come from the baseline only, and a later shift lies outside them."""
    rng = np.random.default_rng(5)
    before, after = rng.lognormal(4.6, 0.1, 20), rng.lognormal(5.4, 0.1, 12)
    alone, followed = individuals(list(before)), individuals([*before, *after], baseline=20)

    assert (followed.centre, followed.low, followed.high) == (alone.centre, alone.low, alone.high)
    assert set(range(20, 32)) <= set(followed.outside)
    assert shifted(followed.runs)


def test_a_short_baseline_has_no_limits():
    """Eleven cases are no baseline."""
    chart = individuals([60.0 + i for i in range(11)])

    assert chart.refused == "too few: 11 cases in the baseline, at least 12 needed"
    assert (chart.centre, chart.low, chart.high, chart.runs) == (None, None, None, None)


def test_limits_rarely_catch_chance():
    """Over 300 seeded quiet charts of 30 points fewer than 2 in 100 points lie outside."""
    rng = np.random.default_rng(9)
    caught = sum(len(individuals(row.tolist()).outside) for row in rng.lognormal(4.6, 0.3, (300, 30)))

    assert caught / 9_000 < 0.02


def test_run_rules_rarely_catch_chance():
    """Over 2,000 seeded quiet series of 24 points about a known centre under 1 in 10 is called shifted."""
    rng = np.random.default_rng(10)
    called = sum(shifted(runs(row.tolist(), 0)) for row in rng.standard_normal((2000, 24)))

    assert called / 2_000 < 0.1
