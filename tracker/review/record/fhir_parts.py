"""Parts of FHIR resources: words, times, quantities. Nothing is written empty: FHIR does not allow it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

UCUM: Final[Mapping[str, str]] = {
    "%": "%", "D": "[diop]", "days": "d", "h": "h", "min": "min", "ml": "mL", "mL": "mL", "mm": "mm",
    "mmHg": "mm[Hg]", "mPa.s": "mPa.s", "ms": "ms", "mW": "mW", "s": "s",
}  # fmt: skip
"""The code of a unit in The Unified Code for Units of Measure; other units are told in words alone."""

TERMINOLOGY: Final = "http://terminology.hl7.org/CodeSystem"
"""Where HL7 keeps its code systems."""

_UCUM_SYSTEM: Final = "http://unitsofmeasure.org"

Json = dict[str, Any]


def text(words: str) -> Json:
    """A CodeableConcept or an Annotation of words alone."""
    return {"text": words}


def period(start: str | None, stop: str | None) -> Json:
    """A Period; a stop that is told before its start is left out."""
    # The invariant per-1; a station's clock that was set back can tell a stop before its start.
    in_order = start is None or stop is None or datetime.fromisoformat(start) <= datetime.fromisoformat(stop)
    told = {"start": start, "end": stop if in_order else None}
    return {key: value for key, value in told.items() if value is not None}


def during(name: str, start: str | None, stop: str | None) -> Json:
    """`namePeriod` for a stretch of time, nothing for none."""
    told = period(start, stop)
    return {f"{name}Period": told} if told else {}


def quantity(value: float, unit: str) -> Json:
    """A Quantity, coded where UCUM has the unit."""
    code = UCUM.get(unit)
    coded = {"system": _UCUM_SYSTEM, "code": code} if code else {}
    return {"value": value, **({"unit": unit} if unit else {}), **coded}


def string(words: str) -> Json:
    """`valueString`, nothing for blank words."""
    return {"valueString": words} if words.strip() else {}


def minutes(value: float | None) -> Json:
    """`valueQuantity` in minutes, nothing for None."""
    return {} if value is None else {"valueQuantity": quantity(value, "min")}


def concept(label: str, *more: str) -> Json:
    """A CodeableConcept of words alone."""
    return text("; ".join(part for part in (label, *more) if part.strip()) or "not named")
