"""Beginning a case and going on with it: what is on disk, and what the clocks say after an interruption."""

from __future__ import annotations

import gc
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from desks import ROOT, SMALL, START, Hand, Memory, desk_of, keeper_of, press, protocol_of, said
from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.fold import fold
from tracker.journal.archive import Archive
from tracker.journal.cases import protocol_within
from tracker.journal.files import Journal
from tracker.theatre.desk import Desk
from tracker.theatre.live import resumed
from tracker.theatre.session import Keeper, Session
from tracker.theatre.settings import Settings


def _session(clock: Hand, keeper: Memory | None = None) -> Session:
    facts = {"operator": "consultant", "lens": "aphakic"}
    return Session.begin(keeper or Memory(), protocol_of(SMALL), SMALL, "T-0001", facts, clock, station="T2")


def _resumed(session: Session, clock: Hand) -> Session:
    kept = session.journal
    assert isinstance(kept, Memory)
    return Session.resume(Memory(kept.events), protocol_of(SMALL), kept.events, clock)


def test_the_first_line_holds_the_protocol_and_its_digest() -> None:
    """A record never depends on a file that changed: its first line holds all of it, with its SHA-256."""
    first = _session(Hand()).case.events[0]

    assert isinstance(first, ev.Opened)
    assert (first.protocol, first.digest) == (SMALL, sha256(SMALL.encode()).hexdigest())
    assert protocol_within(first) == protocol_of(SMALL)
    assert (first.code, first.station, first.invented) == ("T-0001", "T2", False)


def test_facts_and_operator_follow() -> None:
    """The second line holds the case facts, the third who operates, where the facts say so."""
    session = _session(Hand())

    assert [said(e) for e in session.case.events[1:]] == [
        "facts operator=consultant,lens=aphakic", "operator consultant",
    ]  # fmt: skip
    assert session.case.post("operator") == "consultant"


def test_without_an_operator_among_the_facts_none_is_invented() -> None:
    """Where no fact names the operator, no operator is written."""
    session = Session.begin(Memory(), protocol_of(SMALL), SMALL, "T-0001", {"lens": "phakic"}, Hand())

    assert [e.kind for e in session.case.events] == ["opened", "facts"]


def test_every_entry_says_when_and_by_which_role() -> None:
    """An entry has its time, when it was entered, how long after which opening, and the role."""
    clock = Hand()
    session = _session(clock)
    clock.on(12.345)

    event = session.natural("in_theatre")

    assert (event.at, event.entered_at, event.elapsed_ms) == (clock.now, clock.now, 12_345)
    assert (event.seq, event.run, event.role) == (4, 1, "runner")


def test_an_entry_may_be_made_late() -> None:
    """An entry of something five minutes ago has both times, and counts where it happened."""
    clock = Hand()
    session = _session(clock)
    clock.on(600)

    event = session.natural("in_theatre", back_s=300)

    assert event.entered_at - event.at == timedelta(minutes=5)
    assert session.case.state("in_theatre").ticks[0].start.t == 300


def test_going_on_writes_the_gap() -> None:
    """The first entry after an interruption says how long the journal was not open."""
    clock = Hand()
    session = _session(clock)
    session.natural("in_theatre")

    later = _resumed(session, Hand(START + timedelta(minutes=20)))

    event = later.case.events[-1]
    assert isinstance(event, ev.Resumed)
    assert (event.gap_ms, event.run, event.seq) == (20 * 60_000, 2, 5)
    assert later.case.gaps[0].stop.t - later.case.gaps[0].start.t == 20 * 60


def test_every_opening_has_its_own_number() -> None:
    """A third opening is run 3."""
    session = _session(Hand())
    for minutes in (5, 10):
        session = _resumed(session, Hand(START + timedelta(minutes=minutes)))

    assert [e.run for e in session.case.events] == [1, 1, 1, 2, 3]


def test_clocks_are_recomputed_from_wall_time() -> None:
    """A span and a clock that ran when the program ended go on by the wall clock."""
    session = _session(Hand())
    session.natural("core")
    session.record(ev.Read, reading="pressure", value=50)

    clock = Hand(START + timedelta(minutes=6))
    later = _resumed(session, clock)

    assert later.now_t(clock()) == 6 * 60
    assert later.running("core") is not None
    assert later.case.clocks[-1].seconds(later.now_t(clock())) == 6 * 60


def test_a_station_clock_set_back_in_between_takes_nothing_away() -> None:
    """If the wall clock says that less than no time has passed, the case goes on where it was."""
    clock = Hand()
    session = _session(clock)
    clock.on(600)
    session.natural("in_theatre")

    later_clock = Hand(START)
    later = _resumed(session, later_clock)

    assert later.case.gaps[0].stop.t >= later.case.gaps[0].start.t
    assert later.now_t(later_clock()) == 600


def test_a_station_clock_set_while_the_case_runs_moves_nothing() -> None:
    """Within one opening the monotonic time counts: an hour's change of the wall clock is no hour of case."""
    clock = Hand()
    session = _session(clock)
    session.natural("core")

    clock.on(300)
    clock.now += timedelta(hours=1)
    clock.start += timedelta(hours=1)
    stop = session.natural("core")

    assert session.case.state("core").ticks[0].stop is not None
    assert session.case.state("core").ticks[0].stop.t == 300
    assert stop.at == START + timedelta(hours=1, minutes=5)


def test_who_had_the_post_has_it_still() -> None:
    """After a hand-over and an interruption entries are by the incoming role."""
    session = _session(Hand())
    session.record(ev.HandOver, outgoing="runner", incoming="relief", counts_confirmed=True)

    assert _resumed(session, Hand()).natural("in_theatre").role == "relief"


# -- on a real disk


def _case_of(journal: Keeper) -> Case:
    assert isinstance(journal, Journal)
    first = journal.events[0]
    assert isinstance(first, ev.Opened)
    return fold(protocol_within(first), journal.events)


def test_a_case_dropped_in_the_middle_goes_on(tmp_path: Path) -> None:
    """A program that ends without a word leaves every entry behind, and the next opening has them all."""
    desk = desk_of(keeper=Journal.create(tmp_path, "T-0001"))
    press(desk, "i c 1 0 enter 2 enter t +200 v +30 h")
    before = desk.case
    del desk
    gc.collect()

    again = resumed(Archive(tmp_path), "T-0001", Settings())
    try:
        assert again.case.events[:-1] == before.events
        assert isinstance(again.case.events[-1], ev.Resumed)
        assert again.session.running("core") is not None
        press(again, "p")
        assert again.case == _case_of(again.session.journal)
    finally:
        again.close()


KILLED = """
import os, signal, sys
from pathlib import Path
from desks import desk_of, press
from tracker.journal.files import Journal
desk = desk_of(keeper=Journal.create(Path(sys.argv[1]), "T-0001"))
press(desk, "i c escape t v +30 h")
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system ends programs otherwise")
def test_a_killed_program_leaves_every_entry_and_no_lock(tmp_path: Path) -> None:
    """Killed with no chance to close anything, the case is whole and can be opened at once."""
    paths = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path)], env={**os.environ, "PYTHONPATH": paths}, check=False
    )
    assert ended.returncode == -signal.SIGKILL

    desk = resumed(Archive(tmp_path), "T-0001", Settings())
    desk.close()

    assert [said(e) for e in desk.case.events[3:8]] == [
        "tick in_theatre", "tick count_in", "tick time_out", "start core", "tick liquid_in",
    ]  # fmt: skip
    assert desk.case.gaps[0].torn is False


def test_a_torn_last_line_is_said_to_be_torn(tmp_path: Path) -> None:
    """Half a line at the end is set aside, and the entry of the new opening says so."""
    desk = desk_of(keeper=Journal.create(tmp_path, "T-0001"))
    press(desk, "i")
    desk.close()
    with (tmp_path / "T-0001.case.jsonl").open("ab") as file:
        file.write(b'{"seq": 5, "at": "2026-')

    again = resumed(Archive(tmp_path), "T-0001", Settings())
    again.close()

    assert again.case.gaps[0].torn
    assert [e.seq for e in again.case.events] == [1, 2, 3, 4, 5]


def test_a_desk_on_memory_and_one_on_disk_say_the_same(tmp_path: Path) -> None:
    """The events of a case are the same whatever keeps them."""
    keys = '<pause> <pause> i <note> "good view" enter / / b <strike>'
    on_disk = desk_of(keys=keys, keeper=Journal.create(tmp_path, "T-0001"))
    on_disk.close()

    assert on_disk.case.events == tuple(keeper_of(desk_of(keys=keys)).events)


def test_the_offset_of_the_station_is_kept() -> None:
    """Times are told in the station's own offset."""
    clock = Hand(datetime.fromisoformat("2026-07-10T09:00:00+01:00"))

    event = _session(clock).natural("in_theatre")

    assert event.model_dump(mode="json")["at"] == "2026-07-10T09:00:00+01:00"
    assert event.at == datetime(2026, 7, 10, 8, tzinfo=UTC)


def test_a_desk_can_be_made_of_a_session_alone() -> None:
    """A desk needs nothing but a session."""
    assert Desk(_session(Hand())).marked == "in_theatre"
