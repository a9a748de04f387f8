"""A case becomes a record. Pure: the moment, the last hash and the number of entries are arguments."""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal

from tracker.core import durations
from tracker.core.case import Case
from tracker.core.deviations import deviations, unjudged
from tracker.core.reviewed import Reviewed
from tracker.core.timeline import Timeline, timeline
from tracker.core.usual import UsualRanges
from tracker.core.wording import CAUTIONS, side_words
from tracker.review.record import logbook, sections, steps
from tracker.review.record.completeness import completeness
from tracker.review.record.debrief import debrief_section
from tracker.review.record.plain import labelled, minutes, stamp
from tracker.review.record.structure import Header, Record
from tracker.review.record.withheld import NO_NOTES, NO_ROLES, roles_general, without_notes

NO_RANGES: UsualRanges = MappingProxyType({})
NOT_REVIEWED = "not reviewed locally"
"""Said of a protocol file that nobody here has put a name to."""


def build_reviewed(
    review: Reviewed,
    now_t: float,
    last_hash: str,
    entries: int,
    debrief_hash: str = "",
    *,
    notes: bool = True,
    roles: bool = True,
    usual: UsualRanges = NO_RANGES,
) -> Record:
    """The record of a case as of `now_t`, with what its debrief says.

    Once the patient has left, what is open is measured to then. `last_hash` is the hash of the last line of the
    journal, `entries` the number of its lines and `debrief_hash` the hash of the debrief's last line, so that the
    record can be held against the journals it was made from. Without `notes` free words are left out, without
    `roles` everybody is told by the post alone; the record then says so. `usual` are the usual ranges of stages
    here, from comparable cases.
    """
    hashes = (last_hash, debrief_hash)
    whole = _whole(review if notes else without_notes(review), now_t, hashes, entries, usual)
    told = whole if roles else roles_general(whole, review.logged.protocol)
    left_out = (*(() if notes else (NO_NOTES,)), *(() if roles else (NO_ROLES,)))
    return told.model_copy(update={"cautions": (*told.cautions, *left_out)})


def _whole(
    review: Reviewed, now_t: float, hashes: tuple[str, str], entries: int, usual: UsualRanges
) -> Record:
    case = review.case
    end_t = durations.until_t(case, now_t)
    found = deviations(case, end_t)
    drawing = timeline(case, end_t)
    amendments = tuple(logbook.amendment_lines(review.logged))
    return Record(
        header=_header(case, end_t, drawing),
        cautions=CAUTIONS,
        completeness=completeness(case),
        facts=tuple(sections.facts(case)),
        stages=tuple(steps.stages(case, end_t, usual)),
        deviations=tuple(sections.deviations(case, found)),
        unjudged=tuple(sections.unjudged(case, unjudged(case, end_t))),
        readings=tuple(sections.readings(case)),
        clocks=tuple(sections.clocks(case, end_t)),
        pairs=tuple(sections.pairs(case)),
        counts=tuple(sections.counts(case)),
        counts_open=tuple(sections.counts_open(case)),
        complications=tuple(sections.complications(case)),
        staff=tuple(sections.staff(case)),
        operated=tuple(steps.operated(case, end_t)),
        changes=tuple(sections.changes(case)),
        said=tuple(sections.said(case)),
        pauses=tuple(sections.pauses(case)),
        gaps=tuple(sections.gaps(case)),
        steps=tuple(steps.steps(case, end_t)),
        spans=tuple(steps.spans(case, end_t)),
        intervals=tuple(sections.intervals(case)),
        amendments=amendments,
        unknown=tuple(logbook.unknown_lines(case)),
        events=tuple(logbook.event_lines(case, found, review.void)),
        debrief=debrief_section(review, hashes[1]),
        entries=entries,
        last_hash=hashes[0],
        timeline=drawing,
    )


def _header(case: Case, end_t: float, drawing: Timeline) -> Header:
    protocol, end = case.protocol, case.end
    whole_s = durations.case_seconds(case, end_t) if end else None
    return Header(
        case=case.code,
        invented=case.invented,
        program=case.program,
        protocol=protocol.id,
        title=protocol.title,
        version=protocol.version,
        digest=case.digest,
        reviewed_by=protocol.reviewed_by or NOT_REVIEWED,
        opened=stamp(case.events[0].at) if case.events else None,
        started=stamp(case.started.at) if case.started else None,
        stopped=stamp(end.stopped.at) if end and end.stopped else None,
        ended=stamp(end.when.at) if end else None,
        ending=_ending(case),
        ending_reason=labelled(case, end.reason) if end else "",
        measured_to=stamp(drawing.at(end_t)) if drawing.anchors else None,
        side=side_words(protocol, case.facts),
        planned_minutes=_planned_minutes(case),
        actual_minutes=None if whole_s is None else minutes(whole_s),
    )


def _ending(case: Case) -> Literal["no end logged", "at its usual end", "stopped early"]:
    if case.end is None:
        return "no end logged"
    return "at its usual end" if case.end.how == "normal" else "stopped early"


def _planned_minutes(case: Case) -> float | None:
    planned = case.facts.get(case.protocol.planned_minutes_fact or "")
    return None if planned is None or isinstance(planned, bool | str) else float(planned)
