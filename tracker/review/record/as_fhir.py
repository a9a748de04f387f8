"""The record as FHIR R5: a Bundle of procedures, observations and their provenance (HL7 FHIR 5.0.0).

The case is a Procedure, each stage and each tick one that is part of it; what nobody ticked has none, for
"not logged" is never "not done". Whatever was read, counted, said or found is an Observation. The subject is
a placeholder, said to be one. Words stand as text; the few codes used are these, each with its source:

- SNOMED CT 387713003 "Surgical procedure", from HL7's value set procedure-category;
- HTEST "test health data", HL7 v3 ActReason, on every resource of an invented case;
- data-absent-reason "not-applicable", HL7 Terminology;
- units of UCUM, where UCUM has the unit.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final
from uuid import NAMESPACE_URL, UUID, uuid5

from tracker.review.record.fhir_observations import observations
from tracker.review.record.fhir_parts import TERMINOLOGY, Json, concept, during, period, text
from tracker.review.record.structure import Record, TickLine

PLACEHOLDER: Final = "Placeholder for the subject: this record holds no patient identifier."

_SURGICAL: Final = {
    "coding": [{"system": "http://snomed.info/sct", "code": "387713003", "display": "Surgical procedure"}]
}
_INVENTED: Final = {
    "security": [{"system": f"{TERMINOLOGY}/v3-ActReason", "code": "HTEST", "display": "test health data"}]
}


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.fhir.json`."""
    written = json.dumps(_bundle(record), ensure_ascii=False, allow_nan=False, indent=2)
    return {f"{record.header.case}.fhir.json": f"{written}\n".encode()}


def _bundle(record: Record) -> Json:
    names = _Names(uuid5(NAMESPACE_URL, f"urn:sha256:{record.last_hash}#{record.header.case}"))
    told = dict(_resources(record, names))
    told[names.url("provenance")] = _provenance(record, tuple(told))
    entries = [{"fullUrl": url, "resource": _marked(record, body)} for url, body in told.items()]
    bundle = {"resourceType": "Bundle", "language": "en-GB", "type": "collection", "entry": entries}
    return _marked(record, bundle)


def _marked(record: Record, resource: Json) -> Json:
    kind = {"resourceType": resource["resourceType"]}
    return {**kind, "meta": _INVENTED, **resource} if record.header.invented else resource


def _resources(record: Record, names: _Names) -> Iterator[tuple[str, Json]]:
    yield names.url("patient"), _patient()
    yield names.url("case"), _case(record, names)
    yield from _stages(record, names)
    yield from _ticks(record, names)
    common = {"resourceType": "Observation", "status": "final", "subject": names.to("patient")}
    for n, own in enumerate(observations(record)):
        yield names.url(f"observation {n}"), {**common, "partOf": [names.to("case")], **own}


@dataclass(frozen=True, slots=True)
class _Names:
    """Names of the resources: the same record gives the same names."""

    space: UUID

    def url(self, what: str) -> str:
        """The address of a resource inside the bundle."""
        return uuid5(self.space, what).urn

    def to(self, what: str) -> Json:
        """A reference to it."""
        return {"reference": self.url(what)}


# -- the procedures


def _patient() -> Json:
    div = f'<div xmlns="http://www.w3.org/1999/xhtml"><p>{PLACEHOLDER}</p></div>'
    return {"resourceType": "Patient", "text": {"status": "generated", "div": div}}


def _case(record: Record, names: _Names) -> Json:
    header = record.header
    found: Json = {
        "resourceType": "Procedure",
        "identifier": [{"type": text("case code of this site"), "value": header.case}],
        "status": _status(record),
        "category": [_SURGICAL],
        "code": concept(header.title, f"protocol {header.protocol}, version {header.version}"),
        "subject": {**names.to("patient"), "display": PLACEHOLDER},
        **during("occurrence", header.started or header.opened, header.ended),
        "performer": list(_performers(record)),
        "complication": [{"concept": concept(c.label)} for c in record.complications],
        "note": [text(caution) for caution in record.cautions],
    }
    return {key: value for key, value in found.items() if value}


def _status(record: Record) -> str:
    header = record.header
    if header.ending == "no end logged":
        return "in-progress" if header.started else "preparation"
    return "completed" if header.ending == "at its usual end" else "stopped"


def _performers(record: Record) -> Iterator[Json]:
    for s in record.staff:
        yield {
            "function": concept(s.label, s.post),
            "actor": {"display": "not named: staff are recorded by role"},
            "period": period(s.start, s.stop),
        }


def _part(names: _Names, whole: str, label: str, status: str, when: Json) -> Json:
    return {
        "resourceType": "Procedure",
        "partOf": [names.to(whole)],
        "status": status,
        "code": concept(label),
        "subject": names.to("patient"),
        **when,
    }


def _stages(record: Record, names: _Names) -> Iterator[tuple[str, Json]]:
    for s in record.stages:
        if s.ticks:
            when = during("occurrence", s.first_start, s.last_stop)
            status = _part_status(record, s.open)
            yield names.url(f"stage {s.stage}"), _part(names, "case", s.label, status, when)


def _part_status(record: Record, is_open: bool) -> str:
    if is_open:
        return "in-progress" if record.header.ended is None else "unknown"
    return "completed"


def _ticks(record: Record, names: _Names) -> Iterator[tuple[str, Json]]:
    for step in record.steps:
        whole = f"stage {step.stage}" if step.stage else "case"
        for tick in step.ticks:
            status = _part_status(record, tick.open)
            when = _tick_time(tick, step.shape == "span")
            yield (
                names.url(f"tick {tick.seq}"),
                {
                    **_part(names, whole, step.label, status, when),
                    **({"outcome": concept(tick.choice_words)} if tick.choice_words.strip() else {}),
                },
            )


def _tick_time(tick: TickLine, is_span: bool) -> Json:
    return during("occurrence", tick.start, tick.stop) if is_span else {"occurrenceDateTime": tick.start}


# -- where it comes from


def _provenance(record: Record, targets: tuple[str, ...]) -> Json:
    header = record.header
    return {
        "resourceType": "Provenance",
        "target": [{"reference": url} for url in targets],
        **({"recorded": header.measured_to} if header.measured_to else {}),
        "agent": [{"type": text("program"), "who": {"display": f"clockhour {header.program}"}}],
        "entity": list(_sources(record)),
    }


def _sources(record: Record) -> Iterator[Json]:
    header, said = record.header, record.debrief
    yield _source(f"journal of {header.case}, {record.entries} entries, hash of the last", record.last_hash)
    yield _source(f"protocol {header.protocol} {header.version}, SHA-256 of its text", header.digest)
    if said is not None:
        yield _source(f"debrief, {said.state}, {said.entries} entries, hash of the last", said.last_hash)


def _source(display: str, digest: str) -> Json:
    identifier = {"identifier": {"value": digest}} if digest else {}
    return {"role": "source", "what": {**identifier, "display": display}}
