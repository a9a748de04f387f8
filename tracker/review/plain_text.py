"""A reviewed case as plain text, for `review` without a terminal: timeline, deviations, debrief, films."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from tracker.core import debrief_events as db
from tracker.core import durations
from tracker.core.amendments import debrief_seq
from tracker.core.deviations import deviations, unjudged
from tracker.core.reviewed import Reviewed
from tracker.core.text import shown
from tracker.core.timeline import timeline
from tracker.core.timeline_text import text_timeline
from tracker.core.usual import Usual
from tracker.core.wording import CAUTIONS, clock_time, hms
from tracker.review.record.debrief import TAG_WORDS
from tracker.review.record.debrief_amendments import amendments
from tracker.review.record.debrief_tables import LOG_WORDS, STATE_WORDS
from tracker.review.record.plain import minutes, tenths
from tracker.review.recordings import aligned, recordings
from tracker.review.screen.telling import (
    beneath_words,
    deviation_words,
    expected_words,
    reason_words,
    unjudged_words,
    usual_words,
)
from tracker.review.video.align import words


def review_text(
    review: Reviewed, width: int, usual: Mapping[str, Usual] | None = None, *, ascii_only: bool = False
) -> tuple[str, ...]:
    """The lines of a reviewed case, the drawing `width` cells wide and, if so asked, of ASCII signs."""
    case, end_t = review.case, durations.until_t(review.case, review.logged.last_t)
    head = f"{case.code}{' (invented)' if case.invented else ''}  {case.protocol.title}"
    picture = text_timeline(timeline(case, end_t), width, ascii_only=ascii_only)
    parts = (
        (head, "", *CAUTIONS, "", *picture),
        ("", "Stages", *_stages(review, end_t, usual or {})),
        ("", "Deviations, strongest first; those not logged at the time last", *_deviations(review, end_t)),
        ("", "Debrief", *debrief_lines(review)),
        ("", "Recordings", *_films(review)),
    )
    return tuple(shown(line) for part in parts for line in part)


def _stages(review: Reviewed, end_t: float, usual: Mapping[str, Usual]) -> Iterator[str]:
    for stage in review.case.protocol.stages:
        seconds = durations.stage_seconds(review.case, stage, end_t)
        lasted = "no span" if seconds is None else f"{tenths(minutes(seconds))} min"
        yield f"  {stage.label}: {lasted}; {usual_words(usual.get(stage.id))}"


def _deviations(review: Reviewed, end_t: float) -> Iterator[str]:
    found = deviations(review.case, end_t)
    for d in sorted(found, key=lambda d: bool(d.given and d.given.how == "not_logged")):
        yield f"  {clock_time(d.when.at)}  {deviation_words(review.case, d)}"
        yield f"            {expected_words(d)}. {reason_words(review.case, d)}"
        yield from (f"            {words}" for words in beneath_words(review.case, d))
    if not found:
        yield "  nothing differs from the file"
    for d in unjudged(review.case, end_t):
        yield f"  {clock_time(d.when.at)}  {unjudged_words(review.case, d)}"


def debrief_lines(review: Reviewed) -> Iterator[str]:
    """What the debrief says, line by line: what went well first."""
    said, label = review.debrief, review.logged.protocol.label
    yield f"debrief {STATE_WORDS[said.state]}"
    if review.bond != "as debriefed":
        yield f"made on {LOG_WORDS[review.bond]}"
    yield from (f"went well: {e.text}" for e in said.standing(db.WentWell))
    for change in said.standing(db.ToChange):
        owner, due = label(change.owner) or "nobody yet", change.due or "no date"
        tag = f", {TAG_WORDS[change.tag]}" if change.tag else ""
        yield f"to change: {change.action} (owner: {owner}; by {due}{tag})"
    for line in amendments(review):
        stands = "" if line.stands else " (does not stand)"
        word = f"amended: {line.original} became" if debrief_seq(line.entry) is None else "added:"
        yield f"{word} {line.became}; {line.reason}{stands}"
    there = ", ".join(label(e.who) for e in said.standing(db.Attended))
    yield from (f"took part: {there}",) if there else ()
    for signed in said.standing(db.Signed):
        yield f"signed off: {label(signed.who)}, {signed.at:%Y-%m-%d %H:%M}"
    for after in said.after_sign_off:
        yield f"after the sign-off: {after.kind.replace('_', ' ')}, {after.why or 'no reason given'}"
    for refused in said.standing(db.ExportRefused):
        yield f"export refused {refused.at:%Y-%m-%d %H:%M}: {refused.reason}"
    if said.odd or review.idle:
        yield f"{len(said.odd) + len(review.idle)} entries of the debrief could not be used"


def _films(review: Reviewed) -> Iterator[str]:
    files = recordings(review)
    for file in files:
        yield f"  {file.file}: length {'not said' if file.length_s is None else hms(file.length_s)}"
    film = aligned(review)
    yield from (f"  {words(part)}" for part in film.parts)
    yield from (f"  {remark.text}" for remark in film.remarks)
    if not files:
        yield "  none named"
