"""Nobody is named, nothing leaves the machine, and every file is for its owner alone."""

from __future__ import annotations

import json
import os
import platform
import re
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desks import press
from record_alone import build
from strangers import note_desk, take_code
from terminal import ROOT
from tracker.cli import main
from tracker.core.text import identifying, valid_health_number
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.codes import check_code
from tracker.review.record.formats import FORMATS
from tracker.review.record.structure import Record
from tracker.review.record.withheld import LEFT_OUT, NO_NOTES, NO_ROLES
from without_network import SOCKET_CALL

# -- numbers of persons

PUBLISHED = ("943 476 5919", "654 100 3238", "671 668 9966")
"""Valid examples that the documentation of epidm (CRAN), heidi (docs.rs) and nhs-validation (npm) prints."""


@pytest.mark.parametrize("number", PUBLISHED)
def test_published_example_numbers_carry_their_check_digit(number: str) -> None:
    """NHS Data Dictionary, NHS NUMBER, steps 1 to 5: weights 10 to 2, modulus 11, 11 for 0, 10 is invalid."""
    assert valid_health_number(number.replace(" ", ""))


def test_the_published_worked_example_is_followed_by_hand() -> None:
    """943476591: 9x10+4x9+3x8+4x7+7x6+6x5+5x4+9x3+1x2 = 299, 299 mod 11 = 2, 11 - 2 = 9, the tenth digit."""
    total = sum(int(digit) * weight for digit, weight in zip("943476591", range(10, 1, -1), strict=True))

    assert (total, total % 11, 11 - total % 11) == (299, 2, 9)


@pytest.mark.parametrize("number", PUBLISHED)
@pytest.mark.parametrize("form", ["{}", "{} ", "no. {}", "({})", "{}/2"])
def test_a_health_number_is_questioned_in_a_note_however_written(number: str, form: str) -> None:
    """With blanks, hyphens or neither, inside other words: Enter asks first."""
    for written in (number, number.replace(" ", "-"), number.replace(" ", "")):
        assert "a ten-digit health number" in identifying(form.format(written))


@pytest.mark.parametrize("number", PUBLISHED)
def test_a_health_number_is_no_case_code(number: str) -> None:
    """Neither the number nor a code made of it is taken."""
    digits = number.replace(" ", "")
    for code in (digits, f"A-{digits}", f"NHS-{digits}", number):
        assert check_code(code) is not None


@given(st.integers(0, 999_999_999))
def test_any_valid_number_is_refused_in_a_code_and_questioned_in_a_note(nine: int) -> None:
    """Whatever the nine digits, the number they make is seen, if they make one."""
    digits = f"{nine:09}"
    total = sum(int(d) * w for d, w in zip(digits, range(10, 1, -1), strict=True))
    check = (11 - total % 11) % 11
    if check < 10:
        assert identifying(f"{digits}{check}") == ("a ten-digit health number",)
        assert check_code(f"A-{digits}{check}") is not None


@given(st.dates())
def test_a_date_of_birth_is_no_case_code(day: object) -> None:
    """No date of this and the last century passes as the number of a code, in any of the usual orders."""
    for form in ("%d%m%y", "%d%m%Y", "%Y%m%d", "%y%m%d", "%m%d%Y"):
        written = day.strftime(form)  # type: ignore[attr-defined]
        if 1900 <= day.year < 2100 and written.isdigit():  # type: ignore[attr-defined]
            assert check_code(f"A-{written}") is not None
            take_code(f"A-{written}")


@pytest.mark.parametrize(
    ("note", "person"),
    [
        ("Mrs Invented asked", "a title with a name"),
        ("told Dr. Nobody", "a title with a name"),
        ("born 3.7.1948", "a date that could be a date of birth"),
        ("DOB 12 March 1951", "a date that could be a date of birth"),
        ("number 943 476 5919", "a ten-digit health number"),
    ],
)
def test_a_note_about_a_person_is_questioned_before_it_is_kept(note: str, person: str) -> None:
    """Enter asks once and names what it saw; a second Enter keeps the words, since it may be wrong."""
    desk = note_desk()
    press(desk, "<note>")
    desk.paste(note)
    press(desk, "enter")

    assert desk.case.events[-1].kind != "note"
    assert desk.panel is not None
    assert any(person in row.text for row in desk.panel.rows())
    press(desk, "enter")
    assert desk.case.events[-1].kind == "note"


# -- a record that leaves the department


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented case, in which much is said and the operator changes."""
    folder = tmp_path_factory.mktemp("privacy")
    assert main(["demo", "--to", str(folder)]) == 0
    return folder / "cases"


def recorded(archive: Path, **told: bool) -> Record:
    """The record of the invented case."""
    read = Archive(archive).read("DEMO-0001")
    case = case_of(read)
    return build(case, case.last_t, read.head, len(read.events), **told)


def words_said(archive: Path) -> set[str]:
    """Every free word of the invented case."""
    events = Archive(archive).read("DEMO-0001").events
    return {text for event in events if (text := getattr(event, "text", ""))}


def everything(record: Record) -> str:
    """All that any format makes of a record, as one text."""
    files = [data for name, made in FORMATS.items() if name != "pdf" for data in made.render(record).values()]
    return "\n".join(data.decode("utf-8", "replace") for data in files)


def test_without_notes_no_free_word_is_in_any_format(archive: Path) -> None:
    """Every format without a word that was typed, with the caution that says so; the rest is as it was."""
    said, whole, bare = words_said(archive), recorded(archive), recorded(archive, notes=False)
    with_all, without = everything(whole), everything(bare)

    assert said
    assert all(words in with_all for words in said if words.isascii())
    assert not any(words in without for words in said)
    assert NO_NOTES in bare.cautions
    assert {s.text for s in bare.said if s.text} == {LEFT_OUT}
    assert (bare.entries, bare.last_hash) == (whole.entries, whole.last_hash)
    left = tuple(d.model_copy(update={"text": LEFT_OUT if d.text else ""}) for d in whole.deviations)
    assert bare.deviations == left


def test_an_entry_that_is_not_known_is_left_out_too() -> None:
    """What a newer program wrote may be words: nothing of it but its kind is told."""
    from record_case import story

    case = story("09:00 opened\n09:01 from_the_future words=secret", note="")
    record = build(case, 60.0, "0" * 64, 2, notes=False)

    assert "secret" in everything(build(case, 60.0, "0" * 64, 2))
    assert "secret" not in everything(record)


def test_roles_in_general_name_no_grade_of_operator(archive: Path) -> None:
    """Neither consultant nor fellow nor who relieved whom: only circulating practitioner and operator."""
    record = recorded(archive, roles=False)
    telling = record.model_dump(mode="json", exclude={"cautions"})
    text = json.dumps(telling) + everything(record)

    for word in ("consultant", "fellow", "relief"):
        assert not re.search(rf"\b{word}", text, re.IGNORECASE), re.findall(
            rf".{{40}}{word}.{{20}}", text, re.IGNORECASE
        )[:3]
    assert NO_ROLES in record.cautions
    assert {s.role for s in record.staff} <= {"circulating practitioner", "operator", "another role"}
    assert [s.start for s in record.staff] == [s.start for s in recorded(archive).staff]


def test_the_command_leaves_out_what_it_is_told_to(archive: Path, tmp_path: Path) -> None:
    """`record --without-notes --roles-general` writes what `build` makes of the two."""
    words = ["--archive", str(archive), "record", "DEMO-0001", "--to", str(tmp_path), "--as", "json"]
    assert main([*words, "--without-notes", "--roles-general"]) == 0

    written = json.loads((tmp_path / "DEMO-0001.json").read_text("utf-8"))
    assert written["cautions"][-2:] == [NO_NOTES, NO_ROLES]


def test_films_are_not_made_of_a_record_that_leaves_things_out(archive: Path, tmp_path: Path) -> None:
    """Captions would tell what was to be left out: the two are refused together, and nothing is written."""
    words = [
        "--archive",
        str(archive),
        "record",
        "DEMO-0001",
        "--to",
        str(tmp_path / "r"),
        "--as",
        "vtt,json",
    ]

    assert main([*words, "--without-notes"]) == 2
    assert main([*words, "--roles-general"]) == 2
    assert not (tmp_path / "r").exists()


# -- files for their owner alone


def test_every_file_that_any_command_writes_is_for_its_owner_alone(tmp_path: Path) -> None:
    """Demo, record, export, import, mend, new protocol, invented cases: 0600 and 0700, whatever the umask."""
    old = os.umask(0)
    try:
        _every_writing_command(tmp_path / "all")
    finally:
        os.umask(old)

    modes = {p: stat.S_IMODE(p.stat().st_mode) for p in sorted((tmp_path / "all").rglob("*"))}
    assert len(modes) > 15
    assert {p.name: oct(m) for p, m in modes.items() if m != (0o700 if p.is_dir() else 0o600)} == {}


def _every_writing_command(top: Path) -> None:
    cases, other = top / "made" / "cases", top / "other" / "cases"
    assert main(["demo", "--to", str(top / "made")]) == 0
    assert main(["--archive", str(cases), "record", "DEMO-0001", "--to", str(top / "far" / "record")]) == 0
    assert (
        main(["--archive", str(cases), "archive", "export", "DEMO-0001", "--to", str(top / "a" / "b")]) == 0
    )
    assert (
        main(["--archive", str(other), "archive", "import", str(top / "a" / "b" / "DEMO-0001.case.jsonl")])
        == 0
    )
    assert main(["--archive", str(top / "new" / "cases"), "protocol", "new", "our-own"]) == 0
    invented = str(top / "made-up")
    assert main(["--archive", invented, "archive", "synthesise", "--cases", "12"]) == 0
    visit = ["--date", "2024-02-01", "--pressure", "14"]
    assert main(["--archive", invented, "archive", "followup", "SYN-0001", *visit]) == 0
    assert main(["--archive", invented, "audit"]) == 0
    assert main(["--archive", invented, "audit", "--to", str(top / "report")]) == 0
    journal = other / "DEMO-0001.case.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b'"kind":"tick"', b'"kind":"tock"', 1))
    assert main(["--archive", str(other), "archive", "mend", "DEMO-0001"]) == 0


# -- nothing leaves the machine


def refused(script: str, *words: str) -> subprocess.CompletedProcess[str]:
    """A script with the program beside it."""
    environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'tests'}"}
    return subprocess.run(
        [sys.executable, *script.split(), *words],
        capture_output=True, text=True, check=False, env=environment, stdin=subprocess.DEVNULL,
    )  # fmt: skip


def test_nothing_leaves_the_machine(tmp_path: Path) -> None:
    """Demo, record in every format, verify, export, import, audit, plan: all done with sockets refused."""
    made, cases, out = tmp_path / "made", str(tmp_path / "made" / "cases"), tmp_path / "out"
    other = str(tmp_path / "other")
    commands = [
        ["demo", "--to", str(made)],
        ["--archive", cases, "record", "DEMO-0001", "--to", str(out / "r"), "--as", ",".join(FORMATS)],
        ["--archive", cases, "archive", "list"],
        ["--archive", cases, "archive", "verify"],
        ["--archive", cases, "archive", "export", "DEMO-0001", "--to", str(out)],
        ["--archive", other, "archive", "import", str(out / "DEMO-0001.case.jsonl")],
        ["--archive", other, "protocol", "list"],
        ["--archive", other, "archive", "synthesise", "--cases", "12"],
        ["--archive", other, "archive", "followup", "SYN-0001", "--date", "2024-02-01", "--pressure", "14"],
        ["--archive", other, "audit"],
        ["--archive", other, "audit", "--to", str(out / "report")],
        ["--archive", other, "plan", "complex-pvr", "--session", "240"],
    ]
    done = refused(str(ROOT / "tests" / "without_network.py"), json.dumps(commands))

    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("by", ["kernel", "interpreter"])
def test_the_refusal_would_be_noticed(by: str) -> None:
    """Each of the two guards of the test above does refuse: a connection ends the program."""
    if by == "kernel" and (sys.platform != "linux" or platform.machine() not in SOCKET_CALL):
        pytest.skip("this machine's kernel is not asked")
    asks = (
        f"import without_network as w, socket; w.refuse_by_{by}(); socket.socket(socket.AF_INET); print('!')"
    )
    done = refused("-c", asks)

    assert done.returncode != 0
    assert "!" not in done.stdout
