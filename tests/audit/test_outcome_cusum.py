"""The sum of outcomes by log-likelihood ratio: published weights, a sequence by hand, and how far it runs by chance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.audit.statistics.cusum import (
    LEAST_RUN,
    average_run,
    limit_of,
    limit_step,
    outcome_cusum,
    weights,
)

USUAL = weights(0.14, 0.28)
SHARES = [(0.14, 0.28), (0.1, 0.15), (0.25, 0.4), (0.02, 0.04), (0.3, 0.9), (0.9, 0.95)]


def doubled(share):
    """The share at twice the odds."""
    return 2 * share / (1 + share)


def test_weights_of_the_shares_in_use():
    """14 % expected, 28 % to be noticed."""
    # By hand: ln 2 and ln(0.72 / 0.86).
    assert USUAL.failure == pytest.approx(0.693, abs=5e-4)
    assert USUAL.success == pytest.approx(-0.178, abs=5e-4)


@pytest.mark.parametrize(
    ("score", "share", "lived", "died"),
    [(0, 0.02460, -0.02430, 0.66884), (50, 0.54240, -0.43334, 0.25981)],
)
def test_weights_published_for_doubled_odds(score, share, lived, died):
    """Whoever knows the risk of a case asks with its own two shares."""
    # Steiner, Cook, Farewell, Treasure, Biostatistics 2000;1:441-452, p. 446: logit p = -3.68 + 0.077 s, odds doubled;
    # printed to five decimals of coefficients that are rounded themselves.
    p = 1 / (1 + math.exp(3.68 - 0.077 * score))
    its = weights(p, doubled(p))

    assert p == pytest.approx(share, abs=1e-5)
    assert (its.success, its.failure) == pytest.approx((lived, died), abs=2e-5)


@pytest.mark.parametrize(
    ("p0", "p1"), [(0, 0.1), (0.1, 0.1), (0.2, 0.1), (0.5, 1), (math.nan, 0.1), (0.1, math.nan)]
)
def test_shares_that_are_none_have_no_weights(p0, p1):
    """They are in order and between 0 and 1."""
    with pytest.raises(ValueError, match="expected < noticed"):
        weights(p0, p1)


def test_a_sequence_by_hand():
    """Success, failure, success, failure, failure, failure, and successes to the floor."""
    failed = [False, True, False, True, True, True, *[False] * 20]
    told = outcome_cusum(failed, USUAL, 2.0)

    # By hand with ln 2 = 0.693147 and ln(0.72 / 0.86) = -0.177681.
    assert told.series[:8] == pytest.approx(
        (0, 0.693147, 0.515466, 1.208613, 1.901760, 2.594907, 2.417226, 2.239545), abs=2e-6
    )
    assert told.reached == (5, 6, 7, 8)
    assert told.series[-1] == 0


def test_no_outcome_makes_no_sum():
    """An empty series is refused, and a single outcome is a sum."""
    assert outcome_cusum([], USUAL, 2.0).refused == "too few: 0 cases, at least 1 needed"
    assert outcome_cusum([True], USUAL, 2.0).series == (USUAL.failure,)


@given(st.lists(st.booleans(), min_size=1), st.sampled_from(SHARES))
def test_a_sum_is_never_below_nought(failed, shares):
    """Nor does it ever rise by a success, or fall by a failure."""
    series = outcome_cusum(failed, weights(*shares), 1.0).series

    assert min(series) >= 0
    for before, after, each in zip((0.0, *series), series, failed, strict=False):
        assert after > before if each else after <= before


@given(st.integers(1, 200), st.sampled_from(SHARES))
def test_successes_alone_stay_at_nought(n, shares):
    """There is nothing to take away."""
    assert set(outcome_cusum([False] * n, weights(*shares), 1.0).series) == {0.0}


@given(st.integers(1, 10), st.integers(1, 10), st.sampled_from(SHARES))
def test_the_order_of_cases_matters(failures, successes, shares):
    """The same outcomes end higher with the failures last."""
    early = outcome_cusum([True] * failures + [False] * successes, weights(*shares), 1.0).series[-1]
    late = outcome_cusum([False] * successes + [True] * failures, weights(*shares), 1.0).series[-1]

    assert late > early


# -- how far it runs


def chain(its, limit, share, nodes=500):
    """The average run by a Markov chain on equal nodes; each step goes to the two nodes about it, its mean kept."""
    # Brook and Evans, Biometrika 1972;59:539.
    width, at = limit / nodes, np.arange(nodes)
    system = np.eye(nodes)
    for step, chance in ((its.failure, share), (its.success, 1 - share)):
        to = np.maximum(at + step / width, 0)
        below = np.floor(to).astype(int)
        for node, part in ((below, below + 1 - to), (below + 1, to - below)):
            inside = node < nodes
            np.subtract.at(system, (at[inside], node[inside]), chance * part[inside])
    return np.linalg.solve(system, np.ones(nodes))[0]


def simulated(its, limit, share, runs=2_000):
    """The average run of so many seeded series, and its standard error."""
    draw, held = np.random.default_rng(8), np.zeros(runs)
    cases, running = np.zeros(runs), np.full(runs, True)
    while running.any():
        steps = np.where(draw.random(running.sum()) < share, its.failure, its.success)
        held[running] = np.maximum(0, held[running] + steps)
        cases[running] += 1
        running &= held <= limit
    return cases.mean(), cases.std() / math.sqrt(runs)


@pytest.mark.parametrize(("p0", "p1"), SHARES)
@pytest.mark.parametrize("of", [0, 1])
def test_the_average_run_is_that_of_a_markov_chain_and_of_a_simulation(p0, p1, of):
    """By chance alone, and where the share to be noticed is true."""
    its, share = weights(p0, p1), (p0, p1)[of]
    limit = limit_of(its, p0)
    told = average_run(its, limit, share)
    mean, error = simulated(its, limit, share)

    # A node of the chain is 1/500 of the limit; a failure that ends within it of the limit goes to both sides.
    assert told == pytest.approx(chain(its, limit, share), rel=0.03)
    assert abs(told - mean) < 3 * error


def test_the_average_run_by_hand():
    """A limit that one failure passes is passed once in 1 / p cases; two running take (1 + p) / p squared."""
    assert average_run(USUAL, 0.5, 0.14) == pytest.approx(1 / 0.14)
    # A failure and a success between leave too little for the next: runs of two, Feller, An Introduction to
    # Probability Theory and Its Applications I, 3rd ed., XIII.7.
    steep = weights(0.3, 0.9)
    assert average_run(steep, 1.5, 0.3) == pytest.approx((1 + 0.3) / 0.3**2)


@pytest.mark.parametrize(("p0", "p1"), [*SHARES, (0.14, 0.140001), (1e-6, 2e-6), (0.001, 0.999)])
def test_the_limit_is_the_smallest_of_its_grid(p0, p1):
    """At it chance alone takes 400 cases or more, one step below it fewer."""
    its = weights(p0, p1)
    limit, step = limit_of(its, p0), limit_step(its)

    assert average_run(its, limit, p0) >= LEAST_RUN
    assert limit / step == pytest.approx(round(limit / step))
    assert limit - step < step / 2 or average_run(its, limit - step, p0) < LEAST_RUN


def test_the_limit_of_the_shares_in_use():
    """What the guide and the sheet say of 14 % and 28 %."""
    assert limit_of(USUAL, 0.14) == pytest.approx(2.92)
    assert average_run(USUAL, 2.92, 0.14) == pytest.approx(400, abs=1)
    assert average_run(USUAL, 2.92, 0.28) == pytest.approx(35, abs=1)
