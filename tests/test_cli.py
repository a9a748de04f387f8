"""The door, as a user at a shell meets it."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import pytest

from terminal import ROOT
from tracker.cli import main
from tracker.commands.exits import EXIT_CODES, WENT_WRONG


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """An archive with the invented case in it."""
    assert main(["demo", "--to", str(tmp_path / "demo")]) == 0
    return tmp_path / "demo" / "cases"


def test_help_is_shown_and_no_case_is_begun(capsys: pytest.CaptureFixture[str]) -> None:
    """`clockhour --help` names every command."""
    with pytest.raises(SystemExit) as left:
        main(["--help"])

    assert left.value.code == 0
    said = capsys.readouterr().out
    for command in ("theatre", "watch", "record", "archive", "protocol", "demo"):
        assert command in said


def test_a_wrong_word_is_usage() -> None:
    """A command that is not there ends with 2."""
    with pytest.raises(SystemExit) as left:
        main(["no-such-command"])

    assert left.value.code == 2


@pytest.mark.parametrize(
    "words", [["no-such-command"], ["audit", "--from", "yesterday"], ["plan"], ["archive", "followup"]]
)
def test_words_that_are_not_understood_are_answered_neutrally(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wanting is said, and nobody is told of errors."""
    with pytest.raises(SystemExit):
        main(words)

    said = capsys.readouterr().err
    assert said.startswith("usage: clockhour")
    assert "error" not in said.lower()
    assert "yesterday" not in words or "'yesterday' is no day as 2026-01-31" in said


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_a_review_is_drawn_with_the_signs_that_the_locale_has(
    archive: Path, monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    """Where standard output has no code for blocks and rules the timeline is of ASCII signs, and nothing ends."""
    out = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr("sys.stdout", out)
    assert main(["--archive", str(archive), "review", "DEMO-0001"]) == 0
    out.flush()
    told = out.buffer.getvalue().decode(encoding)  # type: ignore[attr-defined]

    assert ("█" in told, "===" in told) == (encoding == "utf-8", encoding != "utf-8")
    assert "\\u25" not in told


def test_a_command_that_is_stopped_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C is answered in a sentence, with the code of what was not kept."""

    def stopped(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("tracker.commands.protocol.list_all", stopped)
    assert main(["protocol", "list"]) == 5
    assert capsys.readouterr().err.startswith("Stopped.")


def test_the_live_screen_needs_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a terminal the live screen says so in a sentence."""
    assert main(["theatre", "complex-pvr"]) == 2
    assert "needs a terminal" in capsys.readouterr().err


def test_protocols_are_listed_with_their_review_state(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The list says that nobody here has reviewed the shipped file."""
    assert main(["--archive", str(tmp_path), "protocol", "list"]) == 0
    assert "complex-pvr" in (said := capsys.readouterr().out)
    assert "not reviewed locally" in said


def test_a_good_protocol_has_no_findings(tmp_path: Path) -> None:
    """The shipped protocol passes its own check."""
    assert main(["--archive", str(tmp_path), "protocol", "check", "complex-pvr"]) == 0


def test_a_bad_protocol_is_told_everything(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`protocol check` prints all findings on standard output and ends with 1."""
    bad = tmp_path / "bad.toml"
    bad.write_text(
        'format = 1\nid = "Bad Id"\nversion = "1"\ntitle = "x"\ncolour = 3\nstages = []\n', "utf-8"
    )

    assert main(["protocol", "check", str(bad)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert any("bad.toml:2" in line for line in lines)
    assert any("bad.toml:5" in line and "colour" in line for line in lines)


def test_show_prints_needs_with_their_reasons(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`protocol show` prints what comes first and why."""
    assert main(["--archive", str(tmp_path), "protocol", "show", "complex-pvr"]) == 0
    assert "safety: Diathermy line finished first" in capsys.readouterr().out


def test_a_new_protocol_is_reviewed_by_nobody(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A department's own file begins as a copy under its own id, and is never overwritten."""
    assert main(["--archive", str(tmp_path), "protocol", "new", "our-pvr"]) == 0
    made = Path(capsys.readouterr().out.strip())
    assert made.read_text("utf-8").count('id = "our-pvr"') == 1
    assert main(["--archive", str(tmp_path), "protocol", "check", "our-pvr"]) == 0
    assert main(["--archive", str(tmp_path), "protocol", "new", "our-pvr"]) == 2
    assert main(["--archive", str(tmp_path), "protocol", "new", "../escape"]) == 2


def test_the_demo_leaves_a_sound_case_marked_as_invented(
    archive: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The invented case verifies, and the list says that it is invented."""
    capsys.readouterr()
    assert main(["--archive", str(archive), "archive", "verify"]) == 0
    assert main(["--archive", str(archive), "archive", "list"]) == 0
    assert "invented" in capsys.readouterr().out


def test_a_changed_byte_is_named_by_line(archive: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`archive verify` names the first broken line and ends with 3; the record is then refused with 3."""
    journal = next(archive.glob("*.case.jsonl"))
    lines = journal.read_bytes().splitlines(keepends=True)
    lines[6] = lines[6].replace(b'"kind":"tick"', b'"kind":"tock"')
    journal.write_bytes(b"".join(lines))
    capsys.readouterr()

    assert main(["--archive", str(archive), "archive", "verify"]) == 3
    assert ":7:" in capsys.readouterr().out
    assert main(["--archive", str(archive), "record", "DEMO-0001", "--to", str(archive / "r")]) == 3


def test_a_record_is_written_in_the_formats_asked_for(
    archive: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Standard output is the list of files and nothing else."""
    capsys.readouterr()
    assert (
        main(["--archive", str(archive), "record", "DEMO-0001", "--to", str(archive / "r"), "--as", "md"])
        == 0
    )
    files = [Path(line) for line in capsys.readouterr().out.splitlines()]
    assert [f.suffix for f in files] == [".md"]
    assert all(f.is_file() for f in files)


def test_an_unknown_format_is_usage(archive: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A format that is not there is named, with those that are."""
    words = ["--archive", str(archive), "record", "DEMO-0001", "--to", str(archive), "--as", "docx"]
    assert main(words) == 2
    assert "docx" in (said := capsys.readouterr().err)
    assert "toml" in said


def test_a_case_that_is_not_there_is_usage(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A code without a case, and a code that is a path, are refused in a sentence."""
    for code in ("A-0009", "../../etc/passwd"):
        assert main(["--archive", str(tmp_path), "record", code, "--to", str(tmp_path)]) == 2
        assert capsys.readouterr().err


def test_a_case_travels_with_its_digest(archive: Path, tmp_path: Path) -> None:
    """An exported case is taken in by another archive, and refused once a byte has changed."""
    out, other = tmp_path / "stick", tmp_path / "other"
    assert main(["--archive", str(archive), "archive", "export", "DEMO-0001", "--to", str(out)]) == 0
    copy = next(out.glob("*.jsonl"))
    assert main(["--archive", str(other), "archive", "import", str(copy)]) == 0
    assert main(["--archive", str(other), "archive", "verify"]) == 0

    copy.write_bytes(copy.read_bytes().replace(b"bookmark", b"bookmerk", 1))
    third = tmp_path / "third"
    assert main(["--archive", str(third), "archive", "import", str(copy)]) != 0
    assert not list(third.glob("*.jsonl"))


def test_every_exit_code_is_in_the_guide() -> None:
    """The guide's table of exit codes is the program's."""
    guide = (ROOT / "shared" / "guide.md").read_text("utf-8")
    for code, does in EXIT_CODES.items():
        assert f"| {code} | {does} |" in guide


def test_what_should_never_happen_is_a_sentence_with_a_code_of_its_own(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The kind and the place of what went wrong, without what was in memory; no traceback."""

    def wrong(_: object) -> int:
        raise ValueError("Dr Nobody")

    monkeypatch.setattr("tracker.commands.protocol.list_all", wrong)

    assert main(["protocol", "list"]) == WENT_WRONG
    told = capsys.readouterr().err
    assert told.startswith("Clockhour went wrong and ended (ValueError")
    assert "Nobody" not in told


def test_a_closed_pipe_is_no_trouble() -> None:
    """`clockhour protocol show ... | head -1` ends quietly."""
    words = f'"{sys.executable}" -m tracker protocol show complex-pvr | head -n 1'
    done = subprocess.run(words, shell=True, capture_output=True, text=True, cwd=ROOT, check=False)

    assert done.stderr == ""
    assert done.stdout.startswith("Complex retinal detachment")
