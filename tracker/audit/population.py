"""Which cases a figure is about: the filters, and every case that they leave out counted under its reason."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import ibis
from ibis.expr.types import BooleanValue, Table

from tracker.audit.engine import Tables
from tracker.audit.questions import strata


@dataclass(frozen=True, slots=True)
class Filters:
    """What a case must be to count; nothing given is no condition.

    Versions and days are ranges with both ends included. `facts` are values as text by fact, or by a
    column of words or flags, any of which will do. `completed` leaves out open cases and those stopped early.
    """

    protocol: str | None = None
    first_version: str | None = None
    last_version: str | None = None
    first_day: date | None = None
    last_day: date | None = None
    completed: bool = True
    facts: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Exclusion:
    """Why cases are left out, and how many for that reason first."""

    why: str
    n: int


@dataclass(frozen=True, slots=True)
class Population:
    """The cases that figures are about: `n` of `of`, and why the others are not among them.

    `invented` is whether they were invented: where the tables hold any real case, no invented one counts.
    """

    tables: Tables
    filters: Filters
    n: int
    of: int
    invented: bool
    exclusions: tuple[Exclusion, ...]

    @property
    def sentence(self) -> str:
        """How many cases of how many, and what was left out, in words."""
        out = "; ".join(f"{e.n} {e.why}" for e in self.exclusions)
        kind = "invented cases" if self.invented else "cases"
        return f"{self.n} of {self.of} {kind}" + (f"; left out: {out}" if out else "")


def version_key(version: str) -> tuple[tuple[int, int | str], ...]:
    """A sorting key for versions: numbers by size, words by letter, so that 2026.10 comes after 2026.9."""
    parts = re.findall(r"[0-9]+|[A-Za-z]+", version)
    return tuple((0, int(p)) if p.isdigit() else (1, p) for p in parts)


def population(tables: Tables, filters: Filters | None = None) -> Population:
    """The cases that pass `filters`, and how many did not, each counted under the first reason in this order.

    Invented, protocol, version, day, not ended, stopped early, each fact not known or another.
    """
    wanted = filters or Filters()
    cases, invented = _of_kind(tables.cases)
    tests = list(_tests(tables, cases, wanted))
    marked = cases.mutate(why=_first_reason(tests))
    counts = {row["why"]: row["n"] for row in rows(marked.group_by("why").aggregate(n=marked.count()))}
    others = _total(tables.cases) - sum(counts.values())
    left_out = [Exclusion("invented", others)] if others else []
    left_out += [Exclusion(why, counts[why]) for why, _ in tests if why in counts]
    of, n = sum(counts.values()) + others, counts.get("", 0)
    # Where nothing is left out, the tables are asked as they are: joining a million codes takes its time.
    kept = tables if n == of else tables.of(marked.filter(marked.why == "").drop("why"))
    return Population(kept, wanted, n, of, invented, tuple(left_out))


def rows(table: Table) -> list[dict[str, Any]]:
    """The rows of an expression, asked of its engine."""
    held: list[dict[str, Any]] = table.to_pyarrow().to_pylist()
    return held


def _total(table: Table) -> int:
    return int(rows(table.aggregate(n=table.count()))[0]["n"])


def _of_kind(cases: Table) -> tuple[Table, bool]:
    """Real cases if there are any, else the invented ones, and which of the two."""
    real = cases.filter(~cases.invented)
    if _total(real):
        return real, False
    return cases, _total(cases) > 0


def _first_reason(tests: Sequence[tuple[str, BooleanValue]]) -> Any:
    if not tests:
        return ibis.literal("")
    return ibis.cases(*((~passes, why) for why, passes in tests), else_="")


def _tests(tables: Tables, cases: Table, wanted: Filters) -> Any:
    if wanted.protocol is not None:
        yield f"of another protocol than {wanted.protocol}", cases.protocol == wanted.protocol
    if wanted.first_version is not None or wanted.last_version is not None:
        yield "of another version", cases.version.isin(_versions(cases, wanted))
    if wanted.first_day is not None:
        yield f"before {wanted.first_day.isoformat()}", cases.day >= wanted.first_day
    if wanted.last_day is not None:
        yield f"after {wanted.last_day.isoformat()}", cases.day <= wanted.last_day
    if wanted.completed:
        yield "without an end", ~cases.open
        yield "stopped early", cases.ending == "usual"
    for fact, values in wanted.facts.items():
        known = strata(tables, fact)
        yield f"of unknown {fact}", cases.code.isin(known.code)
        wanted_ones = known.filter(known.stratum.isin(values))
        yield f"with another {fact} than {' or '.join(values)}", cases.code.isin(wanted_ones.code)


def _versions(cases: Table, wanted: Filters) -> list[str]:
    met = [row["version"] for row in rows(cases.select("version").distinct())]
    low, high = wanted.first_version, wanted.last_version
    return [
        version
        for version in met
        if (low is None or version_key(version) >= version_key(low))
        and (high is None or version_key(version) <= version_key(high))
    ]
