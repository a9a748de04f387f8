"""`clockhour list` and `clockhour sheet`, as a person at a shell uses them."""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path

import pypdf
import pytest

from days import DAY, THREE, at, case, lists_of, say
from desks import Hand
from terminal import Terminal, clockhour
from tracker.cli import main
from tracker.core import day_events as de
from tracker.core import debrief_events as db
from tracker.core.wording import CAUTIONS
from tracker.journal.archive import Archive
from tracker.journal.books import DEBRIEF
from tracker.journal.day_lists import Lists


def run(folder: Path, *words: str) -> int:
    """A command on an archive."""
    return main(["--archive", str(folder), *words])


def test_a_list_is_made_from_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One place a case, with what is planned and known; it is shown and checked without a finding."""
    code = run(
        tmp_path, "list", "new", DAY, "--start", "08:30", "--session", "480", "--station", "Theatre 4",
        "--place", "complex-pvr,minutes=150,start=08:30,eye=left,video_consent=yes,axial_length=24.5",
        "--place", "complex-pvr,code=B-0007",
    )  # fmt: skip
    assert (code, capsys.readouterr().out.strip()) == (0, str(tmp_path / "lists" / f"{DAY}.toml"))

    plan = Lists(Archive(tmp_path)).day(DAY).plan
    assert plan.places[0].facts == {"eye": "left", "video_consent": True, "axial_length": 24.5}
    assert run(tmp_path, "list", "check", DAY) == 0
    assert run(tmp_path, "list", "show", DAY) == 0
    assert "2. complex-pvr, B-0007, to come" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("place", "code", "said"),
    [
        ("complex-pvr,eye=middle", 1, "Eye cannot be “middle”"),
        ("complex-pvr,code=Smith", 1, "is not a case code"),
        ("complex-pvr,colour=red", 2, "has no case fact colour"),
        ("complex-pvr,minutes=0", 2, "minutes from 1 to 1440"),
        ("complex-pvr,start=9", 2, "a time of the day"),
        ("complex-pvr,left", 2, "left says nothing"),
        ("nothing", 2, "There is no protocol nothing"),
    ],
)
def test_a_place_that_cannot_be_is_said_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], place: str, code: int, said: str
) -> None:
    """A sentence, a code, no file."""
    assert run(tmp_path, "list", "new", DAY, "--place", place) == code
    shown = capsys.readouterr()
    assert said in shown.out + shown.err
    assert not (tmp_path / "lists").exists()


def test_a_list_with_mistakes_is_checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each finding with file and line, and the code of findings."""
    lists_of(tmp_path, THREE.replace("minutes = 150", "minutes = 5").replace('"B-0007"', '"b7"'))

    assert run(tmp_path, "list", "check", DAY) == 1
    assert [line.split(" ")[0] for line in capsys.readouterr().out.splitlines()] == [
        f"{DAY}.toml:11:", f"{DAY}.toml:18:",
    ]  # fmt: skip
    assert run(tmp_path, "list", "check", "2027-01-01") == 2
    assert run(tmp_path, "list", "check", "today") == 2


def test_a_list_is_made_by_questions_in_a_terminal(tmp_path: Path) -> None:
    """A wrong answer is said and asked again; nothing typed is what is not known."""
    shell = Terminal(clockhour("--archive", str(tmp_path), "list", "new", DAY), columns=120, lines=40)
    answers = ["late", "08:30", "480", "Theatre 4", "complex-pvr", "", "08:30", "150", "l"]
    shell.until("Planned start of the session")
    shell.send("".join(f"{answer}\n" for answer in answers) + "\n" * 40)
    shell.until(f"{DAY}.toml")
    shell.process.wait(timeout=20)

    plan = Lists(Archive(tmp_path)).day(DAY).plan
    assert [(p.protocol, p.start, p.minutes, dict(p.facts)) for p in plan.places] == [
        ("complex-pvr", "08:30", 150, {"eye": "left"}),
    ]  # fmt: skip


def test_without_a_terminal_and_without_places_the_words_are_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No question goes where nobody sits."""
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert run(tmp_path, "list", "new", DAY) == 2
    assert "--place PROTOCOL" in capsys.readouterr().err


# -- sheets


@pytest.fixture
def day(tmp_path: Path) -> Lists:
    """Three cases and one called off; a debrief of the first that wants something changed."""
    lists = lists_of(tmp_path)
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    case(lists, 1, "A-0001", at("08:55"), at("11:20"))
    say(lists, de.LateStartReason, at("09:00"), reason="ward")
    say(
        lists,
        de.PlaceAdded,
        at("11:00"),
        place=4,
        protocol="complex-pvr",
        minutes=60.0,
        before=2,
        reason="emergency",
    )
    case(lists, 4, "A-0002", at("11:52"), at("13:10"))
    say(lists, de.PlaceCalledOff, at("13:05"), place=2, reason="unfit")
    case(lists, 3, "A-0003", at("23:40"))
    log = lists.archive.read("A-0001")
    now = Hand(at("17:00"))()
    frame = {"at": now.at, "entered_at": now.at, "elapsed_ms": 0, "run": 1, "role": "consultant"}
    with lists.archive.open_beside("A-0001", DEBRIEF) as book:
        book.append(
            db.Debriefed(
                seq=1, **frame, code="A-0001", log_hash=log.head, log_entries=len(log.events), program="0"
            )
        )
        book.append(
            db.ToChange(
                seq=2, **frame, action="second laser probe in the room", owner="scrub", due="2027-01-15"
            )
        )
    return lists


def test_the_debrief_of_a_day_is_one_page(day: Lists, capsys: pytest.CaptureFixture[str]) -> None:
    """Planned and real minutes, reasons, safety, what to change, what is open, the cautions; no line over 80."""
    assert run(day.archive.folder, "sheet", "--day", DAY) == 0
    told = capsys.readouterr().out
    page = " ".join(told.partition("-" * 80)[0].split())

    for words in (
        "Debrief of list 2026-12-01", "team brief 08:15, team debrief not entered",
        "1 A-0001 08:30 150 08:55 11:20 145", "4 A-0002 60 11:52 13:10 78 added (emergency came between)",
        "2 B-0007 11:30 120 called off (not fit today)", "25 min after the planned start: ward or transport",
        "A-0001 out to A-0002 in: 32 min, no reason given",
        "A-0001 second laser probe in the room (Scrub practitioner, by 2027-01-15)",
        "A-0003 no end logged", "at safety level without a reason", *CAUTIONS,
    ):  # fmt: skip
        assert words in page
    assert max(map(len, told.splitlines())) <= 80
    assert told.count("End-of-case sheet") == 3


def test_the_sheets_are_written_as_text_and_pdf(
    day: Lists, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The debrief on the first page, a register sheet on each page after it; and one case by itself."""
    to = tmp_path / "out"
    assert run(day.archive.folder, "sheet", "--day", DAY, "--to", str(to)) == 0
    assert run(day.archive.folder, "sheet", "A-0001", "--to", str(to)) == 0
    assert [Path(p).name for p in capsys.readouterr().out.split()] == [
        f"{DAY}-list.txt", f"{DAY}-list.pdf", "A-0001-sheet.txt", "A-0001-sheet.pdf",
    ]  # fmt: skip

    pages = [page.extract_text() for page in pypdf.PdfReader(to / f"{DAY}-list.pdf").pages]
    assert len(pages) == 4
    assert "Debrief of list 2026-12-01" in pages[0]
    assert "second laser probe" in pages[0]
    assert "Not a medical device" in pages[0]
    assert all(f"Register sheet of A-000{n}" in pages[n] for n in (1, 2, 3))
    (alone,) = pypdf.PdfReader(to / "A-0001-sheet.pdf").pages
    assert "Register sheet of A-0001" in alone.extract_text()
    assert "U+000A" not in "".join(pages)


def test_a_sheet_needs_a_case_or_a_day(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither, both, a case or a list that is not there: a sentence."""
    assert run(tmp_path, "sheet") == 2
    assert run(tmp_path, "sheet", "A-0001", "--day") == 2
    assert run(tmp_path, "sheet", "A-0001") == 2
    assert run(tmp_path, "sheet", "--day") == 2
    assert f"There is no list {datetime.now().astimezone().date()}" in capsys.readouterr().err


def test_an_empty_archive_has_no_lists(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is made by looking."""
    assert run(tmp_path, "list", "show", "--all") == 0
    assert capsys.readouterr().out == ""
    assert run(tmp_path, "list", "show") == 2
    assert [*tmp_path.iterdir()] == []


def test_one_key_of_the_first_screen_writes_the_sheets_and_shows_them(day: Lists) -> None:
    """`s`: text and PDF lie in the archive's folder of sheets, and the page is read there and then."""
    from tracker.commands.sheet import shown
    from tracker.theatre.home import Home
    from tracker.theatre.reading import Reading
    from tracker.theatre.settings import Settings

    archive, settings = day.archive, Settings()
    home = Home(archive, Hand(at("23:50")), settings, sheets=lambda name: shown(archive, settings, name))
    home.press("s")

    assert isinstance(home.become, Reading)
    assert "Debrief of list 2026-12-01" in home.become.lines[0]
    assert sorted(p.name for p in (archive.folder / "sheets").iterdir()) == [
        f"{DAY}-list.pdf",
        f"{DAY}-list.txt",
    ]
    home.become.press("escape")
    assert home.become.left
