"""The record as an event log for process mining: XES, IEEE Std 1849.

One trace for the case, one event for each end of each standing tick, complication and pause, and one for each
reading, in the order of the times told. `concept:instance` is which time round a step was done. What was
struck or could not be used is not in it, and neither are notes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import Final
from xml.etree.ElementTree import Element, ElementTree, SubElement, indent

from tracker.review.record.structure import Record, Share, StepLine, TickLine
from tracker.review.record.words import COMPLETENESS_WORDS, percent

NAMESPACE: Final = "http://www.xes-standard.org/"
_EXTENSIONS: Final = (
    ("Concept", "concept", "concept.xesext"),
    ("Time", "time", "time.xesext"),
    ("Lifecycle", "lifecycle", "lifecycle.xesext"),
    ("Organizational", "org", "org.xesext"),
)

_LONG: Final = 2**63
_IMPOSSIBLE: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

Value = str | int | float | bool | datetime

_EVENT_WIDE: Final[Mapping[str, Value]] = {
    "concept:name": "not named",
    "lifecycle:transition": "complete",
    "time:timestamp": datetime.fromisoformat("1970-01-01T00:00:00+00:00"),
}


@dataclass(frozen=True, slots=True)
class _Event:
    """One event: when, the entry that tells it, and its attributes by key."""

    at: datetime
    seq: int
    name: str
    transition: str
    attributes: Mapping[str, Value | None]


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.xes`."""
    root = ElementTree(_log(record))
    indent(root)
    file = BytesIO()
    root.write(file, encoding="utf-8", xml_declaration=True)
    return {f"{record.header.case}.xes": file.getvalue() + b"\n"}


def _log(record: Record) -> Element:
    log = Element(
        "log", {"xmlns": NAMESPACE, "xes.version": "1849.2016", "xes.features": "nested-attributes"}
    )
    for name, prefix, file in _EXTENSIONS:
        SubElement(log, "extension", name=name, prefix=prefix, uri=f"{NAMESPACE}{file}")
    trace_wide = SubElement(log, "global", scope="trace")
    _attribute(trace_wide, "concept:name", "not named")
    event_wide = SubElement(log, "global", scope="event")
    for key, value in _EVENT_WIDE.items():
        _attribute(event_wide, key, value)
    SubElement(log, "classifier", name="Step", keys="concept:name")
    SubElement(log, "classifier", name="Step and end", keys="concept:name lifecycle:transition")
    _about(log, record)
    _trace(log, record)
    return log


def _attribute(parent: Element, key: str, value: Value | None) -> Element | None:
    match value:
        case None | "":
            return None
        case bool():
            kind, text = "boolean", "true" if value else "false"
        case int() if -_LONG <= value < _LONG:
            kind, text = "int", str(value)
        case float():
            kind, text = "float", repr(value)
        case datetime():
            kind, text = "date", value.isoformat(timespec="milliseconds")
        case _:
            kind, text = "string", _possible(str(value))
    return SubElement(parent, kind, key=_possible(key), value=text)


def _possible(text: str) -> str:
    # XML 1.0, production 2 (Char): what no parser would take. Words of a record hold none of it already.
    return _IMPOSSIBLE.sub("", text)


# -- what the log says of itself


def _about(log: Element, record: Record) -> None:
    header = record.header
    _attribute(log, "concept:name", f"Case {header.case}")
    _attribute(log, "lifecycle:model", "standard")
    _attribute(log, "invented", header.invented)
    _attribute(log, "program", f"clockhour {header.program}")
    _attribute(log, "protocol", header.protocol)
    _attribute(log, "protocol_title", header.title)
    _attribute(log, "protocol_version", header.version)
    _attribute(log, "protocol_digest", header.digest)
    _attribute(log, "protocol_reviewed_by", header.reviewed_by)
    _attribute(log, "journal_entries", record.entries)
    _attribute(log, "journal_last_hash", record.last_hash)
    if record.debrief is not None:
        _attribute(log, "debrief_state", record.debrief.state)
        _attribute(log, "debrief_last_hash", record.debrief.last_hash)
    for n, caution in enumerate(record.cautions, start=1):
        _attribute(log, f"caution_{n}", caution)
    for name, value in record.completeness:
        told = percent(value) if isinstance(value, Share) else value
        figure = _attribute(log, f"completeness_{name}", told)
        if figure is not None:
            _attribute(figure, "means", COMPLETENESS_WORDS[name])


# -- the trace


def _trace(log: Element, record: Record) -> None:
    trace = SubElement(log, "trace")
    _attribute(trace, "concept:name", record.header.case)
    for fact in record.facts:
        _attribute(trace, f"fact_{fact.fact}", fact.now)
    for event in sorted(_events(record), key=lambda e: (e.at, e.seq)):
        element = SubElement(trace, "event")
        _attribute(element, "concept:name", event.name)
        _attribute(element, "lifecycle:transition", event.transition)
        _attribute(element, "time:timestamp", event.at)
        _attribute(element, "entry", event.seq)
        for key, value in event.attributes.items():
            _attribute(element, key, value)


def _events(record: Record) -> Iterator[_Event]:
    for step in record.steps:
        for tick in step.ticks:
            yield from _tick(record, step, tick)
    yield from _readings(record)
    yield from _complications(record)
    yield from _pauses(record)


def _event(stamp: str, seq: int, name: str, transition: str, **attributes: Value | None) -> _Event:
    told = {key.replace("__", ":"): value for key, value in attributes.items()}
    return _Event(datetime.fromisoformat(stamp), seq, name or "not named", transition, told)


def _tick(record: Record, step: StepLine, tick: TickLine) -> Iterator[_Event]:
    roles = {s.role: s.label for s in record.staff}
    what = {
        "concept__instance": str(tick.nth),
        "org__role": roles.get(tick.operator or "", tick.operator),
        "kind": "step",
        "stage": step.stage,
        "step": step.step,
        "shape": step.shape,
        "choice": tick.choice_words,
        "late": tick.late,
        "back_stamped": tick.back_stamped,
        "time_spread": tick.spread,
    }
    first = "start" if step.shape == "span" else "complete"
    yield _event(tick.start, tick.seq, step.label, first, **what)
    if tick.stop is not None:
        yield _event(tick.stop, tick.stop_seq or tick.seq, step.label, "complete", **what)


def _readings(record: Record) -> Iterator[_Event]:
    for r in record.readings:
        what = {"kind": "reading", "step": r.step, "value": r.value, "unit": r.unit}
        yield _event(r.at, r.seq, r.label, "complete", **what)


def _complications(record: Record) -> Iterator[_Event]:
    for c in record.complications:
        yield _event(c.start, c.seq, c.label, "start", kind="complication")
        if c.stop is not None:
            yield _event(c.stop, c.seq, c.label, "complete", kind="complication")


def _pauses(record: Record) -> Iterator[_Event]:
    for p in record.pauses:
        yield _event(p.start, p.seq, "Operation", "suspend", kind="pause", reason=p.reason)
        if p.stop is not None:
            yield _event(p.stop, p.seq, "Operation", "resume", kind="pause", reason=p.reason)
