"""Invented cases straight in tables, and what is told of them, for the tests of audit, plan and report."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from audit_archives import SHIPPED
from tracker.audit.answers.form import Audit, audit_of
from tracker.audit.engine import connected
from tracker.audit.population import Filters
from tracker.audit.report.book import QUESTIONS, Report, report
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import bring_up_to_date
from tracker.audit.worker import Told
from tracker.core.acuity import Convention
from tracker.journal.archive import Archive

DAY = date(2026, 3, 2)


def invented(folder: Path, cases: int = 80, seed: int = 3) -> Archive:
    """An archive of invented cases without journals."""
    archive = Archive(folder)
    synthesise(archive, SHIPPED, cases, seed, as_journals=False)
    return archive


@contextmanager
def audited(
    archive: Archive, filters: Filters | None = None, convention: Convention | None = None
) -> Iterator[Audit]:
    """An archive's tables, brought up to date and asked."""
    made = bring_up_to_date(archive)
    with connected(made.folder) as tables:
        yield audit_of(tables, made.folder, filters, convention)


def reported(archive: Archive, *keys: str) -> Report:
    """What an archive comes to."""
    with audited(archive) as audit:
        return report(audit, DAY, keys)


def at_once(archive: Archive):
    """What answers a screen's question before the screen looks again."""

    def ask(filters: Filters, key: str) -> Future[Told]:
        told: Future[Told] = Future()
        with audited(archive, filters) as audit:
            told.set_result(Told(audit.population.sentence, (), QUESTIONS[key].ask(audit)))
        return told

    return ask
