"""The record of the invented case that the program ships, played once for all tests that look at it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from record_alone import build
from record_stories import said_afterwards
from tracker.core.case import Case
from tracker.core.debrief import fold_debrief
from tracker.core.deviations import deviations
from tracker.core.loading import load_protocol
from tracker.core.reviewed import reviewed
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.shelf import find_protocol, shipped
from tracker.review.record.build import build_reviewed
from tracker.review.record.structure import Record
from tracker.theatre.demo import PROTOCOL, begin


@cache
def _played() -> tuple[Case, str]:
    """The invented case, from its first key on, and the last hash of its journal."""
    path, text = find_protocol(PROTOCOL, [shipped()])
    protocol = load_protocol(text, path.name).protocol
    assert protocol is not None
    with TemporaryDirectory() as folder:
        archive = Archive(Path(folder))
        played = begin(protocol, text, archive)
        played.play()
        played.close()
        read = archive.read(played.desk.case.code)
    return case_of(read), read.head


@cache
def demo_record() -> Record:
    """The invented case, from its first key to its record."""
    case, head = _played()
    return build(case, case.last_t, head, len(case.events))


@cache
def debriefed_demo() -> Record:
    """The same after a thorough debrief: every deviation with a reason, notes, an amendment, an addition."""
    case, head = _played()
    words = "the edge was folded and had to be freed first"
    reasons = [
        {"kind": "deviation_reason", "deviation": d.key, "reason": case.protocol.reasons[0].id, "text": words}
        for d in deviations(case, case.last_t)
    ]
    log = {"code": case.code, "log_hash": head, "log_entries": len(case.events), "program": "0.1.0"}
    said = [
        {"kind": "debriefed", **log},
        *reasons,
        *[{"kind": "went_well", "text": "the cut was planned aloud"}] * 3,
        *[{"kind": "to_change", "action": "second vial on the trolley", "owner": "consultant"}] * 3,
        {"kind": "amended", "entry": 43, "told": "2026-03-10T09:50:00+00:00", "text": words},
        {"kind": "added", "adds": "bookmark", "told": "2026-03-10T09:51:00+00:00", "text": words},
        {"kind": "signed", "who": "consultant"},
    ]
    debrief = fold_debrief([said_afterwards(n, line) for n, line in enumerate(said, start=1)])
    review = reviewed(case, debrief, "as debriefed")
    assert not review.idle
    return build_reviewed(review, case.last_t, head, len(case.events), "cd" * 32)
