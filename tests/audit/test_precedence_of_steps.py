"""Constraints on the order of steps, held against a truth table."""

from itertools import permutations, product

import pytest

from tracker.audit.statistics.precedence import broken

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
    assert (
        "".join(str(int(not lacking)) for lacking in broken(TRACES, template, [("a", "b")]))
        == TRUTH[template]
    )


@pytest.mark.parametrize("template", TRUTH)
def test_every_short_trace(template):
    """On all 364 traces of up to five steps the fast check agrees with the definition spelt out."""
    traces = ["".join(steps) for length in range(6) for steps in product("abc", repeat=length)]

    assert len(traces) == 364
    assert [not lacking for lacking in broken(traces, template, [("a", "b")])] == [
        SPELT_OUT[template](trace) for trace in traces
    ]


@pytest.mark.parametrize("template", TRUTH)
def test_many_pairs_at_once_break_what_each_breaks_alone(template):
    """Going through a trace once for all pairs finds what going through it for each pair finds."""
    traces = [tuple(letters) for n in range(5) for letters in product("abc", repeat=n)]
    pairs = list(permutations("abc", 2))

    alone = [set().union(*(broken([trace], template, [pair])[0] for pair in pairs)) for trace in traces]
    assert broken(traces, template, pairs) == alone
