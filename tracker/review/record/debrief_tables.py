"""The debrief as a reader sees it, as tables of words for every format that writes tables; cells are raw."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from tracker.core.amendments import debrief_seq
from tracker.core.wording import hms
from tracker.review.record.debrief_structure import DebriefSection
from tracker.review.record.structure import Record
from tracker.review.record.tables import Table

Rows = Iterable[tuple[str, ...]]

STATE_WORDS: Final[Mapping[str, str]] = {
    "not begun": "not begun",
    "not signed off": "not signed off",
    "signed off": "signed off",
    "changed since the sign-off": "signed off, and changed since",
}
LOG_WORDS: Final[Mapping[str, str]] = {
    "as debriefed": "the log as it stands",
    "the log has gone on": "the log has gone on since the debrief was begun",
    "another log": "another log than this one: nothing of the debrief is taken into the record",
}
FIRST: Final = ("debrief", "went_well", "to_change")
"""What a surgeon reads at the top; the other tables stand with the log."""


def debrief_tables(record: Record) -> Mapping[str, Table]:
    """Every part of the debrief by its id, in the order in which it is read; nothing where there is none."""
    said = record.debrief
    if said is None:
        return {}
    return {i: Table(i, title, heads, tuple(rows(said))) for i, title, heads, rows in _SECTIONS}


def told_at(stamp: str) -> str:
    """A moment with its date, as a debrief is another day: `2026-03-12 09:10`."""
    return f"{stamp[:10]} {stamp[11:16]}"


def state_words(said: DebriefSection) -> str:
    """Whether it is signed off, by whom, and whether it was changed since."""
    by = ", ".join(f"{s.label} {told_at(s.at)}" for s in said.signed)
    return f"{STATE_WORDS[said.state]}{f': {by}' if by else ''}"


def _debrief(said: DebriefSection) -> Rows:
    yield "Sign-off", state_words(said)
    if said.after_sign_off:
        yield "Entries since the sign-off", str(said.after_sign_off)
    yield "Made on", f"{LOG_WORDS[said.log]} ({said.log_entries} entries, last hash {said.log_hash})"
    yield "Begun", told_at(said.begun) if said.begun else "not known"
    yield "Took part", ", ".join(r.label for r in said.attended) or "nobody entered"
    yield "Entries in its journal", f"{said.entries}, last hash {said.last_hash}"


def _went_well(said: DebriefSection) -> Rows:
    yield from ((line.text,) for line in said.went_well)


def _to_change(said: DebriefSection) -> Rows:
    for line in said.to_change:
        yield line.action, line.owner_label or "nobody yet", line.due or "no date", line.tag


def _amendments(said: DebriefSection) -> Rows:
    for a in said.amendments:
        yield entry_name(a.entry), a.original, a.became, a.reason, "" if a.stands else "does not stand"


def entry_name(seq: int) -> str:
    """The number of an entry of the log, or of the debrief's that added one."""
    own = debrief_seq(seq)
    return str(seq) if own is None else f"debrief {own}"


def _recordings(said: DebriefSection) -> Rows:
    for file in said.recordings:
        length = "not said" if file.length_s is None else hms(file.length_s)
        yield file.file, "recording", f"length {length}"
    for part in said.recording_parts:
        ends = ("as far as it reaches" if t is None else hms(t) for t in (part.from_s, part.to_s))
        yield part.file, "part", "{} to {} of the log".format(*ends)
    for mark in said.video_marks:
        yield mark.file, "mark", f"{hms(mark.case_s)} of the log, {hms(mark.video_s)} of the file"
    for refused in said.refusals:
        yield refused.formats, "export refused", f"{told_at(refused.at)}: {refused.reason}"


def _entries(said: DebriefSection) -> Rows:
    for line in said.lines:
        marks = ("withdrawn" if line.withdrawn else "", "" if line.used else "not used")
        marked = "; ".join(m for m in marks if m)
        kind = line.kind.replace("_", " ")
        yield str(line.seq), told_at(line.at), line.role, kind, line.words, line.why, marked


_SECTIONS: Final[tuple[tuple[str, str, tuple[str, ...], Callable[[DebriefSection], Rows]], ...]] = (
    ("debrief", "Debrief", ("What", "As said"), _debrief),
    ("went_well", "What went well", ("What",), _went_well),
    ("to_change", "What to change", ("Action", "Owner", "Due", "Belongs to"), _to_change),
    (
        "debrief_amendments",
        "Amendments at the debrief",
        ("Entry", "Original", "Became", "Reason", "Marked"),
        _amendments,
    ),
    ("recordings", "Recordings", ("File", "What", "Said"), _recordings),
    (
        "debrief_entries",
        "Every entry of the debrief",
        ("Entry", "At", "Role", "Kind", "As written", "Why after the sign-off", "Marked"),
        _entries,
    ),
)
