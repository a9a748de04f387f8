"""Each format is read by a parser that is not ours, or held against its specification."""

from __future__ import annotations

import csv
import html
import io
import re
from dataclasses import replace

import pytest
import srt
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from tracker.core.wording import CAUTIONS
from tracker.review.video import (
    as_chapter_list,
    as_cut_list,
    as_ffconcat,
    as_ffmetadata,
    as_srt,
    as_vtt_captions,
    as_vtt_chapters,
)
from tracker.review.video.cuts import Clip
from tracker.review.video.film import Film, Films, Wishes, films
from tracker.review.video.formats import FORMATS, Format, written
from tracker.review.video.maps import Mark, Part, Recording, Stretch
from tracker.review.video.pieces import Piece, screened
from tracker.review.video.reel import Cue
from video_recordings import filmed

ODD = (
    "PFCL & peel <30s",
    "in --> out",
    "<b>bold</b> & <!-- not -->",
    "&amp; already",
    "مرحبا بالعالم",
    "eye 👁 and 🙂",
    "WEBVTT",
    "NOTE this",
    "{\\an8}top",
    "12",
    "=1+1; x # y \\ z",
)


def film(*texts: str, clips: tuple[Clip, ...] = ()) -> Film:
    """A film with a chapter and a caption of two seconds for each text."""
    cues = tuple(Cue(2.0 * i, 2.0 * i + 2, (text,)) for i, text in enumerate(texts))
    return Film("rec.mp4", 2.0 * len(texts), cues, cues, clips)


def clip(file: str, title: str = "", note: str = "") -> Clip:
    """A clip of ten seconds."""
    return Clip(Stretch(Part(file, 0.0, 100.0, 0.0), 12.3456, 22.5), title, note)


def went_out(text: str) -> str:
    """What is left of typed words when they may leave."""
    return screened([Piece(text, "", 0.0, None, "bookmark", "1")])[0][0].title


# -- WebVTT


def test_a_chapter_title_is_escaped_as_the_specification_says() -> None:
    """Chapter title text has no raw ampersand or less-than sign, and no arrow."""
    # W3C WebVTT, section 4.2.3 and 4.2.2: text spans and character references only.
    text = as_vtt_chapters.render(film("PFCL & peel <30s", "in --> out"))
    assert "PFCL &amp; peel &lt;30s\n" in text
    assert "in --&gt; out\n" in text


def test_a_webvtt_file_is_built_as_the_specification_says() -> None:
    """Signature, blank line, blocks with unique identifiers, times of two, two, two and three digits."""
    # W3C WebVTT, section 4.1.
    text = as_vtt_chapters.render(film(*ODD))
    assert text.startswith("WEBVTT\n\nNOTE\n")
    blocks = [b.split("\n") for b in text.strip("\n").split("\n\n")[2:]]
    assert [b[0] for b in blocks] == [f"chapter-{i}" for i in range(1, len(ODD) + 1)]
    for _, timing, *payload in blocks:
        assert re.fullmatch(r"\d{2,}:[0-5]\d:[0-5]\d\.\d{3} --> \d{2,}:[0-5]\d:[0-5]\d\.\d{3}", timing)
        assert payload
        assert "-->" not in "\n".join(payload)
        assert not re.search(r"<|&(?!amp;|lt;|gt;)", "\n".join(payload))


def test_the_cautions_go_with_what_can_carry_them() -> None:
    """WebVTT, ffmetadata and ffconcat carry the cautions as comments."""
    whole = film("a", clips=(clip("rec.mp4"),))
    for render in (as_vtt_chapters.render, as_vtt_captions.render, as_ffmetadata.render, as_ffconcat.render):
        assert all(line in render(whole) for line in CAUTIONS)


@given(st.lists(st.text(max_size=150), max_size=6))
def test_webvtt_is_read_back_by_webvtt_py(texts: list[str]) -> None:
    """A third party's parser finds the same cues, whatever was typed."""
    out = [went_out(t) for t in texts]
    for render in (as_vtt_chapters.render, as_vtt_captions.render):
        read = webvtt.from_string(render(film(*out)))
        assert [(c.start_in_seconds, html.unescape(c.text)) for c in read.captions] == [
            (2 * i, text) for i, text in enumerate(out)
        ]


@pytest.mark.parametrize("text", ODD)
def test_odd_words_survive_webvtt(text: str) -> None:
    """Markup, arrows, references, right-to-left text and emoji come back as they were."""
    (cue,) = webvtt.from_string(as_vtt_captions.render(film(text))).captions
    assert html.unescape(cue.text) == text
    assert cue.identifier == "caption-1"


# -- SubRip


def test_subrip_times_have_a_comma_and_a_counter_from_one() -> None:
    """The counter, the times and a blank line stand as every reader expects them."""
    # SubRip as summarised in srt-validator's srt-spec.md: 2 h 3 min 4.005 s is 02:03:04,005.
    text = as_srt.render(Film("r", 1e4, captions=(Cue(7384.005, 7390.0, ("one", "two")),)))
    assert text == "1\n02:03:04,005 --> 02:03:10,000\none\ntwo\n\n"


@given(st.lists(st.text(max_size=150), max_size=6))
def test_subrip_is_read_back_by_srt(texts: list[str]) -> None:
    """A third party's parser finds the same captions, but for tags and arrows, which are made plain."""
    out = [went_out(t) for t in texts]
    read = list(srt.parse(as_srt.render(film(*out))))
    assert [(s.index, s.start.total_seconds(), s.content) for s in read] == [
        (i + 1, 2.0 * i, as_srt.plain(text)) for i, text in enumerate(out)
    ]


def test_subrip_has_no_tags_no_overrides_and_no_arrows() -> None:
    """What a player would obey is changed; a less-than sign before a figure is not."""
    assert as_srt.plain("<i>a</i> {\\an8}b --> <30s") == "‹i>a‹/i> (\\an8}b → <30s"


# -- ffmetadata


def test_ffmetadata_is_the_documented_example() -> None:
    """Header, time base, times in its units, and backslashes before what is special."""
    # FFmpeg documentation, Metadata: TIMEBASE=1/1000, START=0, END=60000, title=chapter \#1; bike\\shed.
    text = as_ffmetadata.render(Film("r", 60.0, chapters=(Cue(0.0, 60.0, ("chapter #1",)),)))
    assert text.startswith(";FFMETADATA1\n")
    assert text.endswith("[CHAPTER]\nTIMEBASE=1/1000\nSTART=0\nEND=60000\ntitle=chapter \\#1\n")
    assert as_ffmetadata.escaped("bike\\shed") == "bike\\\\shed"
    assert as_ffmetadata.escaped("a=b;c\nd\\") == "a\\=b\\;c\\\nd\\\\ "


def test_every_chapter_says_its_time_base() -> None:
    """A missing time base has been misread, so none is missing."""
    text = as_ffmetadata.render(film(*ODD))
    assert text.count("[CHAPTER]\nTIMEBASE=1/1000\nSTART=") == len(ODD)


# -- plain list


def test_the_plain_list_has_hours_minutes_seconds_and_the_title() -> None:
    """One line a chapter, the first at nought, seconds rounded down."""
    cues = (Cue(0.0, 59.999, ("Opening",)), Cue(59.999, 3661.5, ("Peel",)), Cue(3661.5, 4000.0, ("Close",)))
    text = as_chapter_list.render(Film("r", 4000.0, cues))
    assert text == "00:00:00 Opening\n00:00:59 Peel\n01:01:01 Close\n"


# -- cut list


def test_the_cut_list_has_five_columns_and_times_of_the_file() -> None:
    """File, in, out, title and note, one row a clip, in and out as clock times with milliseconds."""
    text = as_cut_list.render(film(clips=(clip("rec.mp4", "Peel", 'he said "stop", and\nwent on'),)))
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert rows == [
        {
            "file": "rec.mp4",
            "in": "00:00:12.346",
            "out": "00:00:22.500",
            "title": "Peel",
            "note": 'he said "stop", and\nwent on',
        }
    ]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "＝"])
def test_no_cell_of_the_cut_list_is_a_formula(start: str) -> None:
    """What a spreadsheet would calculate has an apostrophe before it; a file is still found."""
    # OWASP, "CSV Injection": = + - @ tab and carriage return at the start of a cell.
    text = as_cut_list.render(film(clips=(clip(f"{start}1.mp4", f"{start}1+1", f"{start}cmd|x"),)))
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert (row["file"], row["title"], row["note"]) == (f"./{start}1.mp4", f"'{start}1+1", f"'{start}cmd|x")


# -- ffconcat


def test_an_ffconcat_file_names_each_clip_with_its_points() -> None:
    """Version line, then file, in point and out point of each clip, in seconds."""
    # FFmpeg documentation, concat demuxer: syntax.
    text = as_ffconcat.render(film(clips=(clip("rec 1.mp4"),)))
    assert text.startswith("ffconcat version 1.0\n")
    assert text.endswith("\nfile 'rec 1.mp4'\ninpoint 12.346\noutpoint 22.500\n")
    assert f"# {as_ffconcat.ALIKE}" in text


def test_file_names_cannot_break_out_of_their_quotes() -> None:
    """Quotes are closed, escaped and opened again, protocols made paths, and line breaks refused."""
    # FFmpeg documentation, Quoting and escaping: 'Crime d'\''Amour'.
    assert as_ffconcat.quoted("Crime d'Amour") == r"'Crime d'\''Amour'"
    assert as_ffconcat.quoted("concat:a.mp4") == "'./concat:a.mp4'"
    assert as_ffconcat.quoted("C:/film/a.mp4") == "'C:/film/a.mp4'"
    with pytest.raises(ValueError, match="line break"):
        as_ffconcat.quoted("a.mp4\nfile b.mp4")


# -- all together


def exported(**wishes: object) -> Films:
    """The short case filmed in one recording that began with the log."""
    made = films(
        filmed(), 999.0, [Recording("rec.mp4", 100.0)], [Mark(10.0, "rec.mp4", 10.0)],
        wishes=replace(Wishes(), **wishes),  # type: ignore[arg-type]
    )  # fmt: skip
    assert isinstance(made, Films)
    return made


def test_every_format_is_written_for_the_cut_and_for_the_recording_those_that_suit_it() -> None:
    """A recording has chapters and captions; the cut has them too, and its list."""
    names = [name for name, _ in written(exported().films)]
    assert names == [
        "rec.mp4.chapters.vtt", "rec.mp4.captions.vtt", "rec.mp4.srt", "rec.mp4.ffmetadata",
        "rec.mp4.chapters.txt", "cut.chapters.vtt", "cut.captions.vtt", "cut.srt", "cut.ffmetadata",
        "cut.chapters.txt", "cut.csv", "cut.ffconcat",
    ]  # fmt: skip


def test_a_new_format_is_a_renderer_and_a_line() -> None:
    """Anything with a name, a suffix and a renderer is written like the others."""
    plain = Format("length", ".txt", lambda one: f"{one.length_s:.0f} s\n")
    assert next(written(exported().films, [plain])) == ("rec.mp4.txt", "100 s\n")
    assert len({f.suffix for f in FORMATS}) == len({f.name for f in FORMATS}) == len(FORMATS)


def test_the_recording_of_the_short_case() -> None:
    """Chapters of its stages and captions of its steps lie at their moments in the recording."""
    recording, the_cut = exported().films
    assert [(c.start_s, c.text) for c in recording.chapters] == [
        (0.0, "Ready"), (20.0, "Peel and cut"), (70.0, "Fill and close"),
    ]  # fmt: skip
    assert (44.0, "Edge laser Laser rows 3") in [(c.start_s, c.text) for c in recording.captions]
    assert the_cut.clips[0].file == "rec.mp4"
    assert the_cut.length_s == pytest.approx(sum(c.stretch.seconds for c in the_cut.clips))


def test_chapters_of_chosen_steps_and_a_step_nobody_knows() -> None:
    """Chosen steps replace the stages, and one that the file does not have is said."""
    made = exported(chosen=frozenset({"core", "laser", "nothing"}))
    assert [c.text for c in made.films[0].chapters] == ["Opening", "Core vitrectomy", "Edge laser"]
    assert "“nothing” is no step of" in " ".join(r.text for r in made.remarks)


def test_every_export_says_what_a_film_must_lose_before_it_is_shown() -> None:
    """Sound, burnt-in names, faces and what the file says of itself are named with every export."""
    assert exported().remarks[-1].code == "privacy"


def test_recordings_that_cannot_be_used_leave_remarks_and_no_films() -> None:
    """Without a usable recording there is nothing to write, and the sentences say why."""
    made = films(filmed(), 999.0, [], [Mark(1.0, "gone.mp4", 1.0)])
    assert isinstance(made, Films)
    assert made.films == ()
    assert "not among the recordings" in made.remarks[0].text


@given(st.text(max_size=60), st.text(max_size=60))
def test_nothing_written_ever_holds_what_cannot_be_shown(title: str, note: str) -> None:
    """Whatever was typed, every format is text that UTF-8 carries, without control characters."""
    (piece,), _ = screened([Piece(title, note, 0.0, None, "bookmark", "1")])
    one = film(piece.title, clips=(clip("rec.mp4", piece.title, piece.note),))
    for _, text in written([one]):
        assert text.encode()
        assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u2028\u2029\u202a-\u202e]", text)
