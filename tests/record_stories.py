"""Four small records, from one that holds one of everything to one that was only opened."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import pytest

from record_case import WHOLE, story
from tracker.review.record.build import build
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
