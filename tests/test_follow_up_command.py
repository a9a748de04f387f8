"""`clockhour archive followup` at the door, and the book that it keeps beside the log."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from audit_archives import ROOT, write
from tracker.cli import main
from tracker.commands import followup
from tracker.core.follow_up_events import FOLLOW_UP_KINDS
from tracker.journal.archive import Archive
from tracker.journal.books import FOLLOW_UP
from tracker.journal.files import Journal
from tracker.screen.station import Now

CODE = "A-0001"
JUNE = ("--date", "2026-06-01")


@pytest.fixture
def cases(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive with one case, operated on 2026-03-02, and a station whose day is 2026-09-01."""
    monkeypatch.setattr(
        followup, "StationClock", lambda: lambda: Now(datetime(2026, 9, 1, 9, tzinfo=UTC), 40)
    )
    write(tmp_path / "cases", CODE)
    return tmp_path / "cases"


class Door:
    """The command on an archive: exit code, what it printed, what it said."""

    def __init__(self, cases: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.cases, self.capsys = cases, capsys

    def __call__(self, *words: str) -> tuple[int, str, str]:
        """Run it once."""
        code = main(["--archive", str(self.cases), "archive", "followup", CODE, *words])
        told = self.capsys.readouterr()
        return code, told.out, told.err


@pytest.fixture
def ask(cases: Path, capsys: pytest.CaptureFixture[str]) -> Door:
    """The command on that archive."""
    return Door(cases, capsys)


def test_a_case_without_visits_says_so_and_writes_nothing(ask: Door) -> None:
    """Looking leaves no file behind."""
    assert ask() == (0, f"{CODE}, operated on 2026-03-02: no visits.\n", "")
    assert not list(ask.cases.glob("*followup*"))


def test_a_visit_is_entered_and_shown(ask: Door) -> None:
    """What was found, with its day, the days since the operation, and the role."""
    found = ("--attached", "yes", "--acuity", "6/24", "--pressure", "15", "--oil", "in", "--role", "fellow")
    code, told, said = ask(*JUNE, *found)

    assert (code, said) == (0, "")
    assert told == "entry 2: 2026-06-01  retina attached; acuity 6/24; 15 mmHg; oil in the eye\n"
    assert (
        "2026-06-01  day 91          retina attached; acuity 6/24; 15 mmHg; oil in the eye  (fellow)"
        in ask()[1]
    )
    assert Archive(ask.cases).verify(CODE) == ()


def test_a_visit_before_the_operation_counts_as_before(ask: Door) -> None:
    """It is entered, and that is said."""
    code, _, said = ask("--date", "2026-02-20", "--acuity", "HM")

    assert code == 0
    assert "10 days before the operation: it counts as before" in said


def test_a_visit_is_put_right_by_a_new_entry(ask: Door) -> None:
    """What is given replaces, `-` takes out, the rest stays; the first entry is in the file as it was."""
    ask(*JUNE, "--acuity", "6/24", "--pressure", "15", "--note", "calm")
    before = (ask.cases / f"{CODE}.followup.jsonl").read_bytes()
    code, told, _ = ask("--amend", "2", "--acuity", "6/18", "--note", "-", "--why", "wrong line")

    assert (code, told) == (0, "entry 3: 2026-06-01  acuity 6/18; 15 mmHg\n")
    assert (ask.cases / f"{CODE}.followup.jsonl").read_bytes().startswith(before)
    assert "[replaced by entry 3: wrong line]" in ask()[1]
    assert (
        ask("--amend", "2", "--acuity", "6/6")[2] == "Entry 2 was replaced by entry 3: it stays as it is.\n"
    )


def test_a_visit_is_struck_and_stays_legible(ask: Door) -> None:
    """A struck one is neither struck nor put right again."""
    ask(*JUNE, "--acuity", "6/24")

    assert ask("--strike", "2", "--why", "another eye")[0] == 0
    assert "[struck by entry 3: another eye]" in ask()[1]
    assert ask("--strike", "2") == (2, "", "Entry 2 was struck by entry 3: it stays as it is.\n")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--pressure", "14"], "A visit needs its day: --date 2026-03-31."),
        (["--date", "1.6.2026", "--pressure", "14"], "1.6.2026 is no day: write it as 2026-03-31."),
        (["--date", "2026-10-01", "--pressure", "14"], "2026-10-01 has not come yet."),
        ([*JUNE], "Nothing was said of that visit: give at least one finding or a note."),
        ([*JUNE, "--acuity", " "], "Nothing was said of that visit: give at least one finding or a note."),
        ([*JUNE, "--pressure", "high"], "high is no pressure: write it in mmHg, as 14."),
        ([*JUNE, "--pressure", "nan"], "nan is no pressure: write it in mmHg, as 14."),
        (["--amend", "9", "--pressure", "14"], "Entry 9 is no visit"),
        (["--amend", "1", "--pressure", "14"], "Entry 1 is no visit"),
        (["--strike", "1"], "Entry 1 is no visit"),
        (["--strike", "2", *JUNE], "A visit is struck by itself"),
    ],
)
def test_what_cannot_be_entered_is_refused_in_a_sentence(ask: Door, words: list[str], why: str) -> None:
    """Exit code 2, the reason on standard error, and no book is begun."""
    code, told, said = ask(*words)

    assert (code, told) == (2, "")
    assert why in said
    assert not (ask.cases / f"{CODE}.followup.jsonl").exists()


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--pressure", "95"], "95 mmHg is outside 0 to 80."),
        (
            ["--note", "Mrs Invented asked"],
            "The note looks like a title with a name: no patient identifiers.",
        ),
        (["--pressure", "14", "--role", "Dr Nobody"], "The role looks like a title with a name"),
    ],
)
def test_what_was_questioned_is_entered_by_whoever_is_sure(ask: Door, words: list[str], why: str) -> None:
    """Once without, which enters nothing and says how; then with `--sure`."""
    code, _, said = ask(*JUNE, *words)

    assert code == 2
    assert why in said
    assert "Nothing was entered; --sure enters it as it is." in said
    assert ask(*JUNE, *words, "--sure")[0] == 0


def test_acuity_that_cannot_be_read_is_kept_and_said(ask: Door) -> None:
    """The words of whoever wrote them stay."""
    code, told, said = ask(*JUNE, "--acuity", "quite good")

    assert code == 0
    assert "acuity quite good (not readable as acuity)" in told
    assert "it has no logMAR" in said


def test_two_visits_on_one_day_are_both_kept(ask: Door) -> None:
    """The eye was measured twice."""
    ask(*JUNE, "--pressure", "30")
    ask(*JUNE, "--pressure", "18")

    assert ask()[1].splitlines()[0].endswith(": 2 visits.")


def test_a_case_that_is_not_there_is_named(cases: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2."""
    assert main(["--archive", str(cases), "archive", "followup", "A-0002", *JUNE, "--pressure", "14"]) == 2
    assert "There is no case A-0002" in capsys.readouterr().err


def test_a_book_being_written_is_not_written_by_another(ask: Door) -> None:
    """One writer, as of every journal."""
    ask(*JUNE, "--pressure", "14")
    with Journal.open(ask.cases, CODE, book=FOLLOW_UP):
        assert ask(*JUNE, "--pressure", "15")[0] == 4


def test_a_damaged_book_is_named_and_mended(ask: Door, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is added to it; verify names the line, mend sets the rest aside, and it goes on."""
    for pressure in ("14", "15", "16"):
        ask(*JUNE, "--pressure", pressure)
    path = ask.cases / f"{CODE}.followup.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"pressure":15', b'"pressure":51'))
    code, _, said = ask(*JUNE, "--pressure", "17")

    assert code == 3
    assert "Line 3 does not match its own hash" in said
    assert main(["--archive", str(ask.cases), "archive", "mend", CODE]) == 0
    assert "The follow-up of case A-0001: 2 entries kept" in capsys.readouterr().out
    assert ask(*JUNE, "--pressure", "17")[1].startswith("entry 3: ")


def test_a_book_of_another_log_is_not_gone_on_with(ask: Door, tmp_path: Path) -> None:
    """Its first line points at the log by its hash."""
    ask(*JUNE, "--pressure", "14")
    other = tmp_path / "other"
    write(other, CODE, version="2")
    (other / f"{CODE}.followup.jsonl").write_bytes((ask.cases / f"{CODE}.followup.jsonl").read_bytes())

    [finding] = Archive(other).verify(CODE)
    assert "The log is not the one that the follow-up is of" in str(finding)
    assert main(["--archive", str(other), "archive", "followup", CODE, *JUNE, "--pressure", "15"]) == 3


def test_a_follow_up_travels_with_its_case(ask: Door, tmp_path: Path) -> None:
    """Exported with a digest of its own, taken in, and the same there."""
    ask(*JUNE, "--pressure", "14")
    here, there = Archive(ask.cases), Archive(tmp_path / "there")
    there.import_case(here.export_case(CODE, tmp_path / "stick"))

    name = f"{CODE}.followup.jsonl"
    assert (there.folder / name).read_bytes() == (here.folder / name).read_bytes()
    assert (tmp_path / "stick" / f"{name}.sha256").exists()
    assert [entry.state for entry in there.entries()] == ["sound"]


def test_a_follow_up_without_its_case_is_told_of(ask: Door) -> None:
    """It is nothing the folder should hold by itself."""
    ask(*JUNE, "--pressure", "14")
    (ask.cases / f"{CODE}.case.jsonl").unlink()
    (ask.cases / f"{CODE}.lock").unlink(missing_ok=True)

    [orphan] = Archive(ask.cases).entries()
    assert (orphan.state, orphan.what) == ("foreign", "a follow-up whose case is not here")


def test_the_guide_has_every_option_and_every_kind() -> None:
    """What may be said of a visit, and what the book holds."""
    guide = (ROOT / "shared" / "guide.md").read_text("utf-8")

    for option in followup.FIELDS:
        assert f"| --{option.replace('_', '-')} |" in guide
    for kind in FOLLOW_UP_KINDS:
        assert f"| {kind.model_fields['kind'].default} |" in guide
