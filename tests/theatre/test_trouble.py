"""Behaviour under trouble: the real program in a pseudo-terminal, and what is on disk afterwards."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from desks import said
from small_procedures import ONE_STAGE
from terminal import F4, ROOT, Terminal, clockhour
from tracker.commands.exits import ENDED, HUNG_UP, NOT_KEPT, WENT_WRONG
from tracker.core.case import Case
from tracker.core.durations import step_seconds
from tracker.core.events import Event, Resumed
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.files import Journal
from tracker.screen.hand import KEY_S
from tracker.screen.paint import THEMES, rgb
from tracker.screen.wire import PASTE_UNFINISHED, UNFINISHED
from wires import ANSWERS

SMALL = f"""{ONE_STAGE}
[[anytime]]
id = "look"
label = "Look round"
key = "L"
occurrence = "repeat"
[[anytime]]
id = "hear"
label = "Pump heard"
key = "H"
occurrence = "repeat"
"""


class Station:
    """A folder of cases, a protocol, and the flags that bend the station."""

    def __init__(self, folder: Path) -> None:
        self.flags = folder / "flags"
        self.flags.mkdir()
        self.cases = folder / "cases"
        self.protocol = folder / "small.toml"
        self.protocol.write_text(SMALL, "utf-8")
        self.settings = folder / "settings.toml"
        self.second = folder / "second"
        self.settings.write_text(f'second_folder = "{self.second}"\n', "utf-8")

    def open(
        self,
        what: str | None = None,
        *,
        size: tuple[int, int] = (80, 24),
        hang_ups: bool = True,
        zone: str = "",
    ) -> Terminal:
        """The program on a case, on a station that can be bent."""
        words = [sys.executable, str(ROOT / "tests" / "troubled.py"), str(self.flags)]
        words += ["--archive", str(self.cases), "theatre", what or str(self.protocol)]
        env = {"CLOCKHOUR_SETTINGS": str(self.settings), "PYTHONPATH": str(ROOT)}
        env |= {"TZ": zone} if zone else {}
        return Terminal(words, columns=size[0], lines=size[1], env=env, hang_ups=hang_ups)

    def begun(self, **more: Any) -> Terminal:
        """A case begun and its first step ticked."""
        live = self.open(**more)
        live.until("Enter starts the case")
        live.send("\r")
        live.until("not started")
        live.send("r")
        live.until("Ready ticked")
        return live

    def bend(self, flag: str, value: str) -> None:
        """Make the station fail, or with an empty value, mend it."""
        fresh = self.flags / f"{flag}.new"
        fresh.write_text(value, "utf-8")
        fresh.rename(self.flags / flag)

    def events(self, folder: Path | None = None) -> tuple[Event, ...]:
        """What is on disk and verifies."""
        return Archive(folder or self.cases).read("A-0001").events

    def case(self) -> Case:
        """The case as the disk tells it."""
        return case_of(Archive(self.cases).read("A-0001"))


@pytest.fixture
def station(tmp_path: Path) -> Iterator[Station]:
    """A station of its own for every test."""
    return Station(tmp_path)


def again_pressed(live: Terminal, key: str) -> None:
    """Press a key again, another one between: at once it would be one press."""
    live.send("\x1b")
    live.until("nothing lies over the board")
    live.send(key)


def both_shown(times: int, text: str) -> bool:
    """Whether the board says of both steps of no stage that they were ticked so often."""
    often = f" x{times}" if times > 1 else ""
    return len(re.findall(rf"(Look round|Pump heard) ticked \d\d:\d\d{often}( |$)", text, re.MULTILINE)) == 2


def kinds(events: tuple[Event, ...]) -> list[str]:
    """The kinds of some entries."""
    return [e.kind for e in events]


@pytest.mark.parametrize(
    "how", [signal.SIGHUP, signal.SIGKILL, signal.SIGTERM], ids=["hang-up", "kill", "end"]
)
def test_an_ended_program_loses_no_entry(station: Station, how: int) -> None:
    """Hung up, killed or ended: every entry that was echoed is on disk, and the case goes on with its gap."""
    with station.begun() as live:
        live.send("s")
        live.until("Base shave started")
        live.kill(how)
    assert kinds(station.events())[-2:] == ["tick", "start"]

    with station.open("A-0001") as again:
        again.until("resumed")
        again.send("s")
        again.until("Base shave stopped")
    assert isinstance(station.events()[-2], Resumed)
    assert station.events()[-1].ref == 4


def test_a_closed_terminal_loses_no_entry(station: Station) -> None:
    """The terminal window goes away: the case is on disk up to the last key, and can be opened again."""
    with station.begun() as live:
        assert live.hang_up() == HUNG_UP

    assert kinds(station.events())[-1] == "tick"
    with station.open("A-0001") as again:
        again.until("resumed")


@pytest.mark.parametrize("how", [signal.SIGSTOP, signal.SIGTSTP], ids=["stopped", "asked to stop"])
def test_a_suspended_program_goes_on(station: Station, how: int) -> None:
    """Stopped and continued by signals: the clocks have gone on, the next key is taken."""
    with station.begun() as live:
        os.killpg(live.process.pid, how)
        while _state(live.process.pid) != "T":
            live.read(0.01)
        os.killpg(live.process.pid, signal.SIGCONT)
        live.send("s")
        live.until("Base shave started")
    assert kinds(station.events())[-1] == "start"


def _state(pid: int) -> str:
    return subprocess.run(
        ["ps", "-o", "state=", "-p", str(pid)], check=True, capture_output=True, text=True
    ).stdout[:1]


def test_a_closed_lid_takes_no_time_from_what_runs(station: Station) -> None:
    """The machine sleeps an hour in a span: board and record have the hour, by the clock that runs in sleep."""
    with station.begun() as live:
        live.send("s")
        live.until("Base shave started")
        os.killpg(live.process.pid, signal.SIGSTOP)
        station.bend("slept", "3600")
        station.bend("shift", "3600")
        os.killpg(live.process.pid, signal.SIGCONT)
        live.until("running 1:00:")
        again_pressed(live, "s")
        live.until("Base shave stopped")
    case = station.case()
    assert 3600 <= (step_seconds(case, case.protocol.step["shave"], case.last_t) or -1) < 3630


def test_a_storm_of_resizes_loses_no_key(station: Station) -> None:
    """Thirty sizes with a key between each: all thirty entries are there, and the board is drawn."""
    with station.begun() as live:
        for i in range(30):
            live.resize(60 + 4 * (i % 20), 18 + i % 15)
            live.send("\x1bL")  # Esc parts the presses, which at once would be one
            live.read(0.02)
        live.resize(80, 24)
        live.until(lambda text: "Look round" in text and "x30" in text)
    assert kinds(station.events()).count("tick") == 31


def test_a_window_made_small_and_large_again_is_whole(station: Station) -> None:
    """Back at its size before the program is told: what the terminal cut off is painted all the same."""
    with station.begun() as live:
        live.until("Backspace strike")
        os.killpg(live.process.pid, signal.SIGSTOP)
        live.resize(40, 12)
        live.resize(80, 24)
        assert "Backspace strike" not in live.text()
        os.killpg(live.process.pid, signal.SIGCONT)
        live.until("Backspace strike")


def test_a_paste_of_ten_thousand_characters_ticks_nothing(station: Station) -> None:
    """A paste on the board is put aside and said; in a note it is cut, and said."""
    with station.begun() as live:
        live.send(b"\x1b[200~" + b"rsl" * 3334 + b"\x1b[201~")
        live.until("set aside")
        assert kinds(station.events())[-1] == "tick"
        live.send(F4)
        live.until("Note")
        live.send(b"\x1b[200~" + b"x" * 10_000 + b"\x1b[201~")
        live.until("the rest was cut")
    assert len(station.events()) == 3


def test_a_key_held_down_is_one_entry(station: Station) -> None:
    """Forty repeats of a key at once are one entry, and that is said; the next key is taken."""
    with station.begun() as live:
        live.send("L" * 40)
        live.until("L twice at once is one press")
        live.send("H")
        live.until("Pump heard ticked")
    assert [said(e) for e in station.events()[2:]] == ["tick ready", "tick look", "tick hear"]


def test_keys_in_turn_are_all_kept(station: Station) -> None:
    """Forty quick keys, no two alike in a row, are forty entries, in order, each on disk."""
    with station.begun() as live:
        for pair in range(1, 21):
            live.send("LH")
            live.until(partial(both_shown, pair))
            live.read_for(2 * KEY_S)
    entries = station.events()
    assert [e.seq for e in entries] == list(range(1, 44))
    assert [said(e) for e in entries[3:]] == ["tick look", "tick hear"] * 20


def test_a_lost_focus_changes_nothing(station: Station) -> None:
    """Focus out, focus in: no entry, and the next key is taken."""
    with station.begun() as live:
        live.send(b"\x1b[O\x1b[I")
        live.send("s")
        live.until("Base shave started")
    assert kinds(station.events())[2:] == ["tick", "start"]


@pytest.mark.parametrize("shift", [-3600, 86_400, 3600], ids=["an hour back", "a day on", "an hour on"])
def test_a_clock_that_is_set_moves_no_duration(station: Station, shift: int) -> None:
    """The wall clock is set while a span runs: the times told follow it, the span's length does not."""
    with station.begun() as live:
        live.send("s")
        live.until("Base shave started")
        station.bend("shift", str(shift))
        again_pressed(live, "s")
        live.until("Base shave stopped")
    case = station.case()
    told = (case.events[-1].at - case.events[-2].at).total_seconds()

    assert abs(told - shift) < 30
    assert 0 <= (step_seconds(case, case.protocol.step["shave"], case.last_t) or -1) < 30


def test_summer_time_begins_in_mid_span(station: Station) -> None:
    """The offset changes: the times told go on by an hour, each with its own offset, and the length does not."""
    station.bend("zone", "GMT0")
    with station.begun() as live:
        live.send("s")
        live.until("Base shave started")
        station.bend("zone", "BST-1")
        again_pressed(live, "s")
        live.until("Base shave stopped")
        told = live.text()
    case = station.case()
    start, stop = case.events[-2].at, case.events[-1].at

    assert [at.utcoffset() for at in (start, stop)] == [timedelta(0), timedelta(hours=1)]
    assert f"{stop:%H:%M:%S}" in told
    assert 0 <= (step_seconds(case, case.protocol.step["shave"], case.last_t) or -1) < 30


def test_midnight_passes_unnoticed(station: Station) -> None:
    """A span begun on one day and ended on the next has its true length."""
    now = datetime.now().astimezone()
    late = now.replace(hour=23, minute=50, second=0)
    station.bend("shift", str((late - now).total_seconds()))
    with station.begun() as live:
        live.send("s")
        live.until("Base shave started")
        station.bend("shift", str((late - now).total_seconds() + 1200))
        station.bend("slept", "1200")
        live.until("running 20:")
        again_pressed(live, "s")
        live.until("Base shave stopped")
    case = station.case()
    start, stop = case.events[-2].at, case.events[-1].at

    assert (stop.date() - start.date()).days == 1
    assert 1200 <= (step_seconds(case, case.protocol.step["shave"], case.last_t) or -1) < 1230


@pytest.mark.parametrize("error", ["ENOSPC", "EROFS", "EIO"])
def test_a_disk_that_refuses_keeps_entries_in_memory(station: Station, error: str) -> None:
    """Full, read-only or not answering: entries wait in memory, it is said, and they are kept later."""
    with station.begun() as live:
        station.bend("errno", error)
        live.send("s")
        live.until("1 not on disk")
        again_pressed(live, "s")
        live.send("L")
        live.until("3 not on disk")
        assert "kept in memory" in live.text()
        assert len(station.events()) == 3
        station.bend("errno", "")
        live.until(lambda text: "not on disk" not in text)
    assert kinds(station.events())[3:] == ["start", "stop", "tick"]


def test_a_folder_that_is_gone_offers_the_second_one(station: Station) -> None:
    """The folder goes away in mid-case: entries wait, and one key goes on in the second folder with all."""
    with station.begun() as live:
        station.cases.rename(station.cases.with_name("away"))
        live.send("s")
        live.until("1 not on disk")
        live.send("`")
        live.until("the case goes on in")
        live.send("s")
        live.until("Base shave stopped")
    assert kinds(station.events(station.second))[2:] == ["tick", "start", "stop"]


def test_a_journal_that_someone_changed_is_left_alone(station: Station) -> None:
    """Foreign bytes in the journal: no more is written to it, it is said, the second folder takes all."""
    with station.begun() as live:
        path = next(station.cases.glob("*.case.jsonl"))
        with path.open("ab") as file:
            file.write(b"something else\n")
        changed = path.read_bytes()
        live.send("s")
        live.until("1 not on disk")
        assert path.read_bytes() == changed
        live.send("`")
        live.until("the case goes on in")
    assert kinds(station.events(station.second))[2:] == ["tick", "start"]


def test_a_second_writer_gets_a_sentence(station: Station) -> None:
    """A case in use is refused with exit code 4 and the offer to watch."""
    with station.begun(), station.open("A-0001") as second:
        assert second.wait() == 4
        assert "clockhour watch A-0001" in " ".join(second.text().split())


def test_watching_follows_a_writer_that_dies_and_returns(station: Station) -> None:
    """A watcher sees each entry, takes no lock, writes nothing, goes on once a killed writer is back."""
    with station.begun() as live:
        watch = Terminal(clockhour("--archive", str(station.cases), "watch", "A-0001"), columns=120, lines=40)
        with watch:
            watch.until("watching A-0001")
            live.send("s")
            watch.until("Base shave started")
            live.kill()
            before = {p: p.read_bytes() for p in station.cases.iterdir()}
            watch.send("s")
            with station.open("A-0001") as again:
                watch.until("resumed")
                again.send("s")
                watch.until("Base shave stopped")
            watch.send("Q")
            assert watch.wait() == 0
    assert before.keys() <= set(station.cases.iterdir())
    assert kinds(station.events())[-3:] == ["start", "resumed", "stop"]


def test_a_torn_last_line_is_said_and_set_aside(station: Station) -> None:
    """Half a line at the end: set aside in a file of its own; the resumed case says so."""
    with station.begun():
        pass
    path = next(station.cases.glob("*.case.jsonl"))
    path.write_bytes(path.read_bytes() + b'{"at":"2026-')

    with station.open("A-0001") as again:
        again.until("resumed")
    assert (station.cases / "A-0001.torn-1.txt").read_bytes() == b'{"at":"2026-'
    last = station.events()[-1]
    assert isinstance(last, Resumed)
    assert last.torn


def test_leaving_asks_first_whatever_the_key(station: Station) -> None:
    """Control-Q, which closes other programs, only asks; the case stays open."""
    with station.begun() as live:
        live.send(b"\x11")
        live.until("Leave?")
        live.send("\x1b")
        live.until(lambda text: "Leave?" not in text)
        live.send("Q")
        live.until("Leave?")
        live.send("l")
        assert live.wait() == 0
    Journal.open(station.cases, "A-0001").close()


def test_no_colour_is_painted_where_none_is_wanted(station: Station) -> None:
    """NO_COLOR: not one colour sequence reaches the terminal."""
    words = clockhour("--archive", str(station.cases), "theatre", str(station.protocol))
    with Terminal(words, env={"NO_COLOR": "1", "CLOCKHOUR_SETTINGS": str(station.settings)}) as live:
        live.until("Enter starts the case")
        live.send("\r")
        live.until("not started")
        drawn = bytes(live.raw)
    for start in (b"\x1b[38;", b"\x1b[48;", b";38;", b";48;"):
        assert start not in drawn


def test_no_white_flash_from_start_to_exit(station: Station) -> None:
    """The dark theme paints on black, and the mark on its own amber, from the first frame to the last."""
    with station.begun() as live:
        live.resize(120, 40)
        live.send("?")
        live.until("this sheet")
        live.send("\x1bQ")
        live.until("Leave?")
        live.send("l")
        live.wait()
        drawn = bytes(live.raw)
    assert set(_grounds(drawn)) <= {(0, 0, 0), rgb(THEMES["lamp"].tones["mark"])}


def _grounds(drawn: bytes) -> Iterator[tuple[int, ...]]:
    for part in drawn.split(b"48;2;")[1:]:
        yield tuple(int(n) for n in part.split(b"m")[0].split(b";")[:3])


def test_a_folder_removed_for_good_loses_nothing_in_memory(station: Station) -> None:
    """The folder is deleted: what was entered is written whole into the second folder."""
    with station.begun() as live:
        shutil.rmtree(station.cases)
        live.send("s")
        live.until("1 not on disk")
        live.send("`")
        live.until("the case goes on in")
    assert kinds(station.events(station.second)) == ["opened", "facts", "tick", "start"]


# -- what is not a key


def test_what_the_terminal_answers_makes_no_entry(station: Station) -> None:
    """Every answer and report that terminals send, one after the other: no entry, no word, and the next key is taken."""
    with station.begun() as live:
        for sent in ANSWERS.values():
            live.send(sent.encode())
        live.send("s")
        live.until("Base shave started")
    assert kinds(station.events())[2:] == ["tick", "start"]


@pytest.mark.parametrize(
    "sent",
    [
        b"\x1b[" + b"1;" * 200_000 + b"m",
        b"\x1b[:A",
        b"\x1b[54;1:1u",
        b"\x1b[99999999999u",
        b"\x1b]11;" + b"r" * 100_000 + b"\x07",
    ],
    ids=["400 kB of figures", "a colon", "a key of another protocol", "a code beyond all", "a long string"],
)
def test_no_bytes_end_the_program(station: Station, sent: bytes) -> None:
    """What ended it or made thousands of entries: nothing comes of it, and the next key is taken."""
    with station.begun() as live:
        live.send_all(sent)
        live.send("s")
        live.until("Base shave started")
    assert kinds(station.events())[2:] == ["tick", "start"]


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        (b"\x1b[200~rsl", PASTE_UNFINISHED),
        (b"\x1b[" + b"1;" * 200_000, UNFINISHED),
        (b"\x1bP1$r", UNFINISHED),
    ],
    ids=["a paste", "a sequence", "a string"],
)
def test_what_has_no_end_is_given_up_and_said(station: Station, sent: bytes, said: str) -> None:
    """A paste, a sequence, a string without an end: said on the board a moment later, and the next key is taken."""
    with station.begun() as live:
        live.send_all(sent)
        live.until(lambda text: said in " ".join(text.split()))
        live.send("s")
        live.until("Base shave started")
    assert kinds(station.events())[2:] == ["tick", "start"]


def test_a_line_pasted_without_marks_ticks_nothing(station: Station) -> None:
    """Two hundred characters at once: set aside and said; the keys after it are taken."""
    with station.begun() as live:
        live.send("rsl " * 50)
        live.until("200 characters came at once, as from a paste: set aside")
        live.send("s")
        live.until("Base shave started")
    assert kinds(station.events())[2:] == ["tick", "start"]


def test_the_terminal_is_asked_for_no_other_form_of_keys_or_sizes(station: Station) -> None:
    """One form a key, sizes by the system's signal: the newer keyboard protocol and sizes in band stay off."""
    with station.begun() as live:
        live.resize(120, 40)
        live.until(lambda text: "? keys" in text)
        asked = bytes(live.raw)
    assert b"\x1b[?1049h" in asked
    assert b"\x1b[>" not in asked
    assert b"2048" not in asked


# -- ends


def test_a_closed_terminal_ends_the_program_even_where_hang_ups_are_ignored(station: Station) -> None:
    """Started under nohup: the end of input is a hang-up; the case is let go of and can be taken up."""
    with station.begun(hang_ups=False) as live:
        live.send("s")
        live.until("Base shave started")
        assert live.hang_up() == HUNG_UP

    with station.open("A-0001") as again:
        again.until("resumed")
    assert kinds(station.events())[2:5] == ["tick", "start", "resumed"]


@pytest.mark.parametrize(
    ("how", "code"), [(signal.SIGTERM, ENDED), (signal.SIGHUP, HUNG_UP)], ids=["end", "hang-up"]
)
def test_asked_to_end_it_leaves_the_terminal_as_it_was(station: Station, how: int, code: int) -> None:
    """The shell's screen is back, the cursor shown, pastes and mouse off; the exit code says how it came."""
    with station.begun() as live:
        assert live.kill(how) == code
        assert restored(bytes(live.raw))
    Journal.open(station.cases, "A-0001").close()


def test_a_program_that_goes_wrong_says_so_and_leaves_all_in_order(station: Station) -> None:
    """The screen is restored, a sentence says it without what was typed, entries are on disk, the code is its own."""
    with station.begun() as live:
        live.send("s")
        live.until("Base shave started")
        station.bend("wrong", "yes")
        live.send("L")
        assert live.wait() == WENT_WRONG
        assert restored(bytes(live.raw))
        told = bytes(live.raw).rsplit(b"\x1b[?1049l", 1)[1].decode()
    assert "Clockhour went wrong and ended (RuntimeError" in told
    assert "Traceback" not in told
    assert "typed L" not in told
    assert kinds(station.events())[2:] == ["tick", "start"]
    Journal.open(station.cases, "A-0001").close()


def restored(drawn: bytes) -> bool:
    """Whether the last word on screen, cursor, mouse and pastes is that they are as they were."""
    return all(
        drawn.rfind(f"\x1b[?{mode}{back}".encode()) > drawn.rfind(f"\x1b[?{mode}{ours}".encode()) >= 0
        for mode, ours, back in [("1049", "h", "l"), ("25", "l", "h"), ("1003", "h", "l"), ("2004", "h", "l")]
    )


@pytest.mark.parametrize("how", ["terminal", signal.SIGHUP, signal.SIGTERM, "key"], ids=str)
def test_what_waits_goes_to_the_second_folder_when_the_program_ends(station: Station, how: int | str) -> None:
    """A full disk, then the end: all entries are in the second folder, it is said where, and the code tells."""
    with station.begun() as live:
        station.bend("full", str(station.cases.resolve()))
        station.bend("errno", "ENOSPC")
        live.send("s")
        live.until("1 not on disk")
        live.send("L")
        live.until("2 not on disk")
        if how == "terminal":
            assert live.hang_up() == NOT_KEPT
        elif how == "key":
            live.send("Q")
            live.until("Leave?")
            live.send("l")
            assert live.wait() == NOT_KEPT
        else:
            assert live.kill(int(how)) == NOT_KEPT
            assert "went on in" in " ".join(bytes(live.raw).decode("utf-8", "replace").split())
    assert kinds(station.events(station.second))[2:] == ["tick", "start", "tick"]
    assert not list(station.cases.glob("*.case.jsonl"))


def test_what_no_disk_takes_is_said_to_be_lost(station: Station) -> None:
    """Both folders refuse: how many entries are kept nowhere is the last word, and the code tells."""
    with station.begun() as live:
        station.bend("errno", "ENOSPC")
        station.second.write_text("in the way", "utf-8")
        live.send("s")
        live.until("1 not on disk")
        assert live.kill(signal.SIGTERM) == NOT_KEPT
        told = " ".join(bytes(live.raw).decode("utf-8", "replace").split())
    assert "1 entry of case A-0001 could be kept nowhere" in told


# -- zones


@pytest.mark.parametrize("zone", ["XXX-99:99", "Europe/Lodnon", "XXX-24:59"])
def test_an_odd_zone_is_said_before_the_case_begins(station: Station, zone: str) -> None:
    """On the page that starts it and on standard error; times are told in UTC, and no tick is held up."""
    with station.open(zone=zone) as live:
        told = live.until("Enter starts the case")
        assert f"'{zone}' is no" in " ".join(told.split())
        assert "times are told in UTC" in " ".join(told.split())
        live.send("\r")
        live.until("not started")
        live.send("r")
        live.until("Ready ticked")
    assert station.events()[-1].at.utcoffset() == timedelta(0)
    assert f"'{zone}' is no".encode() in bytes(live.raw).split(b"\x1b[?1049h")[0]
