"""Order rules held against outside judges: DECLARE as pm4py checks it, topological order as networkx has it.

pm4py is slow to import and is used here only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from itertools import permutations, product

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pm4py.algo.conformance.declare import algorithm as declare
from pm4py.objects.log.obj import Event, EventLog, Trace

from story import case_of, found_in, steps_of
from tracker.core.case import Case
from tracker.core.protocol import Protocol

Pair = tuple[str, str]
START = datetime(2026, 3, 2, tzinfo=UTC)
TRACES = ["".join(letters) for n in range(1, 6) for letters in product("abc", repeat=n)]
"""Every trace over three steps of one to five ticks: 363."""


def _judged(traces: Sequence[str], template: str, pairs: Iterable[Pair]) -> list[set[Pair]]:
    """The pairs of a DECLARE template that each trace violates, as pm4py has it."""
    log = EventLog()
    for trace in traces:
        stamps = (START + timedelta(seconds=n) for n in range(len(trace)))
        told = ({"concept:name": step, "time:timestamp": at} for step, at in zip(trace, stamps, strict=False))
        log.append(Trace(map(Event, told)))
    model = {template: {pair: {"support": 1.0, "confidence": 1.0} for pair in pairs}}
    return [{pair for _, pair in judged["deviations"]} for judged in declare.apply(log, model)]


def _case(protocol: Protocol, trace: Iterable[str]) -> Case:
    ticks = (f"{9 + n // 60:02d}:{n % 60:02d}:00 tick {step}" for n, step in enumerate(trace))
    return case_of(protocol, "\n".join(ticks))


REPEAT = 'occurrence = "repeat"'
FREE = 'occurrence = "optional"\nrepeats = true'


def _wanted_with(other: str) -> str:
    """A step that belongs to the case once another was ticked."""
    return f'occurrence = "repeat"\nwhen = {{ all = [{{ step = "{other}", state = "ticked" }}] }}'


def _steps(told: Mapping[str, str]) -> Protocol:
    return steps_of(*(f"{step} {rest}" for step, rest in told.items()), "z ends_case = true")


def _needs(*steps: str) -> str:
    return "needs = [" + ", ".join(f'{{ step = "{s}", level = "order", reason = "so" }}' for s in steps) + "]"


def _unmet(case: Case) -> set[Pair]:
    """Which steps came before what they need, as (what is needed, what came before it)."""
    found = (d for d in found_in(case) if d.code in ("out_of_order", "prereq_missing"))
    return {(d.key.partition("<")[2].partition(":")[0], d.step) for d in found}


# -- DECLARE: Pesic, in Modern Business Process Automation, 2010, ch. 6


def test_need_is_precedence() -> None:
    """A step needs another exactly where pm4py finds precedence violated, on all 363 traces."""
    protocol = _steps({"a": REPEAT, "b": f"{REPEAT}\n{_needs('a')}", "c": REPEAT})
    judged = _judged(TRACES, "precedence", [("a", "b")])

    assert [_unmet(_case(protocol, trace)) for trace in TRACES] == judged


@pytest.mark.parametrize(
    ("template", "a", "b"),
    [
        ("responded_existence", FREE, _wanted_with("a")),
        ("coexistence", _wanted_with("b"), _wanted_with("a")),
        ("response", FREE, _wanted_with("a") + '\ndue_again = [{ step = "a", reason = "so" }]'),
    ],
)
def test_skipped_at_the_end_is_what_lacks(template: str, a: str, b: str) -> None:
    """What a tick brings into the case, or makes due again, is skipped where pm4py finds it lacking."""
    protocol = _steps({"a": a, "b": b, "c": FREE})
    judged = _judged(TRACES, template, [("a", "b")])

    for trace, lacking in zip(TRACES, judged, strict=True):
        assert bool(found_in(_case(protocol, f"{trace}z"), "skipped")) == bool(lacking), trace


def test_passed_over_is_responded_existence() -> None:
    """While the case goes on a step is skipped exactly where one that needs it came and it never did."""
    protocol = _steps({"a": REPEAT, "b": f"{REPEAT}\n{_needs('a')}", "c": REPEAT})
    judged = _judged(TRACES, "responded_existence", [("b", "a")])

    for trace, lacking in zip(TRACES, judged, strict=True):
        skipped = {d.step for d in found_in(_case(protocol, trace), "skipped")}
        assert skipped == ({"a"} if lacking else set()), trace


PAIRS = st.sets(st.sampled_from(list(permutations("abcde", 2))), min_size=1, max_size=6)


@given(PAIRS, st.text("abcde", min_size=1, max_size=12))
def test_many_needs_are_many_precedences(pairs: set[Pair], trace: str) -> None:
    """Of several needs the same are unmet as pm4py finds precedences violated, on any trace."""
    needed = {s: sorted(a for a, b in pairs if b == s) for s in "abcde"}
    protocol = _steps({s: f"{REPEAT}\n{_needs(*first)}" for s, first in needed.items()})

    assert [_unmet(_case(protocol, trace))] == _judged([trace], "precedence", pairs)


# -- topological order

EDGES = st.sets(
    st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(lambda e: e[0] < e[1]), min_size=1, max_size=9
)


@given(EDGES, st.permutations(range(6)), st.permutations(range(6)))
def test_only_topological_orders_are_in_order(
    edges: set[tuple[int, int]], names: list[int], order: list[int]
) -> None:
    """A case has no deviation of order if and only if its ticks are a topological order of the needs."""
    graph = nx.DiGraph((f"s{names[a]}", f"s{names[b]}") for a, b in edges)
    protocol = steps_of(*(f"{s} {_needs(*graph.predecessors(s))}" for s in graph))
    ticked = [f"s{n}" for n in order if f"s{n}" in graph]
    sound = list(nx.lexicographical_topological_sort(graph, key=ticked.index))

    assert _unmet(_case(protocol, sound)) == set()
    before = {(a, b) for a, b in graph.edges if ticked.index(b) < ticked.index(a)}
    assert _unmet(_case(protocol, ticked)) == before
    assert (before == set()) == (ticked in nx.all_topological_sorts(graph))
