"""The first screen, and looking on."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from desks import Hand, lines, press, protocol_of, shipped
from terminal import ROOT, clockhour
from tracker.core import events as ev
from tracker.core.forecast import Forecast
from tracker.journal.archive import Archive
from tracker.journal.files import Journal, case_path
from tracker.journal.follow import Follower
from tracker.screen.lines import Size
from tracker.theatre.desk import Desk
from tracker.theatre.home import Home
from tracker.theatre.opening import Opening
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings, settings_from
from tracker.theatre.watching import Watch


def begun(folder: Path, code: str, clock: Hand, keys: str = "") -> Desk:
    """A case on disk after some keys."""
    text = shipped()
    protocol = protocol_of(text)
    facts = protocol.defaults | {"eye": "right"}
    desk = Desk(Session.begin(Journal.create(folder, code), protocol, text, code, facts, clock))
    press(desk, keys)
    return desk


def letter_of(home: Home, words: str) -> str:
    """The letter of the line that has these words."""
    return next(row.key for row in home.rows() if words in row.text)


def text_of(room: Home | Watch, width: int = 100, height: int = 40) -> str:
    """A room as text."""
    return "\n".join(lines(room.draw(Size(width, height))))


def test_open_cases_come_first_then_protocols_then_records(tmp_path: Path) -> None:
    """The home screen says how long ago an open case was entered, and the review state of each protocol."""
    clock = Hand()
    begun(tmp_path, "A-0001", clock, "m s").close()
    ended = begun(tmp_path, "A-0002", clock, "m s a")
    ended.say(ev.StoppedEarly, reason="equipment")
    ended.close()
    clock.on(240)

    shown = text_of(Home(Archive(tmp_path), clock, Settings()))

    order = ["open: A-0001", "start: Complex retinal detachment", "review: A-0002"]
    assert sorted(order, key=shown.index) == order
    assert "last entry 4 min ago" in shown
    assert "not reviewed locally" in shown
    assert "Not a medical device" in shown


def test_open_cases_of_every_site_are_listed_the_last_entered_first(tmp_path: Path) -> None:
    """However many cases another site has, and whatever the letters of the sites."""
    clock = Hand()
    begun(tmp_path, "A-0001", clock).close()
    for number in range(1, 23):
        other = begun(tmp_path, f"B-{number:04d}", clock)
        other.say(ev.StoppedEarly, reason="equipment")
        other.close()
    clock.on(60)
    begun(tmp_path, "A-0002", clock).close()

    shown = text_of(Home(Archive(tmp_path), clock, Settings()), 200, 60)

    order = ["open: A-0002", "open: A-0001", "start: ", "review: B-0022"]
    assert [shown.index(words) for words in order] == sorted(shown.index(words) for words in order)
    assert "B-0002" not in shown


def test_the_side_of_the_eye_is_in_the_row_of_a_case(tmp_path: Path) -> None:
    """Of an open case and of one that has ended, in capitals behind the code."""
    clock = Hand()
    begun(tmp_path, "A-0001", clock, "m s").close()
    ended = begun(tmp_path, "A-0002", clock, "m s a")
    ended.say(ev.Facts, values={"eye": "left"})
    ended.say(ev.StoppedEarly, reason="equipment")
    ended.close()

    shown = text_of(Home(Archive(tmp_path), clock, Settings()), 200, 60)

    assert "open: A-0001, RIGHT EYE, Complex" in shown
    assert "review: A-0002, LEFT EYE, Complex" in shown


def test_a_case_is_three_keys_from_the_first_screen(tmp_path: Path) -> None:
    """The letter of a protocol, then the side of the eye, which has no default, and Enter on its page of facts."""
    home = Home(Archive(tmp_path), Hand(), Settings())
    home.press(letter_of(home, "start: "))
    opening = home.become
    assert isinstance(opening, Opening)
    opening.press("enter")
    assert opening.become is None
    press(opening, "l enter")

    assert isinstance(opening.become, Desk)
    assert opening.become.case.facts["eye"] == "left"
    opening.become.close()
    assert Archive(tmp_path).codes() == ("A-0001",)


def test_an_open_case_goes_on_from_the_first_screen(tmp_path: Path) -> None:
    """Nothing is marked at first, so Enter alone says so; its letter, or marked and Enter, goes on with it."""
    begun(tmp_path, "A-0001", Hand(), "m s").close()
    home = Home(Archive(tmp_path), Hand(), Settings())
    home.press("enter")
    assert home.become is None
    assert "no line is marked" in text_of(home)
    while not any(row.marked and "open: A-0001" in row.text for row in home.rows()):
        home.press("down")
    home.press("enter")

    assert isinstance(home.become, Desk)
    assert home.become.case.events[-1].kind == "resumed"
    home.become.close()


def test_a_closed_case_is_reviewed_from_the_first_screen(tmp_path: Path) -> None:
    """Its letter leads to the review, which is told by its code; without a way there it has none."""
    ended = begun(tmp_path, "A-0002", Hand(), "m s a")
    ended.say(ev.StoppedEarly, reason="equipment")
    ended.close()
    asked: list[str] = []
    page = Watch(Follower(case_path(tmp_path, "A-0002")), "A-0002", Hand(), Settings())

    def reviewing(code: str) -> Watch:
        asked.append(code)
        return page

    home = Home(Archive(tmp_path), Hand(), Settings(), reviewing=reviewing)
    home.press(letter_of(home, "review: A-0002"))
    assert (asked, home.become) == (["A-0002"], page)
    assert letter_of(Home(Archive(tmp_path), Hand(), Settings()), "review: A-0002") == ""


def test_what_is_amiss_with_the_settings_is_said_on_the_first_screen(tmp_path: Path) -> None:
    """A key given twice is named there until a key is pressed."""
    settings = settings_from('[keys]\nbookmark = "f4"', "settings.toml")

    assert "F4 is already the key of note" in text_of(Home(Archive(tmp_path), Hand(), settings))


def test_a_case_in_use_is_said_and_the_screen_stays(tmp_path: Path) -> None:
    """Another writer: the sentence offers to look on."""
    held = begun(tmp_path, "A-0001", Hand())
    home = Home(Archive(tmp_path), Hand(), Settings())
    home.press(letter_of(home, "open: A-0001"))

    assert home.become is None
    assert "in use on this station" in text_of(home)
    assert "clockhour watch A-0001 looks on" in " ".join(text_of(home).split())
    held.close()


def test_a_damaged_case_is_said_on_the_first_screen(tmp_path: Path) -> None:
    """A damaged journal is listed with its line, never silently left out."""
    begun(tmp_path, "A-0001", Hand(), "m s").close()
    path = case_path(tmp_path, "A-0001")
    path.write_bytes(path.read_bytes().replace(b'"kind":"facts"', b'"kind":"ficts"'))

    assert "A-0001:" in text_of(Home(Archive(tmp_path), Hand(), Settings()))


@pytest.mark.parametrize("key", ["Z", "7", "tab"])
def test_a_key_without_a_line_is_answered(tmp_path: Path, key: str) -> None:
    """No key is swallowed silently on the first screen either."""
    home = Home(Archive(tmp_path), Hand(), Settings())
    home.press(key)
    assert "no line has this key" in text_of(home)


def test_watching_shows_what_is_entered_elsewhere(tmp_path: Path) -> None:
    """A watcher follows entry by entry, running times by its own clock, and ticks nothing."""
    clock = Hand()
    desk = begun(tmp_path, "A-0001", clock, "m s a x b")
    watch = Watch(Follower(case_path(tmp_path, "A-0001")), "A-0001", clock, Settings())
    assert "running 00:00" in text_of(watch)

    clock.on(75)
    watch.press("b")
    watch.pulse()
    assert "running 01:15" in text_of(watch)
    assert "read only" in text_of(watch)

    press(desk, "b i")
    watch.pulse()
    assert "Povidone-iodine on started" in text_of(watch)
    assert watch.case is not None
    assert watch.case.events == desk.case.events
    desk.close()


def test_watching_says_when_the_end_is_expected_as_the_board_does(tmp_path: Path) -> None:
    """What past cases say of the running one is on the wall screen too."""
    clock = Hand()
    desk = begun(tmp_path, "A-0001", clock, "m s a")
    follower = Follower(case_path(tmp_path, "A-0001"))
    watch = Watch(follower, "A-0001", clock, Settings(), lambda _case, _t: Forecast(12, 60, 90, 120))

    assert "end expected 10:30 (10:00 to 11:00, n 12)" in text_of(watch)
    desk.close()


def test_a_wall_screen_and_the_first_screen_are_dimmed_by_the_keys_of_the_theatre(tmp_path: Path) -> None:
    """The light has one set of keys everywhere, a station's own keys too; nothing is written by them."""
    begun(tmp_path, "A-0001", Hand()).close()
    before = case_path(tmp_path, "A-0001").read_bytes()
    own = settings_from('[keys]\ndimmer = "f12"\n', "settings.toml")
    rooms = [
        (room, key)
        for settings, key in ((Settings(), "["), (own, "f12"))
        for room in (
            Watch(Follower(case_path(tmp_path, "A-0001")), "A-0001", Hand(), settings),
            Home(Archive(tmp_path), Hand(), settings),
        )
    ]

    for room, key in rooms:
        room.press(key)
        assert "brightness 4 of 5" in text_of(room)
        room.press("\\")
        assert (room.brightness, room.theme, room.left) == (3, "daylight", False)

    assert case_path(tmp_path, "A-0001").read_bytes() == before


def test_watching_leaves_with_one_key(tmp_path: Path) -> None:
    """Q or Esc; nothing was at stake."""
    begun(tmp_path, "A-0001", Hand()).close()
    for key in ("Q", "escape"):
        watch = Watch(Follower(case_path(tmp_path, "A-0001")), "A-0001", Hand(), Settings())
        watch.press(key)
        assert watch.left


def test_a_browser_may_look_on(tmp_path: Path) -> None:
    """Started as the toolkit's web server starts a program, without a terminal, watching shows the board."""
    begun(tmp_path, "A-0001", Hand(), "m s").close()
    words = clockhour("--archive", str(tmp_path), "watch", "A-0001")
    env = {**os.environ, "TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver"}
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=env, cwd=ROOT) as shown:
        assert shown.stdin
        assert shown.stdout
        told = b""
        while b"watching A-0001: read only" not in told and (more := os.read(shown.stdout.fileno(), 65536)):
            told += more
        shown.stdin.write(b"D" + (1).to_bytes(4, "big") + b"Q")
        shown.stdin.flush()
        while os.read(shown.stdout.fileno(), 65536):
            pass

    assert b"watching A-0001: read only" in told
    assert shown.returncode == 0
