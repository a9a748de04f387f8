"""Files from strangers: links, pipes, names that climb. Nothing outside the chosen folder is touched."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from desks import SMALL
from strangers import DIRTY, NOON, envelope, first_line, obeyed, painted, sealed
from terminal import F4, F10, Terminal, clockhour
from tracker.cli import main
from tracker.journal.archive import Archive
from tracker.journal.cases import NotReadable
from tracker.screen.lines import Size
from tracker.theatre.home import Home
from tracker.theatre.live import resumed
from tracker.theatre.session import Now
from tracker.theatre.settings import Settings

SECRET = b"nothing of this may be read or changed\n"


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """A folder that is nobody's business, with a file in it."""
    folder = tmp_path / "outside"
    folder.mkdir()
    (folder / "secret").write_bytes(SECRET)
    return folder


@pytest.fixture
def cases(tmp_path: Path) -> Path:
    """An archive with one case."""
    folder = tmp_path / "cases"
    folder.mkdir(mode=0o700)
    (folder / "A-0001.case.jsonl").write_bytes(hostile())
    return folder


def hostile() -> bytes:
    """A journal with a true chain and dirty words."""
    notes = [{**envelope(seq), "kind": "note", "text": words} for seq, words in enumerate(DIRTY, 3)]
    began = {**envelope(2), "kind": "tick", "step": "in_theatre"}
    return sealed([first_line(SMALL), began, *notes])


def untouched(outside: Path) -> bool:
    """Whether the folder outside is as it was."""
    return [p.name for p in outside.iterdir()] == ["secret"] and (outside / "secret").read_bytes() == SECRET


@pytest.mark.parametrize("name", ["A-0002.case.jsonl", "A-0001.lock", "A-0001.holder", "A-0001.torn-1.txt"])
@pytest.mark.parametrize("words", [["archive", "verify"], ["archive", "list"], ["archive", "mend", "A-0001"]])
def test_a_link_in_the_archive_is_not_followed(
    cases: Path, outside: Path, name: str, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Where a journal, a lock or a note should be lies a link to a file outside: neither read nor changed."""
    (cases / name).symlink_to(outside / "secret")
    main(["--archive", str(cases), *words])

    assert "nothing of this" not in capsys.readouterr().out
    assert untouched(outside)


@pytest.mark.parametrize("name", ["DEMO-0001.md", "DEMO-0001-events.csv", "DEMO-0001.json"])
def test_a_record_is_not_written_through_a_link(tmp_path: Path, outside: Path, name: str) -> None:
    """Under the name of a file of the record lies a link: refused in a sentence, nothing written."""
    assert main(["demo", "--to", str(tmp_path / "made")]) == 0
    (tmp_path / "record").mkdir()
    (tmp_path / "record" / name).symlink_to(outside / "secret")

    words = [
        "--archive",
        str(tmp_path / "made" / "cases"),
        "record",
        "DEMO-0001",
        "--to",
        str(tmp_path / "record"),
    ]
    assert main(words) == 5
    assert untouched(outside)
    assert [p.name for p in (tmp_path / "record").iterdir()] == [name]


def test_a_case_is_not_taken_in_through_a_link_or_under_a_name_that_climbs(
    cases: Path, outside: Path
) -> None:
    """An import whose file is a link, or named for no case code, takes nothing in."""
    stick = cases.parent / "stick"
    assert main(["--archive", str(cases), "archive", "export", "A-0001", "--to", str(stick)]) == 0
    good = stick / "A-0001.case.jsonl"
    (stick / "A-0009.case.jsonl").symlink_to(good)
    (stick / "A-0009.case.jsonl.sha256").write_bytes((stick / "A-0001.case.jsonl.sha256").read_bytes())
    for name in ("A-0009.case.jsonl", "CON.case.jsonl", "....case.jsonl"):
        if not (stick / name).exists():
            (stick / name).write_bytes(good.read_bytes())
        assert main(["--archive", str(outside), "archive", "import", str(stick / name)]) != 0
    assert untouched(outside) or sorted(p.name for p in outside.iterdir()) == ["A-0009.lock", "secret"]


def test_a_folder_of_links_pipes_and_devices_is_listed_and_holds_nobody_up(
    cases: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pipe, a device, a loop of links, a folder and a file of another sort: each is named, none is read."""
    os.mkfifo(cases / "A-0002.case.jsonl")
    (cases / "A-0003.case.jsonl").symlink_to("/dev/zero")
    (cases / "A-0004.case.jsonl").symlink_to(cases / "A-0004.case.jsonl")
    (cases / "A-0005.case.jsonl").mkdir()
    (cases / "protocols").mkdir()
    os.mkfifo(cases / "protocols" / "pipe.toml")
    (cases / "protocols" / "out.toml").symlink_to(outside / "secret")
    (cases / "\x1b[31mred.txt").write_text("x")

    assert main(["--archive", str(cases), "archive", "list"]) == 0
    assert main(["--archive", str(cases), "archive", "verify"]) == 0
    assert main(["--archive", str(cases), "protocol", "list"]) == 0
    said = capsys.readouterr()
    assert said.out.count("foreign") >= 5
    assert obeyed(said.out + said.err) == set()
    assert "nothing of this" not in said.out


@pytest.mark.parametrize(
    "ident", ["../x", "/x", "x/y", "CON", "con.toml", ".hidden", "-x", "", "A" * 300, "x\x00y", "ä"]
)
def test_a_new_protocol_stays_on_its_shelf(tmp_path: Path, ident: str) -> None:
    """No id that could be a path, a device or an option makes a file."""
    assert main(["--archive", str(tmp_path / "cases"), "protocol", "new", "--", ident]) == 2
    assert list(tmp_path.iterdir()) == []


def test_a_journal_larger_than_any_case_is_not_read_into_memory(
    cases: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file of 10 GiB of nothing in the archive is said to be too large; the other cases are verified."""
    with (cases / "A-0002.case.jsonl").open("wb") as file:
        file.truncate(10 * 2**30)
    assert main(["--archive", str(cases), "archive", "verify"]) == 3
    assert main(["--archive", str(cases), "archive", "list"]) == 0
    assert "larger than any case" in capsys.readouterr().out


def test_no_command_obeys_what_a_journal_says(cases: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    """List, verify, record of a hostile case: not one control sequence on the terminal."""
    for words in (["list"], ["verify"], ["export", "A-0001", "--to", str(cases.parent / "stick")]):
        assert main(["--archive", str(cases), "archive", *words]) == 0
    assert main(["--archive", str(cases), "record", "A-0001", "--to", str(cases.parent / "record")]) == 0
    sys.stdout.flush()
    said = capfdbinary.readouterr()
    assert obeyed((said.out + said.err).decode()) == set()


PASSED_ON = (
    b"\x1b]0;title",
    b"\x1b]52;",
    b"\x9b31m",
    "\u009b31m".encode(),
    "\u202e".encode(),
    "\u2066".encode(),
)


@pytest.mark.parametrize("verb", ["theatre", "watch"])
def test_the_real_screen_obeys_nothing_of_a_hostile_case(cases: Path, verb: str) -> None:
    """The real program on a terminal, over a case with dirty notes: none of their sequences is passed on."""
    with Terminal(clockhour("--archive", str(cases), verb, "A-0001"), columns=120, lines=40) as live:
        live.until("watching A-0001" if verb == "watch" else "resumed")
        live.send(F10)
        live.read(0.2)
        live.send("?")
        live.read(0.2)
        painted = bytes(live.raw)
    assert [sequence for sequence in PASSED_ON if sequence in painted] == []


def test_the_real_screen_obeys_nothing_that_is_pasted(cases: Path) -> None:
    """Dirty words pasted into a note on a real terminal: letters on the screen, harmless in the journal."""
    with Terminal(clockhour("--archive", str(cases), "theatre", "A-0001"), columns=120, lines=40) as live:
        live.until("resumed")
        live.send(F4)
        live.until("Enter keeps it")
        before = len(live.raw)
        live.send(b"\x1b[200~[red]x[/red] \xc2\x9b31m\xe2\x80\xaeabc <b>\x1b[201~")
        live.until("[red]x[/red]")
        live.send("\r")
        live.until("note kept")
        painted = bytes(live.raw[before:])
    assert [sequence for sequence in PASSED_ON if sequence in painted] == []
    kept = (cases / "A-0001.case.jsonl").read_text("utf-8").splitlines()[-1]
    assert "[red]x[/red] \ufffd31m\ufffdabc <b>" in kept


def test_a_file_named_for_another_case_is_not_opened(cases: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A journal under another case's name: not gone on with, no record of it, and `verify` says so."""
    (cases / "A-0001.case.jsonl").rename(cases / "A-0002.case.jsonl")
    with pytest.raises(NotReadable, match="holds another case"):
        resumed(Archive(cases), "A-0002", Settings())
    assert main(["--archive", str(cases), "record", "A-0002", "--to", str(cases.parent / "r")]) == 3
    assert main(["--archive", str(cases), "archive", "verify"]) == 3
    assert "opens another case" in capsys.readouterr().out
    assert not (cases.parent / "r").exists()


def test_the_first_screen_obeys_nothing_of_the_folder(cases: Path) -> None:
    """Cases, protocols and odd names of a hostile folder, on the first screen: words, whatever key comes."""
    (cases / "protocols").mkdir()
    (cases / "protocols" / "odd.toml").write_text('title = "\\u001b[2J"\nid = "../x"\n', "utf-8")
    (cases / "protocols" / "\x1b]0;title\x07.toml").write_text("x = ", "utf-8")
    home = Home(Archive(cases), lambda: Now(NOON, 0), Settings())
    for key in ("down", "up", "\x1b", "end", "Z"):
        home.press(key)
        painted(home.draw(Size(80, 24)))
