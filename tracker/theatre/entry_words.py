"""The words for an entry, the same on the board, in the list of entries and in what is open."""

from __future__ import annotations

from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.entries import Entry
from tracker.core.text import shown
from tracker.core.wording import fact_words, value_words

_SAID = {
    "opened": "case opened",
    "resumed": "resumed",
    "facts": "case facts",
    "note": "note kept",
    "bookmark": "bookmark",
    "paused": "paused",
    "continued": "goes on",
    "complication": "complication",
    "complication_detail": "complication named",
    "complication_closed": "complication dealt with",
    "handover": "hand-over",
    "handover_accepted": "hand-over acknowledged",
    "reason": "reason kept",
    "count": "count said",
    "stopped_early": "stopped early",
}
_EDGE = {
    "tick": "ticked",
    "start": "started",
    "stop": "stopped",
    "not_needed": "not needed",
    "not_logged": "not logged",
}


def entry_words(case: Case, entry: Entry) -> tuple[str, str]:
    """What an entry is about, and what was done or said there."""
    event, label = entry.event, case.protocol.label
    if isinstance(event, ev.Read):
        reading = case.protocol.reading.get(event.reading)
        return label(event.reading), value_words(reading, event.value) if reading else shown(str(event.value))
    if isinstance(event, ev.Complicated | ev.ComplicationDetail) and event.complication:
        return label(event.complication), "complication"
    if isinstance(event, ev.Bookmark):
        return "bookmark", f"number {sum(said.kind == 'bookmark' for said in case.said)}"
    if isinstance(event, ev.CountChanged):
        return label(event.line), f"{event.delta:+d}"
    if isinstance(event, ev.Operator):
        return label(event.operator), "operating"
    if isinstance(event, ev.StageClosed):
        return label(event.stage), "closed"
    if entry.step:
        choice = f": {fact_words(case.protocol, entry.step, entry.choice)}" if entry.choice else ""
        return label(entry.step), f"{_EDGE.get(event.kind, '')}{choice}"
    return _SAID.get(event.kind, event.kind.replace("_", " ")), ""
