"""Archives for the tests of the audit room: told cases as journals, and invented ones of known truth."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, time, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from story import DAY, events_of
from tracker.core.events import Opened
from tracker.core.follow_up_events import Followed, Visit
from tracker.journal.archive import Archive
from tracker.journal.books import FOLLOW_UP
from tracker.journal.files import Journal

ROOT = Path(__file__).resolve().parent.parent
SHIPPED = (ROOT / "protocols" / "complex-pvr.toml").read_text("utf-8")

SMALL = """
format = 1
id = "small-repair"
version = "{version}"
title = "A small repair"
planned_minutes_fact = "planned_minutes"

[[facts]]
id = "anaesthetic"
label = "Anaesthetic"
kind = "choice"
default = "block"
choices = [{{id = "block", label = "block", key = "b"}}, {{id = "general", label = "general", key = "g"}}]
[[facts]]
id = "pvr_grade"
label = "PVR grade"
kind = "grade"
default = "B"
[[facts]]
id = "planned_minutes"
label = "Planned minutes"
kind = "number"
unit = "min"
default = 60

[[stages]]
id = "begin"
label = "Begin"
[[stages.steps]]
id = "patient_in"
label = "Patient in"
starts_case = true

[[stages]]
id = "work"
label = "Work"
[[stages.steps]]
id = "core"
label = "Core"
shape = "span"
minutes = [5, 20]
[[stages.steps]]
id = "peel"
label = "Peel"
shape = "span"
repeats = true
minutes = [5, 30]
needs = [{{step = "core", level = "order", reason = "room is made first"}}]

[[stages]]
id = "lens"
label = "Lens"
[[stages.steps]]
id = "lens_out"
label = "Lens out"
shape = "span"
occurrence = "optional"

[[stages]]
id = "leave"
label = "Leave"
[[stages.steps]]
id = "out_theatre"
label = "Out of theatre"
ends_case = true
"""

USUAL = """
    08:30:00 open
    08:30:30 facts anaesthetic=block pvr_grade=CP3-CA2 planned_minutes=45
    08:40:00 tick patient_in
    08:45:00 start core
    08:55:00 stop core
    08:56:00 start peel
    09:06:00 pause
    09:09:00 continue
    09:16:00 stop peel
    09:18:00 +90 start peel
    09:20:00 stop peel
    09:30:00 tick out_theatre
"""
"""Core 10 min; peel 20 min with 3 min of pause, then 2 min more; 50 min in theatre; one entry 90 s late."""


def write(folder: Path, code: str, story: str = USUAL, version: str = "1", text: str = SMALL) -> Path:
    """Write a told case as a journal of the small protocol, or of another `text`; its path."""
    text = text.format(version=version)
    first, *rest = events_of(story)
    assert isinstance(first, Opened)
    digest = sha256(text.encode()).hexdigest()
    told = {"code": code, "protocol": text, "digest": digest, "station": "theatre-1"}
    with Journal.create(folder, code) as journal:
        for event in (first.model_copy(update=told), *rest):
            journal.append(event)
    return journal.path


def archive(folder: Path, *codes: str) -> Archive:
    """An archive with the usual case under each of these codes."""
    for code in codes:
        write(folder, code)
    return Archive(folder)


def follow(folder: Path, code: str, *visits: Mapping[str, Any]) -> Path:
    """Write the follow-up of a told case, a visit a mapping: `days` after the operation, and what was found; its path."""
    log = Archive(folder).read(code)
    noon = datetime.combine(DAY, time(12), UTC)
    about = {"code": code, "log_hash": log.head, "log_entries": len(log.events), "program": "0.1.0"}
    with Journal.create(folder, code, book=FOLLOW_UP) as journal:
        journal.append(Followed(**_frame(1, noon), **about))
        for seq, found in enumerate(visits, start=2):
            told = {key: value for key, value in found.items() if key not in ("days", "out")}
            if "out" in found:
                told["oil_out"] = (DAY + timedelta(days=found["out"])).isoformat()
            day = (DAY + timedelta(days=found["days"])).isoformat()
            journal.append(Visit(**_frame(seq, noon), day=day, **told))
    return journal.path


def _frame(seq: int, at: datetime) -> dict[str, Any]:
    return {"seq": seq, "at": at, "entered_at": at, "elapsed_ms": seq, "run": 1, "role": "clinic"}
