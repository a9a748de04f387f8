"""From the follow-up of a case to the rows of the table of visits. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from tracker.audit.columns import VisitRow
from tracker.core.acuity import read_acuity
from tracker.core.follow_up import FollowUp, day_of, days_after
from tracker.core.follow_up_events import Visit


def visit_rows(code: str, surgery: date, follow_up: FollowUp) -> Iterator[VisitRow]:
    """A row for each visit that stands; days count from `surgery`."""
    for visit in follow_up.visits:
        yield _row(code, surgery, visit)


def _row(code: str, surgery: date, visit: Visit) -> VisitRow:
    read = read_acuity(visit.acuity or "")
    out = visit.oil_out if visit.oil_out and day_of(visit.oil_out) else None
    return VisitRow(
        code=code,
        seq=visit.seq,
        day=date.fromisoformat(visit.day),
        days=days_after(visit.day, surgery),
        role=visit.role,
        attached=visit.attached,
        acuity=visit.acuity or None,
        logmar=read.logmar,
        off_chart=read.off_chart or None,
        pressure=visit.pressure,
        oil=visit.oil,
        oil_out_days=None if out is None else days_after(out, surgery),
        operation=visit.operation,
    )
