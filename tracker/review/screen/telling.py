"""Everything about the entry under the cursor, in words: the original first, then what was made of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from tracker.core.amendments import debrief_seq
from tracker.core.case import Case
from tracker.core.deviations import Deviation
from tracker.core.durations import operators
from tracker.core.entries import Entry, entry_of
from tracker.core.protocol import Step
from tracker.core.reviewed import Reviewed
from tracker.core.usual import Usual
from tracker.core.wording import CODE_WORDS, clock_time, figure, hms, span_words, value_words
from tracker.review.record.debrief_amendments import amendments, why_words
from tracker.review.record.debrief_structure import DebriefAmendmentLine
from tracker.review.record.logbook import amendment_lines, as_written
from tracker.review.record.plain import choice_words, minutes, tenths
from tracker.review.screen.lanes import Drawing, Item, Row, tick_of
from tracker.review.video.maps import Alignment

Told = tuple[str, str]
"""A line of words and its tone."""
NO_REASON: Final = "no reason yet"
NEEDS_NONE: Final = frozenset({"late_entry"})
"""What is only said of the log itself."""


@dataclass(frozen=True, slots=True)
class Around:
    """What an entry is told from: the case, its drawing, its recordings, and the key that gives a reason."""

    review: Reviewed
    drawn: Drawing
    film: Alignment
    reason_key: str = "r"


def about(around: Around, row: Row, item: Item | None) -> tuple[Told, ...]:
    """The lines about an entry; of a lane without one, that there is none."""
    if item is None:
        return ((f"{row.label}: nothing is logged on this lane", "quiet"), *_usual(row))
    lines = [(_headline(around, row, item), "live")]
    lines += [(words, "plain") for words in _differences(around, item)]
    told = [words for seq in _entries(around.review.case, item) for words in _original(around.review, seq)]
    lines += [(words, "quiet") for words in dict.fromkeys(told)]
    lines += [(words, "plain") for words in (*_step(around.review.case, item), *_film(around.film, item))]
    return (*lines, *_usual(row))


def _headline(around: Around, row: Row, item: Item) -> str:
    at = around.drawn.axis.at
    start = clock_time(at(item.start_t))
    if row.kind == "deviation":
        found = around.drawn.by_key[item.keys[0]]
        return f"{start}  {deviation_words(around.review.case, found)}"
    if item.stop_t == item.start_t and item.shape != "bar":
        return f"{start}  {item.label}"
    stop = "no stop is logged" if item.open else f"to {clock_time(at(item.stop_t))}"
    return f"{start} {stop}, {span_words(item.seconds)}  {item.label}"


def _usual(row: Row) -> Iterator[Told]:
    if row.kind == "stage":
        lasted = "no span" if row.seconds is None else f"{tenths(minutes(row.seconds))} min, pauses out"
        yield f"{row.label}: {lasted}; {usual_words(row.usual)}", "quiet"


def usual_words(usual: Usual | None) -> str:
    """The usual range of a stage here."""
    if usual is None:
        return "usual range here: n too small"
    return f"usual here {tenths(usual.low)} to {tenths(usual.high)} min (n = {usual.n})"


# -- what a step's tick holds


def _step(case: Case, item: Item) -> Iterator[str]:
    step, tick = case.protocol.step.get(item.ident), tick_of(case, item)
    if step is None or tick is None:
        return
    said = [choice_words(step, tick.choice)] if tick.choice else []
    values = {v.reading: v.value for v in case.readings if v.tick == tick.seq}
    for ident, value in values.items():
        known = case.protocol.reading.get(ident)
        said.append(f"{case.protocol.label(ident)} {value_words(known, value) if known else value}")
    if step.shape == "span":
        roles = dict.fromkeys(role for role, _ in operators(case, tick, item.stop_t) if role)
        said += [f"operating: {', '.join(map(case.protocol.label, roles))}"] if roles else []
        said += _in_file(step)
    if said:
        yield "; ".join(said)


def _in_file(step: Step) -> list[str]:
    if not step.minutes:
        return []
    low, high = map(figure, step.minutes)
    return [f"in your file {low} to {high} min in all"]


# -- what differs


def deviation_words(case: Case, d: Deviation) -> str:
    """A deviation in one line: about what, which, and its level in the file."""
    return f"{case.protocol.label(d.step)}: {CODE_WORDS[d.code]} ({d.level})"


def expected_words(d: Deviation) -> str:
    """What was expected and what was found."""
    return f"expected {d.expected}; found {d.found}"


def beneath_words(case: Case, d: Deviation) -> tuple[str, ...]:
    """What came of the same and stands beneath a deviation, a line each."""
    return tuple(f"with it {deviation_words(case, other)}. {expected_words(other)}" for other in d.beneath)


def unjudged_words(case: Case, d: Deviation) -> str:
    """What was not held against the file, in one line."""
    return f"{case.protocol.label(d.step)}: {d.found}"


def reason_words(case: Case, d: Deviation) -> str:
    """Why, as it was given last, or that nobody has said yet."""
    if d.given is None:
        return "asks for no reason" if d.code in NEEDS_NONE else NO_REASON
    return f"why: {why_words(case.protocol, d.given.reason, d.given.how, d.given.text)}"


def _differences(around: Around, item: Item) -> Iterator[str]:
    case = around.review.case
    for key in item.keys:
        found = around.drawn.by_key[key]
        before = "" if item.keys == (key,) and item.shape != "bar" else f"{deviation_words(case, found)}. "
        how = "" if found.given or found.code in NEEDS_NONE else f" ({around.reason_key} gives one)"
        yield f"{before}{expected_words(found)}. {reason_words(case, found)}{how}"
        yield from (f"  {words}" for words in beneath_words(case, found))
    seqs = {item.seq, item.stop_seq}
    yield from (unjudged_words(case, d) for d in around.drawn.unjudged if d.seq in seqs)


def _film(film: Alignment, item: Item) -> Iterator[str]:
    place = film.place(item.start_t)
    if place is not None:
        yield f"recording: {place[0]} at {hms(place[1])}"


# -- the log itself


def _entries(case: Case, item: Item) -> Iterator[int]:
    """The entries that an item is: its own, its stop's, and readings of its tick that were amended."""
    yield item.seq
    if item.stop_seq is not None:
        yield item.stop_seq
    of_tick = (v.when.seq for v in case.readings if v.tick == item.seq)
    yield from (seq for seq in of_tick if debrief_seq(seq) is not None)


def _original(review: Reviewed, seq: int) -> Iterator[str]:
    number = debrief_seq(seq)
    if number is not None:
        yield from _of_debrief(review, number)
        return
    event = next((e for e in review.logged.events if e.seq == seq), None)
    if event is None:
        return
    standing = next((e for e in review.case.log if e.seq == seq), entry_of(event, review.logged.bases))
    role, pressed = review.logged.protocol.label(event.role), clock_time(event.entered_at)
    key = "" if pressed == clock_time(event.at) else f"; key pressed {pressed}"
    yield f"{as_written(review.logged, event)}{key}; {role}"
    yield from _moved(standing, event.at.isoformat() != standing.at.isoformat())
    for line in amendment_lines(review.logged):
        if line.ref == seq:
            stands = "" if line.stands else " (struck itself)"
            why = f", {line.reason}" if line.reason else ""
            yield f"  amended in the log by entry {line.seq}: {line.kind}, {line.became}{why}{stands}"
    yield from (_amended(said) for said in amendments(review) if said.entry == seq)


def _of_debrief(review: Reviewed, number: int) -> Iterator[str]:
    """What stands beside the log: an addition, or the entry that an amendment gave another value or a stop."""
    said = next((a for a in amendments(review) if a.seq == number), None)
    if said is not None and debrief_seq(said.entry) is None:
        yield from _original(review, said.entry)
    elif said is not None:
        yield f"{said.original}; added at the debrief, {said.at[:10]}: {said.became}; {said.reason}"


def _amended(said: DebriefAmendmentLine) -> str:
    stands = "" if said.stands else " (does not stand)"
    return f"  amended at the debrief, {said.at[:10]}: {said.became}; {said.reason}{stands}"


def _moved(standing: Entry, is_moved: bool) -> Iterator[str]:
    if is_moved:
        yield f"  stands at {clock_time(standing.at)}"
