"""Where lists lie: the file that is never written again, the book beside it, the cases that say where they belong."""

from __future__ import annotations

from pathlib import Path

import pytest

from days import DAY, THREE, at, case, lists_of, say, standing
from desks import Hand
from tracker.cli import main
from tracker.core import day_events as de
from tracker.journal.archive import Archive
from tracker.journal.books import LIST
from tracker.journal.day_lists import BadList, Lists, NoList
from tracker.journal.files import Journal
from tracker.journal.lines import read_lines
from tracker.journal.trouble import Damaged, InUse, NotKept


def _book(folder: Path) -> Path:
    return folder / "lists" / f"{DAY}.list.jsonl"


def test_the_file_is_never_written_again_and_the_book_holds_its_text(tmp_path: Path) -> None:
    """The first entry begins the day; from then on the day goes by what the file said then."""
    lists = lists_of(tmp_path)
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    file = tmp_path / "lists" / f"{DAY}.toml"
    assert file.read_text("utf-8") == THREE

    file.write_text(THREE.replace("minutes = 150", "minutes = 30"), "utf-8")
    day = lists.day(DAY)
    assert day.plan.places[0].minutes == 150
    assert lists.changed_since(day)
    file.unlink()
    assert lists.day(DAY).plan == day.plan


def test_what_is_said_of_a_list_is_a_chain_on_disk(tmp_path: Path) -> None:
    """Appended, each line with the hash of the one before, for its owner alone."""
    lists = lists_of(tmp_path)
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    say(lists, de.PlaceCalledOff, at("08:20"), place=2, reason="unfit")

    read = read_lines(_book(tmp_path).read_bytes())
    assert [event.kind for event in read.events] == ["list_begun", "team_talked", "place_called_off"]
    assert read.broken is None
    assert _book(tmp_path).stat().st_mode & 0o777 == 0o600


def test_a_list_with_findings_is_not_begun(tmp_path: Path) -> None:
    """Nothing is entered of it, and the first finding is said with how many more there are."""
    lists = lists_of(tmp_path, THREE.replace("minutes = 150", "minutes = 5").replace('"B-0007"', '"b7"'))

    with pytest.raises(BadList, match=r"2026-12-01.toml:11: .* And 1 more: clockhour list check"):
        say(lists, de.TeamTalked, at("08:15"), talk="brief")
    assert not _book(tmp_path).exists()


def test_a_name_that_is_no_day_is_refused(tmp_path: Path) -> None:
    """A path, a day that does not exist, anything else."""
    lists = lists_of(tmp_path)
    for name in ("../x", "2026-13-01", "today", "2026-12-01/..", ""):
        with pytest.raises(NoList):
            lists.day(name)


def test_an_unfinished_line_of_a_book_is_set_aside_at_the_next_entry(tmp_path: Path) -> None:
    """What a kill leaves behind costs that entry alone."""
    lists = lists_of(tmp_path)
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    say(lists, de.LateStartReason, at("09:00"), reason="ward")
    data = _book(tmp_path).read_bytes()
    _book(tmp_path).write_bytes(data[:-30])

    assert lists.day(DAY).late_start is None
    say(lists, de.LateStartReason, at("09:01"), reason="ward")
    assert lists.day(DAY).late_start is not None
    assert (tmp_path / "lists" / f"{DAY}.list.torn-1.txt").read_bytes()


def test_a_changed_line_of_a_book_is_named_and_mended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`archive verify` names it, nothing is entered on it, `archive mend` sets the rest aside."""
    lists = lists_of(tmp_path)
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    say(lists, de.LateStartReason, at("09:00"), reason="ward")
    say(lists, de.PlaceCalledOff, at("09:10"), place=3, reason="unfit")
    _book(tmp_path).write_bytes(_book(tmp_path).read_bytes().replace(b'"reason":"ward"', b'"reason":"late"'))

    with pytest.raises(Damaged):
        say(lists, de.TeamTalked, at("16:00"), talk="debrief")
    assert main(["--archive", str(tmp_path), "archive", "verify"]) == 3
    assert f"{DAY}.list.jsonl:3: Line 3 does not match its own hash" in capsys.readouterr().out

    assert main(["--archive", str(tmp_path), "archive", "mend", DAY]) == 0
    assert "2 entries kept" in capsys.readouterr().out
    assert main(["--archive", str(tmp_path), "archive", "verify"]) == 0


def test_a_book_of_another_list_is_not_taken(tmp_path: Path) -> None:
    """A copy under another name is no list of that day."""
    lists = lists_of(tmp_path)
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    _book(tmp_path).rename(tmp_path / "lists" / "2026-12-02.list.jsonl")

    with pytest.raises(BadList, match="does not begin this list"):
        lists.day("2026-12-02")
    assert len(lists.verify()) == 1


def test_two_stations_may_speak_of_one_list(tmp_path: Path) -> None:
    """The book is held for an entry only; in that moment the other is told."""
    lists, other = lists_of(tmp_path), Lists(Archive(tmp_path))
    say(lists, de.TeamTalked, at("08:15"), talk="brief")
    say(other, de.LateStartReason, at("09:00"), reason="ward")
    say(lists, de.PlaceCalledOff, at("09:05"), place=3, reason="unfit")
    assert len(lists.day(DAY).events) == 4

    with (
        Journal.open(tmp_path / "lists", DAY, book=LIST),
        pytest.raises(InUse, match="The book of list 2026-12-01 is in use on this station"),
    ):
        say(other, de.PlaceCalledOff, at("09:06"), place=2, reason="unfit")


def test_a_list_is_no_stranger_in_the_archive(tmp_path: Path) -> None:
    """`archive list` tells of cases, and of nothing that the program keeps itself."""
    lists_of(tmp_path)
    (tmp_path / "sheets").mkdir()

    assert Archive(tmp_path).entries() == ()


def test_a_new_list_replaces_none(tmp_path: Path) -> None:
    """There is one already: it stays."""
    lists = lists_of(tmp_path)
    with pytest.raises(NotKept, match="already a file of that name"):
        lists.new(DAY, THREE.replace("minutes = 150", "minutes = 151"))
    assert (tmp_path / "lists" / f"{DAY}.toml").read_text("utf-8") == THREE


# -- its cases


def test_a_case_says_itself_where_it_belongs(tmp_path: Path) -> None:
    """A kill before the book had the case loses nothing: the first line of the case names list and place."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:55"), named=False)
    day = lists.day(DAY)
    cases = lists.latest_cases()
    assert [c.code for c in lists.unnamed(day, cases)] == ["A-0001"]

    named = lists.named(day, cases, "circulating", Hand(at("09:00"))())
    assert named.place[1].codes == ("A-0001",)
    assert lists.unnamed(named, cases) == ()


def test_a_case_of_no_list_has_no_word_of_one(tmp_path: Path) -> None:
    """The first line of a case begun from its protocol is what it always was."""
    from desks import desk_of

    first = desk_of().case.events[0]
    assert {"day_list", "place"}.isdisjoint(first.model_dump(exclude_none=True))


def test_a_day_as_it_went(tmp_path: Path) -> None:
    """Late, an emergency added, one moved, one called off, past midnight: places, turnovers, who is next."""
    lists = lists_of(tmp_path)
    case(lists, 1, "A-0001", at("08:55"), at("11:20"))
    say(lists, de.PlaceAdded, at("11:00"), place=4, protocol="complex-pvr", before=2, reason="emergency")
    running = standing(lists, at("11:45"))
    assert running.running is not None
    assert (running.running.after, running.running.seconds) == ("A-0001", 25 * 60)
    assert running.next is not None
    assert running.next.place.number == 4

    case(lists, 4, "A-0002", at("11:52"), at("13:10"))
    say(lists, de.TurnoverReason, at("11:55"), after="A-0001", reason="emergency")
    say(lists, de.PlaceMoved, at("13:00"), place=3, before=2)
    say(lists, de.PlaceCalledOff, at("13:05"), place=2, reason="unfit")
    case(lists, 3, "A-0003", at("23:40"), at("00:50", 1))

    its = standing(lists, at("01:00", 1))
    assert [(s.place.number, s.minutes) for s in its.seats] == [(1, 145), (4, 78), (3, 70), (2, None)]
    assert (its.late, its.late_s) == (True, 25 * 60)
    assert [(t.after, t.before, t.seconds / 60, t.reason and t.reason.reason) for t in its.turnovers] == [
        ("A-0001", "A-0002", 32, "emergency"), ("A-0002", "A-0003", 630, None),
    ]  # fmt: skip
    assert (its.next, its.running, its.open) == (None, None, ())
    assert its.on == ("Circulating practitioner", "Consultant")
