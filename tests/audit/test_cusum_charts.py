"""Weighted means and sums over cases, held against published values."""

import math

import numpy as np
import pytest

from tracker.audit.answers.courses import LIMIT, SLACK
from tracker.audit.statistics.cusum import (
    ewma,
    tabular_cusum,
)

# NIST/SEMATECH e-Handbook 6.3.2.4
WEIGHED = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
           49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]  # fmt: skip
# NIST/SEMATECH e-Handbook 6.3.2.3
GROUPS = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip


def test_ewma_of_the_handbook():
    """The handbook's twenty means come out, with its limits, and nothing is beyond them."""
    chart = ewma(WEIGHED, 50, 2.0539, weight=0.3)

    # NIST/SEMATECH e-Handbook 6.3.2.4, which rounds sqrt(0.3 / 1.7) to 0.4201.
    assert chart.series == pytest.approx(
        (50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
         50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99), abs=5e-3
    )  # fmt: skip
    assert chart.high == pytest.approx(52.5884, abs=2e-4)
    assert chart.low == pytest.approx(47.4115, abs=2e-4)
    assert chart.reached == ()


def test_tabular_cusum_of_the_handbook():
    """The handbook's twenty sums come out, and the upper one is first beyond h at group 14."""
    chart = tabular_cusum(GROUPS, 325, 0.3175, 4.1959)

    # NIST/SEMATECH e-Handbook 6.3.2.3, printed to two decimals.
    assert chart.upper == pytest.approx(
        (0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04),
        abs=6e-3,
    )
    assert chart.lower == pytest.approx(
        (0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0), abs=6e-3
    )
    assert [place + 1 for place in chart.reached_above] == list(range(14, 21))
    assert chart.reached_below == ()
    # The same, unrounded (recomputed).
    assert chart.upper[12:16] == pytest.approx((3.0075, 4.94, 7.4475, 10.63), abs=1e-9)
    assert chart.upper[19] == pytest.approx(19.035, abs=1e-9)
    assert chart.lower[7] == pytest.approx(0.715, abs=1e-9)


def test_tabular_cusum_of_a_textbook():
    """Twenty values about 99 with slack 1 give the textbook's two columns."""
    chart = tabular_cusum(
        [102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1,
         101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0], 99, 1, 10
    )  # fmt: skip

    # Montgomery and Runger, Applied Statistics and Probability for Engineers, table 16-8
    assert chart.upper == pytest.approx(
        (2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0), abs=1e-9
    )
    assert chart.lower == pytest.approx(
        (0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0), abs=1e-9
    )
    assert (chart.reached_above, chart.reached_below) == ((), ())


def test_a_single_case_makes_a_chart():
    """Sums and weighted means speak from the first case."""
    assert ewma([54], 50, 2, weight=0.3).series == pytest.approx((51.2,))
    assert tabular_cusum([54], 50, 1, 4).upper == (3,)


def test_no_cases_make_no_chart():
    """An empty series is refused, and says so."""
    said = "too few: 0 cases, at least 1 needed"

    assert ewma([], 50, 2).refused == said
    assert tabular_cusum([None], 50, 1, 4).refused == said


def test_chance_alone_passes_the_limit_seldom():
    """With slack 1/2 and limit 5 spreads, cases on target signal once in some 470, as an audit says."""
    rng, firsts = np.random.default_rng(6), []
    for _ in range(400):
        found = tabular_cusum(rng.normal(size=4_000).tolist(), 0, SLACK, LIMIT)
        firsts.append(min([*found.reached_above[:1], *found.reached_below[:1], 4_000]) + 1)

    # Siegmund's approximation (formula from memory): one side 2 (e^b - b - 1) with b = h + 1.166, halved for two.
    b = LIMIT + 1.166
    assert (math.exp(b) - b - 1) == pytest.approx(469, abs=1)
    assert np.mean(firsts) == pytest.approx(469, rel=0.1)
