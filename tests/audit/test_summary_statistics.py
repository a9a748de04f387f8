"""Quantiles, moments and differences of medians, held against published values."""

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.audit.statistics import summary
from tracker.audit.statistics.summary import median_difference, moments, summarise

# NIST StRD Univariate, Lottery.dat (public domain).
LOTTERY = [
    162, 671, 933, 414, 788, 730, 817, 33, 536, 875, 670, 236, 473, 167, 877, 980, 316, 950, 456, 92,
    517, 557, 956, 954, 104, 178, 794, 278, 147, 773, 437, 435, 502, 610, 582, 780, 689, 562, 964, 791,
    28, 97, 848, 281, 858, 538, 660, 972, 671, 613, 867, 448, 738, 966, 139, 636, 847, 659, 754, 243,
    122, 455, 195, 968, 793, 59, 730, 361, 574, 522, 97, 762, 431, 158, 429, 414, 22, 629, 788, 999,
    187, 215, 810, 782, 47, 34, 108, 986, 25, 644, 829, 630, 315, 567, 919, 331, 207, 412, 242, 607,
    668, 944, 749, 168, 864, 442, 533, 805, 372, 63, 458, 777, 416, 340, 436, 140, 919, 350, 510, 572,
    905, 900, 85, 389, 473, 758, 444, 169, 625, 692, 140, 897, 672, 288, 312, 860, 724, 226, 884, 508,
    976, 741, 476, 417, 831, 15, 318, 432, 241, 114, 799, 955, 833, 358, 935, 146, 630, 830, 440, 642,
    356, 373, 271, 715, 367, 393, 190, 669, 8, 861, 108, 795, 269, 590, 326, 866, 64, 523, 862, 840,
    219, 382, 998, 4, 628, 305, 747, 247, 34, 747, 729, 645, 856, 974, 24, 568, 24, 694, 608, 480,
    410, 729, 947, 293, 53, 930, 223, 203, 677, 227, 62, 455, 387, 318, 562, 242, 428, 968,
]  # fmt: skip

# NIST StRD Univariate, Mavro.dat (public domain), in units of 0.0001 above 2.
MAVRO = [2 + above / 10_000 for above in (
    18, 17, 18, 19, 18, 17, 15, 14, 15, 15, 17, 18, 18, 19, 19, 21, 20, 16, 14, 13, 13, 15, 15, 16, 15, 14,
    13, 14, 15, 14, 15, 16, 15, 16, 19, 20, 20, 21, 22, 23, 24, 25, 27, 26, 26, 26, 27, 26, 25, 24,
)]  # fmt: skip

# NIST/SEMATECH e-Handbook 7.2.6.2, twelve gauge readings.
GAUGE = [95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610,
         95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682]  # fmt: skip


def test_lottery_moments_are_the_certified_ones():
    """The Lottery series gives the certified mean, deviation and lag-1 autocorrelation."""
    found = moments(LOTTERY)

    # NIST StRD Univariate, itl.nist.gov/div898/strd/univ/data/Lottery.dat
    assert found.n == 218
    assert found.mean == pytest.approx(518.958715596330, rel=1e-12)
    assert found.sd == pytest.approx(291.699727470969, rel=1e-12)
    assert found.autocorrelation == pytest.approx(-0.120948622967393, rel=1e-12)


def test_lottery_quartiles_are_of_type_7():
    """The Lottery quartiles are those of Hyndman and Fan's type 7."""
    found = summarise(LOTTERY)

    # Recomputed from the NIST StRD series; the definition is Hyndman and Fan, Am Stat 1996;50:361.
    assert (found.median, found.p25, found.p75) == (522.5, 272.75, 779.25)
    assert found.iqr == 506.5


def test_90th_percentile_is_of_type_7():
    """The 90th percentile of the handbook's gauge readings is that of type 7."""
    # Readings: NIST/SEMATECH e-Handbook 7.2.6.2; type 7 of them as in two public test suites.
    assert summarise(GAUGE).p90 == pytest.approx(95.19568, abs=1e-9)


def test_mavro_moments_are_the_certified_ones():
    """The Mavro series gives the certified mean, deviation and lag-1 autocorrelation."""
    found = moments(MAVRO)

    # NIST StRD Univariate, Mavro.dat; the autocorrelation is from memory, and recomputed.
    assert found.n == 50
    assert found.mean == pytest.approx(2.00185600000000, rel=1e-14)
    assert found.sd == pytest.approx(0.000429123454003053, rel=1e-11)
    assert found.autocorrelation == pytest.approx(0.937989183438248, rel=1e-9)


def test_numacc1_loses_no_digit():
    """Three values of eight digits give mean, deviation and autocorrelation exactly."""
    found = moments([10_000_001, 10_000_003, 10_000_002])

    # NIST StRD Univariate, NumAcc1.dat; the autocorrelation is from memory, and recomputed.
    assert (found.mean, found.sd, found.autocorrelation) == (10_000_002, 1, -0.5)


def test_numacc2_loses_no_digit():
    """A thousand and one alternating values keep thirteen digits of the deviation."""
    found = moments([1.2, *[1.1, 1.3] * 500])

    # NIST StRD Univariate, NumAcc2.dat
    assert found.n == 1001
    assert found.mean == pytest.approx(1.2, rel=1e-13)
    assert found.sd == pytest.approx(0.1, rel=1e-13)
    assert found.autocorrelation == pytest.approx(-0.999, rel=1e-13)


def test_two_values_have_no_moments():
    """Below three values there is neither mean nor deviation, and equal values have no autocorrelation."""
    assert moments([1.0, 2.0]).refused == "too few: 2 values, at least 3 needed"
    assert (moments([60.0] * 4).sd, moments([60.0] * 4).autocorrelation) == (0, None)


def test_a_summary_counts_what_it_lacks():
    """Missing lengths are counted beside the figures."""
    found = summarise([60, None, 75, 90, float("nan"), 120, 80])

    assert (found.n, found.missing) == (5, 2)
    assert found.median == 80


def test_four_lengths_show_nothing_but_n():
    """Below five cases a summary gives n and the refusal, and no figure."""
    found = summarise([60, 75, 90, 120])

    assert found.n == 4
    assert found.refused == "too few: 4 cases, at least 5 needed"
    assert (found.median, found.p25, found.p75, found.p10, found.p90, found.iqr) == (None,) * 6


def test_an_infinite_length_is_turned_away():
    """No clock gives an infinite length."""
    with pytest.raises(ValueError, match="infinite"):
        summarise([60, float("inf")])


@given(st.lists(st.floats(0.1, 1000), min_size=5, max_size=40), st.randoms(use_true_random=False))
def test_a_summary_does_not_mind_the_order(lengths, shuffler):
    """Summaries of the same lengths in another order are equal, and their quantiles ascend."""
    shuffled = list(lengths)
    shuffler.shuffle(shuffled)
    found = summarise(lengths)

    assert summarise(shuffled) == found
    assert found.p10 <= found.p25 <= found.median <= found.p75 <= found.p90


def test_a_difference_of_medians_repeats_itself():
    """The same seed gives the same interval, and the seed and the number of resamples are stated."""
    rng = np.random.default_rng(1)
    first, second = rng.lognormal(4.7, 0.3, 30), rng.lognormal(4.5, 0.3, 25)
    once, twice = median_difference(first, second), median_difference(first, second)

    assert once == twice
    assert (once.n_first, once.n_second, once.resamples) == (30, 25, 2000)
    assert once.low < once.difference < once.high
    assert once.difference == pytest.approx(np.median(first) - np.median(second))


def test_a_difference_needs_ten_in_each_group():
    """With nine cases in the smaller group there is no interval."""
    found = median_difference(range(1, 41), range(1, 10))

    assert found.refused == "too few: 9 cases in the smaller group, at least 10 needed"
    assert found.difference is None


def test_the_interval_covers_a_known_difference():
    """Over 200 seeded pairs of groups the 95% interval holds the true difference in 90 to 99 of 100."""
    rng = np.random.default_rng(7)
    truth = float(np.exp(4.8) - np.exp(4.6))
    held = 0
    for _ in range(200):
        found = median_difference(rng.lognormal(4.8, 0.35, 20), rng.lognormal(4.6, 0.35, 20), resamples=600)
        held += found.low <= truth <= found.high

    assert 180 <= held <= 198


def test_resamples_of_large_groups_are_not_held_together():
    """Two thousand resamples of 5,000 cases are 80 MB of values; a quarter of that is never passed."""
    cases = np.random.default_rng(3).lognormal(5, 0.3, 5_000).tolist()

    tracemalloc.start()
    found = median_difference(cases, cases)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert found.low < 0 < found.high
    assert peak < 20e6


def test_an_interval_is_the_same_however_many_resamples_are_held(monkeypatch):
    """The same seed draws the same cases, one resample at a time or all together."""
    rng = np.random.default_rng(4)
    first, second = rng.lognormal(5, 0.3, 31).tolist(), rng.lognormal(5.2, 0.3, 47).tolist()
    together = median_difference(first, second)
    monkeypatch.setattr(summary, "AT_ONCE", 1)

    assert median_difference(first, second) == together
