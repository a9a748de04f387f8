"""The journal of a case: what reaches the disk, who may write it, and a disk that does not obey."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import filelock
import pytest

import tracker
from faulty_disk import Fault, FaultyDisk
from journal_cases import case, entry, lines_of, opened, written
from tracker.core.events import Note
from tracker.journal.disk import RealDisk, place
from tracker.journal.files import (
    BadCode,
    Damaged,
    Disturbed,
    InUse,
    Journal,
    NoSuchCase,
    NotKept,
    OutOfReach,
    Taken,
    case_path,
)
from tracker.journal.lines import read_lines

HERE = Path("/archive")
ELSEWHERE = Path("/stick/archive")
CODE = "A-0001"
PATH = HERE / "A-0001.case.jsonl"
posix = pytest.mark.skipif(sys.platform == "win32", reason="POSIX modes")


@pytest.fixture
def loose_umask() -> Iterator[None]:
    """A umask that lets everybody do everything."""
    before = os.umask(0)
    yield
    os.umask(before)


def begun(disk: FaultyDisk, entries: int = 3) -> Journal:
    """A journal with so many entries."""
    journal = Journal.create(HERE, CODE, disk)
    for event in case(entries):
        journal.append(event)
    return journal


def mode(path: Path) -> int:
    """The permission bits of a path."""
    return stat.S_IMODE(path.stat().st_mode)


# -- the plain course of things ------------------------------------------------------------------------


def test_a_case_is_begun_written_and_opened_again(tmp_path: Path) -> None:
    """What was appended is there when the journal is opened again, and can be gone on with."""
    with Journal.create(tmp_path / "cases", CODE) as journal:
        for event in case(5):
            journal.append(event)
        head = journal.head

    with Journal.open(tmp_path / "cases", CODE) as journal:
        assert (journal.events, journal.head, journal.torn, journal.code) == (case(5), head, None, CODE)
        journal.append(entry(6))

    assert journal.path == tmp_path / "cases" / "A-0001.case.jsonl"
    assert journal.path.read_bytes() == written(case(6))


def test_an_entry_is_one_write_and_one_sync() -> None:
    """Each entry is written in one call and synced before `append` returns."""
    disk = FaultyDisk()
    journal = begun(disk)
    before = disk.calls.copy()

    journal.append(entry(4))

    assert disk.calls["write"] - before["write"] == 1
    assert disk.calls["sync"] - before["sync"] == 1
    disk.crash("lost")
    assert disk.text(PATH) == written(case(4))


@posix
@pytest.mark.usefixtures("loose_umask")
def test_files_are_for_their_owner_alone(tmp_path: Path) -> None:
    """Folders have mode 0700 and files 0600, whatever the umask."""
    folder = tmp_path / "new" / "cases"
    with Journal.create(folder, CODE) as journal:
        journal.append(opened())
        beside = {path.name: mode(path) for path in folder.iterdir()}
    assert beside == {"A-0001.case.jsonl": 0o600, "A-0001.lock": 0o600, "A-0001.holder": 0o600}
    assert (mode(folder), mode(folder.parent)) == (0o700, 0o700)

    with journal.path.open("ab") as file:
        file.write(b'{"at":')
    with Journal.open(folder, CODE) as journal:
        assert mode(folder / "A-0001.torn-1.txt") == 0o600
        journal.move_to(tmp_path / "other")
    assert (mode(tmp_path / "other"), mode(journal.path)) == (0o700, 0o600)


@posix
def test_a_folder_that_was_there_keeps_its_mode(tmp_path: Path) -> None:
    """A folder that somebody else made is not changed."""
    tmp_path.chmod(0o755)

    Journal.create(tmp_path, CODE).close()

    assert mode(tmp_path) == 0o755


def test_an_entry_out_of_its_number_is_not_kept() -> None:
    """Entries are numbered without gaps."""
    disk = FaultyDisk()
    journal = begun(disk, 3)

    with pytest.raises(NotKept, match="next entry has the number 4"):
        journal.append(entry(5))

    assert disk.text(PATH) == written(case(3))


def test_an_entry_that_cannot_be_written_is_not_kept() -> None:
    """A lone surrogate has no UTF-8 form: a sentence, and the journal goes on."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    base = entry(4).model_dump(include={"seq", "at", "entered_at", "elapsed_ms", "run", "role"})

    with pytest.raises(NotKept, match="cannot be written"):
        journal.append(Note(**base, text="\ud800"))
    journal.append(entry(4))

    assert disk.text(PATH) == written(case(4))


def test_a_closed_journal_keeps_nothing() -> None:
    """After closing, an entry gets a sentence; closing twice does no harm."""
    journal = begun(FaultyDisk())
    journal.close()
    journal.close()

    with pytest.raises(NotKept, match="closed"):
        journal.append(entry(4))
    with pytest.raises(NotKept, match="closed"):
        journal.move_to(ELSEWHERE)


# -- beginning and opening -----------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["../A-0001", "CON", "A-0001/x", "a-0001", ""])
def test_a_bad_code_never_reaches_the_disk(code: str) -> None:
    """No path is made of what is no code."""
    disk = FaultyDisk()

    for way in (Journal.create, Journal.open):
        with pytest.raises(BadCode):
            way(HERE, code, disk)
    with pytest.raises(BadCode):
        case_path(HERE, code)

    assert not disk.calls


def test_a_code_that_is_taken_is_not_begun_again() -> None:
    """A case is never written over."""
    disk = FaultyDisk()
    begun(disk).close()

    with pytest.raises(Taken, match="already a case A-0001"):
        Journal.create(HERE, CODE, disk)

    assert disk.text(PATH) == written(case(3))


def test_a_beginning_that_came_to_nothing_is_taken_up() -> None:
    """An empty file that nobody holds does not use up its code, and opens as a case without entries."""
    disk = FaultyDisk()
    disk.put(PATH, b"")

    assert Journal.open(HERE, CODE, disk).events == ()
    disk.crash("kept")
    journal = Journal.create(HERE, CODE, disk)
    journal.append(opened())

    assert disk.text(PATH) == written(case(1))


def test_a_case_that_is_not_there_gets_a_sentence() -> None:
    """Opening makes nothing up, and takes no lock in a folder that is not there."""
    disk = FaultyDisk()

    with pytest.raises(NoSuchCase, match="There is no case A-0001"):
        Journal.open(HERE, CODE, disk)

    assert not disk.files


def test_a_second_opener_is_told_who_writes_and_how_to_look_on(tmp_path: Path) -> None:
    """One writer: the second gets a sentence with process, machine, time and the way to watch."""
    with Journal.create(tmp_path, CODE, now="2026-03-30 09:00") as journal:
        journal.append(opened())
        with pytest.raises(InUse) as told:
            Journal.open(tmp_path, CODE)

    assert f"process {os.getpid()} on " in str(told.value)
    assert " since 2026-03-30 09:00)" in str(told.value)
    assert str(told.value).endswith("Only one may write: clockhour watch A-0001 looks on.")
    Journal.open(tmp_path, CODE).close()


def test_a_note_that_cannot_be_left_or_read_stops_nobody() -> None:
    """Who holds the case is a courtesy; without it the lock still holds."""
    disk = FaultyDisk({("create", 1): Fault(errno.ENOSPC)})
    journal = Journal.create(HERE, CODE, disk)

    with pytest.raises(InUse, match="not known who"):
        Journal.open(HERE, CODE, disk)

    journal.append(opened())


def test_what_a_note_says_is_made_harmless() -> None:
    """A note from a stranger sends no control sequence to the screen."""
    disk = FaultyDisk()
    begun(disk)
    disk.put(HERE / "A-0001.holder", b"\x1b[2Jprocess \xff" + b"x" * 10_000)

    with pytest.raises(InUse) as told:
        Journal.open(HERE, CODE, disk)

    assert "\x1b" not in str(told.value)
    assert len(str(told.value)) < 400


@posix
def test_a_killed_writer_leaves_no_lock(tmp_path: Path) -> None:
    """Kill -9 ends the lock with the process; everything acknowledged is there."""
    script = (
        "import sys; from pathlib import Path; from journal_cases import case; "
        "from tracker.journal.files import Journal\n"
        "journal = Journal.create(Path(sys.argv[1]), 'A-0001')\n"
        "for event in case(4): journal.append(event)\n"
        "print('ready', flush=True); sys.stdin.read()"
    )
    ways = [str(Path(__file__).parents[1]), str(Path(tracker.__file__).parents[1])]
    with subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(ways)},
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
        with pytest.raises(InUse, match=f"process {writer.pid} on"):
            Journal.open(tmp_path, CODE)
        writer.send_signal(signal.SIGKILL)
        writer.wait()

        with Journal.open(tmp_path, CODE) as journal:
            assert journal.events == case(4)


def test_a_damaged_journal_is_not_opened_and_not_touched() -> None:
    """A broken line in the middle is named, the file stays as it is, and the lock is let go."""
    disk = FaultyDisk()
    data = written(case(6)).replace(b"membrane_peel", b"membrane_p33l", 1)
    disk.put(PATH, data)

    for _ in range(2):
        with pytest.raises(Damaged) as told:
            Journal.open(HERE, CODE, disk)
        assert told.value.finding.line == data[: data.index(b"p33l")].count(b"\n") + 1

    assert disk.text(PATH) == data


def test_an_unfinished_last_line_is_set_aside() -> None:
    """The torn bytes go to a file of their own, numbered and never written over; the case goes on."""
    disk = FaultyDisk()
    torn = lines_of(case(4))[3][:50]
    disk.put(PATH, written(case(3)) + torn)
    disk.put(HERE / "A-0001.torn-1.txt", b"from an earlier time")

    journal = Journal.open(HERE, CODE, disk)
    journal.append(entry(4))

    assert (journal.torn, disk.text(HERE / "A-0001.torn-2.txt")) == (torn, torn)
    assert disk.text(HERE / "A-0001.torn-1.txt") == b"from an earlier time"
    disk.crash("lost")
    assert disk.text(PATH) == written(case(4))
    assert disk.text(HERE / "A-0001.torn-2.txt") == torn


def test_an_entry_that_opening_shows_is_on_the_medium() -> None:
    """A killed program may leave a whole line that was never synced: it is synced before it is shown."""
    disk = FaultyDisk()
    disk.put(PATH, written(case(3)))
    disk.files[PATH].seen += lines_of(case(4))[3]

    assert Journal.open(HERE, CODE, disk).events == case(4)

    disk.crash("lost")
    assert disk.text(PATH) == written(case(4))


def test_a_file_that_grows_while_it_is_opened_is_left_alone() -> None:
    """What somebody else appends after the reading is not cut off."""
    disk = FaultyDisk(locks=False)
    torn = b'{"at":'
    disk.put(PATH, written(case(3)) + torn)
    rename = disk.rename

    def meanwhile(old: Path, new: Path) -> None:
        disk.files[PATH].seen += b"more"
        rename(old, new)

    disk.rename = meanwhile  # type: ignore[method-assign]
    with pytest.raises(OutOfReach, match="being changed by someone else"):
        Journal.open(HERE, CODE, disk)

    assert disk.text(PATH) == written(case(3)) + torn + b"more"


def test_the_torn_line_is_safe_aside_before_it_is_cut() -> None:
    """Without room for the side file, the journal keeps its torn line and is not opened."""
    data = written(case(3)) + b'{"at":'
    for name, number in (("create", 2), ("write", 2), ("sync", 1), ("rename", 1), ("sync_folder", 1)):
        disk = FaultyDisk({(name, number): Fault(errno.ENOSPC)})
        disk.put(PATH, data)

        with pytest.raises(OutOfReach, match="the disk is full"):
            Journal.open(HERE, CODE, disk)

        assert disk.text(PATH) == data
        assert Journal.open(HERE, CODE, disk).torn == b'{"at":'


@posix
@pytest.mark.parametrize("name", ["A-0001.case.jsonl", "A-0001.lock"])
def test_a_link_is_not_followed(tmp_path: Path, name: str) -> None:
    """A link in the archive leads nowhere outside it."""
    outside = tmp_path / "outside"
    outside.write_bytes(written(case(3)) if name.endswith("jsonl") else b"")
    folder = tmp_path / "cases"
    folder.mkdir()
    (folder / "A-0001.case.jsonl").write_bytes(b"")
    (folder / name).unlink(missing_ok=True)
    (folder / name).symlink_to(outside)
    before = outside.read_bytes()

    with pytest.raises(OutOfReach, match="links are not followed"):
        Journal.open(folder, CODE)

    assert outside.read_bytes() == before


@posix
def test_a_pipe_in_place_of_a_journal_holds_nobody_up(tmp_path: Path) -> None:
    """What is no plain file is refused at once."""
    os.mkfifo(tmp_path / "A-0001.case.jsonl")

    with pytest.raises(OutOfReach, match="not a plain file"):
        Journal.open(tmp_path, CODE)


@pytest.mark.parametrize(
    ("code", "why"),
    [
        (errno.EACCES, "may not be written"),
        (errno.EROFS, "read-only"),
        (errno.EDQUOT, "allowed here is used up"),
        (errno.ENOTDIR, "not a folder"),
    ],
)
def test_a_folder_that_takes_no_file_gets_a_sentence(code: int, why: str) -> None:
    """Permissions, a read-only disk and a quota are told in words."""
    disk = FaultyDisk({("create", 2): Fault(code)})

    with pytest.raises(OutOfReach, match=f"Case A-0001 cannot be begun in this folder: .*{why}"):
        Journal.create(HERE, CODE, disk)

    Journal.create(HERE, CODE, disk).append(opened())


def test_a_folder_without_locks_is_refused() -> None:
    """Where nothing can be locked, two programs could write one case."""
    disk = FaultyDisk({("lock", 1): Fault(errno.ENOLCK)})

    with pytest.raises(OutOfReach, match="this machine's own disk"):
        Journal.create(HERE, CODE, disk)


def test_a_file_larger_than_any_case_is_not_read(tmp_path: Path) -> None:
    """A stranger's huge file does not fill the memory."""
    with (tmp_path / "A-0001.case.jsonl").open("wb") as file:
        file.truncate(2**33)

    with pytest.raises(OutOfReach, match="larger than any case"):
        Journal.open(tmp_path, CODE)


# -- a disk that does not obey -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "fault", "why"),
    [
        ("write", Fault(errno.ENOSPC), "the disk is full"),
        ("write", Fault(errno.ENOSPC, part=20), "the disk is full"),
        ("write", Fault(0, part=20), "the disk is full"),
        ("write", Fault(0, part=0), "the disk is full"),
        ("write", Fault(errno.EIO, part=10_000), "does not answer"),
        ("sync", Fault(errno.EIO), "does not answer"),
        ("sync", Fault(errno.EIO, done=True), "does not answer"),
        ("stamp", Fault(errno.ESTALE), "does not answer"),
        ("stamp_of", Fault(errno.ENOENT), "gone"),
        ("write", Fault(errno.EPROTO), r"the disk refused \(EPROTO\)"),
    ],
)
def test_an_entry_the_disk_refused_is_not_kept_and_can_be_tried_again(
    call: str, fault: Fault, why: str
) -> None:
    """A sentence; nothing of it is left; the second attempt is whole, and on the medium."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults[call, disk.calls[call] + 1] = fault

    with pytest.raises(NotKept, match=f"Entry 4 of case A-0001 is not kept: .*{why}"):
        journal.append(entry(4))
    assert (disk.text(PATH), journal.events) == (written(case(3)), case(3))
    journal.append(entry(4))

    disk.crash("lost")
    assert disk.text(PATH) == written(case(4))


def test_half_a_line_that_cannot_be_cut_off_yet_is_cut_off_before_the_next() -> None:
    """A retry never follows half a line, however long the disk takes to recover."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["write", disk.calls["write"] + 1] = Fault(errno.EIO, part=30)
    for later in (1, 2, 3):
        disk.faults["cut", disk.calls["cut"] + later] = Fault(errno.EIO)

    for _ in range(3):
        with pytest.raises(NotKept):
            journal.append(entry(4))
    assert disk.text(PATH) == written(case(3)) + lines_of(case(4))[3][:30]
    journal.append(entry(4))

    assert disk.text(PATH) == written(case(4))


def test_a_sync_that_did_not_succeed_is_not_just_called_again() -> None:
    """The bytes of such a sync may be lost to every later sync: they are cut off and written anew."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["sync", disk.calls["sync"] + 1] = Fault(errno.EIO)
    writes = disk.calls["write"]

    with pytest.raises(NotKept):
        journal.append(entry(4))
    journal.append(entry(4))

    assert disk.calls["write"] - writes == 2
    disk.crash("lost")
    assert disk.text(PATH) == written(case(4))


def test_what_was_told_as_not_kept_does_not_come_back() -> None:
    """A line that reached the medium though its sync said otherwise is gone from the medium too."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["sync", disk.calls["sync"] + 1] = Fault(errno.EIO, done=True)
    with pytest.raises(NotKept):
        journal.append(entry(4))

    disk.crash("lost")

    assert disk.text(PATH) == written(case(3))


def test_closing_cuts_off_what_did_not_count() -> None:
    """A journal closed after an attempt that did not count ends with its last good line."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["write", disk.calls["write"] + 1] = Fault(errno.EIO, part=30)
    disk.faults["cut", 1] = Fault(errno.EIO)
    with pytest.raises(NotKept):
        journal.append(entry(4))

    journal.close()

    assert disk.text(PATH) == written(case(3))


def test_a_close_that_does_not_succeed_loses_nothing() -> None:
    """What counts was synced before; the lock is let go all the same."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["close", disk.calls["close"] + 1] = Fault(errno.EIO)

    journal.close()

    disk.crash("lost")
    assert Journal.open(HERE, CODE, disk).events == case(3)


@pytest.mark.parametrize(
    "change",
    [
        lambda disk: disk.files[PATH].seen.extend(b"x"),
        lambda disk: disk.files[PATH].cut(40),
        lambda disk: disk.put(PATH, written(case(3))),
    ],
)
def test_a_file_touched_by_someone_else_is_not_written_to(change: object) -> None:
    """Longer, shorter or another file: nothing is appended, and the way out is said."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    assert callable(change)
    change(disk)
    before = disk.text(PATH)

    for _ in range(2):
        with pytest.raises(Disturbed, match="changed by someone else"):
            journal.append(entry(4))
    assert disk.text(PATH) == before

    journal.move_to(ELSEWHERE)
    journal.append(entry(4))
    assert disk.text(ELSEWHERE / PATH.name) == written(case(4))
    assert disk.text(PATH) == before


def test_only_what_it_tried_itself_is_cut_off() -> None:
    """After half a line, somebody else wrote on: nothing of theirs is cut off."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["write", disk.calls["write"] + 1] = Fault(errno.EIO, part=30)
    disk.faults["cut", 1] = Fault(errno.EIO)
    with pytest.raises(NotKept):
        journal.append(entry(4))
    disk.files[PATH].seen += b"theirs"

    with pytest.raises(Disturbed):
        journal.append(entry(4))
    journal.close()

    assert disk.text(PATH).endswith(b"theirs")


def test_two_writers_on_a_share_that_lost_its_lock_do_not_mix() -> None:
    """The second to write sees that the file grew: its entry is not kept, the first one's stays whole."""
    disk = FaultyDisk(locks=False)
    one = begun(disk, 3)
    two = Journal.open(HERE, CODE, disk)
    one.append(entry(4))

    with pytest.raises(Disturbed):
        two.append(entry(4))
    one.append(entry(5))
    two.close()

    assert disk.text(PATH) == written(case(5))


def test_two_writers_in_the_same_instant_both_learn_of_it() -> None:
    """When both appended before either synced, neither believes its entry kept."""
    disk = FaultyDisk(locks=False)
    one = begun(disk, 3)
    two = Journal.open(HERE, CODE, disk)
    sync = disk.sync

    def meanwhile(handle: int) -> None:
        disk.sync = sync  # type: ignore[method-assign]
        disk.files[PATH].seen += lines_of(case(4))[3]
        sync(handle)

    disk.sync = meanwhile  # type: ignore[method-assign]
    for journal in (one, two):
        with pytest.raises(Disturbed):
            journal.append(entry(4))
        assert journal.events == case(3)

    assert read_lines(disk.text(PATH)).events[:3] == case(3)


# -- another folder ------------------------------------------------------------------------------------


def test_a_case_goes_on_in_another_folder() -> None:
    """The same lines, synced, in the new place; the old file is renamed so that nobody goes on with it."""
    disk = FaultyDisk()
    journal = begun(disk, 3)

    journal.move_to(ELSEWHERE)
    journal.append(entry(4))

    disk.crash("lost")
    assert disk.text(ELSEWHERE / PATH.name) == written(case(4))
    disk = FaultyDisk()
    journal = begun(disk, 3)
    journal.move_to(ELSEWHERE)
    assert disk.text(HERE / "A-0001.moved-1.jsonl") == written(case(3))
    with pytest.raises(NoSuchCase, match="went on in another folder"):
        Journal.open(HERE, CODE, disk)


def test_a_case_whose_folder_is_gone_goes_on_elsewhere(tmp_path: Path) -> None:
    """With the folder removed under it, the journal still has all its lines."""
    journal = Journal.create(tmp_path / "stick", CODE)
    for event in case(3):
        journal.append(event)
    for path in (tmp_path / "stick").iterdir():
        path.unlink()
    (tmp_path / "stick").rmdir()

    with pytest.raises(NotKept, match="gone"):
        journal.append(entry(4))
    journal.move_to(tmp_path / "own")
    journal.append(entry(4))
    journal.close()

    assert (tmp_path / "own" / PATH.name).read_bytes() == written(case(4))


def test_a_case_on_a_full_disk_goes_on_elsewhere() -> None:
    """Half a line that could not be cut off does not go along."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.faults["write", disk.calls["write"] + 1] = Fault(errno.ENOSPC, part=30)
    for later in range(1, 9):
        disk.faults["cut", disk.calls["cut"] + later] = Fault(errno.EIO)
    with pytest.raises(NotKept):
        journal.append(entry(4))

    journal.move_to(ELSEWHERE)
    journal.append(entry(4))

    assert disk.text(ELSEWHERE / PATH.name) == written(case(4))


def test_a_folder_that_has_such_a_case_is_not_moved_to() -> None:
    """Another case of that code is never written over."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    disk.put(ELSEWHERE / PATH.name, b"another")

    with pytest.raises(Taken):
        journal.move_to(ELSEWHERE)
    journal.append(entry(4))

    assert disk.text(ELSEWHERE / PATH.name) == b"another"
    assert disk.text(PATH) == written(case(4))


@pytest.mark.parametrize(
    "call",
    ["make_folder", "lock", "create", "write", "sync", "close", "read", "rename", "sync_folder", "append_to"],
)
def test_a_move_that_did_not_succeed_leaves_the_case_where_it_was(call: str) -> None:
    """After any one refusal on the way, the journal goes on in its old place, and may try again."""
    disk = FaultyDisk()
    journal = begun(disk, 3)
    later = 2 if call in {"create", "write", "close"} else 1  # the first of these is the note of the holder
    disk.faults[call, disk.calls[call] + later] = Fault(errno.EIO)

    with pytest.raises(NotKept, match="cannot go on in that folder"):
        journal.move_to(ELSEWHERE)
    journal.append(entry(4))
    assert disk.text(PATH) == written(case(4))
    assert ELSEWHERE / PATH.name not in disk.files
    journal.move_to(ELSEWHERE)

    assert disk.text(ELSEWHERE / PATH.name) == written(case(4))


# -- the real disk -------------------------------------------------------------------------------------


def test_the_real_disk_never_takes_a_name_twice(tmp_path: Path) -> None:
    """Neither making nor renaming puts a file in another's place."""
    disk = RealDisk()
    (tmp_path / "one").write_bytes(b"1")
    (tmp_path / "two").write_bytes(b"2")

    with pytest.raises(FileExistsError):
        disk.create(tmp_path / "one")
    with pytest.raises(FileExistsError):
        disk.rename(tmp_path / "one", tmp_path / "two")

    assert (tmp_path / "two").read_bytes() == b"2"


def test_the_real_disk_tells_what_a_name_is(tmp_path: Path) -> None:
    """Files, folders, links and nothing are told apart."""
    (tmp_path / "file").write_bytes(b"")
    disk = RealDisk()

    assert disk.kind(tmp_path / "file") == "file"
    assert disk.kind(tmp_path) == "folder"
    assert disk.kind(tmp_path / "nothing") is None
    assert disk.kind(tmp_path / "file" / "below") is None
    assert disk.names(tmp_path) == ("file",)


def test_a_stand_in_for_a_lock_is_no_lock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system has no locks, a lock file that outlives a killed process is not taken instead."""

    def no_lock(*_: object, **__: object) -> None:
        raise NotImplementedError

    for stand_in in (filelock.SoftFileLock, no_lock):
        monkeypatch.setattr(filelock, "FileLock", stand_in)
        with pytest.raises(OSError, match="no locks here") as told:
            RealDisk().lock(tmp_path / "A-0001.lock")
        assert told.value.errno == errno.ENOLCK
        assert not (tmp_path / "A-0001.lock").exists()


@posix
def test_a_share_that_syncs_no_folders_is_good_enough(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A refusal that means "not here" is passed over; one that means "not done" is not."""

    def refused(code: int) -> None:
        def fsync(_: int) -> None:
            raise OSError(code, "fsync")

        monkeypatch.setattr(os, "fsync", fsync)

    refused(errno.EINVAL)
    RealDisk().sync_folder(tmp_path)
    refused(errno.EIO)
    with pytest.raises(OSError, match="fsync"):
        RealDisk().sync_folder(tmp_path)


def test_a_placed_file_is_whole_or_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes no byte, or gives back others, places nothing; in small bites it places all."""
    small = FaultyDisk({("write", number): Fault(0, part=1) for number in (1, 2)})
    small.make_folder(HERE)
    place(small, HERE / "file", b"whole")
    assert small.text(HERE / "file") == b"whole"

    none = FaultyDisk({("write", 1): Fault(0, part=0)})
    none.make_folder(HERE)
    with pytest.raises(OSError, match="no byte"):
        place(none, HERE / "file", b"whole")

    other = FaultyDisk()
    other.make_folder(HERE)
    monkeypatch.setattr(other, "read", lambda _: b"whale")
    with pytest.raises(OSError, match="otherwise than written"):
        place(other, HERE / "file", b"whole")

    assert HERE / "file" not in {*none.files, *other.files}


def test_appending_goes_to_the_end_whatever_happened_before(tmp_path: Path) -> None:
    """A handle opened for appending writes at the end of the file, also after a cut."""
    disk = RealDisk()
    handle = disk.create(tmp_path / "file")
    disk.write(handle, b"one two")
    disk.cut(handle, 3)
    disk.write(handle, b" three")
    disk.sync(handle)

    assert (disk.stamp(handle), disk.read(tmp_path / "file", 4)) == (
        disk.stamp_of(tmp_path / "file"),
        b"three",
    )
    disk.close(handle)
