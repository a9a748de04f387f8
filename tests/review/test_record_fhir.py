"""The bundle, validated by fhir.resources, and what that library does not look at held by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any

import pytest
from fhir.resources.bundle import Bundle

from record_demo import demo_record
from record_stories import EVERY_STORY, debriefed_record, hostile_record, small_record
from tracker.core.text import shown
from tracker.review.record.as_fhir import PLACEHOLDER, render
from tracker.review.record.fhir_parts import UCUM, period, quantity
from tracker.review.record.structure import Record, Share

Json = dict[str, Any]

NOTES = (
    "<script>x</script>",
    "# *markdown* [x](javascript:y)",
    "\x00\ud7ff\u202e",
    " ",
    "x" * 20_000,
    "👁 مرحبا",
)

# HL7 FHIR 5.0.0, required bindings: http://hl7.org/fhir/event-status and .../observation-status.
PROCEDURE_STATUS = {
    "preparation", "in-progress", "not-done", "on-hold", "stopped", "completed", "entered-in-error", "unknown",
}  # fmt: skip
OBSERVATION_STATUS = {
    "registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown",
}  # fmt: skip


def bundle(record: Record) -> Json:
    """The one file as plain JSON, after fhir.resources has taken it as an R5 bundle."""
    ((name, data),) = render(record).items()
    assert name == f"{record.header.case}.fhir.json"
    Bundle.model_validate_json(data)
    held: Json = json.loads(data)
    return held


def of(held: Json, kind: str) -> list[Json]:
    """The resources of a kind."""
    return [e["resource"] for e in held["entry"] if e["resource"]["resourceType"] == kind]


def inside(value: Any) -> Iterator[Json]:
    """Every object in a tree."""
    if isinstance(value, dict):
        yield value
    for part in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from inside(part)


def coded(held: Json, words: str) -> list[Json]:
    """Observations whose code begins with some words."""
    return [o for o in of(held, "Observation") if o["code"]["text"].startswith(words)]


def sound(held: Json) -> None:
    """What fhir.resources leaves to the writer: value sets, ends of periods, references, nothing empty."""
    urls = [entry["fullUrl"] for entry in held["entry"]]
    assert len(set(urls)) == len(urls)
    assert {p["status"] for p in of(held, "Procedure")} <= PROCEDURE_STATUS
    assert {o["status"] for o in of(held, "Observation")} <= OBSERVATION_STATUS
    for part in inside(held):
        assert all(v not in ("", [], {}, None) for v in part.values()), part
        if "start" in part and "end" in part:  # the invariant per-1
            assert datetime.fromisoformat(part["start"]) <= datetime.fromisoformat(part["end"])
        if "reference" in part:
            assert part["reference"] in urls


# -- sound


@EVERY_STORY
def test_every_story_makes_a_sound_bundle(told: str) -> None:
    """From a case only opened to one with everything: valid, and sound in what the library does not check."""
    sound(bundle(small_record(told)))


def test_the_demo_case_makes_a_sound_bundle() -> None:
    """The invented case too."""
    sound(bundle(demo_record()))


@pytest.mark.parametrize("note", NOTES, ids=range(len(NOTES)))
def test_notes_of_strangers_make_a_sound_bundle(note: str) -> None:
    """Words stand in strings, never in Markdown or narrative, and are read back as they were shown."""
    held = bundle(hostile_record(note))
    sound(held)
    said = [o.get("valueString", "") for o in coded(held, "Note") + coded(held, "Bookmark")]
    assert said == [shown(note) if shown(note).strip() else ""] * 2
    for part in inside(held):
        for notes in part.get("note", []):
            assert note.strip() == "" or note not in notes["text"]
        assert part.get("status") != "generated" or PLACEHOLDER in part["div"]


def test_it_is_r5_and_not_r4() -> None:
    """R5 has occurrence, not performed (HL7 FHIR R5, Procedure)."""
    text = render(small_record("whole"))["A-0007.fhir.json"]
    assert b"occurrencePeriod" in text
    assert b"performed" not in text


def test_only_codes_with_a_known_source_are_used() -> None:
    """SNOMED CT by HL7's procedure-category, two code systems of HL7, and UCUM; all else is text."""
    codes = {(p["system"], p["code"]) for p in inside(bundle(demo_record())) if "system" in p}
    assert codes <= {
        ("http://snomed.info/sct", "387713003"),
        ("http://terminology.hl7.org/CodeSystem/v3-ActReason", "HTEST"),
        ("http://terminology.hl7.org/CodeSystem/data-absent-reason", "not-applicable"),
        *(("http://unitsofmeasure.org", code) for code in UCUM.values()),
    }
    assert ("http://unitsofmeasure.org", "mm[Hg]") in codes


def test_units_have_the_codes_of_ucum() -> None:
    """mm[Hg], mL, mW, ms, [diop], d, min: The Unified Code for Units of Measure, tables of units and prefixes."""
    published = {
        "mmHg": "mm[Hg]",
        "ml": "mL",
        "mW": "mW",
        "ms": "ms",
        "D": "[diop]",
        "days": "d",
        "min": "min",
    }
    for unit, code in published.items():
        assert quantity(3, unit) == {
            "value": 3, "unit": unit, "system": "http://unitsofmeasure.org", "code": code
        }  # fmt: skip
    assert quantity(3, "clock hours") == {"value": 3, "unit": "clock hours"}


def test_a_stop_told_before_its_start_is_left_out() -> None:
    """A station's clock set back cannot break the rule that a period does not end before it starts."""
    early, late = "2026-10-24T09:00:00.000+01:00", "2026-10-24T08:30:00.000+00:00"
    assert period(early, late) == {"start": early, "end": late}
    assert period(late, early) == {"start": late}
    assert period(None, None) == {}


# -- what it says


def test_nobody_is_in_it() -> None:
    """The subject is a placeholder and says so; no name, date of birth or identifier of a person."""
    held = bundle(demo_record())
    (patient,) = of(held, "Patient")
    assert set(patient) == {"resourceType", "meta", "text"}
    assert PLACEHOLDER in patient["text"]["div"]
    assert of(held, "Procedure")[0]["subject"]["display"] == PLACEHOLDER
    assert {p["actor"]["display"] for p in of(held, "Procedure")[0]["performer"]} == {
        "not named: staff are recorded by role"
    }


def test_an_invented_case_is_marked_as_test_data_and_a_real_one_is_not() -> None:
    """HL7's label for test data stands on every resource of an invented case."""
    record = small_record("whole")
    real = record.model_copy(update={"header": record.header.model_copy(update={"invented": False})})
    held = bundle(record)
    for resource in [held, *(e["resource"] for e in held["entry"])]:
        assert resource["meta"]["security"][0]["code"] == "HTEST"
    assert b"HTEST" not in render(real)["A-0007.fhir.json"]


@pytest.mark.parametrize(
    ("told", "status"),
    [("whole", "completed"), ("running", "in-progress"), ("early", "stopped"), ("opened", "preparation")],
)
def test_the_case_has_the_status_of_its_end(told: str, status: str) -> None:
    """At its usual end completed, stopped early stopped, else as far as it is."""
    assert of(bundle(small_record(told)), "Procedure")[0]["status"] == status


def test_stages_are_parts_of_the_case_and_ticks_of_their_stage() -> None:
    """Only what was ticked has a Procedure: a stage without a tick is not said to be not done."""
    record = small_record("running")
    held = bundle(record)
    urls = {e["fullUrl"]: e["resource"] for e in held["entry"]}
    case, *parts = of(held, "Procedure")
    stages = [p for p in parts if urls[p["partOf"][0]["reference"]] is case]
    ticks = [p for p in parts if urls[p["partOf"][0]["reference"]] in stages]

    assert [p["code"]["text"] for p in stages] == ["Ready", "Peel and cut"]
    assert [p["code"]["text"] for p in ticks] == ["Into theatre", "Core vitrectomy", "Core vitrectomy"]
    assert [p["status"] for p in ticks] == ["completed", "in-progress", "in-progress"]
    assert not any(p["status"] == "not-done" for p in parts)


def test_spans_last_as_long_as_in_the_record() -> None:
    """From start to stop of each span's Procedure are its minutes and the minutes paused inside it."""
    record = demo_record()
    held = bundle(record)
    whole = [p for p in of(held, "Procedure") if "occurrencePeriod" in p]
    lasted = {}
    for p in whole:
        ends = (datetime.fromisoformat(p["occurrencePeriod"][end]) for end in ("start", "end"))
        start, stop = ends
        lasted[p["code"]["text"], p["occurrencePeriod"]["start"]] = (stop - start).total_seconds() / 60
    for span in record.spans:
        assert span.minutes is not None
        assert span.paused_minutes is not None
        total = span.minutes + span.paused_minutes
        assert lasted[span.label, span.start] == pytest.approx(total, abs=0.002)


def test_readings_are_quantities_words_or_flags() -> None:
    """A number has its unit, a choice its words, a flag is one; outside the file's range is a note."""
    held = bundle(demo_record())
    pressures = coded(held, "Infusion pressure")
    assert [p["valueQuantity"]["value"] for p in pressures] == [25, 60, 25]
    assert pressures[1]["note"] == [{"text": "outside the file's range: at most 40 mmHg"}]
    assert coded(held, "Infusion tip")[0]["valueString"] == "seen in the vitreous cavity"
    assert coded(held, "Disc dry, no heavy liquid seen")[0]["valueBoolean"] is True


def test_completeness_stands_as_ratios_and_numbers() -> None:
    """Each figure of trust is there as it is in the record; a share of nothing is said to be none."""
    for record in (demo_record(), small_record("opened")):
        (held,) = coded(bundle(record), "How far the log can be trusted")
        for part, (_, value) in zip(held["component"], record.completeness, strict=True):
            if isinstance(value, Share) and value.of:
                ratio = part["valueRatio"]
                assert (ratio["numerator"]["value"], ratio["denominator"]["value"]) == (value.n, value.of)
            elif isinstance(value, Share):
                assert part["dataAbsentReason"]["coding"][0]["code"] == "not-applicable"
            else:
                assert part.get("valueInteger", part.get("valueQuantity", {}).get("value")) == value


@EVERY_STORY
def test_cautions_and_origin_are_in_it(told: str) -> None:
    """Cautions are notes of the case; program, protocol digest and last hash are its provenance."""
    record = small_record(told)
    held = bundle(record)
    (origin,) = of(held, "Provenance")
    assert [n["text"] for n in of(held, "Procedure")[0]["note"]] == list(record.cautions)
    assert [e["what"]["identifier"]["value"] for e in origin["entity"]] == ["ab" * 32, record.header.digest]
    assert len(origin["target"]) == len(held["entry"]) - 1
    assert "version 1.2.0" in of(held, "Procedure")[0]["code"]["text"]


def test_deviations_and_complications_have_their_times_and_reasons() -> None:
    """What was expected, found and said about it, each at its time."""
    record = small_record("whole")
    held = bundle(record)
    found = coded(held, "Deviation")
    assert [d["effectiveDateTime"] for d in found] == [d.at for d in record.deviations]
    assert sum("reason: finding forced it; edge was folded" in d.get("valueString", "") for d in found) == 1
    (bleeding,) = coded(held, "Complication")
    assert bleeding["valueString"] == "one vessel"
    assert of(held, "Procedure")[0]["complication"] == [{"concept": {"text": "Bleeding from the cut edge"}}]


def test_a_debrief_is_in_it_when_there_was_one() -> None:
    """What went well and what to change are observations, its journal a source."""
    held = bundle(debriefed_record())
    sound(held)
    assert [o["valueString"] for o in coded(held, "Debrief")] == [
        "the cut was planned aloud",
        "second vial on the trolley; circulating practitioner; 2026-11-01; kit",
    ]
    assert of(held, "Provenance")[0]["entity"][2]["what"]["identifier"]["value"] == "cd" * 32
    assert coded(bundle(small_record("whole")), "Debrief") == []


def test_the_same_record_gives_the_same_bundle() -> None:
    """Names of resources come from the record, not from chance."""
    assert render(small_record("whole")) == render(small_record("whole"))
