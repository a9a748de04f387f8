"""Who comes to an invented theatre: the facts of every case, drawn at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tracker.audit.invented.truth import GENERAL, PVR_C, Truth
from tracker.audit.rows_of_case import usual_facts
from tracker.core.events import Scalar
from tracker.core.protocol import Condition, Fact, Protocol

Codes = NDArray[np.int16]
OPERATOR: Final = "operator"
LIST_POSITION: Final = "list_position"
_FELLOW: Final = "fellow"
_GRADES: Final = (("CP3", 0.3), ("CP6-CA3", 0.2), ("B", 0.3), ("A", 0.2))
_MOST_VALUES: Final = 3


@dataclass(frozen=True, slots=True)
class Drawing:
    """One fact of every case: the values there are, and for each case which one it has."""

    values: tuple[Scalar, ...]
    codes: Codes

    def of(self, case: int) -> Scalar:
        """The value that a case has."""
        return self.values[int(self.codes[case])]


@dataclass(frozen=True, slots=True)
class CaseMix:
    """All facts of all cases; `structural` are those that change which steps belong to a case."""

    n: int
    facts: Mapping[str, Drawing]
    structural: tuple[str, ...]

    def facts_of(self, case: int) -> dict[str, Scalar]:
        """The facts of one case, in the order of the file."""
        return {fact: drawing.of(case) for fact, drawing in self.facts.items()}

    def holds(self, flag: str) -> NDArray[np.bool_]:
        """For each case, whether a fact that follows from its facts (`pvr_c`, `general`) holds."""
        fact = {PVR_C: "pvr_grade", GENERAL: "anaesthetic"}[flag]
        drawing = self.facts.get(fact)
        if drawing is None:
            return np.zeros(self.n, dtype=bool)
        answers = np.array([bool(usual_facts({fact: value})[flag]) for value in drawing.values])
        return np.asarray(answers[drawing.codes])

    def fellows(self) -> NDArray[np.bool_]:
        """For each case, whether a fellow operates."""
        drawing = self.facts.get(OPERATOR)
        if drawing is None:
            return np.zeros(self.n, dtype=bool)
        return np.asarray(np.array([value == _FELLOW for value in drawing.values])[drawing.codes])


def draw_facts(
    protocol: Protocol, truth: Truth, places: Sequence[int] | NDArray[Any], rng: np.random.Generator
) -> CaseMix:
    """Draw the facts of as many cases as there are `places` on lists, each from 1."""
    structural = frozenset(_structural(protocol))
    facts = {}
    for fact in protocol.facts:
        if fact.id == LIST_POSITION:
            facts[fact.id] = _places(np.asarray(places))
            continue
        values, weights = zip(*_weighted(fact, truth, fact.id in structural), strict=True)
        share = np.array(weights) / sum(weights)
        facts[fact.id] = Drawing(values, rng.choice(len(values), len(places), p=share).astype(np.int16))
    return CaseMix(len(places), facts, tuple(f for f in facts if f in structural))


def _places(places: NDArray[Any]) -> Drawing:
    most = int(places.max(initial=1))
    return Drawing(tuple(range(1, most + 1)), (places - 1).astype(np.int16))


def _structural(protocol: Protocol) -> Iterator[str]:
    """Facts that a condition tests, or that plan a decision which every case makes."""
    for step in protocol.all_steps():
        yield from _tested(step.when)
        if step.plan_fact and step.occurrence != "optional":
            yield step.plan_fact


def _tested(condition: Condition | None) -> Iterator[str]:
    for test in (*condition.all, *condition.any) if condition else ():
        if test.fact:
            yield test.fact


def _weighted(fact: Fact, truth: Truth, structural: bool) -> list[tuple[Scalar, float]]:
    """The values that a fact may have in an invented case, with their weights."""
    if fact.id == OPERATOR and any(c.id == _FELLOW for c in fact.choices):
        return [(_usual(fact), 1 - truth.fellow_share), (_FELLOW, truth.fellow_share)]
    match fact.kind:
        case "grade":
            return list(_GRADES)
        case "flag":
            return [(False, 1.0), (True, 1.0)]
        case "number":
            return list(_numbers(fact, structural))
    others = [c.id for c in fact.choices if c.id != _usual(fact)]
    first = sorted(others, key=lambda c: c != GENERAL)[: _MOST_VALUES - 1 if not structural else 1]
    return [(_usual(fact), 1.5), *((c, 1.0) for c in first)]


def _usual(fact: Fact) -> Scalar:
    """The default of a choice; the first choice where the file assumes none."""
    return fact.choices[0].id if fact.default is None else fact.default


def _numbers(fact: Fact, structural: bool) -> Iterator[tuple[Scalar, float]]:
    default = fact.default if isinstance(fact.default, int | float) else 0
    low, high = fact.plausible or (default, default)
    for offset, weight in ((0, 2.0),) if structural else ((0, 2.0), (-1, 1.0), (1, 1.0), (2, 0.5)):
        if low <= default + offset <= high:
            value = default + offset
            yield int(value) if float(value).is_integer() else value, weight
