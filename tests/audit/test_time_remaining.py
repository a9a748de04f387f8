"""The time a running case has still to go, and the measure its forecasts are held to."""

import math

import numpy as np
import pytest

from forecast_distance import crps
from tracker.audit.statistics.lognormal import NO_BELIEF, Lognormal
from tracker.audit.statistics.remaining import remaining_quantile, time_remaining


def test_crps_of_a_normal_forecast():
    """A standard normal forecast of its own mean has the closed-form score."""
    grid = (np.arange(200_000) + 0.5) / 200_000
    draws = np.array([*map(Lognormal(0, 1).quantile, grid[::100])])

    # Gneiting and Raftery, J Am Stat Assoc 2007;102:359, eq. 5: (sqrt(2) - 1) / sqrt(pi) at the mean.
    assert crps(np.log(draws), 0) == pytest.approx((math.sqrt(2) - 1) / math.sqrt(math.pi), abs=1e-3)


def test_crps_of_a_lognormal_forecast():
    """A lognormal forecast has the score that the scoringRules package tests for."""
    draws = np.random.default_rng(1).lognormal(0.1, 0.9, 1_000_000)

    # CRAN scoringRules, tests/testthat/test-crps_lnorm.R: crps_lnorm(3, 0.1, 0.9) = 1.13552645.
    assert crps(draws, 3) == pytest.approx(1.13552645, abs=5e-3)


def test_crps_of_a_single_guess():
    """A single guess scores its distance, and two draws less half theirs from each other."""
    assert crps(np.array([90.0]), 100) == 10
    assert crps(np.array([90.0, 110.0]), 100) == 10 - 20 / 4
    with pytest.raises(ValueError, match="no draws"):
        crps(np.array([]), 100)


def test_time_remaining_from_longer_cases():
    """With enough longer cases the rest of those is what may remain."""
    past = [float(minutes) for minutes in range(51, 111)]
    found = time_remaining(past, 80)

    assert (found.n, found.longer, found.basis) == (60, 30, "past cases that went on longer")
    # 1 to 30 minutes more, at the places p(N + 1): NIST/SEMATECH e-Handbook 7.2.6.2.
    assert (found.median, found.p80, found.p90) == pytest.approx((15.5, 24.8, 27.9))


def test_what_longer_cases_promise_is_the_handbooks_percentile():
    """Of twelve gauge readings, taken as lengths beyond nothing, the p90 is the one that the handbook prints."""
    gauge = [
        95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610,
        95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682,
    ]  # fmt: skip

    # NIST/SEMATECH e-Handbook 7.2.6.2 prints 95.1981 for p(N + 1).
    assert time_remaining(gauge, 0).p90 == pytest.approx(95.1981, abs=5e-5)


def test_time_remaining_from_a_fit():
    """With few longer cases the fit is cut at the time spent, and the share beyond it adds up."""
    past = [70, 80, 85, 90, 95, 100, 105, 110, 120, 130, 150, 180]
    found = time_remaining(past, 125)
    fit = NO_BELIEF.predict(past)

    assert (found.n, found.longer, found.basis) == (12, 3, "lognormal fit cut at the time spent")
    for minutes, left in [(found.median, 0.5), (found.p80, 0.2), (found.p90, 0.1)]:
        assert fit.beyond(125 + minutes) / fit.beyond(125) == pytest.approx(left)


def test_a_cut_lognormal_by_draws():
    """A million draws that lasted longer than 120 minutes agree with the cut quantile."""
    length = Lognormal.from_median(100, 0.4)
    drawn = length.draw(np.random.default_rng(4), 1_000_000)
    left = drawn[drawn > 120] - 120

    assert remaining_quantile(length, 120, 0.8) == pytest.approx(np.quantile(left, 0.8), rel=0.01)
    assert remaining_quantile(length, 0, 0.8) == pytest.approx(length.quantile(0.8))


def test_time_remaining_holds_what_it_says():
    """Over 600 seeded histories the p80 of what remains after 100 minutes holds in about 8 of 10."""
    rng, held = np.random.default_rng(5), []
    while len(held) < 600:
        past, running = rng.lognormal(4.6, 0.35, 25), rng.lognormal(4.6, 0.35)
        found = time_remaining(past, 100)
        if running > 100 and not found.refused:
            held.append(running - 100 <= found.p80)

    assert np.mean(held) == pytest.approx(0.8, abs=0.06)


def test_nine_past_cases_say_nothing():
    """Below ten past cases what remains is not given."""
    found = time_remaining([60.0 + i for i in range(9)], 30)

    assert (found.n, found.longer) == (9, 9)
    assert found.refused == "too few: 9 past cases, at least 10 needed"


def test_longer_than_all_before():
    """A case that outlasts every past one is beyond what they can say."""
    found = time_remaining([60.0 + i for i in range(12)], 90)

    assert found.refused == "longer already than all 12 past cases"
    assert found.median is None
