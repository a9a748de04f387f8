"""`clockhour review` and the films of `clockhour record`, as a user at a shell meets them."""

from __future__ import annotations

import csv
import io
import json
import stat
import tomllib
from pathlib import Path

import pytest
import webvtt

from debriefs import ASKING, CODE, archive_of, events_of, log_bytes
from record_readers import unguarded
from tracker.cli import main
from tracker.core.debrief_events import Amended, Attended, ExportRefused, Reasoned, Signed, ToChange, WentWell
from tracker.journal.archive import Archive
from tracker.journal.books import DEBRIEF
from tracker.journal.files import Journal
from tracker.review.debriefing import Debriefing
from tracker.review.film_files import safe_name
from tracker.screen.station import StationClock

KEY = "need:cut<membranes:12"


def folder(tmp_path: Path, consent: object = True) -> Path:
    """A folder of cases with the small one in it."""
    cases = tmp_path / "cases"
    cases.mkdir(mode=0o700)
    (cases / f"{CODE}.case.jsonl").write_bytes(log_bytes(archive_of(consent=consent)))
    return cases


def debriefed(tmp_path: Path, signed: bool = False) -> Path:
    """The folder once something was said of the case."""
    cases = folder(tmp_path)
    debriefing = Debriefing(Archive(cases), CODE, StationClock())
    debriefing.say(WentWell, text="calm | throughout")
    debriefing.say(ToChange, action="=second vial", owner="fellow", due="2026-11-23", tag="kit")
    debriefing.say(Reasoned, deviation=KEY, reason="forced", how="intended", text="planned")
    debriefing.say(Amended, entry=9, told="2026-10-24T09:12:00.000+01:00", reason="forced")
    debriefing.say(Attended, who="consultant")
    if signed:
        debriefing.say(Signed, who="consultant")
    debriefing.close()
    return cases


def run(cases: Path, *words: object) -> int:
    """The program's exit code."""
    return main(["--archive", str(cases), *map(str, words)])


def record(cases: Path, to: Path, *words: object) -> int:
    """`record` of the case."""
    return run(cases, "record", CODE, "--to", to, *words)


def refusals(cases: Path) -> list[str]:
    """The refused exports that the debrief tells of."""
    read = Archive(cases).read_beside(CODE, DEBRIEF)
    return [e.reason for e in read.events if isinstance(e, ExportRefused)] if read else []


# -- without a terminal


def test_a_review_without_a_terminal_is_text(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The timeline, what differed with its reasons, the debrief, what went well first."""
    assert run(debriefed(tmp_path), "review", CODE) == 0
    said = capsys.readouterr().out

    for words in (
        "Peel and cut", "█ start to stop", "Retina cut: out of the usual order (safety)",
        "why: finding forced it; intended; planned", "debrief not signed off", "went well: calm | throughout",
        "to change: =second vial (owner: fellow; by 2026-11-23, kit)",
        "amended: entry 9; stop; Core vitrectomy; 09:16:30 became at 09:12:00; finding forced it",
        "took part: consultant", "usual range here: n too small", "Not a medical device",
    ):  # fmt: skip
        assert words in said, words
    assert said.index("went well") < said.index("to change")


def test_looking_at_a_case_writes_nothing(tmp_path: Path) -> None:
    """The folder holds what it held."""
    cases = folder(tmp_path)
    assert run(cases, "review", CODE) == 0

    assert [p.name for p in cases.iterdir()] == [f"{CODE}.case.jsonl"]


@pytest.mark.parametrize(("code", "exit_code"), [("A-0099", 2), ("../x", 2)])
def test_a_case_that_is_not_there_is_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], code: str, exit_code: int
) -> None:
    """A code without a case, and a path."""
    assert run(folder(tmp_path), "review", code) == exit_code
    assert capsys.readouterr().err.rstrip().endswith(".")


def test_a_damaged_debrief_is_named_by_its_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Review, record and verify say which line, and mend keeps what stands before it."""
    cases = debriefed(tmp_path)
    path = cases / f"{CODE}.debrief.jsonl"
    path.write_bytes(path.read_bytes().replace(b"calm", b"loud"))
    for words in (["review", CODE], ["record", CODE, "--to", tmp_path / "r"], ["archive", "verify"]):
        assert run(cases, *words) == 3
        assert f"{CODE}.debrief.jsonl:2" in "".join(capsys.readouterr())
    assert run(cases, "archive", "mend", CODE) == 0
    assert run(cases, "archive", "verify") == 0


# -- the record


def test_a_record_holds_the_debrief(tmp_path: Path) -> None:
    """JSON and TOML alike: state, what was said, and the amended minutes in the stages."""
    cases, to = debriefed(tmp_path, signed=True), tmp_path / "r"
    assert record(cases, to, "--as", "json,toml") == 0
    held = json.loads((to / f"{CODE}.json").read_text("utf-8"))
    said = held["debrief"]

    assert (said["state"], said["log"], said["log_entries"]) == ("signed off", "as debriefed", 44)
    assert [line["text"] for line in said["went_well"]] == ["calm | throughout"]
    assert [(a["entry"], a["became"], a["stands"]) for a in said["amendments"]] == [(9, "at 09:12:00", True)]
    assert [s["label"] for s in said["signed"]] == ["consultant"]
    assert [line["kind"] for line in said["lines"]] == [
        "debriefed", "went_well", "to_change", "deviation_reason", "amended", "attended", "signed",
    ]  # fmt: skip
    assert [s["minutes"] for s in held["spans"] if s["step"] == "core"] == [6.0]
    assert [d["how"] for d in held["deviations"] if d["key"] == KEY] == ["intended"]
    assert (
        tomllib.loads((to / f"{CODE}.toml").read_text("utf-8"))["debrief"]["to_change"] == said["to_change"]
    )


def test_the_log_in_the_record_stays_as_written(tmp_path: Path) -> None:
    """The entry stands at its amended time, and what was written first is beside it."""
    cases, to = debriefed(tmp_path), tmp_path / "r"
    record(cases, to, "--as", "json")
    held = json.loads((to / f"{CODE}.json").read_text("utf-8"))
    [entry] = [e for e in held["events"] if e["seq"] == 9]

    assert (entry["at"][11:19], entry["at_written"][11:19]) == ("09:12:00", "09:16:30")
    assert held["entries"] == len(held["events"]) == 44
    assert held["last_hash"] == Archive(cases).read(CODE).head
    assert {a["ref"] for a in held["amendments"]} == {28, 30, 36}


def test_a_record_without_a_debrief_has_none(tmp_path: Path) -> None:
    """Null in JSON, absent in TOML, no heading in Markdown."""
    to = tmp_path / "r"
    assert record(folder(tmp_path), to, "--as", "json,toml,md") == 0

    assert json.loads((to / f"{CODE}.json").read_text("utf-8"))["debrief"] is None
    assert "debrief" not in tomllib.loads((to / f"{CODE}.toml").read_text("utf-8"))
    assert "Debrief" not in (to / f"{CODE}.md").read_text("utf-8")


def test_a_page_says_whether_the_debrief_is_signed(tmp_path: Path) -> None:
    """Markdown and the text beside the tables; typed words stay words."""
    to = tmp_path / "r"
    assert record(debriefed(tmp_path), to, "--as", "md,csv") == 0
    page, about = ((to / f"{CODE}{end}").read_text("utf-8-sig") for end in (".md", "-about.txt"))

    assert "| Sign-off | not signed off |" in page
    assert "calm &#124; throughout" in page
    assert page.index("## What went well") < page.index("## Deviations")
    assert "Sign-off; not signed off" in about


@pytest.mark.parametrize("signed", [False, True])
def test_a_record_of_a_debrief_that_is_not_signed_off_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], signed: bool
) -> None:
    """A sentence on standard error, a line of the end-of-case sheet; the record is written all the same."""
    to = tmp_path / "r"
    assert record(debriefed(tmp_path, signed=signed), to, "--as", "sheet") == 0
    told = f"The debrief of case {CODE} is not signed off; the record says so.\n"

    assert capsys.readouterr().err == ("" if signed else told)
    state = "signed off" if signed else "not signed off"
    assert f"Debrief         {state}; 1 amended or added" in (to / f"{CODE}-sheet.txt").read_text("utf-8")


def test_a_debrief_of_another_log_changes_no_record(tmp_path: Path) -> None:
    """It is shown as what it is, and nothing of it is taken in."""
    cases, to = debriefed(tmp_path), tmp_path / "r"
    path = cases / f"{CODE}.case.jsonl"
    path.unlink()
    with Journal.create(cases, CODE) as journal:
        for event in events_of("09:00 opened\n09:05 start step=core\n09:15 stop step=core ref=2"):
            journal.append(event)
    assert record(cases, to, "--as", "json,md") == 0
    held = json.loads((to / f"{CODE}.json").read_text("utf-8"))

    assert held["debrief"]["log"] == "another log"
    assert [s["minutes"] for s in held["spans"]] == [10.0]
    assert "nothing of the debrief is taken into the record" in (to / f"{CODE}.md").read_text("utf-8")
    assert run(cases, "archive", "verify") == 3


def test_free_words_and_roles_may_be_left_out_of_a_debrief(tmp_path: Path) -> None:
    """No word typed, no role but the posts, and the record says so."""
    to = tmp_path / "r"
    words = ["--as", "json", "--without-notes", "--roles-general"]
    assert record(debriefed(tmp_path, signed=True), to, *words) == 0
    said = json.loads((to / f"{CODE}.json").read_text("utf-8"))["debrief"]
    text = json.dumps(said)

    for word in ("calm", "vial", "planned", "consultant", "fellow"):
        assert word not in text
    assert [s["label"] for s in said["signed"]] == ["operator"]
    assert said["went_well"][0]["text"] == "(left out)"


# -- recordings from the command line


def test_recordings_and_marks_are_entered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By time of day, by entry, by seconds since the first entry; the alignment is printed."""
    cases = folder(tmp_path)
    words = ["--recording", "rec1.mp4", "1:00:00", "--mark", "rec1.mp4", "09:06:00", "5:00"]
    more = ["--mark", "rec1.mp4", "@12", "17:10", "--mark", "rec1.mp4", "+3600", "54:00"]
    assert run(cases, "review", CODE, *words, *more) == 0
    out = capsys.readouterr().out

    assert out.startswith("rec1.mp4: 06:00 to 1:06:00 of the log, 3 marks, offset -360.00 s, pace 1.00000")
    assert out.endswith("residuals +0.00, +0.00, +0.00 s\n")


def test_a_frame_rate_taken_for_another_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Marks an hour apart that are 3.6 s closer in the file: 29.97 counted as 30 (SMPTE ST 12-1)."""
    marks = [("09:00:00", "0"), ("09:30:00", "29:58.2"), ("10:00:00", "59:56.4")]
    words = [word for log, video in marks for word in ("--mark", "rec.mp4", log, video)]
    assert run(folder(tmp_path), "review", CODE, "--recording", "rec.mp4", "-", *words) == 1

    assert "frames made 29.97 a second are counted as 30" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--recording", "rec.mp4", "0"], "longer than nothing"),
        (["--recording", "rec.mp4", "long"], "is not a time"),
        (["--recording", "  ", "-"], "A file name is needed"),
        (["--recording", "a\x1b[2Jb.mp4", "-"], "characters that can be shown"),
        (["--mark", "rec.mp4", "25:00", "0"], "is no time of the log"),
        (["--mark", "rec.mp4", "03:00", "0"], "lies outside the times of this log"),
        (["--mark", "rec.mp4", "@999", "0"], "is no entry that stands in the log"),
        (["--mark", "rec.mp4", "09:06", "1:99"], "minutes and seconds stay below 60"),
        (["--part", "rec.mp4", "noon", "-"], "is no time of the log"),
    ],
)
def test_a_word_that_cannot_be_read_enters_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], says: str
) -> None:
    """A sentence, exit code 2, and no debrief is begun."""
    cases = folder(tmp_path)
    good = ["--recording", "good.mp4", "-"]
    assert run(cases, "review", CODE, *good, *words) == 2

    assert says in capsys.readouterr().err
    assert Archive(cases).read_beside(CODE, DEBRIEF) is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--mark", "gone.mp4", "09:06", "0"], "is not among the recordings"),
        (["--mark", "rec.mp4", "09:06", "9:00:00"], "past the file's end"),
        (["--mark", "rec.mp4", "09:06", "0", "--mark", "rec.mp4", "09:10", "0"], "contradict"),
        (["--part", "rec.mp4", "09:10", "09:05"], "before it begins"),
        (["--recording", "Mr Smith.mp4", "-"], "a title with a name"),
    ],
)
def test_what_does_not_fit_is_questioned(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], says: str
) -> None:
    """It is entered, told in a sentence, and the exit code says that something is to be looked at."""
    assert run(folder(tmp_path), "review", CODE, "--recording", "rec.mp4", "1:00:00", *words) == 1
    assert says in capsys.readouterr().err


# -- films


def filmed(tmp_path: Path, consent: object = True) -> Path:
    """The folder once a recording was named and marked."""
    cases = folder(tmp_path, consent)
    words = ["--recording", "/films/rec one.mp4", "1:10:00", "--mark", "/films/rec one.mp4", "08:55", "0"]
    assert run(cases, "review", CODE, *words) in (0, 1)
    return cases


def test_films_are_written_beside_the_record(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Chapters, captions, metadata and a cut under safe names, each mode 0600, with the record."""
    cases, to = filmed(tmp_path), tmp_path / "r"
    capsys.readouterr()
    assert record(cases, to, "--as", "vtt,srt,ffmetadata,chapters,cuts,md") == 0
    out = [Path(line) for line in capsys.readouterr().out.splitlines()]

    assert {p.name for p in out} == {p.name for p in to.iterdir()}
    ends = ("chapters.vtt", "captions.vtt", "srt", "ffmetadata", "chapters.txt")
    films = {f"{film}.{end}" for film in ("rec_one.mp4", f"{CODE}-cut") for end in ends}
    assert {p.name for p in out} == {*films, f"{CODE}-cut.csv", f"{CODE}-cut.ffconcat", f"{CODE}.md"}
    assert {stat.S_IMODE(p.stat().st_mode) for p in out} == {0o600}
    [first, *_] = webvtt.read(to / "rec_one.mp4.chapters.vtt")
    assert (first.start, first.text) == ("00:00:00.000", "Opening")
    assert "file '/films/rec one.mp4'" in (to / f"{CODE}-cut.ffconcat").read_text("utf-8")


def test_rolls_chapters_and_budget_are_asked_for(tmp_path: Path) -> None:
    """Two seconds about every moment; chapters of one step alone; a cut of half a minute."""
    cases, to = filmed(tmp_path), tmp_path / "r"
    words = ["--as", "cuts,vtt", "--pre", "2", "--post", "2", "--pre", "core=10", "--chapter", "laser"]
    assert record(cases, to, *words, "--budget", "0.5", "--min-chapter", "5") == 0
    cut = list(csv.DictReader(io.StringIO((to / f"{CODE}-cut.csv").read_text("utf-8"))))

    assert "00:36:28.000" in [row["in"] for row in cut]  # the bookmark at 09:31:30 is at 36:30 of the file
    assert [unguarded(row["title"]) for row in cut if row["in"] == "00:36:28.000"] == ["good bit"]
    assert [c.text for c in webvtt.read(to / "rec_one.mp4.chapters.vtt")] == ["Opening", "Edge laser"]


@pytest.mark.parametrize("consent", [False, "perhaps"])
def test_without_consent_no_film_is_written_and_the_refusal_is_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], consent: object
) -> None:
    """The reason is said, the record is written all the same, and the debrief tells of the refusal."""
    cases, to = filmed(tmp_path, consent), tmp_path / "r"
    assert record(cases, to, "--as", "vtt,cuts,json") == 1

    assert "No export: “Consent for video”" in capsys.readouterr().err
    assert [p.name for p in to.iterdir()] == [f"{CODE}.json"]
    assert len(refusals(cases)) == 1
    held = json.loads((to / f"{CODE}.json").read_text("utf-8"))
    assert [(r["formats"], r["reason"]) for r in held["debrief"]["refusals"]] == [
        ("vtt,cuts", refusals(cases)[0])
    ]


def test_films_of_no_recording_say_how_to_name_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2 and the command to type."""
    assert record(folder(tmp_path), tmp_path / "r", "--as", "srt") == 2
    assert f"clockhour review {CODE} --recording" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--pre", "nothing=3"], "nothing is no step of"),
        (["--pre", "-3"], "--pre: -3 is no number"),
        (["--budget", "nan"], "--budget: nan is no number"),
        (["--min-chapter", "long"], "--min-chapter: long is no number"),
    ],
)
def test_a_wish_that_cannot_be_read_is_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], says: str
) -> None:
    """Exit code 2, and nothing is written."""
    to = tmp_path / "r"
    assert record(filmed(tmp_path), to, "--as", "vtt", *words) == 2
    assert says in capsys.readouterr().err
    assert not to.exists()


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("/films/rec one.mp4", "rec_one.mp4"),
        ("C:\\films\\rec.part-2.mkv", "rec_part-2.mkv"),
        ("手術.mp4", "film__.mp4"),
        ("../../etc/passwd", "passwd"),
        (".hidden", "film_hidden"),
        ("rec", "rec"),
    ],
)
def test_names_of_films_are_safe(file: str, name: str) -> None:
    """No folder, no sign that a system or a shell minds."""
    assert safe_name(file) == name


def test_the_file_of_these_tests_asks_for_consent() -> None:
    """Without that fact no export would be possible at all."""
    assert 'consent_fact = "video_consent"' in ASKING
