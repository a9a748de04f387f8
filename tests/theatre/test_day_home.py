"""The list of the day on the first screen: keys as a person presses them."""

from __future__ import annotations

import os
import signal
from datetime import datetime
from pathlib import Path

import pytest

from days import DAY, SHORT, THREE, at, case, lists_of, say
from desks import Hand, lines, press
from terminal import Terminal, clockhour
from test_docs import GUIDE
from tracker.core import day_events as de
from tracker.core.events import Facts
from tracker.journal.archive import Archive
from tracker.journal.day_lists import Lists
from tracker.journal.files import Journal
from tracker.screen.lines import Size
from tracker.theatre.day_acts import DOES, KEYS
from tracker.theatre.desk import Desk
from tracker.theatre.home import LETTERS, Home
from tracker.theatre.opening import Opening
from tracker.theatre.reading import Reading
from tracker.theatre.settings import Settings


def home_of(lists: Lists, now: datetime, settings: Settings | None = None) -> Home:
    """The first screen at a time of the day."""
    return Home(lists.archive, Hand(now), settings or Settings())


def text_of(home: Home | Opening | Reading, width: int = 120, height: int = 40) -> str:
    """A room as text, its blanks single."""
    return " ".join(" ".join(lines(home.draw(Size(width, height)))).split())


def entered(lists: Lists) -> list[str]:
    """The kinds of entries in the book of the list."""
    return [event.kind for event in lists.day(DAY).events]


def test_a_case_of_the_list_starts_in_two_keys_with_its_facts(tmp_path: Path) -> None:
    """`n`, then Enter: facts, planned minutes and place are those of the list, and list and case know each other."""
    lists = lists_of(tmp_path)
    home = home_of(lists, at("08:20"))
    home.press("n")
    opening = home.become
    assert isinstance(opening, Opening)
    assert "place 1 of list 2026-12-01" in text_of(opening)
    opening.press("enter")
    desk = opening.become
    assert isinstance(desk, Desk)

    facts = next(event.values for event in desk.case.events if isinstance(event, Facts))
    assert {
        "eye": "left", "anaesthetic": "general", "pvr_grade": "CP3-CA2", "video_consent": True,
        "planned_minutes": 150, "list_position": 1,
    }.items() <= facts.items()  # fmt: skip
    assert lists.day(DAY).place[1].codes == ("A-0001",)
    desk.close()


def test_the_next_case_has_the_code_and_the_protocol_of_its_place(tmp_path: Path) -> None:
    """Two protocols on one list; a code that the list gives is taken while it is free."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:40"), at("10:40"))
    home = home_of(lists, at("10:50"))
    home.press("n")
    opening = home.become
    assert isinstance(opening, Opening)
    assert (opening.code, opening.protocol.id) == ("B-0007", "short-list")

    Journal.create(tmp_path, "B-0007").close()
    home.press("n")
    assert isinstance(home.become, Opening)
    assert home.become.code == "A-0002"


def test_the_first_screen_says_what_is_next_who_is_on_and_the_turnover(tmp_path: Path) -> None:
    """At 80 by 24 and 120 by 40, with the time since the last patient left running."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:55"), at("11:20"))
    home = home_of(lists, at("11:43"))

    for size in ((80, 24), (120, 40)):
        shown = text_of(home, *size)
        assert "List 2026-12-01, Theatre 4, planned 08:30, 480 min booked: 1 of 3 done" in shown
        assert "next case: place 2, short-list, B-0007, planned 11:30, 120 min" in shown
        assert "on: Circulating practitioner, Consultant" in shown
        assert "turnover running 23 min since A-0001 left 11:20" in shown
        assert "A-0001, done 08:55 to 11:20, 145 min of 150 planned" in shown


@pytest.mark.parametrize(
    ("keys", "kinds"),
    [
        ("b", ["team_talked"]),
        ("l w", ["late_start_reason"]),
        ("t e", ["turnover_reason"]),
        ("c a u", ["place_called_off"]),
        ("m b a e", ["place_moved"]),
        ("a b 6 0 enter a e", ["place_added"]),
        ("b u", ["team_talked", "list_struck"]),
        ("e", ["team_talked"]),
    ],
)
def test_what_is_said_of_a_list_is_one_entry_by_one_key_and_its_answers(
    tmp_path: Path, keys: str, kinds: list[str]
) -> None:
    """A late first case that has left: every action is there, and each makes its entry."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:55"), at("11:20"))
    before = len(entered(lists))
    press(home_of(lists, at("11:43")), keys)

    assert entered(lists)[before:] == kinds


def test_a_place_that_is_moved_added_or_called_off_changes_what_is_next(tmp_path: Path) -> None:
    """An emergency before all others, then called off; then the third before the second."""
    lists = lists_of(tmp_path)
    home = home_of(lists, at("08:20"))
    press(home, "a a 6 0 enter a e")
    assert "next case: place 4, short-list, 60 min" in text_of(home)
    press(home, "c a u")
    assert "4. short-list, added, called off: not fit today" in text_of(home)
    press(home, "m c a e")
    assert "next case: place 3" in text_of(home)


@pytest.mark.parametrize("keys", ["l", "c a", "m b", "a a 6 0 enter"])
@pytest.mark.parametrize("wrong", ["5", "enter", "down", "space", "Z", "+"])
def test_nothing_is_preselected_and_a_list_refuses_other_keys_in_words(
    tmp_path: Path, keys: str, wrong: str
) -> None:
    """Whatever key comes that the open list does not show, nothing is entered, and Esc leaves with nothing."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:55"), at("11:20"))
    before = len(entered(lists))
    home = home_of(lists, at("11:43"))
    press(home, keys)
    home.press(wrong)
    assert "is not in this list" in text_of(home)
    home.press("escape")

    assert "nothing was entered" in text_of(home)
    assert entered(lists)[before:] == []
    assert not home.left


def test_only_a_key_that_is_shown_does_anything(tmp_path: Path) -> None:
    """Before the list is late no reason is asked for it; with no patient out, none for a turnover."""
    lists = lists_of(tmp_path)
    home = home_of(lists, at("08:00"))
    shown = {row.key for row in home.rows() if row.key}
    for key in sorted(KEYS - shown):
        home.press(key)
        assert f"{key}: no line has this key" in text_of(home)

    assert {"l", "t", "e", "u", "g", "k", "d"} <= KEYS - shown
    assert not (tmp_path / "lists" / f"{DAY}.list.jsonl").exists()


def test_enter_with_no_line_marked_says_so(tmp_path: Path) -> None:
    """Down marks the first line, and only then Enter goes."""
    home = home_of(lists_of(tmp_path), at("08:20"))
    home.press("enter")
    assert "no line is marked" in text_of(home)
    press(home, "down enter")
    assert isinstance(home.become, Opening)


def test_letters_of_lines_stay_while_the_screen_is_open(tmp_path: Path) -> None:
    """Another station begins a case: its line comes first and has a new letter, the others keep theirs."""
    lists = lists_of(tmp_path)
    home = home_of(lists, at("08:20"))
    before = {row.text: row.key for row in home.rows() if row.text.startswith("start:")}
    case(lists, 1, "A-0001", at("08:25"))
    case(lists, 1, "A-0002", at("08:26"))
    home.clock.on(60)  # type: ignore[attr-defined]
    home.pulse()

    after = {row.text: row.key for row in home.rows()}
    assert before.items() <= after.items()
    assert any(row.key == "g" and "A-0002" in row.text for row in home.rows())
    assert set(LETTERS).isdisjoint(KEYS)


def test_a_case_of_the_list_in_use_elsewhere_is_only_looked_on_at(tmp_path: Path) -> None:
    """From a second station `g` says where it is in use, and how to look on; nothing is written."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:40"))
    with Journal.open(tmp_path, "A-0001"):
        home = home_of(lists, at("09:00"))
        home.press("g")

    assert home.become is None
    assert "Case A-0001 is in use on this station" in text_of(home)
    assert "clockhour watch A-0001 looks on" in text_of(home)


def test_past_midnight_the_list_goes_on(tmp_path: Path) -> None:
    """While a case of it is open, and for four hours after its last entry; then the new day has begun."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("22:00"), at("23:50"))
    assert "List 2026-12-01" in text_of(home_of(lists, at("00:10", 1)))
    assert "List 2026-12-01" not in text_of(home_of(lists, at("04:00", 1)))
    case(lists, 2, "A-0002", at("00:20", 1))
    (tmp_path / "lists" / "2026-12-02.toml").write_text(THREE.replace("12-01", "12-02"), "utf-8")

    home = home_of(lists, at("06:00", 1))
    assert "List 2026-12-01" in text_of(home)
    home.press("d")
    assert "List 2026-12-02" in text_of(home)


def test_with_two_lists_on_a_day_the_station_shows_its_own(tmp_path: Path) -> None:
    """A list that names another theatre is not this station's."""
    lists = lists_of(tmp_path)
    lists_of(tmp_path, THREE.replace("Theatre 4", "Theatre 5"), f"{DAY}-b")

    assert "Theatre 5" in text_of(home_of(lists, at("08:20"), Settings(station="Theatre 5")))
    home = home_of(lists, at("08:20"))
    assert "Theatre 4" in text_of(home)
    home.press("d")
    assert "Theatre 5" in text_of(home)


def test_a_list_with_findings_is_said_and_the_screen_works(tmp_path: Path) -> None:
    """Protocols are there all the same: nothing holds a case up."""
    home = home_of(lists_of(tmp_path, THREE.replace("minutes = 150", "minutes = 5")), at("08:20"))

    assert "list 2026-12-01: 2026-12-01.toml:11: places.1.minutes: 5 is not what" in text_of(home)
    assert "start: Complex retinal detachment" in text_of(home)


def test_a_list_is_made_on_the_first_screen(tmp_path: Path) -> None:
    """Start, minutes booked, then places: protocol, minutes, start, facts known; only what was answered is known."""
    (tmp_path / "protocols").mkdir(parents=True)
    (tmp_path / "protocols" / "short-list.toml").write_text(SHORT, "utf-8")
    lists = Lists(Archive(tmp_path))
    home = home_of(lists, at("07:40"))
    press(home, "k 0 8 3 0 enter 4 8 0 enter")
    ident = next(row.key for row in home.rows() if row.text == "complex-pvr")
    press(home, f"{ident} 1 5 0 enter 0 8 3 0 enter l enter")
    press(home, f"{ident} enter enter enter z")

    assert "written: 2026-12-01.toml, 2 places" in text_of(home)
    plan = lists.day(DAY).plan
    assert (plan.start, plan.session) == ("08:30", 480)
    assert [(p.protocol, p.minutes, p.start, dict(p.facts)) for p in plan.places] == [
        ("complex-pvr", 150, "08:30", {"eye": "left"}), ("complex-pvr", None, None, {}),
    ]  # fmt: skip
    assert "next case: place 1" in text_of(home)


def test_an_entry_that_the_disk_does_not_take_is_said(tmp_path: Path) -> None:
    """The book is held by another in that moment: nothing was entered, and the same key tries again."""
    from tracker.journal.books import LIST

    lists = lists_of(tmp_path)
    say(lists, de.PlaceCalledOff, at("08:00"), place=3, reason="unfit")
    home = home_of(lists, at("08:20"))
    with Journal.open(tmp_path / "lists", DAY, book=LIST):
        home.press("b")
        assert "The book of list 2026-12-01 is in use" in text_of(home)
    home.press("b")
    assert entered(lists)[-1] == "team_talked"


@pytest.mark.parametrize("key", DOES)
def test_every_key_of_the_first_screen_is_in_the_guide(key: str) -> None:
    """The guide's table is the program's."""
    assert f"| {key} | {DOES[key]} |" in GUIDE


def test_a_kill_between_two_cases_loses_nothing_of_the_list(tmp_path: Path) -> None:
    """In a real terminal: brief done, a case begun, the program killed; the next start shows both."""
    lists = lists_of(tmp_path)
    today = datetime.now().astimezone().date().isoformat()
    text = THREE.replace("day = 2026-12-01", f"day = {today}").replace('"08:30"', '"00:00"')
    (tmp_path / "lists" / f"{DAY}.toml").unlink()
    (tmp_path / "lists" / f"{today}.toml").write_text(text, "utf-8")
    words = clockhour("--archive", str(tmp_path))
    env = {"CLOCKHOUR_SETTINGS": str(tmp_path / "none.toml")}

    first = Terminal(words, env=env)
    first.until("the team brief is done")
    first.send("b")
    first.until("entered: team brief done")
    first.send("n")
    first.until("Enter starts the case")
    first.send("\r")
    first.until("not started")
    os.kill(first.process.pid, signal.SIGKILL)
    first.process.wait()

    second = Terminal(words, env=env)
    shown = second.until("go on with A-0001")
    assert "place 2" in shown
    second.send("Q")
    second.process.wait(timeout=20)
    assert [event.kind for event in lists.day(today).events] == ["list_begun", "team_talked", "place_begun"]


def test_a_turnover_without_a_reason_can_be_told_of_at_the_end(tmp_path: Path) -> None:
    """While none runs and two have no reason, which one is asked first."""
    lists = lists_of(tmp_path)
    for place, (came, left) in enumerate((("08:30", "09:30"), ("10:00", "11:00"), ("11:30", "12:00")), 1):
        case(lists, place, f"A-000{place}", at(came), at(left))
    home = home_of(lists, at("12:30"))
    press(home, "t a w t e")

    given = {t.after: t.reason for t in lists.day(DAY).turnovers.values()}
    assert given == {"A-0001": "ward", "A-0002": "emergency"}
