"""A case as pieces that a film can be made of, and what of their words may leave the department.

A piece is a stretch or a moment of the case clock with a title and a note. Titles come from the file's
labels; a bookmark's words and every note were typed by someone, so both are looked through before anything
is written: control characters go, and what looks like a person is withheld.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from tracker.core import durations
from tracker.core.case import Case, Tick
from tracker.core.deviations import Deviation, deviations
from tracker.core.protocol import Stage, Step
from tracker.core.text import identifying, shown
from tracker.core.wording import CODE_WORDS, hms, value_words
from tracker.review.video.remarks import Remark

Kind = Literal["stage", "step", "aside", "point", "deviation", "bookmark"]

WORDS: Final[dict[Kind, str]] = {
    "stage": "Stage",
    "step": "Step",
    "aside": "Step",
    "point": "Step",
    "deviation": "Deviation",
    "bookmark": "Bookmark",
}
LONGEST_TITLE: Final = 120
LONGEST_NOTE: Final = 400
UNSEEN: Final = frozenset({"skipped", "reading_missing", "late_entry"})
"""Deviations of the record alone: there is no moment in the recording that shows them."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Something to be found in the recording; `id` is a step, stage, bookmark or deviation.

    Times are case seconds; a moment has no `stop_t`. An aside is a span of a step of no stage, like that of
    the recorder itself: it runs beside the operation, so its length says nothing of what is worth seeing.
    """

    title: str
    note: str
    start_t: float
    stop_t: float | None
    kind: Kind
    id: str

    @property
    def key(self) -> str:
        """What tells it from every other piece of its case."""
        return f"{self.kind}:{self.id}@{self.start_t:.3f}"

    @property
    def end_t(self) -> float:
        """Its stop, or its moment."""
        return self.start_t if self.stop_t is None else self.stop_t


def pieces(case: Case, now_t: float) -> tuple[Piece, ...]:
    """The stages, then steps in time order, deviations as the record orders them, bookmarks in time order.

    What still runs is measured to `now_t` or the case's end.
    """
    until_t = durations.end_t(case, now_t)
    steps = sorted(_steps(case, until_t), key=lambda p: (p.start_t, p.id))
    return (*_stages(case, until_t), *steps, *_deviations(case, until_t), *_bookmarks(case))


def _stages(case: Case, until_t: float) -> Iterator[Piece]:
    for stage in case.protocol.stages:
        ends = list(_ends(case, stage, until_t))
        if ends:
            yield Piece(stage.label, "", min(ends), max(ends), "stage", stage.id)


def _ends(case: Case, stage: Stage, until_t: float) -> Iterator[float]:
    for step in stage.steps:
        for tick in case.state(step.id).ticks:
            yield tick.start.t
            if step.shape == "span":
                yield durations.tick_interval(tick, until_t).stop


def _steps(case: Case, until_t: float) -> Iterator[Piece]:
    for step in case.protocol.all_steps():
        for tick in case.state(step.id).ticks:
            title = step.label if tick.nth < 2 else f"{step.label} ({tick.nth})"
            note = ", ".join(_told(case, step, tick))
            if step.shape == "span":
                stop_t = durations.tick_interval(tick, until_t).stop
                kind: Kind = "step" if step.id in case.protocol.stage_of else "aside"
                yield Piece(title, note, tick.start.t, stop_t, kind, step.id)
            else:
                yield Piece(title, note, tick.start.t, None, "point", step.id)


def _told(case: Case, step: Step, tick: Tick) -> Iterator[str]:
    """The choice and the readings of a tick, each reading as it stands."""
    if tick.choice is not None:
        yield next((c.label for c in step.choices if c.id == tick.choice), tick.choice)
    values = {v.reading: v.value for v in case.readings if v.tick == tick.seq}
    for ident, value in values.items():
        reading = case.protocol.reading.get(ident)
        if reading is not None:
            yield f"{reading.label} {value_words(reading, value)}"


def _deviations(case: Case, until_t: float) -> Iterator[Piece]:
    for deviation in deviations(case, until_t):
        if deviation.code not in UNSEEN:
            title = f"{case.protocol.label(deviation.step)}: {CODE_WORDS[deviation.code]}"
            note = "; ".join(_differences(case, deviation))
            yield Piece(title, note, deviation.when.t, None, "deviation", deviation.key)


def _differences(case: Case, deviation: Deviation) -> Iterator[str]:
    yield f"expected {deviation.expected}, found {deviation.found}"
    if deviation.given is not None:
        yield f"reason: {case.protocol.label(deviation.given.reason)}"
        if deviation.given.text:
            yield deviation.given.text


def _bookmarks(case: Case) -> Iterator[Piece]:
    for said in case.said:
        if said.kind == "bookmark":
            title = said.text or WORDS["bookmark"]
            yield Piece(title, "", said.when.t, None, "bookmark", str(said.when.seq))


# -- what may be written


def screened(given: Iterable[Piece]) -> tuple[tuple[Piece, ...], tuple[Remark, ...]]:
    """The pieces with words that may leave the department, and what was withheld or shortened and why."""
    kept, said = [], []
    for piece in given:
        if why := _no_time(piece):
            said.append(Remark("time", piece.key, f"{WORDS[piece.kind]} left out: {why}."))
            continue
        title, note = _flat(piece.title) or WORDS[piece.kind], _flat(piece.note)
        said += _withheld(piece, title, note)
        kept.append(
            replace(
                piece,
                title=WORDS[piece.kind] if _person(title) else shortened(title, LONGEST_TITLE),
                note="" if _person(note) else shortened(note, LONGEST_NOTE),
            )
        )
    return tuple(kept), tuple(said)


def _no_time(piece: Piece) -> str | None:
    if not (math.isfinite(piece.start_t) and math.isfinite(piece.end_t)):
        return "its time is not a number"
    if piece.end_t < piece.start_t:
        return f"it ends before it begins, at {hms(piece.start_t)} of the log"
    return None


def _flat(text: str) -> str:
    return " ".join(shown(text).split())


def _person(text: str) -> tuple[str, ...]:
    # What cannot be shown might stand in the middle of a name or a number only to hide it.
    return identifying(text) or identifying(text.replace("\ufffd", ""))


def _withheld(piece: Piece, title: str, note: str) -> Iterator[Remark]:
    where = f"{WORDS[piece.kind].lower()} at {hms(piece.start_t)} of the log"
    for what, text, longest in (("title", title, LONGEST_TITLE), ("note", note, LONGEST_NOTE)):
        if found := _person(text):
            told = f"The {what} of the {where} is withheld: it holds {' and '.join(found)}."
            yield Remark("withheld", piece.key, told)
        elif len(text) > longest:
            told = f"The {what} of the {where} is shortened to {longest} characters."
            yield Remark("shortened", piece.key, told)


def shortened(text: str, longest: int) -> str:
    """`text` in at most `longest` characters, the last an ellipsis if something is missing."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"
