"""How far a log can be trusted, as the record prints it: the core's figures as shares and minutes."""

from __future__ import annotations

from tracker.core import completeness as core
from tracker.core.case import Case
from tracker.review.record.plain import minutes
from tracker.review.record.structure import Completeness, Share


def completeness(case: Case) -> Completeness:
    """The figures of a case."""
    figures = core.completeness(case)
    return Completeness(
        required_steps=_share(figures.required_steps),
        spans_with_both_ends=_share(figures.spans_with_both_ends),
        required_readings=_share(figures.required_readings),
        late=_share(figures.late),
        low_confidence=_share(figures.low_confidence),
        back_stamped=_share(figures.back_stamped),
        not_logged=figures.not_logged,
        amendments=figures.amendments,
        gaps=figures.gaps,
        gap_minutes=minutes(figures.gap_s),
        unknown=figures.unknown,
    )


def _share(part: core.Part) -> Share:
    return Share(n=part.n, of=part.of, percent=round(100 * part.n / part.of, 1) if part.of else None)
