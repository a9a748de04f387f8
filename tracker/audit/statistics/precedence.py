"""In which order the steps really come: precedence over many cases, inversions, and constraint checks.

A trace is one case's steps in the order of their times. The first occurrence of a step stands for it in
precedence and inversions; the constraint checks look at every occurrence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

import numpy as np

from tracker.audit.statistics.enough import FEWEST, Floats, too_few

Trace = Sequence[str]
Template = Literal[
    "response", "precedence", "succession", "responded existence", "co-existence", "not co-existence"
]


@dataclass(frozen=True, slots=True)
class Precedence:
    """For each pair of steps, in how many of n cases the row's step came first and in how many both came.

    `first[i][j]` and `both[i][j]` follow the order of `steps`.
    """

    n: int
    refused: str
    steps: tuple[str, ...]
    first: tuple[tuple[int, ...], ...] = ()
    both: tuple[tuple[int, ...], ...] = ()

    def share(self, sooner: str, later: str) -> float | None:
        """Give the share of cases with both steps in which `sooner` came first; None without any."""
        i, j = self.steps.index(sooner), self.steps.index(later)
        return self.first[i][j] / self.both[i][j] if self.both and self.both[i][j] else None

    def usual_order(self) -> tuple[str, ...]:
        """Give the steps by how many others each usually (in more than half) comes before, most first."""
        first, both = np.array(self.first), np.array(self.both)
        if not first.size:
            return ()
        ahead = (2 * first > both).sum(axis=1)
        return tuple(self.steps[i] for i in sorted(range(len(self.steps)), key=lambda i: (-ahead[i], i)))


@dataclass(frozen=True, slots=True)
class Inversion:
    """A pair the file puts in order, and the cases with both in which it came the other way round."""

    sooner: str
    later: str
    n: int
    inverted: int
    refused: str
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Constraint:
    """One constraint over n cases: kept in `kept`, and put to the test in `tested` of them.

    A constraint on a step that never came is kept for nothing; `share` is of the tested cases.
    """

    template: Template
    a: str
    b: str
    n: int
    kept: int
    tested: int
    refused: str
    share: float | None = None


@dataclass(frozen=True, slots=True)
class _Places:
    """First and last place of each step of a trace, from 0; a step that never came is in neither."""

    first: Mapping[str, int]
    last: Mapping[str, int]


def precedence(
    traces: Iterable[Trace], steps: Sequence[str] | None = None, *, fewest: int = FEWEST
) -> Precedence:
    """Count which step came first, for all pairs; steps as given, else in alphabetical order.

    Refuses below `fewest` cases.
    """
    held = list(traces)
    names = tuple(steps) if steps is not None else tuple(sorted({step for trace in held for step in trace}))
    if refused := too_few(len(held), fewest):
        return Precedence(len(held), refused, names)
    places = _first_places(held, names)
    here = ~np.isnan(places)
    first = tuple(tuple((places[:, [i]] < places).sum(axis=0).tolist()) for i in range(len(names)))
    both = tuple(tuple((here[:, [i]] & here).sum(axis=0).tolist()) for i in range(len(names)))
    return Precedence(len(held), "", names, first, both)


def inversions(
    traces: Iterable[Trace], pairs: Iterable[tuple[str, str]], *, fewest: int = FEWEST
) -> tuple[Inversion, ...]:
    """Count for each pair (a before b) the cases in which b came first, the largest share first.

    A pair with fewer than `fewest` cases having both is refused and stands last.
    """
    held = list(traces)
    found = [_inversion(held, *pair, fewest) for pair in pairs]
    return tuple(sorted(found, key=lambda each: -1.0 if each.share is None else each.share, reverse=True))


def keeps(template: Template, trace: Trace, a: str, b: str) -> bool:
    """Say whether one finite trace keeps a constraint on steps a and b.

    Definitions after Pesic, in Modern Business Process Automation, 2010, ch. 6: response (each a is
    followed by a b), precedence (no b before the first a), succession (both), responded existence (if a
    then b), co-existence (both or neither), not co-existence (never both). Raises ValueError if a is b.
    """
    if a == b:
        raise ValueError(f"a constraint needs two different steps, not {a} twice")
    return _CHECKS[template](_places(trace), a, b)


def broken(
    traces: Iterable[Trace], template: Template, pairs: Sequence[tuple[str, str]]
) -> list[set[tuple[str, str]]]:
    """The pairs whose constraint each trace breaks: as `keeps`, each trace gone through once for all pairs."""
    check = _CHECKS[template]
    gone_through = map(_places, traces)
    return [{(a, b) for a, b in pairs if not check(places, a, b)} for places in gone_through]


def constraint(
    traces: Iterable[Trace], template: Template, a: str, b: str, *, fewest: int = FEWEST
) -> Constraint:
    """Check one constraint over many cases; refuses below `fewest` cases that put it to the test."""
    held = list(traces)
    kept = [not lacking for lacking in broken(held, template, [(a, b)])]
    tested = [_tested(template, _places(trace), a, b) for trace in held]
    n_tested = sum(tested)
    if refused := too_few(n_tested, fewest, "cases that put it to the test"):
        return Constraint(template, a, b, len(held), sum(kept), n_tested, refused)
    share = sum(ok for ok, put in zip(kept, tested, strict=True) if put) / n_tested
    return Constraint(template, a, b, len(held), sum(kept), n_tested, "", share)


def _first_places(traces: Sequence[Trace], names: tuple[str, ...]) -> Floats:
    column = {name: i for i, name in enumerate(names)}
    places = np.full((len(traces), len(names)), np.nan)
    for row, trace in enumerate(traces):
        for place in range(len(trace) - 1, -1, -1):
            if (found := column.get(trace[place])) is not None:
                places[row, found] = place
    return places


def _inversion(traces: Sequence[Trace], sooner: str, later: str, fewest: int) -> Inversion:
    firsts = [_places(trace).first for trace in traces]
    both = [first for first in firsts if sooner in first and later in first]
    inverted = sum(first[later] < first[sooner] for first in both)
    if refused := too_few(len(both), fewest, "cases having both"):
        return Inversion(sooner, later, len(both), inverted, refused)
    return Inversion(sooner, later, len(both), inverted, "", inverted / len(both))


def _places(trace: Trace) -> _Places:
    backwards = range(len(trace) - 1, -1, -1)
    return _Places(
        dict(zip(reversed(trace), backwards, strict=True)), dict(zip(trace, range(len(trace)), strict=True))
    )


def _response(its: _Places, a: str, b: str) -> bool:
    return a not in its.last or its.last.get(b, -1) > its.last[a]


def _precedence(its: _Places, a: str, b: str) -> bool:
    return b not in its.first or its.first.get(a, its.first[b]) < its.first[b]


_CHECKS: Final[Mapping[Template, Callable[[_Places, str, str], bool]]] = MappingProxyType(
    {
        "response": _response,
        "precedence": _precedence,
        "succession": lambda its, a, b: _response(its, a, b) and _precedence(its, a, b),
        "responded existence": lambda its, a, b: a not in its.first or b in its.first,
        "co-existence": lambda its, a, b: (a in its.first) == (b in its.first),
        "not co-existence": lambda its, a, b: not (a in its.first and b in its.first),
    }
)


def _tested(template: Template, its: _Places, a: str, b: str) -> bool:
    if template in ("response", "responded existence"):
        return a in its.first
    if template == "precedence":
        return b in its.first
    return a in its.first or b in its.first
