"""Questions asked beside the screen, in one thread that holds the engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from types import TracebackType

from tracker.audit.answers.form import Audit, audit_of
from tracker.audit.engine import LOCAL, Engine, Tables, connected
from tracker.audit.outcomes import Shares
from tracker.audit.population import Filters, rows
from tracker.audit.questions import Sessions
from tracker.audit.report.book import QUESTIONS, about, sentence
from tracker.audit.report.sheet import Sheet
from tracker.audit.tables import protocols
from tracker.core.acuity import Convention


@dataclass(frozen=True, slots=True)
class Told:
    """A question answered about a population, which is said beside it."""

    population: str
    lines: tuple[str, ...]
    sheet: Sheet


@dataclass(frozen=True, slots=True)
class Offered:
    """What there is to filter by: protocols, versions, the days of the first and the last case, facts."""

    protocols: tuple[str, ...] = ()
    versions: tuple[str, ...] = ()
    first_day: date | None = None
    last_day: date | None = None
    facts: Mapping[str, tuple[str, ...]] | None = None


class Worker:
    """The tables of an archive, asked in a thread of their own."""

    def __init__(
        self,
        folder: Path,
        convention: Convention,
        engine: Engine = "duckdb",
        master: str = LOCAL,
        sessions: Sessions | None = None,
        failures: Shares | None = None,
    ) -> None:
        self._folder, self._engine, self._master = folder, engine, master
        self._convention, self._sessions = convention, sessions or Sessions()
        self._failures = failures or Shares()
        self._pool = ThreadPoolExecutor(1)
        self._open = ExitStack()
        self._audits: dict[str, Audit] = {}
        self._tables: Tables | None = None

    def __enter__(self) -> Worker:
        self._pool.submit(self._connect).result()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, refusal: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pool.submit(self._open.close).result()
        self._pool.shutdown()

    def ask(self, filters: Filters, key: str) -> Future[Told]:
        """Ask a question of the cases that pass the filters."""
        return self._pool.submit(self._told, filters, key)

    def offered(self) -> Offered:
        """What there is to filter by."""
        return self._pool.submit(self._offered).result()

    def _connect(self) -> None:
        self._tables = self._open.enter_context(connected(self._folder, self._engine, self._master))

    def _asked(self) -> Tables:
        if self._tables is None:
            raise RuntimeError("the worker is asked before it is entered")
        return self._tables

    def _told(self, filters: Filters, key: str) -> Told:
        told = (self._convention, self._sessions, self._failures)
        audit = self._audits.setdefault(repr(filters), audit_of(self._asked(), self._folder, filters, *told))
        return Told(sentence(audit.population), tuple(about(audit)), QUESTIONS[key].ask(audit))

    def _offered(self) -> Offered:
        cases = self._asked().cases
        (days,) = rows(cases.aggregate(first=cases.day.min(), last=cases.day.max()))
        met = rows(cases.select("protocol", "version").distinct())
        return Offered(
            tuple(sorted({row["protocol"] for row in met})),
            tuple(sorted({row["version"] for row in met})),
            days["first"],
            days["last"],
            _choices(tuple(protocols(self._folder).values())),
        )


def _choices(known: Sequence[object]) -> Mapping[str, tuple[str, ...]]:
    """The facts of the protocols that have a closed list, with its values."""
    found: dict[str, tuple[str, ...]] = {}
    for protocol in known:
        for fact in getattr(protocol, "facts", ()):
            values = tuple(c.id for c in fact.choices) or (("yes", "no") if fact.kind == "flag" else ())
            if values:
                found[fact.id] = tuple(dict.fromkeys((*found.get(fact.id, ()), *values)))
    return found
