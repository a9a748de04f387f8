"""How far a log can be trusted: the figures that stand beside every other figure.

The questions are those that audits of theatre time stamps ask; late means over 60 s and low confidence over
20 min, after the time-stamp study in J Med Syst 2026 (PMC12883500).
"""

from __future__ import annotations

from collections.abc import Iterator

from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S, reading_of
from tracker.core.entries import Entry
from tracker.review.record.plain import back_stamped, minutes
from tracker.review.record.steps import done, required
from tracker.review.record.structure import Completeness, Share


def completeness(case: Case, amendments: int) -> Completeness:
    """The figures of a case with so many amendments."""
    told = [e for e in case.log if not isinstance(e.event, ev.Opened | ev.Resumed)]
    return Completeness(
        required_steps=_share(list(_required_done(case))),
        spans_with_both_ends=_share(list(_spans_closed(case))),
        required_readings=_share(list(_readings_present(case))),
        late=_late(told, LATE_S),
        low_confidence=_late(told, LOW_CONFIDENCE_S),
        back_stamped=_share([back_stamped(e) for e in told]),
        not_logged=sum(s.not_logged is not None for s in case.steps.values()),
        amendments=amendments,
        gaps=len(case.gaps),
        gap_minutes=minutes(sum(g.stop.t - g.start.t for g in case.gaps)),
        unknown=len(case.odd),
    )


def _share(answers: list[bool]) -> Share:
    n, of = sum(answers), len(answers)
    return Share(n=n, of=of, percent=round(100 * n / of, 1) if of else None)


def _late(told: list[Entry], limit_s: float) -> Share:
    return _share([e.late_s > limit_s for e in told])


def _required_done(case: Case) -> Iterator[bool]:
    groups: dict[str, list[bool]] = {}
    for step in case.protocol.all_steps():
        if required(case, step):
            groups.setdefault(step.group or f"step {step.id}", []).append(done(case.state(step.id)))
    yield from (all(answers) for answers in groups.values())


def _spans_closed(case: Case) -> Iterator[bool]:
    for step in case.protocol.all_steps():
        if step.shape == "span":
            yield from (tick.stop is not None for tick in case.state(step.id).ticks)


def _readings_present(case: Case) -> Iterator[bool]:
    for step in case.protocol.all_steps():
        for tick in case.state(step.id).ticks:
            for wanted in step.readings:
                if wanted.required:
                    yield reading_of(case, tick, wanted.id) is not None
