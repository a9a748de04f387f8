"""The event log, read back by pm4py and by the XML reader of the standard library."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from record_demo import demo_record
from record_stories import EVERY_STORY, debriefed_record, hostile_record, small_record
from tracker.core.text import shown
from tracker.review.record.as_xes import render
from tracker.review.record.structure import FactLine, Record

# IEEE Std 1849 (XES): names, prefixes and addresses of the extensions.
EXTENSIONS = {
    ("Concept", "concept", "http://www.xes-standard.org/concept.xesext"),
    ("Time", "time", "http://www.xes-standard.org/time.xesext"),
    ("Lifecycle", "lifecycle", "http://www.xes-standard.org/lifecycle.xesext"),
    ("Organizational", "org", "http://www.xes-standard.org/org.xesext"),
}
# IEEE Std 1849, lifecycle extension: the transitions of the standard model.
TRANSITIONS = {
    "schedule", "assign", "withdraw", "reassign", "start", "suspend", "resume", "pi_abort", "ate_abort",
    "complete", "autoskip", "manualskip",
}  # fmt: skip
# XES standard definition 1.4: the elements of attributes.
ELEMENTS = {"string", "date", "int", "float", "boolean", "id"}

NS = "{http://www.xes-standard.org/}"


def log(record: Record) -> ET.Element:
    """The one file as a tree."""
    ((name, data),) = render(record).items()
    assert name == f"{record.header.case}.xes"
    return ET.fromstring(data)


def attribute(element: ET.Element, key: str) -> str | None:
    """The value of an attribute of a log, trace or event."""
    found = next((child for child in element if child.get("key") == key), None)
    return None if found is None else found.get("value")


def told(record: Record) -> Iterator[tuple[str, str, str]]:
    """Name, transition and time of every event that the record tells of."""
    for step in record.steps:
        for tick in step.ticks:
            yield step.label, "start" if step.shape == "span" else "complete", tick.start
            if tick.stop:
                yield step.label, "complete", tick.stop
    for r in record.readings:
        yield r.label, "complete", r.at
    for c in record.complications:
        yield c.label, "start", c.start
        if c.stop:
            yield c.label, "complete", c.stop
    for p in record.pauses:
        yield "Operation", "suspend", p.start
        if p.stop:
            yield "Operation", "resume", p.stop


def moments(events: Iterator[tuple[str, str, str]]) -> list[tuple[str, str, datetime]]:
    """Events with their times as moments, sorted."""
    return sorted((name, change, datetime.fromisoformat(at)) for name, change, at in events)


# -- by pm4py


def frame(record: Record, folder: Path) -> Any:
    """The log as pm4py reads it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pm4py

        path = folder / "log.xes"
        path.write_bytes(render(record)[f"{record.header.case}.xes"])
        return pm4py.read_xes(str(path))


@pytest.mark.parametrize("record", [demo_record, lambda: small_record("whole")], ids=["demo", "whole"])
def test_pm4py_reads_as_many_events_with_the_same_times(record: Any, tmp_path: Path) -> None:
    """Every tick, stop, reading, complication and pause, at its own moment, in one trace in order of time."""
    made = record()
    read = frame(made, tmp_path)
    columns = zip(read["concept:name"], read["lifecycle:transition"], read["time:timestamp"], strict=True)
    found = sorted((name, change, at.to_pydatetime()) for name, change, at in columns)

    assert found == moments(told(made))
    assert list(read["time:timestamp"]) == sorted(read["time:timestamp"])
    assert set(read["case:concept:name"]) == {made.header.case}
    assert set(read["lifecycle:transition"]) <= TRANSITIONS


def test_spans_in_pm4py_last_as_long_as_in_the_record(tmp_path: Path) -> None:
    """From start to complete of the same name and instance are the minutes of the span and its pauses."""
    made = demo_record()
    read = frame(made, tmp_path)
    ends = {
        (name, nth, change): at
        for name, nth, change, at in zip(
            read["concept:name"], read["concept:instance"], read["lifecycle:transition"],
            read["time:timestamp"], strict=True,
        )
    }  # fmt: skip
    for span in made.spans:
        lasted = ends[span.label, str(span.nth), "complete"] - ends[span.label, str(span.nth), "start"]
        assert span.minutes is not None
        assert span.paused_minutes is not None
        total = span.minutes + span.paused_minutes
        assert lasted.total_seconds() / 60 == pytest.approx(total, abs=0.002)


def test_pm4py_sees_who_operated_by_role(tmp_path: Path) -> None:
    """The role that operated stands in the organisational extension; nobody is named."""
    read = frame(demo_record(), tmp_path)
    assert set(read["org:role"].dropna()) == {"Consultant", "Fellow"}
    assert "org:resource" not in read.columns


# -- by the standard


@EVERY_STORY
def test_extensions_and_elements_are_those_of_the_standard(told: str) -> None:
    """Names, prefixes and addresses of the extensions, kinds of attribute, the lifecycle model, the version."""
    tree = log(small_record(told))
    assert tree.tag == f"{NS}log"
    assert tree.get("xes.version") == "1849.2016"
    assert {(e.get("name"), e.get("prefix"), e.get("uri")) for e in tree.iter(f"{NS}extension")} == EXTENSIONS
    assert attribute(tree, "lifecycle:model") == "standard"
    kinds = {e.tag.removeprefix(NS) for e in tree.iter() if e.get("key")}
    assert kinds <= ELEMENTS
    prefixes = {e.get("key", "").partition(":")[0] for e in tree.iter() if ":" in e.get("key", "")}
    assert prefixes <= {"concept", "time", "lifecycle", "org"}


@EVERY_STORY
def test_global_attributes_are_in_every_trace_and_event(told: str) -> None:
    """What the log declares global for traces and events is there in each of them."""
    tree = log(small_record(told))
    for scope in ("trace", "event"):
        (declared,) = (g for g in tree.iter(f"{NS}global") if g.get("scope") == scope)
        for element in tree.iter(f"{NS}{scope}"):
            assert all(attribute(element, str(a.get("key"))) is not None for a in declared)


@EVERY_STORY
def test_cautions_completeness_and_origin_are_in_it(told: str) -> None:
    """The log says what it is not, how far it can be trusted, by which protocol text and from which journal."""
    record = small_record(told)
    tree = log(record)
    said = [attribute(tree, f"caution_{n}") for n in range(1, len(record.cautions) + 1)]
    assert said == list(record.cautions)
    assert attribute(tree, "protocol_version") == "1.2.0"
    assert attribute(tree, "protocol_digest") == record.header.digest
    assert attribute(tree, "journal_last_hash") == "ab" * 32
    assert attribute(tree, "invented") == "true"
    assert all(attribute(tree, f"completeness_{name}") is not None for name, _ in record.completeness)


def test_what_was_struck_is_not_an_event() -> None:
    """Heavy liquid was ticked twice and the second struck: one event, and one for its way out."""
    tree = log(small_record("whole"))
    names = [attribute(e, "concept:name") for e in tree.iter(f"{NS}event")]
    assert names.count("Heavy liquid in") == 1
    assert names.count("Heavy liquid out") == 1


def test_the_debrief_is_named_when_there_was_one() -> None:
    """Its state and last hash stand on the log."""
    assert attribute(log(debriefed_record()), "debrief_state") == "signed off"
    assert attribute(log(debriefed_record()), "debrief_last_hash") == "cd" * 32
    assert attribute(log(small_record("whole")), "debrief_state") is None


# -- words of strangers


@pytest.mark.parametrize(
    "note", ["<b>&amp;</b>", "]]> <!-- x -->", '" key="x', "👁 مرحبا", "x" * 20_000, "\x00\x1b"]
)
def test_words_are_read_back_as_they_were(note: str) -> None:
    """Markup in a reading or in a role is words in the file."""
    tree = log(hostile_record(note))
    for key in ("value", "org:role"):
        assert shown(note) in {attribute(e, key) for e in tree.iter(f"{NS}event")}


@given(st.text(max_size=40), st.text(max_size=40))
@example("a\x00b", "tab\t, lines\r\n\x0b\ufffe\ud800\U0001f441")
def test_whatever_is_in_a_record_the_file_is_well_formed(key: str, words: str) -> None:
    """Characters that XML 1.0 (2.2, Char) does not allow are left out, everything else is read back."""
    record = small_record("opened")
    fact = FactLine.model_construct(
        fact=key, label="", unit="", asked=None, now=words, asked_words="", now_words="", changed=False
    )
    (trace,) = log(record.model_copy(update={"facts": (fact,)})).iter(f"{NS}trace")
    allowed = "".join(c for c in words if _is_char(ord(c)))
    if words:
        assert trace[1].get("value") == allowed


def _is_char(code: int) -> bool:
    return code in (9, 10, 13) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000


def test_a_number_beyond_sixty_four_bits_is_told_in_words() -> None:
    """An int of XES is an xs:long; a larger one is written as a string."""
    record = small_record("opened")
    facts = tuple(
        FactLine(
            fact=f"f{n}", label="", unit="", asked=None, now=n, asked_words="", now_words="", changed=False
        )
        for n in (2**63 - 1, 2**63)
    )
    (trace,) = log(record.model_copy(update={"facts": facts})).iter(f"{NS}trace")
    assert [(a.tag.removeprefix(NS), a.get("value")) for a in list(trace)[1:]] == [
        ("int", "9223372036854775807"),
        ("string", "9223372036854775808"),
    ]


def test_the_same_record_gives_the_same_log() -> None:
    """Rendered twice, the bytes are the same."""
    assert render(small_record("whole")) == render(small_record("whole"))
