"""A case as pieces, what of their words may leave the department, and consent."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from record_case import WHOLE, story
from tracker.core.fold import fold
from tracker.core.protocol import Protocol
from tracker.core.text import identifying, unshowable
from tracker.review.video.consent import Refusal, consent
from tracker.review.video.film import films
from tracker.review.video.maps import Mark, Recording
from tracker.review.video.pieces import LONGEST_NOTE, LONGEST_TITLE, Piece, pieces, screened
from video_recordings import filmed


def test_the_short_case_in_pieces() -> None:
    """Stages run from first to last tick, spans keep their ends, readings and choices are the notes."""
    told = [(p.kind, p.title, p.note, p.start_t, p.stop_t) for p in pieces(filmed(), 999.0)]
    assert [t for t in told if t[0] != "deviation"] == [
        ("stage", "Ready", "", 5.0, 5.0),
        ("stage", "Peel and cut", "", 20.0, 56.0),
        ("stage", "Fill and close", "", 70.0, 88.0),
        ("point", "Into theatre", "", 5.0, None),
        ("step", "Core vitrectomy", "", 20.0, 41.0),
        ("step", "Edge laser", "Laser rows 3", 44.0, 56.0),
        ("point", "Tamponade chosen", "silicone oil", 70.0, None),
        ("step", "Ports closed", "", 75.0, 85.0),
        ("point", "Out of theatre", "", 88.0, None),
        ("bookmark", "good bit", "", 30.0, None),
    ]  # fmt: skip


def test_a_span_of_no_stage_is_an_aside() -> None:
    """The recorder's own span runs beside the operation."""
    case = filmed()
    step = {"id": "recording", "label": "Recording", "key": "R", "shape": "span"}
    beside = Protocol.model_validate({**case.protocol.model_dump(), "anytime": [step]})
    said = (*case.events, case.events[2].model_copy(update={"seq": 13, "step": "recording"}))

    assert [p.title for p in pieces(fold(beside, said), 999.0) if p.kind == "aside"] == ["Recording"]


def test_deviations_of_the_record_alone_are_no_pieces() -> None:
    """No tick, no reading and a late entry have no moment in a recording; the others keep their reason."""
    found = [p for p in pieces(story(WHOLE), 9999.0) if p.kind == "deviation"]
    said = {p.id.split(":")[0] for p in found}
    assert not said & {"skipped", "reading_missing", "late_entry"}
    cut_before_peel = next(p for p in found if p.id == "need:cut<membranes:12")
    assert "finding forced it" in cut_before_peel.note
    assert "edge was folded" in cut_before_peel.note


def test_what_still_runs_is_measured_to_the_moment_given() -> None:
    """A span without a stop reaches to the moment asked about."""
    running = filmed("09:00:00 opened\n09:00:10 start step=core\n")
    (core,) = [p for p in pieces(running, 60.0) if p.kind == "step"]
    assert (core.start_t, core.stop_t) == (10.0, 60.0)


# -- words


def bookmark(title: str, note: str = "") -> Piece:
    """A bookmark with these words."""
    return Piece(title, note, 90.0, None, "bookmark", "7")


@pytest.mark.parametrize(
    "words",
    ["Mrs Bloggs again", "born 03/04/1951", "NHS 943 476 5919", "Mr\u200b Bloggs", "9434\u202e765919"],
)  # 943 476 5919 is the NHS Data Dictionary's own example of a valid number
def test_words_that_look_like_a_person_are_withheld_and_that_is_said(words: str) -> None:
    """Neither title nor note goes out with a name, a date of birth or a health number, hidden or not."""
    (piece,), said = screened([bookmark(words, words)])
    assert (piece.title, piece.note) == ("Bookmark", "")
    assert [r.code for r in said] == ["withheld", "withheld"]
    assert "bookmark at 01:30 of the log is withheld" in said[0].text
    assert "Bloggs" not in said[0].text


def test_huge_words_are_shortened_and_that_is_said() -> None:
    """A note of a hundred thousand characters is cut, with an ellipsis and a sentence."""
    (piece,), said = screened([bookmark("t" * 500, "n" * 100_000)])
    assert (len(piece.title), len(piece.note)) == (LONGEST_TITLE, LONGEST_NOTE)
    assert piece.note.endswith("…")
    assert [r.text for r in said] == [
        "The title of the bookmark at 01:30 of the log is shortened to 120 characters.",
        "The note of the bookmark at 01:30 of the log is shortened to 400 characters.",
    ]


@pytest.mark.parametrize(("start_t", "stop_t"), [(math.nan, None), (1.0, math.inf), (9.0, 3.0)])
def test_a_piece_without_a_time_is_left_out_with_a_sentence(start_t: float, stop_t: float | None) -> None:
    """A piece that ends before it begins, or at no time, is not filmed and that is said."""
    kept, said = screened([Piece("Core", "", start_t, stop_t, "step", "core")])
    assert kept == ()
    assert [r.code for r in said] == ["time"]


@given(st.text(), st.text())
def test_nothing_that_is_typed_goes_out_raw(title: str, note: str) -> None:
    """Whatever was typed, what goes out can be shown, is one line, has a title and names nobody."""
    (piece,), _ = screened([bookmark(title, note)])
    assert piece.title
    for text in (piece.title, piece.note):
        assert not unshowable(text)
        assert not identifying(text)
        assert text == " ".join(text.split())


# -- consent


@pytest.mark.parametrize(
    ("said", "word"), [(False, "“no”"), ("yes", "not answered"), (1, "not answered"), (None, "not answered")]
)
def test_without_a_plain_yes_nothing_is_exported(said: object, word: str) -> None:
    """Only yes is consent: no, no answer and anything else are refused with the reason."""
    case = filmed(consent=said)
    refusal = films(case, 99.0, [Recording("a.mp4", 90.0)], [Mark(10.0, "a.mp4", 10.0)])
    assert refusal == Refusal(
        f"No export: “Consent for video” is {word} in the case facts. It has to be “yes”."
    )


def test_a_file_that_asks_for_no_consent_gives_no_export() -> None:
    """Where the protocol names no fact for consent there is nothing to go by, so nothing goes out."""
    refusal = consent(story(WHOLE))
    assert refusal is not None
    assert "names no case fact" in refusal.reason


def test_with_a_yes_there_is_no_refusal() -> None:
    """Yes in the case facts as they stand is consent, and a later no takes it back."""
    case = filmed()
    assert consent(case) is None
    assert consent(replace(case, facts={**case.facts, "video_consent": False})) is not None
