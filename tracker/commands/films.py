"""`clockhour record --as vtt,srt,...`: chapters, captions and a cut, of the recordings a debrief names."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping

from tracker.commands.common import talk
from tracker.commands.exits import DONE, FINDINGS, USAGE
from tracker.core.debrief_events import ExportRefused
from tracker.core.protocol import Protocol
from tracker.journal.archive import Archive
from tracker.journal.trouble import Trouble
from tracker.review.debriefing import Debriefing
from tracker.review.film_files import film_files
from tracker.review.record.formats import write_files
from tracker.review.recordings import films_of, recordings
from tracker.review.video.consent import Refusal
from tracker.review.video.cuts import POINT_ROLL, SPAN_ROLL, Roll, Rolls
from tracker.review.video.film import Films, Wishes
from tracker.screen.station import StationClock


class BadWish(Trouble):
    """What was asked of the films cannot be read; the text says which word and how to write it."""


def write_films(archive: Archive, args: argparse.Namespace, names: list[str]) -> int:
    """Write the films of a case; without consent none, and the refusal goes into the debrief."""
    debriefing = Debriefing(archive, args.case, StationClock())
    review = debriefing.review
    made = films_of(review, wishes(args, review.case.protocol))
    if isinstance(made, Refusal):
        return _refused(debriefing, made, names)
    if not recordings(review):
        talk(
            f"No recording of case {args.case} is named. Name one: clockhour review {args.case}"
            " --recording FILE LENGTH --mark FILE LOG_TIME VIDEO_TIME"
        )
        return USAGE
    talk(*(remark.text for remark in made.remarks))
    return _written(made, names, args)


def _refused(debriefing: Debriefing, refusal: Refusal, names: Iterable[str]) -> int:
    talk(refusal.reason)
    try:
        debriefing.say(ExportRefused, reason=refusal.reason, formats=",".join(names))
        if debriefing.waiting:
            talk(f"The refusal is not in the debrief: {debriefing.trouble}")
    finally:
        debriefing.close()
    return FINDINGS


def _written(made: Films, names: Iterable[str], args: argparse.Namespace) -> int:
    files = film_files(made, names, args.case)
    if not files:
        talk("Nothing was written: no recording lies on this log, or there is nothing to cut from it.")
        return FINDINGS
    for path in write_files(files, args.to):
        print(path)
    return DONE


def wishes(args: argparse.Namespace, protocol: Protocol) -> Wishes:
    """What the command line asks of the films.

    Raises:
        BadWish: a word of it cannot be read.
    """
    before, after = _seconds(args.pre, protocol, "--pre"), _seconds(args.post, protocol, "--post")
    return Wishes(
        chosen=frozenset(args.chapter),
        min_chapter_s=_number(args.min_chapter, "--min-chapter"),
        budget_min=None if args.budget == "all" else _number(args.budget, "--budget"),
        rolls=_rolls(before, after, protocol),
    )


def _rolls(before: Mapping[str, float], after: Mapping[str, float], protocol: Protocol) -> Rolls:
    point, span = (
        Roll(before.get("", usual.before_s), after.get("", usual.after_s))
        for usual in (POINT_ROLL, SPAN_ROLL)
    )
    own = {}
    for step in sorted({*before, *after} - {""}):
        usual = span if protocol.step[step].shape == "span" else point
        own[step] = Roll(before.get(step, usual.before_s), after.get(step, usual.after_s))
    return Rolls(own, point, span)


def _seconds(words: Iterable[str], protocol: Protocol, option: str) -> Mapping[str, float]:
    """Seconds by step, those of all others under the empty name, from words `N` and `STEP=N`."""
    found: dict[str, float] = {}
    for word in words:
        step, equals, number = word.rpartition("=")
        if equals and step not in protocol.step:
            raise BadWish(f"{option}: {step} is no step of {protocol.title}.")
        found[step] = _number(number, option)
    return found


def _number(word: str, option: str) -> float:
    try:
        value = float(word)
    except ValueError:
        value = -1.0
    if not 0 <= value <= 86_400:
        raise BadWish(f"{option}: {word[:40]} is no number of this kind; write one that is not below nought.")
    return value
