"""The typeset pages, read back by a reader of another house: their words, their standards, their parts."""

from __future__ import annotations

import io
import json
import re
import unicodedata
from collections.abc import Iterator
from typing import Any

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from pypdf.generic import IndirectObject

from record_demo import debriefed_demo, demo_record
from record_stories import EVERY_STORY, debriefed_record, hostile_record, small_record, with_usual
from tracker.core.text import shown
from tracker.core.usual import Usual
from tracker.paper.typeset import LETTERS, legible
from tracker.review.record.as_pdf import render, scaled
from tracker.review.record.plain import tenths
from tracker.review.record.structure import Record
from tracker.review.record.tables import tables

LETTER = st.sampled_from(
    [chr(i) for first, last in LETTERS for i in range(first, last + 1) if shown(chr(i)) == chr(i)]
)


def read(record: Record) -> PdfReader:
    """The one file of a record's pages, opened."""
    ((name, data),) = render(record).items()
    assert name == f"{record.header.case}.pdf"
    return PdfReader(io.BytesIO(data))


def words(pages: PdfReader) -> str:
    """All that stands on the pages, runs of blanks and places to break made one blank."""
    text = " ".join(page.extract_text() for page in pages.pages)
    return " ".join(text.replace("\u200b", "").split())


# -- what it says


def test_the_demo_case_is_two_to_four_pages() -> None:
    """The invented case, a hundred and more entries, fits what a surgeon reads after a list."""
    assert 2 <= len(read(demo_record()).pages) <= 4


def test_a_thorough_debrief_stays_within_four_pages() -> None:
    """A reason for each of its seventeen deviations, notes, actions, amendments and the sign-off."""
    record = debriefed_demo()

    assert record.debrief is not None
    assert all(d.reason for d in record.deviations if d.code != "late_entry")
    assert len(read(record).pages) <= 4


def test_every_fact_of_the_demo_case_is_on_the_pages() -> None:
    """Stages, deviations with reasons, readings, clocks, pairs, counts, complications, staff and changes."""
    record = demo_record()
    text = words(read(record)).replace(" ", "")
    for section in (
        "stages",
        "deviations",
        "readings",
        "clocks",
        "pairs",
        "counts",
        "complications",
        "staff",
    ):
        for row in tables(record)[section].rows:
            for cell in row:
                assert cell.replace(" ", "") in text, (section, cell)
    assert all(d.reason_words.replace(" ", "") in text for d in record.deviations)
    assert text.count("ntoosmall") == len(record.stages)


@EVERY_STORY
def test_cautions_completeness_and_provenance_are_there(told: str) -> None:
    """Nothing leaves without cautions, version, digest, last hash and the figures of trust."""
    record = small_record(told)
    text = words(read(record))
    for caution in record.cautions:
        assert caution in text
    for part in ("version 1.2.0", record.header.digest, "ab" * 32, "How far the log can be trusted"):
        assert part in text
    assert re.search(r"late|entries made over 60 s", text)


def test_lengths_are_those_of_the_record() -> None:
    """Each stage's minutes stand on the pages as the record has them, to a tenth."""
    record = small_record("whole")
    text = words(read(record))
    for stage in record.stages:
        if stage.minutes is not None:
            assert re.search(rf"{re.escape(stage.label)} .*?{re.escape(tenths(stage.minutes))}", text)


def test_usual_ranges_say_how_many_cases_they_are_of() -> None:
    """A stage with a usual range shows it with its n."""
    made = render(with_usual(small_record("whole"), "peel", Usual(12, 38.25, 9)))["A-0007.pdf"]
    assert "12.0 to 38.3 (n = 9)" in words(PdfReader(io.BytesIO(made)))


def test_empty_sections_are_named_in_one_line() -> None:
    """A section without a line is not a heading over nothing."""
    text = words(read(small_record("opened")))
    assert "Nothing on the timeline." in text
    assert "Nothing logged under" in text
    assert "Complications" in text


def test_a_debrief_is_there_when_there_was_one() -> None:
    """What went well, what to change and who signed; without a debrief no word of it."""
    text = words(read(debriefed_record()))
    for said in (
        "the cut was planned aloud",
        "second vial on the trolley",
        "2026-11-01",
        "signed off: consultant",
    ):
        assert said in text
    assert "Debrief" not in words(read(small_record("whole")))


def test_the_same_record_gives_the_same_pages() -> None:
    """No moment of making and no typeface of the machine is in the file."""
    assert render(small_record("whole")) == render(small_record("whole"))


# -- to what standard


def _parts(item: Any, seen: set[int]) -> Iterator[Any]:
    """Every element of a tree of structure."""
    if isinstance(item, IndirectObject):
        if item.idnum in seen:
            return
        seen.add(item.idnum)
        item = item.get_object()
    if isinstance(item, list):
        for part in item:
            yield from _parts(part, seen)
    elif isinstance(item, dict):
        yield item
        yield from _parts(item.get("/K", []), seen)


def test_the_file_claims_pdf_a_2b_and_pdf_ua_1() -> None:
    """The metadata name ISO 19005-2 level B and ISO 14289-1, by the properties that those standards define."""
    metadata = read(demo_record()).xmp_metadata
    assert metadata is not None
    stream = metadata.stream.get_data().decode()
    assert re.search(r"<pdfaid:part>2</pdfaid:part>", stream)
    assert re.search(r"<pdfaid:conformance>B</pdfaid:conformance>", stream)
    assert re.search(r"<pdfuaid:part>1</pdfuaid:part>", stream)


def test_the_file_is_tagged_titled_and_in_british_english() -> None:
    """PDF/UA-1: marked, in a language, the title shown, and a tree of headings, tables and a figure in words."""
    pages = read(demo_record())
    root = pages.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 - an object of the reader's, not a bool
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert pages.metadata is not None
    assert pages.metadata.title == f"Case {demo_record().header.case}: timed record (an invented case)"
    tree = list(_parts(root["/StructTreeRoot"], set()))
    kinds = {str(part.get("/S")) for part in tree}
    assert {"/H1", "/H2", "/Table", "/TH", "/TD", "/Figure"} <= kinds
    (figure,) = (part for part in tree if part.get("/S") == "/Figure")
    assert str(figure["/Alt"]).startswith("Timeline from 07:50 to ")
    assert all("/Scope" in _attributes(part) for part in tree if part.get("/S") == "/TH")


def _attributes(part: Any) -> dict[str, Any]:
    held = part.get("/A", {})
    listed = held if isinstance(held, list) else [held]
    return {key: value for one in listed for key, value in one.get_object().items()} if held else {}


def test_every_typeface_is_in_the_file_and_nothing_runs() -> None:
    """PDF/A: typefaces embedded, an output intent, no script, no action, no file inside, no encryption."""
    pages = read(demo_record())
    root = pages.trailer["/Root"]
    assert not pages.is_encrypted
    assert "/OutputIntents" in root
    assert not {"/OpenAction", "/AA", "/JavaScript", "/EmbeddedFiles"} & set(root)
    for page in pages.pages:
        for font in page["/Resources"]["/Font"].values():
            (inner,) = font.get_object()["/DescendantFonts"]
            descriptor = inner.get_object()["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)
            assert "/ToUnicode" in font.get_object()
        assert "/Annots" not in page


# -- the drawing


def test_bars_and_marks_stand_where_their_times_are() -> None:
    """From 08:55 to 10:05 is seventy minutes: the heavy liquid from 09:17 to 09:46 is at 22 and 51 of 70."""
    drawn = scaled(small_record("whole").timeline)
    lanes = {lane["label"]: lane for lane in drawn["lanes"]}
    ((start, stop, is_open),) = lanes["Heavy liquid: in the eye"]["bars"]
    first = small_record("whole").timeline
    length = (first.stop_t - first.start_t) / 60

    assert length == pytest.approx(70 - 11 / 60)
    assert start == pytest.approx((22 - 11 / 60) / length, abs=1e-5)
    assert stop == pytest.approx((51 - 11 / 60) / length, abs=1e-5)
    assert not is_open
    assert lanes["Heavy liquid: in the eye"]["figure"] == "29.0 min"


def test_the_axis_has_round_hours_inside_it() -> None:
    """Marks of the axis lie between its ends and tell every tenth minute, from the first after the start."""
    axis = scaled(small_record("whole").timeline)["axis"]
    assert [hour for _, hour in axis] == ["09:00", "09:10", "09:20", "09:30", "09:40", "09:50", "10:00"]
    assert all(0 <= at <= 1 for at, _ in axis)


def test_an_open_bar_is_drawn_as_open() -> None:
    """A span without a stop reaches as far as it may have lasted, and is marked."""
    lanes = scaled(small_record("running").timeline)["lanes"]
    assert [bar[2] for lane in lanes for bar in lane["bars"] if lane["part"] == "stage"] == [True, True]


# -- words of strangers

NOTES = (
    '#sys.inputs $x^2$ @label <lab> \\ / // /* = heading *bold* _x_ `raw` ~ [x] #image("x")',
    "👩‍⚕️ and 👁 and 漢字",
    "مرحبا بالعالم and שלום",
    "e\u0301\u0323 x\u0489 a\u20e3",
    "\x00\u2028 \u202e",
    "x" * 3000,
)


@pytest.mark.parametrize("note", NOTES, ids=range(len(NOTES)))
def test_a_note_is_words_and_never_markup(note: str) -> None:
    """Whatever was typed is typeset as itself, in letters the typeface has."""
    text = words(read(hostile_record(note))).replace(" ", "")
    if shown(note).isascii():
        assert shown(note).replace(" ", "") in text
    for told in re.findall(r"\[U\+\w+\]", legible(shown(note))):
        assert told in text


def test_a_letter_that_the_typeface_lacks_is_told_by_its_number() -> None:
    """And the page says what the numbers are; a page without one does not."""
    assert legible("eye 👁.") == "eye [U+1F441]."
    remark = "Characters that the typeface lacks are written as [U+] and their number."
    assert remark in words(read(hostile_record("eye 👁")))
    assert remark not in words(read(hostile_record("eye")))


@given(st.text(st.characters(codec="utf-8"), max_size=80))
def test_legible_text_has_only_letters_of_the_typeface(text: str) -> None:
    """Whatever comes in, what goes to the typesetter is in the ranges, or a place to break."""
    for letter in legible(shown(text)):
        assert letter == "\u200b" or any(first <= ord(letter) <= last for first, last in LETTERS)


@given(st.text(LETTER, max_size=23))
def test_ordinary_text_is_as_it_was(text: str) -> None:
    """Words in the ranges are not touched, but for letters that Unicode writes in one way only (NFC)."""
    assert legible(text) == unicodedata.normalize("NFC", text)


def test_the_typesetter_has_every_letter_of_the_ranges() -> None:
    """Alone and in bold each can be set as PDF/A-2b and PDF/UA-1, which refuse a letter without a glyph."""
    source = b"""
        #set document(title: "letters")
        #set text(lang: "en", font: "Libertinus Serif")
        #for letter in json(bytes(sys.inputs.letters)) [#letter #strong(letter) ]
    """
    letters = [chr(i) for first, last in LETTERS for i in range(first, last + 1)]
    made = typst.compile(
        source, format="pdf", ignore_system_fonts=True, pdf_standards=["a-2b", "ua-1"],
        sys_inputs={"letters": json.dumps([c for c in letters if shown(c) == c])},
    )  # fmt: skip
    assert made.startswith(b"%PDF")
