"""What was read, counted, said and found in a case, as FHIR R5 observations without their common parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from tracker.core.wording import SPREAD
from tracker.review.record.debrief_structure import DebriefSection
from tracker.review.record.fhir_parts import (
    TERMINOLOGY,
    Json,
    concept,
    during,
    minutes,
    quantity,
    string,
    text,
)
from tracker.review.record.structure import Record, Share
from tracker.review.record.words import COMPLETENESS_WORDS

_NOT_APPLICABLE: Final = {
    "coding": [{"system": f"{TERMINOLOGY}/data-absent-reason", "code": "not-applicable"}]
}


def observations(record: Record) -> Iterator[Json]:
    """What is particular to each: its code, its time, its value."""
    yield _components("Case facts", _facts(record))
    yield _components("How far the log can be trusted", _completeness(record))
    yield from _readings(record)
    yield from _clocks(record)
    for p in record.pairs:
        yield {"code": concept("Matched pair", p.label), **string(p.state)}
    yield from _counts(record)
    for c in record.complications:
        when = during("effective", c.start, c.stop)
        yield {"code": concept("Complication", c.label), **when, **string(c.text)}
    for d in record.deviations:
        said = "; ".join(
            part
            for part in (*_deviation(d.expected, d.found, d.reason_words, d.how, d.text), *d.beneath)
            if part
        )
        yield {"code": concept("Deviation", d.words, d.label), "effectiveDateTime": d.at, **string(said)}
    for u in record.unjudged:
        yield {"code": concept("Not judged", u.label), "effectiveDateTime": u.at, **string(u.words)}
    for s in record.said:
        yield {"code": concept(s.kind.capitalize()), "effectiveDateTime": s.at, **string(s.text)}
    if record.debrief is not None:
        yield from _debrief(record.debrief)


def _components(label: str, parts: Iterable[Json]) -> Json:
    found = list(parts)
    return {"code": concept(label), **({"component": found} if found else {})}


def _facts(record: Record) -> Iterator[Json]:
    for f in record.facts:
        yield {"code": concept(f.label), **string(f.now_words)}


def _completeness(record: Record) -> Iterator[Json]:
    for name, value in record.completeness:
        yield {"code": concept(COMPLETENESS_WORDS[name]), **_figure(value)}


def _figure(value: Share | float) -> Json:
    match value:
        case Share(of=0):
            return {"dataAbsentReason": _NOT_APPLICABLE}
        case Share():
            return {"valueRatio": {"numerator": {"value": value.n}, "denominator": {"value": value.of}}}
        case int():
            return {"valueInteger": value}
    return minutes(value)


def _readings(record: Record) -> Iterator[Json]:
    for r in record.readings:
        outside = [text(f"outside the file's range: {r.limit}")] if r.outside_caution else []
        yield {
            "code": concept(r.label),
            "effectiveDateTime": r.at,
            **_value(r.value, r.unit, r.words),
            **({"note": outside} if outside else {}),
        }


def _value(value: bool | float | str, unit: str, words: str) -> Json:
    if isinstance(value, bool):
        return {"valueBoolean": value}
    return string(words) if isinstance(value, str) else {"valueQuantity": quantity(value, unit)}


def _clocks(record: Record) -> Iterator[Json]:
    for c in record.clocks:
        when = during("effective", c.start, None if c.unsure else c.stop)
        note = {"note": [text(SPREAD)]} if c.spread else {}
        yield {"code": concept("Clock", c.label), **when, **minutes(c.minutes), **note}


def _counts(record: Record) -> Iterator[Json]:
    for c in record.counts:
        figures = {
            "first": c.start, "added": c.added, "handed off": c.removed,
            "expected": c.expected, "final": c.final,
        }  # fmt: skip
        known = {name: figure for name, figure in figures.items() if figure is not None}
        parts = (
            {"code": concept(name), "valueQuantity": quantity(figure, "")} for name, figure in known.items()
        )
        yield _components(f"Count as said; {c.label}", parts)
    for o in record.counts_open:
        yield {"code": concept("Count without figures"), **string(o.words)}


def _deviation(expected: str, found: str, reason: str, how: str | None, text: str) -> Iterator[str]:
    yield f"expected: {expected}" if expected else ""
    yield f"found: {found}" if found else ""
    yield f"reason: {reason}" if reason else ""
    yield how if how and how != reason else ""
    yield text


def _debrief(said: DebriefSection) -> Iterator[Json]:
    for well in said.went_well:
        yield {"code": concept("Debrief", "what went well"), **string(well.text)}
    for change in said.to_change:
        words = (change.action, change.owner_label, change.due, change.tag)
        told = "; ".join(word for word in words if word)
        yield {"code": concept("Debrief", "what to change"), **string(told)}
