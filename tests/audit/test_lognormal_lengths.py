"""Lognormal quantiles and prediction bounds, held against published or recomputed values."""

import math

import numpy as np
import pytest

from tracker.audit.statistics.lognormal import (
    NO_BELIEF,
    Lognormal,
    LogStudent,
    NormalGamma,
)

TIMES = [95, 110, 150, 88, 132]
BELIEF = NormalGamma(math.log(120), 3, 8, 0.7)


def test_two_parameter_identities():
    """Quantiles follow from median 100 and sigma 0.5."""
    length = Lognormal.from_median(100, 0.5)

    # Definition of the lognormal; recomputed with scipy.
    assert length.quantile(0.9) == pytest.approx(189.795271, abs=1e-5)
    assert length.quantile(0.95) == pytest.approx(227.601661, abs=1e-5)


@pytest.mark.parametrize(
    ("mu", "sigma", "median", "p80", "p90", "over_120"),
    [
        # Means and SDs: Angermann et al., BMJ Open 2021;11:e052513 (vitrectomy, local and general); mu and
        # sigma by the method of moments.
        (4.21538, 0.42116, 67.720, 96.528, 116.177, 0.08716),
        (4.62090, 0.44182, 101.585, 147.340, 178.951, 0.35306),
    ],
)
def test_quantiles_of_printed_lengths(mu, sigma, median, p80, p90, over_120):
    """The lognormals of two printed means and deviations have these quantiles and this tail."""
    length = Lognormal(mu, sigma)

    # Figures recomputed.
    assert length.median == pytest.approx(median, abs=1e-2)
    assert (length.quantile(0.8), length.quantile(0.9)) == pytest.approx((p80, p90), abs=1e-2)
    assert length.beyond(120) == pytest.approx(over_120, abs=1e-3)


def test_upper_bound_from_five_cases():
    """Five past times give the published form of the log-normal prediction bound."""
    fit = NO_BELIEF.predict(TIMES)

    # Zhou and Dexter, Anesthesiology 1998;89:1228 (equation from memory; figures recomputed).
    assert fit.median == pytest.approx(112.733458, abs=1e-5)
    assert fit.scale / math.sqrt(1.2) == pytest.approx(0.222323157, abs=1e-8)
    assert fit.quantile(0.9) == pytest.approx(163.764208, abs=1e-5)


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


def test_the_bound_holds_what_it_says():
    """Over 2,000 seeded histories of eight cases the 90% bound holds the next case in 9 of 10."""
    rng = np.random.default_rng(11)
    past, following = rng.lognormal(4.6, 0.35, (2000, 8)), rng.lognormal(4.6, 0.35, 2000)
    held = sum(
        NO_BELIEF.predict(row).quantile(0.9) >= after for row, after in zip(past, following, strict=True)
    )

    assert held / 2000 == pytest.approx(0.9, abs=0.02)


def test_nothing_at_all_predicts_nothing():
    """Without belief and with one case there is nothing to predict from."""
    with pytest.raises(ValueError, match="neither belief nor cases"):
        NO_BELIEF.predict([95])


def test_a_length_is_always_beyond_nothing():
    """Every length is longer than 0 minutes."""
    assert Lognormal(4.6, 0.3).beyond(0) == 1
    assert LogStudent(4.6, 0.3, 5).beyond(0) == 1
