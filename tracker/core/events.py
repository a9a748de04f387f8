"""What can happen in a case. An event is never edited: a correction is an event that points at one.

`at` is when the thing happened, `entered_at` when the key was pressed, both with their UTC offset and
whole milliseconds. `run` counts the openings of the journal and `elapsed_ms` is the monotonic time since
that opening, so that a station's clock may be set while a case runs. Kinds are stable words; a kind this
program does not know is kept as `Unknown` and reported, never dropped.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

Scalar = bool | int | float | str
How = Literal["intended", "finding_forced", "oversight", "not_logged"]


class Event(BaseModel):
    """The envelope of every event. Keys of a newer program are kept beside the known ones."""

    # Most cases use few kinds: each is built when it is first needed.
    model_config = ConfigDict(frozen=True, extra="allow", defer_build=True)

    seq: Annotated[int, Field(ge=1)]
    at: AwareDatetime
    entered_at: AwareDatetime
    elapsed_ms: Annotated[int, Field(ge=0)]
    run: Annotated[int, Field(ge=1)]
    role: str
    kind: str
    ref: int | None = None


class Opened(Event):
    """The first line: the whole protocol text and its SHA-256 digest, the case code, the station.

    `day_list` and `place` are the list of the day and the place on it, of a case that was begun from one.
    """

    kind: Literal["opened"] = "opened"
    code: str
    protocol: str
    digest: str
    program: str
    station: str = ""
    invented: bool = False
    day_list: str | None = None
    place: int | None = None


class Resumed(Event):
    """The journal was opened again; `gap_ms` is wall time since the last entry, `torn` a line set aside."""

    kind: Literal["resumed"] = "resumed"
    gap_ms: int
    torn: bool = False
    station: str = ""


class Facts(Event):
    """Case facts, at the start all of them, later those that changed."""

    kind: Literal["facts"] = "facts"
    values: Mapping[str, Scalar]


class Tick(Event):
    """A step was done: a point, or the moment of a decision, a reading or a count."""

    kind: Literal["tick"] = "tick"
    step: str
    choice: str | None = None


class Start(Event):
    """A span step began."""

    kind: Literal["start"] = "start"
    step: str


class Stop(Event):
    """A span step ended; `ref` is its start."""

    kind: Literal["stop"] = "stop"
    step: str


class Chosen(Event):
    """The choice of the decision ticked at `ref`."""

    kind: Literal["choice"] = "choice"
    ref: int
    choice: str


class Read(Event):
    """A value of a reading, of the tick at `ref` if there is one."""

    kind: Literal["reading"] = "reading"
    reading: str
    value: Scalar


class CountSaid(Event):
    """What the count board said at the count ticked at `ref`: number by counted line."""

    kind: Literal["count"] = "count"
    ref: int
    lines: Mapping[str, int]


class CountChanged(Event):
    """Accountable items opened (positive) or handed off (negative) during the case."""

    kind: Literal["count_change"] = "count_change"
    line: str
    delta: int


class NotNeeded(Event):
    """A step was decided against."""

    kind: Literal["not_needed"] = "not_needed"
    step: str
    reason: str = ""


class NotLogged(Event):
    """A step was done, but nobody ticked it; its time is not known."""

    kind: Literal["not_logged"] = "not_logged"
    step: str


class Strike(Event):
    """The event at `ref` is void, and stays legible."""

    kind: Literal["strike"] = "strike"
    ref: int
    reason: str = ""


class Move(Event):
    """The tick at `ref` belongs to another step."""

    kind: Literal["move"] = "move"
    ref: int
    step: str


class BackStamp(Event):
    """The event at `ref` happened so many seconds before its present time.

    `spread` is true where the program chose the time, as one of a late burst, and false where somebody told
    the time itself. Without it (and so not written) the time is as certain as it was.
    """

    kind: Literal["back_stamp"] = "back_stamp"
    ref: int
    seconds: float
    spread: bool | None = None


class ReasonGiven(Event):
    """Why a deviation came about; `deviation` is its stable key."""

    kind: Literal["reason"] = "reason"
    deviation: str
    reason: str
    how: How | None = None
    text: str = ""


class Complicated(Event):
    """A complication began; what it was may follow."""

    kind: Literal["complication"] = "complication"
    complication: str | None = None


class ComplicationDetail(Event):
    """What the complication at `ref` was."""

    kind: Literal["complication_detail"] = "complication_detail"
    ref: int
    complication: str | None = None
    text: str = ""


class ComplicationClosed(Event):
    """The complication at `ref` is dealt with."""

    kind: Literal["complication_closed"] = "complication_closed"
    ref: int


class Note(Event):
    """Free words."""

    kind: Literal["note"] = "note"
    text: str


class Bookmark(Event):
    """A moment worth finding in the recording."""

    kind: Literal["bookmark"] = "bookmark"
    text: str = ""


class HandOver(Event):
    """The circulating post changes hands: the outgoing role has shown what is open."""

    kind: Literal["handover"] = "handover"
    outgoing: str
    incoming: str
    counts_confirmed: bool


class HandOverAccepted(Event):
    """The incoming role has read what is open at the hand-over at `ref`."""

    kind: Literal["handover_accepted"] = "handover_accepted"
    ref: int


class Operator(Event):
    """Who operates from now on, by role."""

    kind: Literal["operator"] = "operator"
    operator: str


class Paused(Event):
    """The operation stands still: equipment, view, anaesthetic."""

    kind: Literal["paused"] = "paused"
    reason: str = ""


class Continued(Event):
    """The operation goes on."""

    kind: Literal["continued"] = "continued"


class StageClosed(Event):
    """The team is through with a stage."""

    kind: Literal["stage_closed"] = "stage_closed"
    stage: str


class StoppedEarly(Event):
    """The case ended before its usual end."""

    kind: Literal["stopped_early"] = "stopped_early"
    reason: str


class Unknown(Event):
    """An event of a kind this program does not know, kept whole."""


KINDS: tuple[type[Event], ...] = (
    Opened, Resumed, Facts, Tick, Start, Stop, Chosen, Read, CountSaid, CountChanged, NotNeeded, NotLogged,
    Strike, Move, BackStamp, ReasonGiven, Complicated, ComplicationDetail, ComplicationClosed, Note, Bookmark,
    HandOver, HandOverAccepted, Operator, Paused, Continued, StageClosed, StoppedEarly,
)  # fmt: skip
"""Every kind there is, in the order of the guide."""

BY_KIND: Mapping[str, type[Event]] = {str(k.model_fields["kind"].default): k for k in KINDS}


def event_from(data: Mapping[str, Any]) -> Event:
    """The event that a decoded line holds.

    Raises:
        pydantic.ValidationError: the line lacks what its kind must carry.
    """
    return BY_KIND.get(str(data.get("kind")), Unknown).model_validate(data)
