"""What can be said at the debrief of a case: a journal of its own beside the log, its entries never edited.

The envelope is that of every event. `entry` is a number in the log, `ref` one in the debrief itself. A thing
taken back is an entry that points at it; nothing in the log is touched.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from tracker.core.events import Event, How, Scalar

Tag = Literal["kit", "drill", "teaching", "protocol_file"]
Missed = Literal["step", "reading", "complication", "operator", "bookmark"]


class DebriefEvent(Event):
    """The envelope of a debrief's entries. `why` is the reason for one made after the sign-off."""

    why: str = ""


class Debriefed(DebriefEvent):
    """The first line: the case, and the last hash and number of entries of the log as it then was."""

    kind: Literal["debriefed"] = "debriefed"
    code: str
    log_hash: str
    log_entries: int
    program: str


class Reasoned(DebriefEvent):
    """Why a deviation came about; `deviation` is its stable key, `reason` one of the file's."""

    kind: Literal["deviation_reason"] = "deviation_reason"
    deviation: str
    reason: str = ""
    how: How | None = None
    text: str = ""


class Amended(DebriefEvent):
    """What the log's `entry` should have been: another time told, step, choice or value, or that it is void.

    `stopped` is when a span ended whose stop nobody logged. Times are RFC 3339 text; `reason` is one of the
    file's, `text` free words.
    """

    kind: Literal["amended"] = "amended"
    entry: int
    told: str | None = None
    step: str | None = None
    choice: str | None = None
    value: Scalar | None = None
    stopped: str | None = None
    void: bool = False
    reason: str = ""
    text: str = ""


class Added(DebriefEvent):
    """What happened at `told` and the log does not have; `until` is when a span or a complication ended.

    `ident` is the id of the step, reading, complication or role that `adds` says, `value` a reading's value
    or a decision's choice, `words` those of a bookmark. Times are RFC 3339 text; `reason` is one of the
    file's, `text` free words.
    """

    kind: Literal["added"] = "added"
    adds: Missed
    told: str
    until: str | None = None
    ident: str = ""
    value: Scalar | None = None
    words: str = ""
    reason: str = ""
    text: str = ""


class WentWell(DebriefEvent):
    """What went well."""

    kind: Literal["went_well"] = "went_well"
    text: str


class ToChange(DebriefEvent):
    """What to change: an action, the role that owns it, a date `YYYY-MM-DD`, what it belongs to."""

    kind: Literal["to_change"] = "to_change"
    action: str
    owner: str = ""
    due: str = ""
    tag: Tag | None = None


class Attended(DebriefEvent):
    """A role that took part in the debrief."""

    kind: Literal["attended"] = "attended"
    who: str


class Signed(DebriefEvent):
    """A role signs the debrief off as it stands."""

    kind: Literal["signed"] = "signed"
    who: str


class Withdrawn(DebriefEvent):
    """The entry of this debrief at `ref` is void, and stays legible."""

    kind: Literal["withdrawn"] = "withdrawn"
    ref: int


class Recorded(DebriefEvent):
    """A recording of the case: its file and its length in seconds, if that is known."""

    kind: Literal["recording"] = "recording"
    file: str
    length_s: float | None = None


class RecordedPart(DebriefEvent):
    """The case seconds in which a file was being recorded; None for as far as the file reaches."""

    kind: Literal["recording_part"] = "recording_part"
    file: str
    from_t: float | None = None
    to_t: float | None = None


class VideoMarked(DebriefEvent):
    """The same moment in the log, in case seconds, and in a file, in seconds from its first picture."""

    kind: Literal["video_mark"] = "video_mark"
    file: str
    log_t: float
    video_t: float


class ExportRefused(DebriefEvent):
    """An export of the recording was asked for and refused."""

    kind: Literal["export_refused"] = "export_refused"
    reason: str
    formats: str = ""


DEBRIEF_KINDS: Final[tuple[type[DebriefEvent], ...]] = (
    Debriefed, Reasoned, Amended, Added, WentWell, ToChange, Attended, Signed, Withdrawn, Recorded, RecordedPart,
    VideoMarked, ExportRefused,
)  # fmt: skip
"""Every kind there is, in the order of the guide."""

DEBRIEF_BY_KIND: Final[Mapping[str, type[DebriefEvent]]] = {
    str(k.model_fields["kind"].default): k for k in DEBRIEF_KINDS
}
