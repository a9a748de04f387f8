"""The case record as plain frozen values: the one structure that every format renders.

Numbers are numbers, times of day are RFC 3339 text with milliseconds and offset, lengths are minutes to a
thousandth with pauses taken out, places on the case clock are seconds to a thousandth. None means that a
thing is not known or does not apply; it is never nought. Every piece of text is harmless on a terminal.
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from tracker.core.protocol import Level
from tracker.core.timeline import Timeline
from tracker.core.usual import Usual
from tracker.review.record.debrief_structure import DebriefSection
from tracker.review.record.plain_values import Plain, Text, Value

RECORD_FORMAT: Final = 1
"""Counts up when a field is renamed, removed or changes its meaning."""


class Header(Plain):
    """Which case, by which file, from when to when.

    `stopped` is when the case was said to have stopped early; the patient may leave later, at `ended`.
    `measured_to` is when the patient left, or the moment of the record until then. `side` is the eye in words, empty
    where the file does not say which fact it is.
    """

    record_format: int = RECORD_FORMAT
    case: Text
    invented: bool
    program: Text
    protocol: Text
    title: Text
    version: Text
    digest: Text
    reviewed_by: Text
    opened: Text | None
    started: Text | None
    stopped: Text | None
    ended: Text | None
    ending: Literal["no end logged", "at its usual end", "stopped early"]
    ending_reason: Text
    measured_to: Text | None
    side: Text = ""
    planned_minutes: float | None
    actual_minutes: float | None


class FactLine(Plain):
    """A case fact as first asked and as it stands."""

    fact: Text
    label: Text
    unit: Text
    asked: Value | None
    now: Value
    asked_words: Text
    now_words: Text
    changed: bool


class StageLine(Plain):
    """A stage from the first start to the last stop of its spans; `open` while one of them has no stop.

    `spread` here and elsewhere: the program chose a time of it, so that its minutes are not certain.
    """

    stage: Text
    label: Text
    first_start: Text | None
    last_stop: Text | None
    minutes: float | None
    open: bool
    ticks: int
    closed: Text | None
    spread: bool
    usual: Usual | None = None


class TickLine(Plain):
    """One time a step was done. A point has neither stop nor minutes, a span without a stop is `open`."""

    seq: int
    nth: int
    start: Text
    stop: Text | None
    stop_seq: int | None
    minutes: float | None
    paused_minutes: float | None
    open: bool
    choice: Text | None
    choice_words: Text
    operator: Text | None
    expected: bool
    unmet: tuple[Text, ...]
    late_s: float
    late: bool
    low_confidence: bool
    back_stamped: bool
    spread: bool


class StepLine(Plain):
    """A step with all its ticks; `file_low` to `file_high` is the file's range in minutes."""

    step: Text
    label: Text
    stage: Text | None
    shape: Literal["point", "span", "decision", "reading", "count"]
    required: bool
    status: Text
    minutes: float | None
    open: bool
    file_low: float | None
    file_high: float | None
    due_again: tuple[Text, ...]
    not_needed: Text | None
    spread: bool
    ticks: tuple[TickLine, ...]


class SpanLine(TickLine):
    """One span of one step, with everything a row on its own must say."""

    stage: Text | None
    stage_label: Text
    step: Text
    label: Text
    start_s: float
    stop_s: float | None
    operators: tuple[Text, ...]
    file_low: float | None
    file_high: float | None


class IntervalLine(Plain):
    """The time from one tick to the next, which is no step's time."""

    what: Literal["interval since previous tick"] = "interval since previous tick"
    seq: int
    step: Text | None
    label: Text
    at: Text
    minutes: float


class DeviationLine(Plain):
    """Where the case differs from its file, and why if that was said.

    `beneath` are, in words, what came of the same and stands in this line.
    """

    key: Text
    code: Text
    words: Text
    level: Level
    about: Text
    label: Text
    seq: int
    at: Text
    expected: Text
    found: Text
    reason: Text | None
    reason_words: Text
    how: Text | None
    text: Text
    beneath: tuple[Text, ...]


class UnjudgedLine(Plain):
    """What was not held against the file, because the program chose a time that it hangs on; no deviation."""

    about: Text
    label: Text
    seq: int
    at: Text
    expected: Text
    words: Text


class ReadingLine(Plain):
    """A reading as it stands; `limit` is what the file says where it lies outside its caution limits."""

    seq: int
    at: Text
    reading: Text
    label: Text
    value: Value
    unit: Text
    words: Text
    step: Text | None
    outside_caution: bool
    limit: Text


class ClockLine(Plain):
    """One run of a clock, with the file's figures in minutes and which of them it reached.

    `unsure` is a stop by something done but not logged: it had stopped by then, and its minutes are unknown.
    """

    seq: int
    clock: Text
    label: Text
    level: Level
    start: Text
    stop: Text | None
    minutes: float | None
    open: bool
    unsure: bool
    spread: bool
    minimum: float | None
    amber: float | None
    red: float | None
    reached: Literal["", "amber", "red"]
    under_minimum: bool


class MovementLine(Plain):
    """Something of a pair going in or out; `amount` None where it is not counted or was not said.

    `unsure` is one that was done but not logged: it had happened by then.
    """

    seq: int
    at: Text
    way: Literal["in", "out"]
    amount: int | None
    unsure: bool


class PairLine(Plain):
    """A matched pair: how it stands, in the file's own words, and its movements."""

    pair: Text
    label: Text
    level: Level
    state: Text
    open: bool
    ever_open: bool
    counted: bool
    number_in: int | None
    number_out: int | None
    by: Text
    movements: tuple[MovementLine, ...]


class CountLine(Plain):
    """One line of accountable items, as said. It never replaces the count board."""

    line: Text
    label: Text
    start: int | None
    added: int
    removed: int
    expected: int | None
    final: int | None
    agrees: bool | None


class OpenCountLine(Plain):
    """A count that was ticked and whose figures were not all given, or one asked for and not ticked."""

    step: Text
    seq: int | None
    words: Text


class ComplicationLine(Plain):
    """A complication from the key that stamped it until it was dealt with."""

    seq: int
    complication: Text | None
    label: Text
    text: Text
    start: Text
    stop: Text | None
    minutes: float | None
    open: bool


class StaffLine(Plain):
    """Who held a post, by role, from when to when; nobody is named."""

    seq: int
    post: Literal["circulating", "operator"]
    role: Text
    label: Text
    start: Text
    stop: Text | None
    minutes: float | None
    accepted: Text | None
    counts_confirmed: bool | None


class OperatedLine(Plain):
    """Who operated during a span, or during a part of it when the operator changed; by role."""

    seq: int
    step: Text
    label: Text
    nth: int
    role: Text | None
    role_label: Text
    minutes: float | None


class ChangeLine(Plain):
    """A fact or a decision that was one thing and became another."""

    seq: int
    at: Text
    what: Text
    label: Text
    was: Text
    now: Text
    planned: bool


class SaidLine(Plain):
    """A note or a bookmark."""

    seq: int
    at: Text
    kind: Literal["note", "bookmark"]
    text: Text


class PauseLine(Plain):
    """The operation stood still."""

    seq: int
    start: Text
    stop: Text | None
    minutes: float | None
    reason: Text


class GapLine(Plain):
    """The journal was not open; `torn` when a last line had to be set aside."""

    seq: int
    start: Text
    stop: Text
    minutes: float
    torn: bool


AmendmentKind = Literal["strike", "move", "back-stamp", "choice changed", "reading replaced"]


class AmendmentLine(Plain):
    """A correction: what was written first, what it became. `stands` is false if it was struck itself."""

    seq: int
    at: Text
    role: Text
    kind: AmendmentKind
    ref: int
    original: Text
    became: Text
    reason: Text
    stands: bool


class UnknownLine(Plain):
    """An entry that this program could not use, kept whole as JSON."""

    seq: int
    at: Text
    kind: Text
    content: Text


class Share(Plain):
    """`n` of `of`; no per cent of nothing."""

    n: int
    of: int
    percent: float | None


class Completeness(Plain):
    """How far the log can be trusted.

    Required steps count once for a group of alternatives, done when ticked or said not to be needed and
    not due again. Late is over a minute, of low confidence over twenty minutes after what is told.
    """

    required_steps: Share
    spans_with_both_ends: Share
    required_readings: Share
    late: Share
    low_confidence: Share
    back_stamped: Share
    not_logged: int
    amendments: int
    gaps: int
    gap_minutes: float
    unknown: int


class EventLine(Plain):
    """One entry of the log, void ones too. `at` is the time that stands, `at_written` the time first told.

    `step` is the step it counts for now; `moved_from` the one it was logged under, if that was another.
    """

    seq: int
    run: int
    at: Text
    at_written: Text
    entered_at: Text
    case_s: float
    role: Text
    kind: Text
    stage: Text | None
    step: Text | None
    label: Text
    nth: int | None
    moved_from: Text | None
    choice: Text | None
    reading: Text | None
    value: Value | None
    unit: Text
    ref: int | None
    detail: Text
    late_s: float
    late: bool
    low_confidence: bool
    back_stamped: bool
    spread: bool
    struck: bool
    struck_by: int | None
    after_end: bool
    unknown: bool
    deviations: tuple[Text, ...]


class Record(Plain):
    """A whole case record, with what its debrief amended; `debrief` is None where there is none.

    `timeline` is the same case as a drawing, for formats that hold a picture.
    """

    header: Header
    cautions: tuple[Text, ...]
    completeness: Completeness
    facts: tuple[FactLine, ...]
    stages: tuple[StageLine, ...]
    deviations: tuple[DeviationLine, ...]
    unjudged: tuple[UnjudgedLine, ...]
    readings: tuple[ReadingLine, ...]
    clocks: tuple[ClockLine, ...]
    pairs: tuple[PairLine, ...]
    counts: tuple[CountLine, ...]
    counts_open: tuple[OpenCountLine, ...]
    complications: tuple[ComplicationLine, ...]
    staff: tuple[StaffLine, ...]
    operated: tuple[OperatedLine, ...]
    changes: tuple[ChangeLine, ...]
    said: tuple[SaidLine, ...]
    pauses: tuple[PauseLine, ...]
    gaps: tuple[GapLine, ...]
    steps: tuple[StepLine, ...]
    spans: tuple[SpanLine, ...]
    intervals: tuple[IntervalLine, ...]
    amendments: tuple[AmendmentLine, ...]
    unknown: tuple[UnknownLine, ...]
    events: tuple[EventLine, ...]
    debrief: DebriefSection | None = None
    entries: int
    last_hash: Text
    timeline: Timeline = Field(exclude=True, repr=False)
