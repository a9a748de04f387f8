"""`clockhour review`: the timeline of a case and its debrief, on a screen or as text."""

from __future__ import annotations

import argparse
import shutil
from typing import TYPE_CHECKING, TypeVar

from tracker.audit.usual_ranges import usual_ranges
from tracker.commands.common import archive_of, draws, has_terminal, settings_of, talk
from tracker.commands.exits import DONE, FINDINGS, NOT_KEPT
from tracker.core.debrief_events import Recorded, RecordedPart, VideoMarked
from tracker.journal.archive import Archive
from tracker.journal.trouble import Trouble
from tracker.review.debriefing import Debriefing
from tracker.review.plain_text import review_text
from tracker.review.recordings import aligned, file_name, length, log_second
from tracker.review.video.align import words
from tracker.review.video.remarks import Remark
from tracker.review.video.stamps import seconds_of
from tracker.screen.station import StationClock

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk
    from tracker.theatre.settings import Settings

T = TypeVar("T")
_OF_COURSE = frozenset({"gap", "length"})
"""What is said of recordings that are well: where nothing was recorded, and a length nobody said."""


class BadWord(Trouble):
    """A file, a time or a length on the command line cannot be read; the text says which."""


def review(args: argparse.Namespace) -> int:
    """Show a case and its debrief; with recordings or marks given, enter those instead."""
    archive = archive_of(args)
    debriefing = Debriefing(archive, args.case, StationClock())
    try:
        if args.recording or args.part or args.mark:
            return _enter(args, debriefing)
        if has_terminal():
            return _on_screen(args, archive, debriefing)
        width = min(160, max(80, shutil.get_terminal_size((100, 24)).columns))
        usual = usual_ranges(archive, debriefing.review.case)
        print("\n".join(review_text(debriefing.review, width, usual, ascii_only=not draws())))
        return DONE
    finally:
        debriefing.close()


def _on_screen(args: argparse.Namespace, archive: Archive, debriefing: Debriefing) -> int:
    from tracker.commands.theatre import play

    return play(desk_of(archive, debriefing, settings_of(args)))


def desk_of(archive: Archive, debriefing: Debriefing, settings: Settings) -> ReviewDesk:
    """The desk of a review, with this station's theme and keys; what is wrong with the keys is said."""
    from tracker.review.screen.desk import ReviewDesk
    from tracker.review.screen.keys import own_keys

    commands, findings = own_keys(settings.review_keys, "settings")
    talk(*findings)
    usual = usual_ranges(archive, debriefing.review.case)
    desk = ReviewDesk(debriefing, usual, settings.theme, settings.brightness, commands)
    desk.hint = " ".join(map(str, findings)) or desk.hint
    return desk


def _enter(args: argparse.Namespace, debriefing: Debriefing) -> int:
    """Enter what the command line says of the recordings, all of it or, if a word cannot be read, nothing."""
    case = debriefing.review.logged
    recorded = [(_good(file_name(file)), _good(length(long))) for file, long in args.recording]
    parts = [(_good(file_name(f)), _end(a, debriefing), _end(b, debriefing)) for f, a, b in args.part]
    marks = [
        (_good(file_name(file)), _good(log_second(case, log)), _good(seconds_of(video)))
        for file, log, video in args.mark
    ]
    for file, length_s in recorded:
        debriefing.say(Recorded, file=file, length_s=length_s)
    for file, from_t, to_t in parts:
        debriefing.say(RecordedPart, file=file, from_t=from_t, to_t=to_t)
    for file, log_t, video_t in marks:
        debriefing.say(VideoMarked, file=file, log_t=log_t, video_t=video_t)
    return _lies(debriefing)


def _lies(debriefing: Debriefing) -> int:
    film = aligned(debriefing.review)
    for part in film.parts:
        print(words(part))
    talk(*(remark.text for remark in film.remarks))
    if debriefing.waiting:
        talk(debriefing.trouble)
        return NOT_KEPT
    return FINDINGS if any(remark.code not in _OF_COURSE for remark in film.remarks) else DONE


def _end(text: str, debriefing: Debriefing) -> float | None:
    return None if text.strip() == "-" else _good(log_second(debriefing.review.logged, text))


def _good(found: T | Remark) -> T:
    if isinstance(found, Remark):
        raise BadWord(found.text)
    return found
