"""What goes with a long case, held against known truth and a library's own least squares."""

import numpy as np
import pytest

from tracker.audit.statistics.drivers import REST, indicators, percent_effects, stage_shares
from tracker.audit.statistics.learning import learning_slope


def simulated(seed, n=120):
    """Make n lengths in which PVR-C adds 22% and a general anaesthetic 32%."""
    # Sizes as in Angermann et al., BMJ Open 2021;11:e052513.
    rng = np.random.default_rng(seed)
    grade_c, general = (rng.random((2, n)) < 0.4).astype(float)
    minutes = 74 * 1.22**grade_c * 1.32**general * rng.lognormal(0, 0.3, n)
    return minutes.tolist(), {"PVR-C": grade_c.tolist(), "general anaesthetic": general.tolist()}


def test_known_effects_are_found_again():
    """A large sample gives back the percentages it was made with."""
    minutes, terms = simulated(1, 20_000)
    found = percent_effects(minutes, terms)

    assert found.n == 20_000
    assert [effect.term for effect in found.effects] == ["PVR-C", "general anaesthetic"]
    assert [effect.percent for effect in found.effects] == pytest.approx([22, 32], abs=2)


def test_intervals_cover_known_effects():
    """Over 300 seeded samples of 60 the 95% interval holds the true 22% in 92 to 98 of 100."""
    held = 0
    for seed in range(300):
        effect = percent_effects(*simulated(seed, 60)).effects[0]
        held += effect.low <= 22 <= effect.high

    assert 0.92 <= held / 300 <= 0.98


def test_one_yes_or_no_term_is_a_ratio_of_geometric_means():
    """With a single 0/1 term the effect is the ratio of the two geometric means."""
    minutes, terms = simulated(2, 40)
    grade_c = np.array(terms["PVR-C"]) == 1
    logs = np.log(minutes)
    ratio = np.exp(logs[grade_c].mean() - logs[~grade_c].mean())

    assert percent_effects(minutes, {"PVR-C": terms["PVR-C"]}).effects[0].percent == pytest.approx(
        100 * (ratio - 1)
    )


def test_an_exact_multiple():
    """A length that is exactly multiplied by its terms comes back with no doubt about it."""
    hours = [float(h % 7) for h in range(30)]
    found = percent_effects([60 * 1.05**h for h in hours], {"clock hours cut": hours})

    assert found.effects[0].percent == pytest.approx(5)
    assert found.explained == pytest.approx(1)


def test_ten_complete_cases_to_a_term():
    """Nineteen complete cases are too few for two terms, and the dropped ones are counted."""
    minutes, terms = simulated(3, 21)
    minutes[0], terms["PVR-C"][1] = None, None
    found = percent_effects(minutes, terms)

    assert (found.n, found.dropped, found.effects) == (19, 2, ())
    assert found.refused == "too few: 19 complete cases for 2 terms, at least 20 needed"


def test_terms_that_do_not_vary():
    """A term that is the same in every case is refused, as is one that repeats another."""
    minutes, terms = simulated(4, 40)
    said = "terms that cannot be told apart: one does not vary, or follows from others"

    assert percent_effects(minutes, {"buckle": [1.0] * 40}).refused == said
    assert percent_effects(minutes, terms | {"again": terms["PVR-C"]}).refused == said


@pytest.mark.filterwarnings("error")
def test_lengths_that_are_all_the_same():
    """Forty cases of an hour each have no spread to account for: a sentence, and no warning of the library's."""
    found = percent_effects([60.0] * 40, simulated(4, 40)[1])

    assert (found.n, found.effects, found.explained) == (40, (), None)
    assert found.refused == "no spread: every length is the same"


def test_a_term_rests_on_the_cases_that_differ_in_it():
    """Of 40 cases 3 have a buckle, 36 a general anaesthetic, 10 one operation before and 5 two: 3, 4 and 15."""
    rng = np.random.default_rng(8)
    terms = {
        "buckle": [1.0] * 3 + [0.0] * 37,
        "general anaesthetic": [0.0] * 4 + [1.0] * 36,
        "operation before": [0.0] * 25 + [1.0] * 10 + [2.0] * 5,
    }
    found = percent_effects(rng.lognormal(4, 0.3, 40).tolist(), terms)

    assert [(e.term, e.n) for e in found.effects] == [
        ("buckle", 3), ("general anaesthetic", 4), ("operation before", 15),
    ]  # fmt: skip


def test_a_model_without_terms():
    """A model of nothing is turned away, and so are columns of another length."""
    with pytest.raises(ValueError, match="at least one term"):
        percent_effects([60.0] * 30, {})
    with pytest.raises(ValueError, match="argument 2"):
        percent_effects([60.0] * 30, {"buckle": [1.0] * 29})


def test_words_become_terms():
    """Each word but the reference becomes a 0/1 term, and an unknown stays unknown."""
    found = indicators("grade", ["consultant", "fellow", None, "joint"], "consultant")

    assert found == {"grade: fellow": (0, 1, None, 0), "grade: joint": (0, 0, None, 1)}
    with pytest.raises(ValueError, match="no case has grade"):
        indicators("grade", ["fellow"], "consultant")


def test_shares_of_variance_add_up_to_one():
    """Stages that overlap leave a last term, and all the shares add up to 1."""
    rng = np.random.default_rng(5)
    peel, laser = rng.lognormal(3.4, 0.5, 50), rng.lognormal(2.5, 0.3, 50)
    totals = peel + laser + rng.lognormal(3, 0.2, 50) - 3
    found = stage_shares({"peel": peel.tolist(), "laser": laser.tolist()}, totals.tolist())

    assert [share.stage for share in found.shares] == ["peel", "laser", REST]
    assert sum(share.share for share in found.shares) == pytest.approx(1)
    assert found.shares[0].share == pytest.approx(np.cov(peel, totals)[0, 1] / totals.var(ddof=1))
    assert found.shares[0].iqr == pytest.approx(np.subtract(*np.quantile(peel, [0.75, 0.25])))


def test_one_varying_stage_has_the_whole_share():
    """If only one stage varies it has all the variance, and a constant one has none."""
    found = stage_shares({"peel": list(range(20)), "ports": [3.0] * 20}, [i + 10.0 for i in range(20)])

    assert [share.share for share in found.shares] == pytest.approx([1, 0, 0])


def test_shares_need_ten_cases_that_differ():
    """Nine complete cases, or totals that are all the same, have no shares."""
    nine = stage_shares({"peel": [1.0] * 9 + [None]}, list(range(10)))

    assert (nine.n, nine.dropped) == (9, 1)
    assert nine.refused == "too few: 9 cases, at least 10 needed"
    assert stage_shares({"peel": list(range(10))}, [60.0] * 10).refused.startswith("no spread")


def test_a_known_learning_slope():
    """A length that falls by a tenth with each doubling comes back as the slope of the 90% curve."""
    slope = np.log2(0.9)
    found = learning_slope([40 * k**slope for k in range(1, 31)], range(1, 31))

    # The 90% curve: Wright, J Aeronautical Sci 1936;3:122 (from memory).
    assert found.slope == pytest.approx(-0.152003, abs=1e-6)


def test_the_learning_interval_covers_the_truth():
    """Over 300 seeded series of 40 cases the 95% interval holds the true slope in 92 to 98 of 100."""
    rng, numbers, held = np.random.default_rng(6), np.arange(1, 41), 0
    for _ in range(300):
        found = learning_slope((40 * numbers**-0.15 * rng.lognormal(0, 0.3, 40)).tolist(), numbers.tolist())
        held += found.low <= -0.15 <= found.high

    assert 0.92 <= held / 300 <= 0.98


def test_case_mix_is_held():
    """Where later cases are harder, the slope is found again only with the case mix held."""
    rng, numbers = np.random.default_rng(7), np.arange(1, 201)
    hard = (rng.random(200) < numbers / 200).astype(float)
    minutes = (40 * numbers**-0.15 * 1.6**hard * rng.lognormal(0, 0.1, 200)).tolist()
    held = learning_slope(minutes, numbers.tolist(), {"PVR-C": hard.tolist()})

    assert held.low <= -0.15 <= held.high
    assert learning_slope(minutes, numbers.tolist()).low > -0.15


def test_nineteen_cases_have_no_slope():
    """Below twenty complete cases there is no slope, nor without a spread of case numbers."""
    assert learning_slope([40.0] * 19 + [None], range(1, 21)).refused == (
        "too few: 19 complete cases, at least 20 needed"
    )
    two_more = {"PVR-C": [0.0] * 29, "buckle": [1.0] * 29}
    assert learning_slope([40.0] * 29, range(1, 30), two_more).refused == (
        "too few: 29 complete cases, at least 30 needed"
    )
    assert learning_slope([40.0] * 20, [1] * 20).refused.startswith("terms that cannot be told apart")
