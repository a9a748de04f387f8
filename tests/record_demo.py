"""The record of the invented case that the program ships, played once for all tests that look at it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from tracker.core.loading import load_protocol
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.shelf import find_protocol, shipped
from tracker.review.record.build import build
from tracker.review.record.structure import Record
from tracker.theatre.demo import PROTOCOL, begin


@cache
def demo_record() -> Record:
    """The invented case, from its first key to its record."""
    path, text = find_protocol(PROTOCOL, [shipped()])
    protocol = load_protocol(text, path.name).protocol
    assert protocol is not None
    with TemporaryDirectory() as folder:
        archive = Archive(Path(folder))
        played = begin(protocol, text, archive, step_s=1)
        played.play()
        played.close()
        read = archive.read(played.desk.case.code)
    case = case_of(read)
    return build(case, case.last_t, read.head, len(read.events))
