"""Looking on: what a follower shows, and what it does when the writer or the file goes away."""

from __future__ import annotations

import errno
from pathlib import Path

from faulty_disk import Fault, FaultyDisk
from journal_cases import case, entry, lines_of, opened, written
from tracker.journal.files import Journal
from tracker.journal.follow import Follower
from tracker.journal.lines import encode

HERE = Path("/archive")
PATH = HERE / "A-0001.case.jsonl"


def test_a_follower_shows_each_entry_once() -> None:
    """Entries come as they are written, in order, and nothing is locked."""
    disk = FaultyDisk()
    journal = Journal.create(HERE, "A-0001", disk)
    follower = Follower(PATH, disk)
    locks = disk.calls["lock"]
    seen = []

    for event in case(6):
        journal.append(event)
        seen.append(follower.poll())
        assert follower.poll() == ()

    assert seen == [(event,) for event in case(6)]
    assert (disk.calls["lock"], follower.problem) == (locks, None)


def test_a_follower_may_come_late() -> None:
    """The first poll gives everything so far."""
    disk = FaultyDisk()
    disk.put(PATH, written(case(9)))

    assert Follower(PATH, disk).poll() == case(9)


def test_a_follower_waits_for_an_unfinished_line() -> None:
    """Half a line is not shown; once it is whole, it is."""
    disk = FaultyDisk()
    lines = lines_of(case(3))
    disk.put(PATH, b"".join(lines[:2]))
    follower = Follower(PATH, disk)
    assert follower.poll() == case(2)

    for byte in lines[2][:-1]:
        disk.files[PATH].seen.append(byte)
        assert (follower.poll(), follower.problem) == ((), None)
    disk.files[PATH].seen += b"\n"

    assert follower.poll() == (entry(3),)


def test_a_follower_survives_the_writer() -> None:
    """The writer dies with half a line on the disk, comes back, sets it aside and goes on."""
    disk = FaultyDisk()
    journal = Journal.create(HERE, "A-0001", disk)
    for event in case(3):
        journal.append(event)
    follower = Follower(PATH, disk)
    assert follower.poll() == case(3)

    disk.files[PATH].seen += lines_of(case(4))[3][:70]
    disk.crash("kept")
    assert (follower.poll(), follower.problem) == ((), None)
    with Journal.open(HERE, "A-0001", disk) as again:
        assert (follower.poll(), follower.problem) == ((), None)
        again.append(entry(4))
        assert follower.poll() == (entry(4),)


def test_a_follower_waits_for_a_file_that_is_not_there() -> None:
    """Before the case begins, and while its folder is gone, there is a sentence; then it goes on."""
    disk = FaultyDisk()
    follower = Follower(PATH, disk)
    assert (follower.poll(), follower.problem) == (
        (),
        "The file of this case cannot be read at the moment: the file or its folder is gone.",
    )

    disk.put(PATH, written(case(2)))
    assert (follower.poll(), follower.problem) == (case(2), None)
    disk.faults["stamp_of", disk.calls["stamp_of"] + 1] = Fault(errno.EIO)
    assert (follower.poll(), bool(follower.problem)) == ((), True)
    assert (follower.poll(), follower.problem) == ((), None)


def test_a_file_that_holds_the_same_story_may_take_the_place() -> None:
    """A copy, as after mending or a move, is gone on with where it agrees with what was shown."""
    disk = FaultyDisk()
    disk.put(PATH, written(case(3)))
    follower = Follower(PATH, disk)
    follower.poll()

    disk.put(PATH, written(case(5)))

    assert (follower.poll(), follower.problem) == ((entry(4), entry(5)), None)


def test_a_file_with_another_story_is_told_and_not_shown() -> None:
    """What was shown stays shown; a file that contradicts it, or holds less, is not believed."""
    disk = FaultyDisk()
    disk.put(PATH, written(case(3)))
    follower = Follower(PATH, disk)
    follower.poll()

    disk.put(PATH, written(case(5, "B-0001")))
    assert follower.poll() == ()
    assert follower.problem == "The file now holds another record than was shown here: look on anew."
    disk.put(PATH, written(case(2)))
    assert follower.poll() == ()
    assert follower.problem == "The file now holds fewer entries than were shown here: look on anew."
    disk.put(PATH, written(case(4)))
    assert (follower.poll(), follower.problem) == ((entry(4),), None)


def test_a_follower_stops_at_a_broken_line() -> None:
    """Entries before it are shown, the line is named, nothing after it is believed."""
    disk = FaultyDisk()
    disk.put(PATH, written(case(2)))
    follower = Follower(PATH, disk)
    follower.poll()

    stray = encode(opened("B-0001"), "0" * 64)[0]
    disk.files[PATH].seen += lines_of(case(3))[2] + stray + lines_of(case(4))[3]

    assert follower.poll() == (entry(3),)
    assert follower.problem is not None
    assert "Line 4" in follower.problem
    assert follower.poll() == ()
    assert "Line 4" in follower.problem
