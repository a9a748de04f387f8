"""In which order the steps really come: precedence over many cases, inversions, and constraint checks.

A trace is one case's steps in the order of their times; the constraint checks look at every occurrence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

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
class _Places:
    """First and last place of each step of a trace, from 0; a step that never came is in neither."""

    first: Mapping[str, int]
    last: Mapping[str, int]


def broken(
    traces: Iterable[Trace], template: Template, pairs: Sequence[tuple[str, str]]
) -> list[set[tuple[str, str]]]:
    """The pairs whose constraint each finite trace breaks, each trace gone through once for all pairs.

    Definitions after Pesic, in Modern Business Process Automation, 2010, ch. 6: response (each a is
    followed by a b), precedence (no b before the first a), succession (both), responded existence (if a
    then b), co-existence (both or neither), not co-existence (never both).
    """
    check = _CHECKS[template]
    gone_through = map(_places, traces)
    return [{(a, b) for a, b in pairs if not check(places, a, b)} for places in gone_through]


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
