"""The end-of-case sheet: on one screen, and nothing on it that the record does not say."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from record_demo import debriefed_demo, demo_record
from record_sheet import section, sheet
from record_stories import EVERY_STORY, STORIES, hostile_record, small_record
from tracker.core.text import shown
from tracker.core.timeline_text import cells
from tracker.review.record.as_sheet import HEIGHT, WIDTH, wrapped

NOTES = ("x" * 20_000, "漢字" * 500, "👁 " * 300, "word " * 2000, "\x1b[2J\n\n\n", "مرحبا")


def test_the_demo_case_is_ready_to_copy() -> None:
    """Times, staff by role, counts, tamponade, complications: each as the record has it."""
    lines = sheet(demo_record())
    assert section(lines, "In theatre") == "08:30 to 12:38"
    assert section(lines, "Anaesthetic") == "08:32 (Block given)"
    assert section(lines, "Operation start") == "08:49 (Ports in)"
    assert section(lines, "Operation end") == "12:26 (Drugs, pad, shield)"
    assert "Relief circulating practitioner 10:09 to 12:38 (counts confirmed)" in section(
        lines, "Staff by role"
    )
    assert "Swabs 12 of 12" in section(lines, "Counts as said")
    assert "Tamponade decision: oil" in section(lines, "Decisions")
    assert "Oil viscosity 1300 mPa.s" in section(lines, "Last readings")
    assert section(lines, "Complications") == "11:04 Bleeding from the cut edge, dealt with 11:10"
    assert section(lines, "Not matched") == "none open"


def test_a_count_that_differs_is_said() -> None:
    """One blade of two: the difference stands beside the count, the board decides."""
    assert section(sheet(small_record("whole")), "Counts as said") == "Swabs 15 of 15; Blades 1 of 2, differs"


def test_what_is_open_and_what_was_not_logged_is_said() -> None:
    """Heavy liquid without a way out is not matched; a case that runs has no time out of theatre."""
    text = small_record("running")
    lines = sheet(text)
    assert section(lines, "In theatre") == "09:05 to not logged"
    assert section(lines, "Operation start") == "no such step in this file"
    assert section(lines, "Complications") == "none logged"


def test_a_case_that_stopped_early_says_so() -> None:
    """When it was said to stop is not when the patient left, which nobody ticked."""
    told = section(sheet(small_record("early")), "In theatre")
    assert told == "09:05 to not logged, stopped early 09:10"


@EVERY_STORY
def test_cautions_figures_and_provenance_are_on_it(told: str) -> None:
    """All cautions in full, every figure of trust, version, digest and last hash."""
    record = small_record(told)
    text = " ".join(" ".join(sheet(record)).split())
    for caution in record.cautions:
        assert caution in text
    for part in (
        "version 1.2.0",
        record.header.digest,
        "ab" * 32,
        "an invented case",
        f"entries {record.entries}",
    ):
        assert part in text
    for name, _ in record.completeness:
        assert name.replace("_", " ") in text


def test_the_side_of_the_eye_is_on_it() -> None:
    """In capitals, under the first line; a file that does not say which fact it is has no such line."""
    assert sheet(demo_record())[1].split() == ["Side", "LEFT", "EYE"]
    assert "Side" not in "".join(sheet(small_record("running")))


@pytest.mark.parametrize("told", STORIES)
def test_it_fits_one_screen(told: str) -> None:
    """Eighty columns and forty lines at most."""
    fits(sheet(small_record(told)))


def fits(lines: list[str]) -> None:
    """Hold lines against the size of the screen."""
    assert len(lines) <= HEIGHT
    assert max(map(cells, lines)) <= WIDTH


def test_a_debriefed_case_fits_one_screen() -> None:
    """With a line on the debrief."""
    lines = sheet(debriefed_demo())
    fits(lines)
    assert section(lines, "Debrief") == "signed off; 2 amended or added"


def test_the_demo_case_fits_one_screen() -> None:
    """And what does not fit is counted."""
    lines = sheet(demo_record())
    fits(lines)
    assert "more in the record" in section(lines, "Last readings")


@pytest.mark.parametrize("note", NOTES, ids=range(len(NOTES)))
def test_no_note_makes_it_longer_or_wider(note: str) -> None:
    """Huge words, wide letters and control codes stay inside the screen."""
    fits(sheet(hostile_record(note)))


@given(st.text(max_size=400), st.integers(4, 80))
def test_wrapping_loses_no_letter(text: str, width: int) -> None:
    """Lines are never wider than asked, and together they are the text without its blanks."""
    lines = list(wrapped(shown(text), width))
    assert all(cells(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(shown(text).split())
