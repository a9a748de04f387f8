"""The folder of cases: what is listed, what verifying names, and the ways in, out and back from damage."""

from __future__ import annotations

import errno
import hashlib
import stat
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from faulty_disk import CRASHES, Crash, Fault, FaultyDisk, PowerCut
from journal_cases import BEGAN, case, entry, lines_of, opened, written
from tracker.journal.archive import Archive, CaseFile, Mended, NotSound, default_folder
from tracker.journal.files import BadCode, Damaged, InUse, Journal, NoSuchCase, OutOfReach, Taken
from tracker.journal.lines import START, encode

HERE = Path("/archive")
STICK = Path("/stick")


def archive(files: dict[str, bytes]) -> tuple[Archive, FaultyDisk]:
    """An archive with these files in it."""
    disk = FaultyDisk()
    for name, data in files.items():
        disk.put(HERE / name, data)
    return Archive(HERE, disk), disk


def damaged() -> bytes:
    """Six entries, the fourth of them changed."""
    lines = lines_of(case(6))
    return b"".join([*lines[:3], lines[3].replace(b"circulating", b"circulatory"), *lines[4:]])


# -- listing -------------------------------------------------------------------------------------------


def test_an_archive_that_nobody_made_is_empty() -> None:
    """Before the first case there is no folder, and that is nothing the matter."""
    empty = Archive(HERE, FaultyDisk())

    assert (empty.codes(), empty.entries(), empty.verify_all()) == ((), (), ())
    assert empty.propose_code("A") == "A-0001"


def test_cases_are_listed_by_site_and_number() -> None:
    """A-10000 stands after A-9999."""
    files = {f"{code}.case.jsonl": written(case(1, code)) for code in ("B-0001", "A-10000", "A-9999")}

    assert archive(files)[0].codes() == ("A-9999", "A-10000", "B-0001")


def test_a_case_is_summed_up() -> None:
    """When it began, when it was last written to, how many entries, with which protocol."""
    (summary,) = archive({"A-0001.case.jsonl": written(case(6))})[0].entries()

    assert summary == CaseFile(
        name="A-0001.case.jsonl",
        state="sound",
        code="A-0001",
        opened=BEGAN,
        entries=6,
        invented=True,
    )


def test_every_state_is_told() -> None:
    """Sound, empty, torn and damaged are told apart, with the line."""
    folder, _ = archive(
        {
            "A-0001.case.jsonl": written(case(3)),
            "A-0002.case.jsonl": b"",
            "A-0003.case.jsonl": written(case(3, "A-0003")) + b'{"at":"20',
            "A-0004.case.jsonl": damaged().replace(b"A-0001", b"A-0004"),
            "A-0005.case.jsonl": written(case(3, "A-0006")),
        }
    )

    told = {
        entry.code: (entry.state, entry.what.partition(": ")[0], entry.entries) for entry in folder.entries()
    }

    assert told == {
        "A-0001": ("sound", "", 3),
        "A-0002": ("empty", "", 0),
        "A-0003": ("torn", "A-0003.case.jsonl:4", 3),
        "A-0004": ("damaged", "A-0004.case.jsonl:1", 0),
        "A-0005": ("damaged", "A-0005.case.jsonl:1", 3),
    }


def test_what_is_no_journal_is_listed_as_foreign() -> None:
    """Nothing in the folder is passed over, but what belongs beside a case is not listed twice."""
    folder, _ = archive(
        {
            "A-0001.case.jsonl": written(case(2)),
            "A-0001.torn-1.txt": b"x",
            "A-0001.lock": b"",
            "A-0002.moved-1.jsonl": b"x",
            "notes.txt": b"x",
            "john.case.jsonl": b"x",
            "A-0001.case.jsonl.bak": b"x",
            "\x1b[31m.case.jsonl": b"x",
        }
    )

    listed = folder.entries()

    assert [(entry.name, entry.state) for entry in listed] == [
        ("A-0001.case.jsonl", "sound"),
        ("A-0001.case.jsonl.bak", "foreign"),
        ("john.case.jsonl", "foreign"),
        ("notes.txt", "foreign"),
        ("\ufffd[31m.case.jsonl", "foreign"),
    ]
    assert {entry.name: entry.what for entry in listed}["john.case.jsonl"] == "not named by a case code"


@pytest.mark.skipif(sys.platform == "win32", reason="links")
def test_links_are_listed_and_not_followed(tmp_path: Path) -> None:
    """A link to a journal outside is foreign, and is neither read nor verified."""
    outside = tmp_path / "outside"
    outside.write_bytes(written(case(2)))
    folder = tmp_path / "cases"
    folder.mkdir()
    (folder / "A-0001.case.jsonl").symlink_to(outside)
    (folder / "A-0002.lock").symlink_to(outside)
    (folder / "sub").mkdir()
    cases = Archive(folder)

    assert [(entry.name, entry.what) for entry in cases.entries()] == [
        ("A-0001.case.jsonl", "a link; links are not followed"),
        ("A-0002.lock", "a link; links are not followed"),
        ("sub", "a folder; cases lie directly in the archive"),
    ]
    assert cases.codes() == ()
    with pytest.raises(OutOfReach, match="links are not followed"):
        cases.read("A-0001")


def test_a_folder_that_cannot_be_read_is_told() -> None:
    """An archive that is there and silent is not taken for an empty one."""
    disk = FaultyDisk({("names", 1): Fault(errno.EIO)})
    disk.put(HERE / "A-0001.case.jsonl", written(case(1)))

    with pytest.raises(OutOfReach, match="does not answer"):
        Archive(HERE, disk).codes()


def test_a_case_that_cannot_be_read_does_not_hide_the_others() -> None:
    """One unreadable file is told as such, in the list and by verifying."""
    folder, disk = archive(
        {"A-0001.case.jsonl": written(case(1)), "A-0002.case.jsonl": written(case(1, "A-0002"))}
    )
    disk.faults["read", 1] = disk.faults["read", 3] = Fault(errno.EIO)

    assert [(entry.code, entry.state) for entry in folder.entries()] == [
        ("A-0001", "damaged"),
        ("A-0002", "sound"),
    ]
    (finding,) = folder.verify_all()
    assert (finding.source, finding.line) == ("A-0001.case.jsonl", 0)
    assert "does not answer" in finding.what


# -- verifying -----------------------------------------------------------------------------------------


def test_a_sound_case_verifies() -> None:
    """There is nothing to find."""
    folder, _ = archive({"A-0001.case.jsonl": written(case(9))})

    assert folder.verify("A-0001") == folder.verify_all() == ()
    assert folder.read("A-0001").events == case(9)


def test_verifying_names_the_first_broken_line() -> None:
    """The file, the line, what, and the way back."""
    (finding,) = archive({"A-0001.case.jsonl": damaged()})[0].verify("A-0001")

    assert str(finding) == (
        "A-0001.case.jsonl:4: Line 4 does not match its own hash. Leave the file alone; "
        "`clockhour archive mend` keeps what stands before and sets aside the rest."
    )


def test_verifying_tells_an_unfinished_line() -> None:
    """A torn tail is a finding too, with its line and length."""
    (finding,) = archive({"A-0001.case.jsonl": written(case(3)) + b'{"at":'})[0].verify("A-0001")

    assert (finding.line, finding.what) == (4, "Line 4 is unfinished (6 bytes)")


def test_verifying_looks_at_what_line_1_says() -> None:
    """Another case's code, a protocol text that does not fit its digest and a missing opening are found."""
    other = encode(opened().model_copy(update={"digest": "0" * 64}), START)[0]
    late = encode(entry(7).model_copy(update={"seq": 1}), START)[0]
    folder, _ = archive(
        {
            "A-0001.case.jsonl": other,
            "A-0002.case.jsonl": written(case(2)),
            "A-0003.case.jsonl": late,
        }
    )

    assert [(finding.source[:6], finding.path, finding.line) for finding in folder.verify_all()] == [
        ("A-0001", "digest", 1),
        ("A-0002", "code", 1),
        ("A-0003", "kind", 1),
    ]


@pytest.mark.parametrize("code", ["../../etc/passwd", "CON", "a", ""])
def test_only_case_codes_are_read(code: str) -> None:
    """No path outside the archive can be asked for, in any way."""
    folder, disk = archive({})

    for ask in (folder.read, folder.verify, folder.mend, lambda c: folder.export_case(c, STICK)):
        with pytest.raises(BadCode):
            ask(code)
    assert not disk.calls


def test_a_missing_case_gets_a_sentence() -> None:
    """What is not there is not made up."""
    with pytest.raises(NoSuchCase, match="no case A-0009"):
        archive({})[0].read("A-0009")


def test_the_proposed_code_counts_what_moved_away() -> None:
    """A code is never used twice, also when its journal now lies elsewhere."""
    folder, _ = archive({"A-0001.case.jsonl": written(case(1)), "A-0004.moved-1.jsonl": b""})

    assert folder.propose_code("A") == "A-0005"
    assert folder.propose_code("B") == "B-0001"


def test_where_cases_live() -> None:
    """The environment decides, else the platform's folder for user data."""
    assert default_folder({"CLOCKHOUR_ARCHIVE": "/theatre/cases"}) == Path("/theatre/cases")
    assert default_folder({"CLOCKHOUR_ARCHIVE": ""}).parts[-2:] == ("clockhour", "cases")


# -- out and in ----------------------------------------------------------------------------------------


def test_a_case_goes_to_another_machine_and_verifies_there() -> None:
    """The copy is the same bytes, with a digest beside it, and is taken in under its own code."""
    here, disk = archive({"A-0001.case.jsonl": written(case(5))})

    copy = here.export_case("A-0001", STICK)
    there = Archive(Path("/other"), disk)
    code = there.import_case(copy)

    assert (copy, code) == (STICK / "A-0001.case.jsonl", "A-0001")
    digest = hashlib.sha256(written(case(5))).hexdigest()
    assert disk.text(STICK / "A-0001.case.jsonl.sha256").decode() == f"{digest}  A-0001.case.jsonl\n"
    assert there.read("A-0001").events == case(5)
    disk.crash("lost")
    assert there.verify("A-0001") == ()


@pytest.mark.skipif(sys.platform != "linux", reason="sha256sum")
def test_the_digest_is_one_that_sha256sum_reads(tmp_path: Path) -> None:
    """The copy can be checked without this program, and only its owner may read it."""
    with Journal.create(tmp_path / "cases", "A-0001") as journal:
        journal.append(opened())

    copy = Archive(tmp_path / "cases").export_case("A-0001", tmp_path / "stick")

    told = subprocess.run(
        ["sha256sum", "--check", f"{copy.name}.sha256"], cwd=copy.parent, capture_output=True, check=True
    )
    assert told.stdout == b"A-0001.case.jsonl: OK\n"
    assert {stat.S_IMODE(path.stat().st_mode) for path in copy.parent.iterdir()} == {0o600}


def test_only_a_sound_case_is_copied() -> None:
    """Damage is not carried on."""
    folder, disk = archive({"A-0001.case.jsonl": damaged()})

    with pytest.raises(Damaged, match="Line 4"):
        folder.export_case("A-0001", STICK)

    assert not any(path.parent == STICK for path in disk.files)


def test_a_copy_never_takes_the_place_of_a_file() -> None:
    """Neither on the way out nor on the way in."""
    folder, disk = archive({"A-0001.case.jsonl": written(case(5))})
    copy = folder.export_case("A-0001", STICK)

    with pytest.raises(OutOfReach, match="already a file of that name"):
        folder.export_case("A-0001", STICK)
    with pytest.raises(Taken, match="already a case A-0001"):
        folder.import_case(copy)

    assert disk.text(HERE / "A-0001.case.jsonl") == disk.text(copy) == written(case(5))


@pytest.mark.parametrize(
    ("data", "seal", "why"),
    [
        (written(case(5))[:-1], None, "does not match the digest"),
        (written(case(5)), b"", "not readable"),
        (written(case(5)), b"x" * 10_000, "not readable"),
        (written(case(5)), b"\xff" * 64 + b"  A-0001.case.jsonl\n", "not readable"),
        (damaged(), hashlib.sha256(damaged()).hexdigest().encode() + b"  x\n", "Line 4 does not match"),
        (b"", hashlib.sha256(b"").hexdigest().encode() + b"  x\n", "holds no entry"),
        (
            written(case(2, "B-0001")),
            hashlib.sha256(written(case(2, "B-0001"))).hexdigest().encode() + b" *x\n",
            "opens another case",
        ),
    ],
)
def test_a_copy_that_does_not_hold_is_not_taken_in(data: bytes, seal: bytes | None, why: str) -> None:
    """Digest, lines and code must agree."""
    here, disk = archive({"A-0001.case.jsonl": written(case(5))})
    copy = here.export_case("A-0001", STICK)
    disk.put(copy, data)
    if seal is not None:
        disk.put(STICK / "A-0001.case.jsonl.sha256", seal)
    there = Archive(Path("/other"), disk)

    with pytest.raises(NotSound, match=why):
        there.import_case(copy)

    assert there.codes() == ()


def test_a_copy_without_its_digest_or_with_another_name_is_not_taken_in() -> None:
    """Both must be there, and the name must be a code."""
    folder, disk = archive({})
    disk.put(STICK / "A-0001.case.jsonl", written(case(2)))
    disk.put(STICK / "Mrs Example.case.jsonl", written(case(2)))

    with pytest.raises(OutOfReach, match="gone"):
        folder.import_case(STICK / "A-0001.case.jsonl")
    with pytest.raises(BadCode, match="title with a name"):
        folder.import_case(STICK / "Mrs Example.case.jsonl")


# -- the way back from damage --------------------------------------------------------------------------


def test_mending_keeps_the_lines_before_and_sets_the_rest_aside() -> None:
    """The original keeps its bytes under another name; the head goes on as a case."""
    folder, disk = archive({"A-0001.case.jsonl": damaged()})
    head = b"".join(lines_of(case(3)))

    assert folder.mend("A-0001") == Mended(3, "A-0001.aside-1.txt", "A-0001.damaged-1.jsonl")

    disk.crash("lost")
    assert disk.text(HERE / "A-0001.damaged-1.jsonl") == damaged()
    assert disk.text(HERE / "A-0001.aside-1.txt") == damaged()[len(head) :]
    assert disk.text(HERE / "A-0001.case.jsonl") == head
    assert folder.verify("A-0001") == ()
    with Journal.open(HERE, "A-0001", disk) as journal:
        journal.append(entry(4))
    assert disk.text(HERE / "A-0001.case.jsonl") == written(case(4))


def test_mending_what_is_sound_does_nothing() -> None:
    """A sound case stays as it is."""
    folder, disk = archive({"A-0001.case.jsonl": written(case(3))})

    assert folder.mend("A-0001") is None
    assert folder.mend("A-0001") is None

    assert [path.name for path in disk.files] == ["A-0001.case.jsonl"]


def test_mending_twice_numbers_what_it_sets_aside() -> None:
    """A second damage does not take the place of the first."""
    folder, disk = archive({"A-0001.case.jsonl": damaged()})
    folder.mend("A-0001")
    disk.put(HERE / "A-0001.case.jsonl", lines_of(case(2))[0] + b"hello\nworld\n")

    assert folder.mend("A-0001") == Mended(1, "A-0001.aside-2.txt", "A-0001.damaged-2.jsonl")
    assert disk.text(HERE / "A-0001.aside-2.txt") == b"hello\nworld\n"


def test_a_running_case_is_not_mended() -> None:
    """Mending takes the lock like any writer."""
    folder, disk = archive({})
    Journal.create(HERE, "A-0001", disk)

    with pytest.raises(InUse):
        folder.mend("A-0001")


def test_mending_may_stop_at_any_call_and_be_done_again() -> None:
    """After any one refusal, and after a crash at that moment, a second mending comes to the same end."""
    plain, counted = archive({"A-0001.case.jsonl": damaged()})
    plain.mend("A-0001")
    head = b"".join(lines_of(case(3)))

    for call, times in counted.calls.items():
        for number in range(1, times + 1):
            for how in (None, *CRASHES):
                folder, disk = archive({"A-0001.case.jsonl": damaged()})
                disk.faults[call, number] = Fault(errno.EIO)
                with suppress(OutOfReach):
                    folder.mend("A-0001")
                if how is not None:
                    disk.crash(how)
                folder.mend("A-0001")
                assert disk.text(HERE / "A-0001.case.jsonl") == head
                assert disk.text(HERE / "A-0001.damaged-1.jsonl") == damaged()
                assert disk.text(HERE / "A-0001.aside-1.txt") == damaged()[len(head) :]


@pytest.mark.parametrize("how", CRASHES)
def test_the_power_may_go_at_any_call_of_mending(how: Crash) -> None:
    """Whatever the medium kept of it: the damaged bytes are not lost, and mending again comes to its end."""
    plain, counted = archive({"A-0001.case.jsonl": damaged()})
    plain.mend("A-0001")
    head = b"".join(lines_of(case(3)))

    for number in range(1, counted.calls.total() + 1):
        folder, disk = archive({"A-0001.case.jsonl": damaged()})
        disk.dies_at = number
        with pytest.raises(PowerCut):
            folder.mend("A-0001")
        disk.crash(how)
        folder.mend("A-0001")

        assert disk.text(HERE / "A-0001.case.jsonl") == head
        assert disk.text(HERE / "A-0001.damaged-1.jsonl") == damaged()
        assert disk.text(HERE / "A-0001.aside-1.txt") == damaged()[len(head) :]


def test_a_half_mended_case_says_so() -> None:
    """Between the renaming and the new file, reading says what to do."""
    folder, _ = archive({"A-0001.damaged-1.jsonl": damaged()})

    with pytest.raises(NoSuchCase, match="mend A-0001` once more"):
        folder.read("A-0001")
    assert folder.mend("A-0001") == Mended(3, "", "A-0001.damaged-1.jsonl")


def test_folders_of_the_programs_own_are_not_foreign(tmp_path: Path) -> None:
    """Protocols, tables and the truth of invented cases lie in the archive, and are no strangers in its list."""
    for name in ("protocols", "tables", "invented", "holiday"):
        (tmp_path / name).mkdir()

    assert [entry.name for entry in Archive(tmp_path).entries()] == ["holiday"]
