"""What every answer carries, and what all of them draw on: one population, its trust and its words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

from tracker.audit import outcomes, questions, tables
from tracker.audit.conventions import shipped
from tracker.audit.engine import Tables
from tracker.audit.outcomes import Shares
from tracker.audit.population import Filters, Population, population, rows
from tracker.audit.questions import Sessions
from tracker.core.acuity import Convention
from tracker.core.protocol import Protocol

R = TypeVar("R")
_USUAL: Final = Sessions()
_EXPECTED: Final = Shares()


@dataclass(frozen=True, slots=True)
class Trust:
    """How far the logs of a population can be trusted; shares from 0 to 1, None of nothing.

    `missing` is the share of spans without both ends, `late` that of entries made more than 60 s late.
    """

    n: int
    missing: float | None
    late: float | None


@dataclass(frozen=True, slots=True)
class Version:
    """A protocol and version, and how many cases of the population went by it."""

    protocol: str
    version: str
    digest: str
    n: int


@dataclass(frozen=True, slots=True)
class Audit:
    """One population of cases with what is said of it.

    `everyone` are all cases of the same days and kind, ended or not and of any protocol: what lists are made
    of. `protocol` is the file that most cases went by, None without cases. `until` is the last day that any log or
    follow-up tells, None without cases; `convention` turns counting fingers and less into logMAR; `sessions` are
    when lists are planned to begin and how long they are booked; `failures` is what is expected of operations.
    """

    population: Population
    everyone: Population
    versions: tuple[Version, ...]
    protocols: Mapping[str, Protocol]
    trust: Trust
    until: date | None
    convention: Convention
    sessions: Sessions
    failures: Shares

    @property
    def asked(self) -> Tables:
        """The tables of the population."""
        return self.population.tables

    @property
    def protocol(self) -> Protocol | None:
        """The file that most cases went by."""
        known = (self.protocols.get(version.digest) for version in self.versions)
        return next((protocol for protocol in known if protocol), None)

    def label(self, ident: str) -> str:
        """The label of an id in the file that most cases went by, else in another, else the id."""
        known = (self.protocols.get(version.digest) for version in self.versions)
        return next((p.labels[ident] for p in known if p and ident in p.labels), ident)


@dataclass(frozen=True, slots=True)
class Answer(Generic[R]):
    """What a question comes to. `refused` is empty where the result may be read, else says what is wanting.

    `n` counts cases, `missing` and `late` are shares from 0 to 1; where the rows of the result carry their
    own, those are of the row and these of the cases that were asked.
    """

    key: str
    asks: str
    definition: str
    n: int
    missing: float | None
    late: float | None
    refused: str
    result: R


def audit_of(
    asked: Tables,
    folder: Path,
    filters: Filters | None = None,
    convention: Convention | None = None,
    sessions: Sessions = _USUAL,
    failures: Shares = _EXPECTED,
) -> Audit:
    """The population of these filters, and what all answers draw on; `folder` is where the tables lie.

    Without a `convention` it is the shipped one.
    """
    wanted = filters or Filters()
    chosen = population(asked, wanted)
    days = Filters(first_day=wanted.first_day, last_day=wanted.last_day, completed=False)
    everyone = population(asked, days)
    until = outcomes.last_day(asked, invented=chosen.invented)
    return Audit(
        chosen, everyone, _versions(chosen), tables.protocols(folder), trust(chosen.tables), until,
        convention or shipped(), sessions, failures,
    )  # fmt: skip


def said(text: str) -> str:
    """A sentence written over several lines, as one line."""
    return " ".join(text.split())


def answer(
    audit: Audit,
    key: str,
    asks: str,
    definition: str,
    result: R,
    refused: str = "",
    about: Population | None = None,
) -> Answer[R]:
    """A result as an answer about the population, or `about` other cases; without any case it is refused."""
    its = trust(about.tables) if about else audit.trust
    nothing = f"no case to answer from: {(about or audit.population).sentence}" if not its.n else ""
    return Answer(key, asks, said(definition), its.n, its.missing, its.late, nothing or refused, result)


def trust(asked: Tables) -> Trust:
    """How far the logs of these cases can be trusted."""
    found = rows(questions.completeness(asked))
    if not found:
        return Trust(0, None, None)
    row = found[0]
    spans, told = row["spans_n"], row["told_n"]
    return Trust(row["n"], share(spans - row["spans_closed_n"], spans), share(row["late_n"], told))


def share(part: int, of: int) -> float | None:
    """A part of a whole from 0 to 1; None of nothing."""
    return part / of if of else None


def column(table: Any, name: str) -> Sequence[Any]:
    """One column of an Arrow table as Python values."""
    held: list[Any] = table[name].to_pylist()
    return held


def _versions(chosen: Population) -> tuple[Version, ...]:
    cases = chosen.tables.cases
    counted = cases.group_by(["protocol", "version", "digest"]).aggregate(n=cases.count())
    found = [Version(**row) for row in rows(counted)]
    return tuple(sorted(found, key=lambda v: (-v.n, v.protocol, v.version, v.digest)))
