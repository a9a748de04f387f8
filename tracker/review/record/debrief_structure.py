"""The debrief as a section of the record: what was said afterwards, beside the log and never in it."""

from __future__ import annotations

from tracker.core.debrief import Bond, State
from tracker.review.record.plain_values import Plain, Text


class RoleLine(Plain):
    """A role that took part."""

    seq: int
    role: Text
    label: Text


class SignedLine(RoleLine):
    """A role that signed off, and when."""

    at: Text


class WentWellLine(Plain):
    """What went well."""

    seq: int
    text: Text


class ActionLine(Plain):
    """What to change; `due` is a date or blank, `tag` kit, drill, teaching, protocol file, or blank."""

    seq: int
    action: Text
    owner: Text
    owner_label: Text
    due: Text
    tag: Text


class DebriefAmendmentLine(Plain):
    """What an entry of the log should have been: as written, and what it became at the debrief.

    `entry` is its number in the log, or for something added 1,000,000 and the number of the debrief's entry;
    `stands` is false where it was withdrawn or could not be made.
    """

    seq: int
    at: Text
    role: Text
    entry: int
    original: Text
    became: Text
    reason: Text
    stands: bool


class RecordingLine(Plain):
    """A recording of the case; `length_s` None where nobody said how long it is."""

    seq: int
    file: Text
    length_s: float | None


class RecordingPartLine(Plain):
    """The case seconds in which a file was being recorded; None for as far as it reaches."""

    seq: int
    file: Text
    from_s: float | None
    to_s: float | None


class VideoMarkLine(Plain):
    """The same moment on the case clock and in a file, in seconds."""

    seq: int
    file: Text
    case_s: float
    video_s: float


class RefusalLine(Plain):
    """An export of the recording that was refused, and why."""

    seq: int
    at: Text
    reason: Text
    formats: Text


class DebriefEntryLine(Plain):
    """One entry of the debrief as written. `why` is its reason if it came after the sign-off.

    `used` is false for one that this program could not use.
    """

    seq: int
    at: Text
    role: Text
    kind: Text
    words: Text
    why: Text
    withdrawn: bool
    used: bool


class DebriefSection(Plain):
    """What was said at the debrief: what went well first. Amendments and reasons stand in the record too.

    `log_entries` and `log_hash` tell the log that was debriefed, `entries` and `last_hash` the debrief's own
    journal; `after_sign_off` counts entries that changed what was signed.
    """

    state: State
    log: Bond
    begun: Text | None
    log_entries: int
    log_hash: Text
    entries: int
    last_hash: Text
    after_sign_off: int
    attended: tuple[RoleLine, ...]
    went_well: tuple[WentWellLine, ...]
    to_change: tuple[ActionLine, ...]
    amendments: tuple[DebriefAmendmentLine, ...]
    signed: tuple[SignedLine, ...]
    recordings: tuple[RecordingLine, ...]
    recording_parts: tuple[RecordingPartLine, ...]
    video_marks: tuple[VideoMarkLine, ...]
    refusals: tuple[RefusalLine, ...]
    lines: tuple[DebriefEntryLine, ...]
