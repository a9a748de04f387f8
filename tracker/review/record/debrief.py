"""What a debrief says, as lines of the record. Pure; every entry is there, withdrawn ones marked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from tracker.core import debrief_events as db
from tracker.core.case import Case
from tracker.core.debrief import Debrief
from tracker.core.events import Event
from tracker.core.reviewed import Reviewed
from tracker.core.wording import hms
from tracker.review.record import debrief_structure as ds
from tracker.review.record.debrief_amendments import amendments, became, because
from tracker.review.record.logbook import content
from tracker.review.record.plain import joined, stamp, thousandth

TAG_WORDS: Final[Mapping[str, str]] = {
    "kit": "kit",
    "drill": "drill",
    "teaching": "teaching",
    "protocol_file": "protocol file",
}


def debrief_section(review: Reviewed, last_hash: str) -> ds.DebriefSection | None:
    """The section of a reviewed case; None where no debrief was begun. `last_hash` is the debrief's own."""
    said, label = review.debrief, review.logged.protocol.label
    if not said.events:
        return None
    opened = said.opened
    return ds.DebriefSection(
        state=said.state,
        log=review.bond,
        begun=stamp(said.events[0].at),
        log_entries=opened.log_entries if opened else 0,
        log_hash=opened.log_hash if opened else "",
        entries=len(said.events),
        last_hash=last_hash,
        after_sign_off=len(said.after_sign_off),
        attended=tuple(
            ds.RoleLine(seq=e.seq, role=e.who, label=label(e.who)) for e in said.standing(db.Attended)
        ),
        went_well=tuple(ds.WentWellLine(seq=e.seq, text=e.text) for e in said.standing(db.WentWell)),
        to_change=tuple(_action(e, label) for e in said.standing(db.ToChange)),
        amendments=tuple(amendments(review)),
        signed=tuple(
            ds.SignedLine(seq=e.seq, role=e.who, label=label(e.who), at=stamp(e.at))
            for e in said.standing(db.Signed)
        ),
        **_of_recordings(said),
        lines=tuple(_lines(review)),
    )


def _action(event: db.ToChange, label: Callable[[str], str]) -> ds.ActionLine:
    return ds.ActionLine(
        seq=event.seq,
        action=event.action,
        owner=event.owner,
        owner_label=label(event.owner),
        due=event.due,
        tag=TAG_WORDS.get(event.tag or "", ""),
    )


def _of_recordings(said: Debrief) -> Mapping[str, Any]:
    parts = (
        ds.RecordingPartLine(seq=e.seq, file=e.file, from_s=e.from_t, to_s=e.to_t)
        for e in said.standing(db.RecordedPart)
    )
    marks = (
        ds.VideoMarkLine(seq=e.seq, file=e.file, case_s=thousandth(e.log_t), video_s=thousandth(e.video_t))
        for e in said.standing(db.VideoMarked)
    )
    refused = (
        ds.RefusalLine(seq=e.seq, at=stamp(e.at), reason=e.reason, formats=e.formats)
        for e in said.standing(db.ExportRefused)
    )
    files = (
        ds.RecordingLine(seq=e.seq, file=e.file, length_s=e.length_s) for e in said.standing(db.Recorded)
    )
    return {
        "recordings": tuple(files),
        "recording_parts": tuple(parts),
        "video_marks": tuple(marks),
        "refusals": tuple(refused),
    }


# -- one line an entry


def _lines(review: Reviewed) -> Iterator[ds.DebriefEntryLine]:
    odd = {e.seq for e in review.debrief.odd} | review.idle
    for event in review.debrief.events:
        yield ds.DebriefEntryLine(
            seq=event.seq,
            at=stamp(event.at),
            role=event.role,
            kind=event.kind,
            words=entry_words(review.logged, event),
            why=getattr(event, "why", ""),
            withdrawn=event.seq in review.debrief.void,
            used=event.seq not in odd,
        )


def entry_words(case: Case, event: Event) -> str:
    """What an entry of a debrief says, in the words of the file."""
    protocol = case.protocol
    match event:
        case db.Debriefed():
            return f"log of {event.log_entries} entries"
        case db.Reasoned():
            return joined(event.deviation, because(protocol, event))
        case db.Amended():
            return joined(f"entry {event.entry}: {became(case, event)}", because(protocol, event))
        case db.Added():
            return joined(f"added: {became(case, event)}", because(protocol, event))
        case db.WentWell():
            return event.text
        case db.ToChange():
            tag = TAG_WORDS.get(event.tag or "", "")
            return joined(event.action, protocol.label(event.owner), event.due, tag)
        case db.Attended() | db.Signed():
            return protocol.label(event.who)
        case db.Withdrawn():
            return f"entry {event.ref} of the debrief is void"
        case db.Recorded():
            length = "length not said" if event.length_s is None else hms(event.length_s)
            return joined(event.file, length)
        case db.RecordedPart():
            return joined(event.file, f"{_second(event.from_t)} to {_second(event.to_t)} of the log")
        case db.VideoMarked():
            return joined(event.file, f"{hms(event.log_t)} of the log is {hms(event.video_t)} of the file")
        case db.ExportRefused():
            return joined(event.formats, event.reason)
    return content(event)


def _second(t: float | None) -> str:
    return "as far as it reaches" if t is None else hms(t)
