"""When the disk refuses: what was entered waits in memory, is said to wait, and goes to disk in its order."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desks import SMALL, Hand, Memory, board, desk_of, keeper_of, press, protocol_of, told
from faulty_disk import Fault, FaultyDisk
from tracker.core.fold import fold
from tracker.journal.files import Journal
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session


def _kept(desk: Desk) -> list[int]:
    return [event.seq for event in keeper_of(desk).events]


def test_an_entry_the_disk_refuses_waits_and_counts() -> None:
    """A tick that is not on disk yet is on the board all the same, and the board says that it waits."""
    desk = desk_of()
    keeper_of(desk).refusals = 2

    press(desk, "i t")

    assert (_kept(desk), [e.seq for e in desk.session.waiting]) == ([1, 2, 3], [4, 5])
    assert told(desk) == ["tick in_theatre", "tick time_out"]
    assert "2 not on disk" in board(desk)


def test_what_waits_goes_to_disk_in_its_order() -> None:
    """Once the disk takes entries again, those that waited come first."""
    desk = desk_of()
    keeper_of(desk).refusals = 2
    press(desk, "i t")

    press(desk, "c")

    assert _kept(desk) == [1, 2, 3, 4, 5, 6]
    assert tuple(keeper_of(desk).events) == desk.case.events
    assert "not on disk" not in board(desk)


def test_what_waits_is_tried_again_without_a_key() -> None:
    """The pulse of the screen tries again, so nothing waits for the next key."""
    desk = desk_of()
    keeper_of(desk).refusals = 2
    press(desk, "i")

    desk.pulse()
    assert _kept(desk) == [1, 2, 3]
    desk.pulse()

    assert _kept(desk) == [1, 2, 3, 4]


def test_leaving_says_what_waits_and_tries_once_more() -> None:
    """Whoever leaves while entries wait is told so, and closing tries to keep them."""
    desk = desk_of()
    keeper_of(desk).refusals = 1
    press(desk, "i Q")
    assert "1 of the entries not on disk yet" in board(desk)

    press(desk, "l")
    desk.close()
    assert (_kept(desk), keeper_of(desk).closed) == ([1, 2, 3, 4], True)


def test_a_case_begun_on_a_full_disk_goes_on_in_memory() -> None:
    """Even the first line may wait: the case is logged, and kept once there is room."""
    desk = desk_of(SMALL, "i", keeper=Memory(refusals=4))
    assert (_kept(desk), told(desk)) == ([], ["tick in_theatre"])

    desk.pulse()

    assert _kept(desk) == [1, 2, 3, 4]


def test_one_key_goes_on_in_the_second_folder() -> None:
    """While entries wait the board says why and names the key and the folder in which to go on."""
    desk = desk_of()
    keeper_of(desk).refusals = 99
    press(desk, "i")
    assert f"` goes on in {desk.second_folder}" in " ".join(board(desk, 200, 60).split())

    press(desk, "`")

    assert (_kept(desk), desk.session.waiting) == ([1, 2, 3, 4], ())
    assert keeper_of(desk).folder == desk.second_folder


def test_leaving_while_entries_wait_puts_the_case_into_the_second_folder() -> None:
    """Whatever made it end: the case with all its entries is there, and where is said."""
    desk = desk_of(SMALL, "i")
    keeper_of(desk).refusals = 5
    press(desk, "t")
    said = desk.close()

    assert keeper_of(desk).folder == desk.second_folder
    assert (tuple(keeper_of(desk).events), keeper_of(desk).closed) == (desk.case.events, True)
    assert f"went on in {desk.second_folder}" in said


def test_leaving_with_all_on_disk_says_nothing() -> None:
    """The case stays where it is."""
    desk = desk_of(SMALL, "i t")

    assert desk.close() == ""
    assert (keeper_of(desk).folder, keeper_of(desk).closed) == (Path("/first"), True)


def test_with_nothing_waiting_the_case_stays_where_it_is() -> None:
    """The key for another folder does nothing while the disk takes everything, and says so."""
    desk = desk_of(SMALL, "i `")

    assert desk.hint == "every entry is on disk: the case stays where it is"
    assert keeper_of(desk).folder == Path("/first")


@given(st.lists(st.tuples(st.integers(0, 3), st.sampled_from("ictvph6-7;")), max_size=25))
def test_nothing_is_lost_and_nothing_kept_twice(pressed: list[tuple[int, str]]) -> None:
    """Whenever the disk refuses and however often, in the end it holds every entry once and in order."""
    desk = desk_of()
    for refusals, key in pressed:
        keeper_of(desk).refusals += refusals
        press(desk, f"{key} escape")
        kept = keeper_of(desk).events
        assert tuple(kept) + desk.session.waiting == desk.case.events

    keeper_of(desk).refusals = 0
    desk.pulse()

    assert (tuple(keeper_of(desk).events), desk.session.waiting) == (desk.case.events, ())
    assert fold(protocol_of(SMALL), keeper_of(desk).events) == desk.case


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EIO])
@pytest.mark.parametrize("call", ["write", "sync"])
def test_a_real_journal_on_a_disk_that_refuses(call: str, code: int) -> None:
    """With the journal of a real case: full, read-only or silent, the board says why and nothing is lost."""
    disk, clock = FaultyDisk(), Hand()
    journal = Journal.create(Path("/archive"), "T-0001", disk)
    desk = Desk(Session.begin(journal, protocol_of(SMALL), SMALL, "T-0001", {}, clock))
    disk.faults = {(call, disk.calls[call] + 1): Fault(code)}

    press(desk, "i")
    assert len(journal.events) == len(desk.case.events) - 1
    assert desk.session.trouble in " ".join(board(desk, 200, 60).split())

    press(desk, "t")
    assert journal.events == desk.case.events
