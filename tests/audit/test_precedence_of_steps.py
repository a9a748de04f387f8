"""Order of steps over cases, and constraints held against a truth table."""

from itertools import permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.audit.statistics.precedence import broken, constraint, inversions, keeps, precedence

TRACES = [
    "", "c", "a", "b", "ab", "ba", "aab", "abb", "aba", "bab", "acb", "abab", "aabb", "abcab", "bca",
    "cab", "ccc",
]  # fmt: skip

# Definitions: Pesic, in Modern Business Process Automation, 2010, ch. 6, pp. 182-183; table recomputed.
TRUTH = {
    "response": "11011011011111011",
    "precedence": "11101011101111011",
    "succession": "11001011001111011",
    "responded existence": "1101" + "1" * 13,
    "co-existence": "1100" + "1" * 13,
    "not co-existence": "1111" + "0" * 12 + "1",
}

# The same definitions, spelt out over every occurrence.
SPELT_OUT = {
    "response": lambda t: all("b" in t[i + 1 :] for i, step in enumerate(t) if step == "a"),
    "precedence": lambda t: all("a" in t[:i] for i, step in enumerate(t) if step == "b"),
    "succession": lambda t: SPELT_OUT["response"](t) and SPELT_OUT["precedence"](t),
    "responded existence": lambda t: "a" not in t or "b" in t,
    "co-existence": lambda t: ("a" in t) == ("b" in t),
    "not co-existence": lambda t: not ("a" in t and "b" in t),
}


@pytest.mark.parametrize("template", TRUTH)
def test_the_truth_table(template):
    """Each constraint is kept by the traces that the table marks, and by no others."""
    assert "".join(str(int(keeps(template, trace, "a", "b"))) for trace in TRACES) == TRUTH[template]


@pytest.mark.parametrize("template", TRUTH)
def test_every_short_trace(template):
    """On all 364 traces of up to five steps the fast check agrees with the definition spelt out."""
    traces = ["".join(steps) for length in range(6) for steps in product("abc", repeat=length)]

    assert len(traces) == 364
    assert all(keeps(template, trace, "a", "b") == SPELT_OUT[template](trace) for trace in traces)


def test_a_constraint_needs_two_steps():
    """A step cannot be constrained by itself."""
    with pytest.raises(ValueError, match="two different steps"):
        keeps("response", "aa", "a", "a")


def test_only_cases_that_put_it_to_the_test_count():
    """A case without the step keeps the constraint for nothing, and does not raise its share."""
    found = constraint(["ab"] * 4 + ["a"] * 2 + ["c"] * 10, "response", "a", "b")

    assert (found.n, found.kept, found.tested) == (16, 14, 6)
    assert found.share == pytest.approx(4 / 6)


def test_a_constraint_hardly_ever_tested_is_refused():
    """Four cases that put it to the test are too few, however many cases there are."""
    found = constraint(["ab"] * 4 + ["c"] * 100, "precedence", "a", "b")

    assert found.refused == "too few: 4 cases that put it to the test, at least 5 needed"
    assert found.share is None


@pytest.mark.parametrize(
    ("template", "tested"),
    [("response", 3), ("responded existence", 3), ("precedence", 2), ("succession", 4),
     ("co-existence", 4), ("not co-existence", 4)],
)  # fmt: skip
def test_what_puts_a_constraint_to_the_test(template, tested):
    """Response needs an a, precedence a b, and the two-sided ones either."""
    assert constraint(["ab", "a", "ac", "b", "c"], template, "a", "b").tested == tested


CASES = [["ports", "peel", "laser"]] * 6 + [["ports", "laser", "peel", "laser"]] * 3 + [["ports", "peel"]]


def test_a_precedence_matrix():
    """For each pair the matrix holds the cases with both, and those in which the row came first."""
    found = precedence(CASES)

    assert (found.n, found.steps) == (10, ("laser", "peel", "ports"))
    assert found.both == ((9, 9, 9), (9, 10, 10), (9, 10, 10))
    assert found.first == ((0, 3, 0), (6, 0, 0), (9, 10, 0))
    assert found.share("peel", "laser") == pytest.approx(6 / 9)


def test_the_usual_order():
    """Steps stand by how many others they usually come before."""
    assert precedence(CASES).usual_order() == ("ports", "peel", "laser")
    # Two in five is not usually.
    assert precedence(["ab"] * 2 + ["ba"] * 3, "ab").usual_order() == ("b", "a")
    assert precedence(["xab"] * 2 + ["bax"] * 3, "xab").usual_order() == ("b", "a", "x")


def test_steps_that_never_met_have_no_share():
    """Two steps that no case has both of have no share, and a step may be asked for that never came."""
    found = precedence(["ab"] * 3 + ["cb"] * 3, ["a", "c", "d"])

    assert (found.share("a", "c"), found.share("a", "d")) == (None, None)


def test_four_cases_have_no_matrix():
    """Below five cases there is no matrix and no usual order."""
    found = precedence(["ab"] * 4)

    assert found.refused == "too few: 4 cases, at least 5 needed"
    assert (found.share("a", "b"), found.usual_order()) == (None, ())


def test_inversions_stand_by_their_share():
    """The pair most often the other way round comes first, a refused one last."""
    found = inversions(CASES, [("ports", "peel"), ("peel", "laser"), ("peel", "dye")])

    assert [(each.sooner, each.later, each.n, each.inverted) for each in found] == [
        ("peel", "laser", 9, 3), ("ports", "peel", 10, 0), ("peel", "dye", 0, 0),
    ]  # fmt: skip
    assert found[0].share == pytest.approx(1 / 3)
    assert found[2].refused == "too few: 0 cases having both, at least 5 needed"


@given(st.lists(st.text("abcd", max_size=8), min_size=5, max_size=20))
def test_matrix_and_inversions_agree(traces):
    """For every pair, first one way and first the other add up to both, and are the inversions."""
    found = precedence(traces, "abcd")
    for i, j in product(range(4), repeat=2):
        if i == j:
            continue
        assert found.first[i][j] + found.first[j][i] == found.both[i][j]
        (pair,) = inversions(traces, [("abcd"[i], "abcd"[j])])
        assert (pair.n, pair.inverted) == (found.both[i][j], found.first[j][i])


@pytest.mark.parametrize("template", TRUTH)
def test_many_pairs_at_once_break_what_each_breaks_alone(template):
    """Going through a trace once for all pairs finds what going through it for each pair finds."""
    traces = [tuple(letters) for n in range(5) for letters in product("abc", repeat=n)]
    pairs = list(permutations("abc", 2))

    alone = [{(a, b) for a, b in pairs if not keeps(template, trace, a, b)} for trace in traces]
    assert broken(traces, template, pairs) == alone
