"""Lognormal identities, fits and prediction bounds, held against published or recomputed values."""

import math

import numpy as np
import pytest
from scipy import stats

from tracker.audit.statistics.lognormal import (
    NO_BELIEF,
    Lognormal,
    LogStudent,
    NormalGamma,
    lognormal_form,
    sum_of_lognormals,
    upper_bound,
)

TIMES = [95, 110, 150, 88, 132]
BELIEF = NormalGamma(math.log(120), 3, 8, 0.7)


def test_two_parameter_identities():
    """Mean, deviation, cv, mode and quantiles follow from median 100 and sigma 0.5."""
    length = Lognormal.from_median(100, 0.5)

    # Definition of the lognormal; recomputed with scipy.
    assert length.mean == pytest.approx(113.314845, abs=1e-5)
    assert length.sd == pytest.approx(60.390053, abs=1e-5)
    assert length.cv == pytest.approx(0.532940, abs=1e-5)
    assert length.mode == pytest.approx(77.880078, abs=1e-5)
    assert length.quantile(0.9) == pytest.approx(189.795271, abs=1e-5)
    assert length.quantile(0.95) == pytest.approx(227.601661, abs=1e-5)


@pytest.mark.parametrize(
    ("mean", "sd", "mu", "sigma", "median", "p80", "p90", "over_120"),
    [
        # Means and SDs: Angermann et al., BMJ Open 2021;11:e052513 (vitrectomy, local and general).
        (74.0, 32.6, 4.21538, 0.42116, 67.720, 96.528, 116.177, 0.08716),
        (112.0, 52.0, 4.62090, 0.44182, 101.585, 147.340, 178.951, 0.35306),
        # Means and SDs: PMC6165586 (vitrectomy with silicone oil, 25G and 27G).
        (56.7, 35.9, 3.86922, 0.58061, 47.905, 78.091, 100.816, None),
        (55.7, 36.1, 3.84463, 0.59219, 46.742, 76.941, 99.839, None),
    ],
)
def test_fit_from_a_printed_mean_and_sd(mean, sd, mu, sigma, median, p80, p90, over_120):
    """A printed mean and standard deviation give the lognormal that has them."""
    length = Lognormal.from_mean_sd(mean, sd)

    assert length.mu == pytest.approx(mu, abs=1e-5)
    assert length.sigma == pytest.approx(sigma, abs=1e-5)
    assert length.median == pytest.approx(median, abs=1e-3)
    assert length.quantile(0.8) == pytest.approx(p80, abs=1e-3)
    assert length.quantile(0.9) == pytest.approx(p90, abs=1e-3)
    assert (length.mean, length.sd) == (pytest.approx(mean), pytest.approx(sd))
    if over_120 is not None:
        assert length.beyond(120) == pytest.approx(over_120, abs=1e-3)


def test_upper_bound_from_five_cases():
    """Five past times give the published form of the log-normal prediction bound."""
    found = upper_bound(TIMES, 0.9)
    fit = NO_BELIEF.predict(TIMES)

    # Zhou and Dexter, Anesthesiology 1998;89:1228 (equation from memory; figures recomputed).
    assert fit.median == pytest.approx(112.733458, abs=1e-5)
    assert fit.scale / math.sqrt(1.2) == pytest.approx(0.222323157, abs=1e-8)
    assert (found.n, found.minutes) == (5, pytest.approx(163.764208, abs=1e-5))


def test_belief_alone_predicts():
    """With no case yet the bound is that of the belief."""
    fit = BELIEF.predict()

    # Dexter and Ledolter, Anesthesiology 2005;103:1259 for the idea; conjugate form and figures recomputed.
    assert (fit.location, fit.scale, fit.df) == (
        pytest.approx(4.78749, abs=1e-5),
        pytest.approx(0.34157, abs=1e-5),
        16,
    )
    assert fit.quantile(0.9) == pytest.approx(189.44168, abs=1e-4)
    assert fit.quantile(0.05) == pytest.approx(66.09935, abs=1e-4)


def test_cases_draw_the_belief_towards_them():
    """Five cases move the bound, and narrow it."""
    fit = BELIEF.predict(TIMES)

    # As above; the 90% bound also by 4 million draws (170.07).
    assert (fit.location, fit.scale, fit.df) == (
        pytest.approx(4.74845, abs=1e-5),
        pytest.approx(0.29323, abs=1e-5),
        21,
    )
    assert fit.quantile(0.9) == pytest.approx(170.11056, abs=1e-4)
    assert fit.quantile(0.05) == pytest.approx(69.67755, abs=1e-4)


def test_a_belief_that_fades_leaves_the_plain_bound():
    """As the weights go to nothing the bound is that of the cases alone."""
    faint = NormalGamma(math.log(120), 1e-9, -0.5, 1e-12)

    # The same 163.76421 as Zhou and Dexter's form gives.
    assert faint.predict(TIMES).quantile(0.9) == pytest.approx(163.76421, abs=1e-4)


def test_draws_follow_the_log_student():
    """A million seeded draws keep within the bound in nine of ten."""
    fit = BELIEF.predict(TIMES)
    drawn = fit.draw(np.random.default_rng(3), 1_000_000)

    assert (drawn <= fit.quantile(0.9)).mean() == pytest.approx(0.9, abs=0.002)
    assert fit.beyond(fit.quantile(0.9)) == pytest.approx(0.1, abs=1e-9)


def test_a_sum_of_lognormals_by_its_moments():
    """Two lengths in a row are near a lognormal with the mean and variance of their sum."""
    parts = [Lognormal.from_median(110, 0.25), Lognormal.from_median(100, 0.15)]
    total = sum_of_lognormals(parts)

    # Fenton, IRE Trans Comm Sys 1960;8:57 (moment identities; recomputed). Lo's approximation, as in the
    # CRAN lognorm vignette, is another figure: mu 5.3576474, sigma 0.1499077.
    assert total.mean == pytest.approx(214.623127, abs=1e-6)
    assert total.sd == pytest.approx(32.610452, abs=1e-6)
    assert total.mu == pytest.approx(5.357471507, abs=1e-8)
    assert total.sigma == pytest.approx(0.151076699, abs=1e-8)


def test_skewed_lengths_ask_for_a_third_parameter():
    """Skewness above 0.35 asks for a least length, and lengths without a long tail do not."""
    grid = (np.arange(1, 41) - 0.5) / 40
    skewed = np.exp(4.5 + 0.4 * stats.norm.ppf(grid))
    even = 100 + 20 * stats.norm.ppf(grid)

    # "If skewness > 0.35 use the three-parameter lognormal, otherwise the two-parameter model":
    # May, Strum and Vargas, Decision Sciences 2000;31:129.
    assert lognormal_form(skewed).form == "three-parameter"
    assert lognormal_form(skewed).skewness == pytest.approx(stats.skew(skewed))
    assert lognormal_form(even).form == "two-parameter"
    assert lognormal_form(skewed[:30]).refused == "too few: 30 cases, at least 31 needed"
    assert lognormal_form([60.0] * 31).refused == "no spread: every length is the same"


def test_the_skewness_limit_itself_is_two_parameter():
    """Only a skewness above the limit asks for the third parameter."""
    # Skewness of a two-point series with share p of the higher value is (1 - 2p) / sqrt(p (1 - p)).
    just_below, just_above = [1.0] * 58 + [2.0] * 42, [1.0] * 59 + [2.0] * 41

    assert lognormal_form(just_below).skewness == pytest.approx(0.324, abs=1e-3)
    assert lognormal_form(just_below).form == "two-parameter"
    assert lognormal_form(just_above).skewness == pytest.approx(0.366, abs=1e-3)
    assert lognormal_form(just_above).form == "three-parameter"


def test_the_bound_holds_what_it_says():
    """Over 2,000 seeded histories of eight cases the 90% bound holds the next case in 9 of 10."""
    rng = np.random.default_rng(11)
    past, following = rng.lognormal(4.6, 0.35, (2000, 8)), rng.lognormal(4.6, 0.35, 2000)
    held = sum(upper_bound(row, 0.9).minutes >= after for row, after in zip(past, following, strict=True))

    assert held / 2000 == pytest.approx(0.9, abs=0.02)


def test_four_cases_give_no_bound():
    """Below five cases there is no bound, and lengths of 0 do not count."""
    assert upper_bound([95, 110, 150, 88, 0], 0.9).refused == "too few: 4 cases, at least 5 needed"


def test_nothing_at_all_predicts_nothing():
    """Without belief and with one case there is nothing to predict from."""
    with pytest.raises(ValueError, match="neither belief nor cases"):
        NO_BELIEF.predict([95])


def test_a_length_is_always_beyond_nothing():
    """Every length is longer than 0 minutes."""
    assert Lognormal(4.6, 0.3).beyond(0) == 1
    assert LogStudent(4.6, 0.3, 5).beyond(0) == 1
