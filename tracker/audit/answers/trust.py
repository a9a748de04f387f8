"""How complete the logs are, for all cases and by the role that circulated; nobody is named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tracker.audit import questions
from tracker.audit.answers.form import Answer, Audit, answer, share
from tracker.audit.population import rows
from tracker.audit.statistics.enough import FEWEST, too_few


@dataclass(frozen=True, slots=True)
class CompletenessRow:
    """How complete the logs of n cases are; shares from 0 to 1, None of nothing or of too few cases."""

    group: str
    label: str
    n: int
    refused: str
    required_steps: float | None = None
    spans_with_both_ends: float | None = None
    required_readings: float | None = None
    late: float | None = None
    low_confidence: float | None = None
    back_stamped: float | None = None
    amendments_a_case: float | None = None
    not_logged: int | None = None
    gaps: int | None = None
    gap_minutes: float | None = None
    unknown: int | None = None


def completeness(audit: Audit, by: str | None = None) -> Answer[tuple[CompletenessRow, ...]]:
    """How complete the logs are; parted `by` `circulating` for the role that opened the journal."""
    found = sorted(rows(questions.completeness(audit.asked, by)), key=lambda row: str(row[by or "whole"]))
    told = tuple(_row(audit, row, str(row[by or "whole"])) for row in found)
    definition = """
        Required steps ticked or said not to be needed; spans with both ends; readings the file asks for
        that were entered; entries made more than 60 s, and more than 20 min, after what they tell (J
        Med Syst 2026, PMC12883500); corrections for each case.
    """
    refused = "" if told else too_few(0, FEWEST)
    return answer(audit, "completeness", "How complete are the logs?", definition, told, refused)


def _row(audit: Audit, row: Mapping[str, Any], group: str) -> CompletenessRow:
    n = row["n"]
    if refused := too_few(n, FEWEST):
        return CompletenessRow(group, audit.label(group), n, refused)
    return CompletenessRow(
        group=group,
        label=audit.label(group),
        n=n,
        refused="",
        required_steps=share(row["required_done_n"], row["required_n"]),
        spans_with_both_ends=share(row["spans_closed_n"], row["spans_n"]),
        required_readings=share(row["readings_given_n"], row["readings_due_n"]),
        late=share(row["late_n"], row["told_n"]),
        low_confidence=share(row["low_confidence_n"], row["told_n"]),
        back_stamped=share(row["back_stamped_n"], row["told_n"]),
        amendments_a_case=row["amendments_n"] / n,
        not_logged=row["not_logged_n"],
        gaps=row["gaps_n"],
        gap_minutes=row["gap_minutes"],
        unknown=row["unknown_n"],
    )
