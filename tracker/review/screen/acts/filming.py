"""The recordings: which files there are, where they meet the log, what is to be said of that."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from tracker.core import debrief_events as db
from tracker.core.events import Scalar
from tracker.core.wording import hms
from tracker.review.recordings import file_name, length, log_second, recordings
from tracker.review.screen import forms
from tracker.review.screen.forms import Answers, Field, Form
from tracker.review.video.align import words
from tracker.review.video.consent import consent
from tracker.review.video.remarks import Remark
from tracker.review.video.stamps import seconds_of
from tracker.screen.asking import Option, Question, keyed
from tracker.screen.panels import Row, Sheet

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk


def ask_video(desk: ReviewDesk) -> None:
    """Ask what to do with the recordings."""
    options = [Option("f", "name a recording: its file and its length", "file")]
    if recordings(desk.review):
        options += [
            Option("m", "mark: the entry under the cursor is at this time of a file", "mark"),
            Option("p", "part: from when to when a file was recording", "part"),
        ]
    options.append(Option("v", "how the recordings lie on the log", "lie"))
    desk.panel = forms.choice(desk, Question("video", "Video", partial(_chosen, desk), tuple(options)))


def _chosen(desk: ReviewDesk, what: Scalar) -> None:
    {"file": _name, "mark": _mark, "part": _part, "lie": _show}[str(what)](desk)


def _checked(check: Callable[[str], object]) -> Callable[[str], str]:
    """What a check of typed text says against it."""

    def says(text: str) -> str:
        found = check(text)
        return found.text if isinstance(found, Remark) else ""

    return says


def _name(desk: ReviewDesk) -> None:
    form, name = "recording", "The recording's file name (no names of people in it)"
    fields = [
        forms.typed(desk, form, "file", name, _checked(file_name)),
        forms.typed(desk, form, "length", "How long it is: HH:MM:SS, or - if not known", _checked(length)),
    ]

    def done(answers: Answers) -> None:
        file, length_s = file_name(str(answers["file"])), length(str(answers["length"]))
        forms.say(desk, db.Recorded, answers, file=file, length_s=length_s)
        desk.hint = f"kept; {desk.key('video')} m marks where it meets the log"

    forms.start(desk, Form(form, "A recording", lambda _: fields, done, changes=False))


def _file(desk: ReviewDesk) -> Field:
    return forms.ask(
        desk, "file", "Which file", keyed([(r.file, None, r.file) for r in recordings(desk.review)])
    )


def _mark(desk: ReviewDesk) -> None:
    item = desk.item
    if item is None:
        desk.hint = "a mark needs an entry under the cursor"
        return
    at, form, t = desk.drawn.axis.at(item.start_t), f"video_mark:{item.seq}", item.start_t
    title = f"{item.label} {at:%H:%M:%S}: the file's time, HH:MM:SS"

    def fields(_: Answers) -> Sequence[Field]:
        return [_file(desk), forms.typed(desk, form, "at", title, _checked(seconds_of))]

    def done(answers: Answers) -> None:
        video_t = seconds_of(str(answers["at"]))
        forms.say(desk, db.VideoMarked, answers, file=str(answers["file"]), log_t=t, video_t=video_t)
        desk.hint = f"kept; {desk.key('video')} v shows how the recordings lie on the log"

    forms.start(desk, Form(form, "A mark", fields, done, changes=False))


def _part(desk: ReviewDesk) -> None:
    form = "recording_part"
    how = "time of day, or - as far as the file reaches"
    check = _checked(partial(_second, desk))

    def fields(_: Answers) -> Sequence[Field]:
        return [
            _file(desk),
            forms.typed(desk, form, "from", f"It recorded from: {how}", check),
            forms.typed(desk, form, "to", f"It recorded to: {how}", check),
        ]

    def done(answers: Answers) -> None:
        from_t, to_t = (_second(desk, str(answers[key])) for key in ("from", "to"))
        forms.say(desk, db.RecordedPart, answers, file=str(answers["file"]), from_t=from_t, to_t=to_t)
        desk.hint = "kept"

    forms.start(desk, Form(form, "A part", fields, done, changes=False))


def _second(desk: ReviewDesk, text: str) -> float | Remark | None:
    return None if text.strip() == "-" else log_second(desk.review.logged, text)


def _show(desk: ReviewDesk) -> None:
    desk.panel = Sheet("How the recordings lie on the log", partial(film_rows, desk), ("v",))


def film_rows(desk: ReviewDesk) -> Sequence[Row]:
    """Consent, the files, the map of each part with its residuals, and all that is to be asked."""
    return [Row("", line) for line in _film_lines(desk)]


def _film_lines(desk: ReviewDesk) -> Iterator[str]:
    refused = consent(desk.case)
    yield refused.reason if refused else "Consent to the recording is yes in the case facts."
    files = recordings(desk.review)
    if not files:
        yield f"No recording is named yet: {desk.key('video')} f names one."
    for file in files:
        yield f"{file.file}: length {'not said' if file.length_s is None else hms(file.length_s)}"
    yield from (words(part) for part in desk.film.parts)
    yield from (remark.text for remark in desk.film.remarks)
