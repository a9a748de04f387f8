"""Circles of needs are found, and only circles; the yardstick is networkx."""

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from tracker.core.loading.check_order import circles, no_circles, stuck
from tracker.core.protocol import Need, Protocol, Stage, Step

STEPS = st.integers(0, 7).map("s{}".format)
NEEDS = st.dictionaries(STEPS, st.lists(STEPS, max_size=3), max_size=8)


def _need(*steps: str) -> Need:
    if len(steps) == 1:
        return Need(step=steps[0], level="order", reason="usual")
    return Need(any_step=steps, level="order", reason="usual")


def _protocol(needs: dict[str, list[Need]]) -> Protocol:
    steps = tuple(Step(id=step, label=step, needs=tuple(asked)) for step, asked in needs.items())
    stage = Stage(id="only", label="Only", steps=steps)
    return Protocol(format=1, id="needs", version="1", title="Needs", stages=(stage,))


@given(NEEDS)
def test_circles_are_found_exactly_where_networkx_finds_them(needs: dict[str, list[str]]) -> None:
    """There is a finding if and only if networkx says that the needs are no directed acyclic graph."""
    graph = nx.DiGraph([(step, other) for step, asked in needs.items() for other in asked if other in needs])
    protocol = _protocol({step: [_need(other) for other in asked] for step, asked in needs.items()})

    assert (not list(no_circles(protocol))) == nx.is_directed_acyclic_graph(graph)


@given(NEEDS)
def test_a_circle_that_is_named_is_one(needs: dict[str, list[str]]) -> None:
    """Each step of a circle that is named needs the next one, and the last the first."""
    wanted = {s: tuple(frozenset({o}) for o in asked if o in needs) for s, asked in needs.items()}
    graph = nx.DiGraph([(step, other) for step, sets in wanted.items() for (other,) in sets])

    for circle in circles(wanted):
        assert all(graph.has_edge(a, b) for a, b in zip(circle, (*circle[1:], circle[0]), strict=True))
        assert len(set(circle)) == len(circle)


@given(NEEDS)
def test_stuck_steps_are_those_that_a_circle_holds_up(needs: dict[str, list[str]]) -> None:
    """The steps no order reaches are those from which networkx reaches a circle."""
    wanted = {s: tuple(frozenset({o}) for o in asked if o in needs) for s, asked in needs.items()}
    graph = nx.DiGraph([(step, other) for step, sets in wanted.items() for (other,) in sets])
    graph.add_nodes_from(wanted)
    round_it_goes = {s for some in nx.simple_cycles(graph) for s in some}

    held = {s for s in graph if round_it_goes & (nx.descendants(graph, s) | {s})}
    assert stuck(wanted) == held


def test_an_alternative_outside_the_circle_opens_it() -> None:
    """Where one of several steps is enough, a circle through another of them is none."""
    open_end = _protocol({"a": [_need("b", "c")], "b": [_need("a")], "c": []})
    closed = _protocol({"a": [_need("b", "c")], "b": [_need("a")], "c": [_need("a")]})

    assert not list(no_circles(open_end))
    assert len(list(no_circles(closed))) == 1


def test_a_long_circle_is_named_in_short() -> None:
    """A circle of many steps is named by its first steps and its last."""
    ring = {f"s{n}": [_need(f"s{(n + 1) % 30}")] for n in range(30)}

    (remark,) = no_circles(_protocol(ring))
    assert remark.what.endswith("s6 needs ... needs s29 needs s0")
