"""All that is drawn of invented cases before the first is written: days, facts, paces, slips, openings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tracker.audit.invented.casemix import CaseMix, Drawing, draw_facts
from tracker.audit.invented.course import Course, Source, course_of_spans
from tracker.audit.invented.lists import Days, Whole, draw_days, draw_openings
from tracker.audit.invented.numbers import Floats, Pace, Times, draw_times
from tracker.audit.invented.pattern import Pattern, pattern_of
from tracker.audit.invented.slips import KINDS, Slip, slips
from tracker.audit.invented.truth import Drawn, Truth
from tracker.audit.invented.visits import Visits, draw_visits
from tracker.audit.invented.weave import LATE_MS
from tracker.audit.rows_of_case import DECIDED
from tracker.core import events as ev
from tracker.core.completeness import is_told
from tracker.core.events import Scalar

MOST_AT_ONCE: Final = 4_000
"""Cases of one pattern whose times are held at once."""

_DAY_MS: Final = 86_400_000
_PLANNED_IN: Final = 5


@dataclass(frozen=True, slots=True)
class Group:
    """Cases of one pattern, by place from 0; `slip` is how their slip is counted, if they have one."""

    slip: str
    course: Course
    cases: NDArray[np.int64]
    number: int


@dataclass(frozen=True, slots=True)
class Draw:
    """Everything that two ways of writing the same cases share."""

    source: Source
    truth: Truth
    seed: int
    days: Days
    mix: CaseMix
    pace: Pace
    groups: tuple[Group, ...]
    openings: Whole

    def times(self, group: Group, pattern: Pattern) -> Times:
        """The times of a group's cases, the same each time."""
        return _times(group, pattern, self.pace, self.truth, self.seed)

    def visits(self, group: Group, pattern: Pattern) -> Visits:
        """The follow-up visits of a group's cases, the same each time."""
        rng = np.random.default_rng([self.seed, 7, group.number])
        return draw_visits(self.truth, self._oil(group, pattern), rng)

    def _oil(self, group: Group, pattern: Pattern) -> NDArray[np.bool_]:
        """For each case of a group, whether oil was left in the eye: as decided on, else as planned."""
        step, plan = DECIDED["tamponade"]
        drawing = self.mix.facts.get(plan)
        if step in pattern.case.protocol.step or drawing is None:
            decided = pattern.rows.cases[0].tamponade or ""
            return np.full(group.cases.size, decided.startswith("oil"))
        is_oil = np.array([str(value).startswith("oil") for value in drawing.values])
        return np.asarray(is_oil[drawing.codes[group.cases]])


def draw_cases(source: Source, n: int, seed: int, truth: Truth, spans: int = 0) -> tuple[Draw, Drawn]:
    """Draw `n` cases; what was drawn, and what an audit of them should count. `Drawn` has no codes yet.

    Steps that may repeat are done in so many parts that a usual case has about `spans` spans.
    """
    days = draw_days(n, truth, np.random.default_rng([seed, 1]))
    mix = draw_facts(source.protocol, truth, days.places, np.random.default_rng([seed, 2]))
    pace, expected = _paces(mix, truth, np.random.default_rng([seed, 3]))
    groups, into, out, planned = [], np.zeros(n, np.int64), np.zeros(n, np.int64), np.zeros(n)
    counts: Counter[str] = Counter()
    for group in _groups(source, mix, truth, spans, np.random.default_rng([seed, 4])):
        pattern = pattern_of(source, group.course, group.slip)
        final = replace(group, course=pattern.course)
        times = _times(final, pattern, pace, truth, seed)
        groups.append(final)
        start, stop = _ends(pattern)
        into[group.cases], out[group.cases] = times.told[:, start], times.told[:, stop]
        planned[group.cases] = _median(pattern, start, stop)
        _count(counts, pattern, times)
    openings = draw_openings(days, truth, into, out, np.random.default_rng([seed, 5]))
    planned = planned * expected * truth.plan_ratio
    mix = _with_plans(source, mix, planned, truth, np.random.default_rng([seed, 6]))
    drawn = Drawn(
        n, "", "", int(mix.fellows().sum()), int((openings + out >= _DAY_MS).sum()), counts.pop("told"),
        counts.pop("late"), counts.pop("spans"), dict(sorted(counts.items())),
    )  # fmt: skip
    return Draw(source, truth, seed, days, mix, pace, tuple(groups), openings), drawn


def _times(group: Group, pattern: Pattern, pace: Pace, truth: Truth, seed: int) -> Times:
    its = Pace(pace.whole[group.cases], pace.stage[group.cases])
    return draw_times(pattern, its, truth, seed + group.number)


def _count(counts: Counter[str], pattern: Pattern, times: Times) -> None:
    told = [e.seq - 1 for e in pattern.case.log if is_told(e.event)]
    n, spans = times.told.shape[0], sum(isinstance(e, ev.Start) for e in pattern.events)
    counts["told"] += n * len(told)
    counts["late"] += int((times.late[:, told] > LATE_MS).sum())
    counts["spans"] += n * spans
    if pattern.slip:
        counts[pattern.slip] += n


def _ends(pattern: Pattern) -> tuple[int, int]:
    """The entries, by place from 0, with which the patient comes in and leaves, or the last one."""
    started = pattern.case.started
    return (started.seq - 1 if started else 0), pattern.until


def _median(pattern: Pattern, start: int, stop: int) -> float:
    """Minutes between two entries if every length were at its median."""
    return sum(s.median for s in pattern.course[pattern.places[start] + 1 : pattern.places[stop] + 1])


# -- paces


def _paces(mix: CaseMix, truth: Truth, rng: np.random.Generator) -> tuple[Pace, Floats]:
    """What multiplies the lengths of each case, and what of that can be known before."""
    known = np.ones(mix.n)
    for flag, ratio in truth.longer.items():
        known[mix.holds(flag)] *= ratio
    known *= _fellows(mix, truth)
    whole = known * np.exp(truth.case_sigma * rng.standard_normal(mix.n))
    stage = np.ones(mix.n)
    if truth.change_from is not None:
        stage[truth.change_from - 1 :] = truth.change_ratio
    return Pace(whole, stage), known


def _fellows(mix: CaseMix, truth: Truth) -> Floats:
    fellows = mix.fellows()
    number = np.maximum(np.cumsum(fellows), 1).astype(float)
    slower: Floats = np.maximum(truth.fellow_first * number**truth.fellow_slope, 1.0)
    return np.where(fellows, slower, 1.0)


def _with_plans(
    source: Source, mix: CaseMix, expected: Floats, truth: Truth, rng: np.random.Generator
) -> CaseMix:
    fact = source.protocol.fact.get(source.protocol.planned_minutes_fact or "")
    if fact is None:
        return mix
    noise = np.exp(truth.plan_sigma * rng.standard_normal(mix.n))
    low, high = fact.plausible or (_PLANNED_IN, 1000)
    codes = np.rint(np.clip(expected * noise, max(low, _PLANNED_IN), high) / _PLANNED_IN).astype(np.int16)
    values = tuple(range(0, int(codes.max(initial=0)) * _PLANNED_IN + 1, _PLANNED_IN))
    return replace(mix, facts={**mix.facts, fact.id: Drawing(values, codes)})


# -- patterns


def _groups(
    source: Source, mix: CaseMix, truth: Truth, spans: int, rng: np.random.Generator
) -> Iterator[Group]:
    kinds = list(KINDS)
    weights = np.array([KINDS[kind][0] for kind in kinds])
    slipped = rng.random(mix.n) < truth.slip
    kind = np.where(slipped, rng.choice(len(kinds), mix.n, p=weights / weights.sum()), -1)
    member = rng.integers(0, 1 << 15, mix.n)
    number = 0
    for facts, cases in _by_structure(source, mix):
        usual = course_of_spans(source, facts, spans)
        menu = _menu(source, usual)
        for slip, its in _by_slip(menu, kinds, kind[cases], member[cases]):
            course = slip.course if slip else usual
            for start in range(0, its.size, MOST_AT_ONCE):
                number += 1
                part = cases[its[start : start + MOST_AT_ONCE]]
                yield Group(slip.name if slip else "", course, part, number)


def _menu(source: Source, usual: Course) -> Mapping[str, Sequence[Slip]]:
    menu: dict[str, list[Slip]] = {kind: [] for kind in KINDS}
    for slip in slips(source.protocol, usual):
        menu[slip.kind].append(slip)
    return menu


def _by_structure(source: Source, mix: CaseMix) -> Iterator[tuple[dict[str, Scalar], NDArray[np.int64]]]:
    """Cases with the same structural facts, and those facts with the file's own for all others."""
    usual = {f.id: mix.facts[f.id].values[0] for f in source.protocol.facts}
    codes = [mix.facts[fact].codes for fact in mix.structural]
    table = np.stack(codes, axis=1) if codes else np.zeros((mix.n, 0), np.int16)
    kinds, which = np.unique(table, axis=0, return_inverse=True)
    for number, kind in enumerate(kinds):
        values = {f: mix.facts[f].values[int(c)] for f, c in zip(mix.structural, kind, strict=True)}
        yield {**usual, **values}, np.flatnonzero(which.ravel() == number)


def _by_slip(
    menu: Mapping[str, Sequence[Slip]], kinds: Sequence[str], kind: NDArray[np.int64], member: Whole
) -> Iterator[tuple[Slip | None, NDArray[np.int64]]]:
    """Which cases have which slip; a kind that a course has none of is no slip."""
    has = np.array([bool(menu[k]) for k in kinds])
    none = (kind < 0) | ~has[kind]
    yield None, np.flatnonzero(none)
    for number, name in enumerate(kinds):
        for place, slip in enumerate(menu[name]):
            its = ~none & (kind == number) & (member % len(menu[name]) == place)
            yield slip, np.flatnonzero(its)
