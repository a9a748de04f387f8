"""Real recordings: what is written is put into films by FFmpeg, and read back from their pictures.

The number of every frame is burnt into its picture, so a test knows which moment of the log it sees.
"""

from __future__ import annotations

import csv
import io
import shlex
import struct
from bisect import bisect_left
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest

from tracker.review.video.align import align
from tracker.review.video.cuts import Roll, Rolls, cut
from tracker.review.video.film import Film, Films, Wishes, films
from tracker.review.video.formats import FORMATS
from tracker.review.video.maps import Mark, Recording, Segment
from tracker.review.video.pieces import Piece, pieces
from tracker.review.video.reel import Cue, end_to_end
from tracker.review.video.stamps import NTSC, seconds_of
from video_recordings import burnt_in, filmed, probe, record, run, shown_at

pytestmark = pytest.mark.media

RENDER = {f.name: f.render for f in FORMATS}
PAL = Fraction(25)
LOG_T = 2.0
"""The case second at which the recordings of these tests begin."""


def log_t(frame: int, rate: Fraction = NTSC) -> float:
    """The moment of the log at which a frame was made."""
    return LOG_T + float(frame / rate)


def mark(path: Path, index: int, rate: Fraction = NTSC) -> Mark:
    """A mark set by looking at one picture: its burnt-in clock, and the second at which it is shown."""
    numbers, seconds = looked_through(path)
    return Mark(log_t(numbers[index], rate), path.name, seconds[index])


@lru_cache
def looked_through(recording: Path) -> tuple[list[int], list[float]]:
    """The number and the second of every picture of a recording, which no test changes once it is made."""
    return burnt_in(recording), shown_at(recording)


def length(path: Path) -> float:
    """The length of a film in seconds, as ffprobe says it."""
    return float(probe(path, "-show_entries", "format=duration")["format"]["duration"])


def picture(path: Path, second: float) -> int:
    """The number burnt into the picture shown at a second of a film."""
    return burnt_in(path)[bisect_left(shown_at(path), second - 0.0005)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the recordings of all tests."""
    return tmp_path_factory.mktemp("recordings")


@pytest.fixture(scope="module")
def whole(folder: Path) -> Path:
    """A recording of 90 s at 29.97 frames a second, all of whole pictures."""
    return record(folder / "whole.mov", 90, NTSC, keyframes=1)


def exported(
    paths: list[Path], marks: list[Mark], segments: tuple[Segment, ...] = (), **wishes: object
) -> Films:
    """The short case laid on recordings."""
    given = [Recording(p.name, length(p)) for p in paths]
    made = films(filmed(), 999.0, given, marks, segments, Wishes(**wishes))  # type: ignore[arg-type]
    assert isinstance(made, Films)
    return made


# -- chapters


def test_chapters_written_into_a_recording_are_read_back_at_the_right_pictures(whole: Path) -> None:
    """A third party finds each stage at the picture made when the log says that the stage began."""
    recording = exported([whole], [mark(whole, 300), mark(whole, 2400)]).films[0]
    notes, chaptered = whole.with_name("rec.ffmetadata"), whole.with_name("chaptered.mp4")
    notes.write_text(RENDER["ffmetadata"](recording))
    run("ffmpeg", "-i", whole, "-i", notes, "-map", 0, "-map_chapters", 1, "-c", "copy", chaptered)
    read = probe(chaptered, "-show_chapters")["chapters"]
    assert [c["tags"]["title"] for c in read] == ["Ready", "Peel and cut", "Fill and close"]
    assert float(read[0]["start_time"]) == 0.0
    stages = {p.title: p.start_t for p in pieces(filmed(), 999.0) if p.kind == "stage"}
    for chapter in read[1:]:
        seen = log_t(picture(chaptered, float(chapter["start_time"])))
        assert seen == pytest.approx(stages[chapter["tags"]["title"]], abs=float(1 / NTSC))


def test_odd_titles_come_back_from_a_recording_as_they_were(whole: Path) -> None:
    """What ffmetadata has to escape is what ffprobe reads, but for a blank after a last backslash."""
    titles = [
        "a=b; c # d \\ e",
        "=;#\\",
        "PFCL & peel <30s",
        "مرحبا",
        "🙂 eye",
        "[CHAPTER]",
        "'quoted' \"too\"",
    ]
    cues = tuple(Cue(10.0 * i, 10.0 * i + 10, (title,)) for i, title in enumerate(titles))
    notes, chaptered = whole.with_name("odd.ffmetadata"), whole.with_name("odd.mkv")
    notes.write_text(RENDER["ffmetadata"](Film("r", 70.0, cues)))
    run("ffmpeg", "-i", whole, "-i", notes, "-map", 0, "-map_chapters", 1, "-c", "copy", chaptered)
    read = probe(chaptered, "-show_chapters")["chapters"]
    assert [(float(c["start_time"]), c["tags"]["title"]) for c in read] == [
        (10.0 * i, f"{title} " if title.endswith("\\") else title) for i, title in enumerate(titles)
    ]


@pytest.mark.parametrize("name", ["srt", "vtt-captions"])
def test_captions_are_read_by_ffmpeg_as_they_were_written(whole: Path, name: str) -> None:
    """FFmpeg's own readers find every caption at its millisecond."""
    recording = exported([whole], [mark(whole, 300)]).films[0]
    written = whole.with_name(f"captions.{'srt' if name == 'srt' else 'vtt'}")
    written.write_text(RENDER[name](recording))
    read = probe(written, "-show_entries", "packet=pts_time,duration_time")["packets"]
    assert [(float(p["pts_time"]), float(p["duration_time"])) for p in read] == [
        (c.start_s, pytest.approx(c.stop_s - c.start_s, abs=0.0005)) for c in recording.captions
    ]


# -- frame rates


def test_a_recording_of_29_97_labelled_30_is_detected_from_three_marks(folder: Path) -> None:
    """Frames made 29.97 a second in a file that says 30 are named a mix-up, and found all the same."""
    true, bare, labelled = (folder / name for name in ("true.mov", "bare.h264", "mislabelled.mp4"))
    record(true, 240, NTSC)
    run("ffmpeg", "-i", true, "-c", "copy", bare)
    run("ffmpeg", "-r", 30, "-i", bare, "-c", "copy", labelled)
    numbers, seconds = looked_through(labelled)
    marks = [Mark(log_t(numbers[i]), labelled.name, seconds[i]) for i in (300, 3600, 7000)]
    alignment = align([Recording(labelled.name, length(labelled))], marks)
    assert [r.code for r in alignment.remarks] == ["frame_rate"]
    assert "29.97 a second are counted as 30: 3.6 s an hour" in alignment.remarks[0].text
    # SMPTE ST 12-1: 108 frames of 30 a second an hour.
    assert (1 - alignment.parts[0].b) * 3600 == pytest.approx(108 / 30, abs=0.01)
    for frame in (1, 1234, 7190):
        place = alignment.place(log_t(frame))
        assert place is not None
        assert place[1] == pytest.approx(seconds[frame], abs=1 / 60)


def test_a_recording_that_says_its_rate_truly_is_not_questioned(whole: Path) -> None:
    """Three marks of an honest 29.97 leave nothing to ask."""
    marks = [mark(whole, i) for i in (100, 1300, 2600)]
    assert align([Recording(whole.name, length(whole))], marks).remarks == ()


@pytest.mark.parametrize("code", ["00:00:59;29", "00:01:00;02", "00:10:00;00", "01:00:00;00", "23:59:59;29"])
def test_drop_frame_time_code_counts_as_ffmpeg_counts_it(whole: Path, code: str) -> None:
    """The frame number that FFmpeg stores in a time code track is the one that our seconds stand for."""
    coded = whole.with_name("coded.mov")
    run("ffmpeg", "-i", whole, "-t", 1, "-c", "copy", "-timecode", code, coded)
    (frames,) = struct.unpack(
        ">I", run("ffmpeg", "-i", coded, "-map", "0:d:0", "-c", "copy", "-f", "data", "-")
    )
    assert seconds_of(code) == pytest.approx(float(frames / NTSC), abs=1e-9)


# -- the cut


def played(film: Film, folder: Path) -> Path:
    """The film made by the very command that stands in its ffconcat file, beside the recordings."""
    text = RENDER["ffconcat"](film)
    (folder / f"{film.name}.ffconcat").write_text(text)
    (command,) = [row[2:] for row in text.splitlines() if row.startswith("# ffmpeg ")]
    run(*shlex.split(command), folder=folder)
    return folder / f"{film.name}.mp4"


def test_a_cut_made_from_the_ffconcat_file_is_as_long_as_it_says(whole: Path, folder: Path) -> None:
    """Length and pictures of the film are those of the clips, to within two frames."""
    made = exported([whole], [mark(whole, 300), mark(whole, 2400)], budget_min=0.8)
    film = made.films[-1]
    out = played(film, folder)
    assert length(out) == pytest.approx(film.length_s, abs=2 / float(NTSC))
    seen, at = burnt_in(out), 0.0
    for clip in film.clips:
        first, last = (round(s * NTSC) for s in (at, at + clip.stretch.seconds))
        assert log_t(seen[first + 1]) == pytest.approx(clip.stretch.from_t, abs=3 / float(NTSC))
        assert log_t(seen[min(last, len(seen)) - 2]) == pytest.approx(clip.stretch.to_t, abs=4 / float(NTSC))
        at += clip.stretch.seconds


def test_a_cut_made_from_the_cut_list_is_as_long_as_it_says(folder: Path) -> None:
    """From a recording whose pictures hang on earlier ones, each row of the table gives its own frames."""
    path = record(folder / "long pictures.mp4", 90, PAL)
    film = exported([path], [mark(path, 250, PAL)], budget_min=0.8).films[-1]
    rows = list(csv.DictReader(io.StringIO(RENDER["cut-list"](film), newline="")))
    assert len(rows) == len(film.clips) > 0
    for row, clip in zip(rows, film.clips, strict=True):
        piece = folder / "piece.mp4"
        run(
            "ffmpeg", "-ss", row["in"], "-to", row["out"], "-i", folder / row["file"], "-c:v", "libx264",
            "-preset", "ultrafast", piece,
        )  # fmt: skip
        assert length(piece) == pytest.approx(clip.stretch.seconds, abs=2 / 25)
        assert log_t(burnt_in(piece)[0], PAL) == pytest.approx(clip.stretch.from_t, abs=2 / 25)


@pytest.mark.parametrize("between", [0, 2])
@pytest.mark.parametrize("ending", ["mp4", "mov", "mkv"])
def test_a_recording_whose_pictures_hang_together_is_cut_to_the_picture(
    folder: Path, ending: str, between: int
) -> None:
    """Recorders write a whole picture every few seconds: no clip begins before or after its in point."""
    path = record(folder / f"long{between}.{ending}", 60, PAL, between=between)
    alignment = align([Recording(path.name, 60.0)], [Mark(0.0, path.name, 0.0)])
    spans = [(13.0, 18.0), (31.32, 37.2), (50.0, 51.48)]
    wanted = [Piece(f"{a}", "", a, b, "step", "p") for a, b in spans]
    made = cut(wanted, alignment, None, Rolls(span=Roll(0.0, 0.0)))
    film = Film("hang", end_to_end(c.stretch for c in made.clips).length_s, clips=made.clips)

    frames = [n for a, b in spans for n in range(round(a * 25), round(b * 25))]
    assert burnt_in(played(film, folder)) == frames


def test_chapters_and_captions_of_the_cut_lie_on_the_cut(whole: Path, folder: Path) -> None:
    """In the film that was made, the picture at each chapter is of its stage."""
    film = exported([whole], [mark(whole, 300), mark(whole, 2400)], budget_min=None).films[-1]
    out = played(film, folder)
    stages = {p.title: (p.start_t, p.end_t) for p in pieces(filmed(), 999.0) if p.kind == "stage"}
    named = [c for c in film.chapters if c.text in stages]
    assert named
    for chapter in named[1:]:
        start_t, stop_t = stages[chapter.text]
        assert start_t - 0.1 <= log_t(picture(out, chapter.start_s)) <= stop_t + 0.1


def test_a_file_name_full_of_quotes_is_found(folder: Path) -> None:
    """A recording whose name has quotes, hashes, blanks and a colon is cut like any other."""
    path = record(folder / "it's: a #1 'film'=;.mp4", 8, PAL, keyframes=1)
    alignment = align([Recording(path.name, 8.0)], [Mark(0.0, path.name, 0.0)])
    made = cut([Piece("p", "", 2.0, 4.0, "step", "p")], alignment, None)
    film = Film("cut", end_to_end(c.stretch for c in made.clips).length_s, clips=made.clips)
    assert length(played(film, folder)) == pytest.approx(8.0, abs=2 / 25)


# -- several parts


def test_a_paused_recording_shows_both_parts_and_nothing_between(folder: Path) -> None:
    """A clip over a pause of the recorder plays up to it and on from it, picture by picture."""
    keep = "select='lt(n,1000)+gte(n,1500)',setpts=N/25/TB"
    path = record(folder / "paused.mov", 90, PAL, keyframes=1, frames=keep)
    segments = (Segment(path.name, LOG_T, log_t(1000, PAL)), Segment(path.name, log_t(1500, PAL), None))
    made = exported([path], [mark(path, 200, PAL), mark(path, 1400, PAL)], segments, budget_min=None)
    gaps = [r.text for r in made.remarks if r.code == "gap" and r.about]
    assert gaps == ["paused.mov: nothing is recorded from 00:42 to 01:02 of the log (20 s)."]
    spanning = cut([Piece("p", "", 38.0, 66.0, "step", "p")], made.alignment, None)
    film = Film("cut", end_to_end(c.stretch for c in spanning.clips).length_s, clips=spanning.clips)
    seen = burnt_in(played(film, folder))
    first, last = round((33 - LOG_T) * 25), round((71 - LOG_T) * 25)
    expected = [*range(first, 1000), *range(1500, last)]
    assert abs(len(seen) - len(expected)) <= 2
    assert sum(1 for n in seen if n in expected) >= len(seen) - 2
    assert max(b - a for a, b in pairwise(seen)) == pytest.approx(501, abs=2)


def test_a_split_recording_is_cut_over_its_boundary(folder: Path) -> None:
    """A clip from one file into the next shows every picture once, with a mark in each file."""
    one = record(folder / "split 1.mov", 40, PAL, keyframes=1)
    two = record(folder / "split 2.mov", 50, PAL, keyframes=1, first=1000)
    made = exported([one, two], [mark(one, 100, PAL), mark(two, 100, PAL)])
    assert not [r for r in made.remarks if r.code in ("overlap", "seam") or (r.code == "gap" and r.about)]
    spanning = cut([Piece("p", "", 38.0, 46.0, "step", "p")], made.alignment, None)
    assert [c.file for c in spanning.clips] == [one.name, two.name]
    film = Film("cut", end_to_end(c.stretch for c in spanning.clips).length_s, clips=spanning.clips)
    seen = burnt_in(played(film, folder))
    expected = list(range(round((33 - LOG_T) * 25), round((51 - LOG_T) * 25)))
    assert abs(len(seen) - len(expected)) <= 2
    assert len(set(seen) & set(expected)) >= len(expected) - 2
