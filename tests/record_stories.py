"""Four small records, from one that holds one of everything to one that was only opened."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import pytest

from record_alone import build
from record_case import WHOLE, story
from tracker.core.debrief import fold_debrief
from tracker.core.debrief_events import DEBRIEF_BY_KIND
from tracker.core.events import Event
from tracker.core.reviewed import reviewed
from tracker.core.usual import Usual
from tracker.review.record.build import build_reviewed
from tracker.review.record.structure import Record

STORIES: Final[Mapping[str, str]] = {
    "whole": WHOLE,
    "running": "09:00 opened\n09:05 tick step=in_theatre\n09:10 start step=core\n09:12 tick step=core",
    "early": "09:00 opened\n09:05 tick step=in_theatre\n09:10 stopped_early reason=forced",
    "opened": "09:00 opened",
}

EVERY_STORY = pytest.mark.parametrize("told", STORIES)

HOSTILE = """
    09:00 opened
    09:01 note text={note}
    09:02 bookmark text={note}
    09:03 complication
    09:04 complication_detail ref=4 complication=bleed text={note}
    09:05 paused reason={note}
    09:06 strike ref=6 reason={note}
    09:07 from_the_future words={note}
    09:08 operator operator={note}
    09:09 start step=core
    09:10 reading reading=pressure value={note}
    09:11 stopped_early reason={note}
"""


def small_record(told: str) -> Record:
    """The record of a story, half an hour after its first entry."""
    return _record(STORIES[told])


def hostile_record(note: str) -> Record:
    """The record of a case in which every free word is `note`."""
    return _record(HOSTILE, note=note)


def _record(text: str, **words: str) -> Record:
    case = story(text, **words)
    return build(case, 1800.0, "ab" * 32, len(case.events))


DEBRIEF = (
    {"kind": "debriefed", "code": "A-0007", "log_hash": "ab" * 32, "log_entries": 44, "program": "0.1.0"},
    {"kind": "attended", "who": "consultant"},
    {"kind": "went_well", "text": "the cut was planned aloud"},
    {
        "kind": "to_change",
        "action": "second vial on the trolley",
        "owner": "runner",
        "due": "2026-11-01",
        "tag": "kit",
    },
    {"kind": "amended", "entry": 7, "told": "2026-10-24T09:04:30+01:00", "text": "said after the block"},
    {"kind": "amended", "entry": 24, "value": 3, "text": "counted on the film"},
    {
        "kind": "added",
        "adds": "step",
        "ident": "membranes",
        "told": "2026-10-24T09:39:00+01:00",
        "until": "2026-10-24T09:43:00+01:00",
        "reason": "forced",
    },
    {"kind": "signed", "who": "consultant"},
)
"""What was said afterwards of the story that holds one of everything."""


def debriefed_record(*more: Mapping[str, object], notes: bool = True) -> Record:
    """The record of the story that holds one of everything, after its debrief and what more was said."""
    case = story(WHOLE)
    events = fold_debrief(
        tuple(said_afterwards(n, line) for n, line in enumerate((*DEBRIEF, *more), start=1))
    )
    review = reviewed(case, events, "as debriefed")
    return build_reviewed(review, 1800.0, "ab" * 32, len(case.events), "cd" * 32, notes=notes)


def said_afterwards(seq: int, words: Mapping[str, object]) -> Event:
    """An entry of a debrief, in October."""
    at = f"2026-10-26T12:{seq:02}:00+00:00"
    frame = {
        "seq": seq,
        "at": at,
        "entered_at": at,
        "elapsed_ms": seq * 60_000,
        "run": 1,
        "role": "consultant",
    }
    return DEBRIEF_BY_KIND[str(words["kind"])].model_validate({**frame, **words})


def with_usual(record: Record, stage: str, usual: Usual) -> Record:
    """A record in which one stage has a usual range."""
    told = [s.model_copy(update={"usual": usual}) if s.stage == stage else s for s in record.stages]
    return record.model_copy(update={"stages": tuple(told)})
