"""What the audit takes from the list of the day: planned starts, booked minutes, reasons, places called off."""

from __future__ import annotations

import shutil

import pytest

from days import DAY, THREE, at, case, lists_of, say, standing
from desks import Hand
from tracker.audit import questions
from tracker.audit.answers import theatre_lists
from tracker.audit.answers.form import audit_of
from tracker.audit.engine import connected
from tracker.audit.population import rows
from tracker.audit.questions import Sessions
from tracker.audit.report import of_lists
from tracker.audit.report.sheet import FEW
from tracker.audit.tables import bring_up_to_date
from tracker.core import day_events as de
from tracker.journal.archive import Archive


def a_day(folder):
    """Late for a reason, a turnover with one, a place called off, the last case past midnight; booked for 300 min."""
    lists = lists_of(folder, THREE.replace("session = 480", "session = 300").replace('"08:30"', '"09:00"'))
    case(lists, 1, "A-0001", at("09:25"), at("11:20"))
    say(lists, de.LateStartReason, at("09:30"), reason="ward")
    case(lists, 2, "B-0007", at("11:52"), at("13:10"))
    say(lists, de.TurnoverReason, at("11:55"), after="A-0001", reason="emergency")
    say(lists, de.PlaceAdded, at("12:00"), place=4, protocol="complex-pvr", minutes=40.0)
    say(lists, de.PlaceCalledOff, at("12:05"), place=3, reason="unfit")
    case(lists, 4, "A-0002", at("23:40"), at("00:50", 1))
    return lists


def told(folder, ask):
    """What `ask` says of the archive in a folder."""
    made = bring_up_to_date(Archive(folder))
    with connected(made.folder) as tables:
        return ask(audit_of(tables, made.folder, None))


def placed(folder):
    """The cases on their lists, as asked with the usual sessions."""
    return told(folder, lambda audit: rows(questions.lists(audit.everyone.tables, audit.sessions)))


def test_a_case_begun_from_a_list_goes_by_its_planned_start(tmp_path):
    """The list began at nine and not half past eight; all cases are on it, the one past midnight too."""
    a_day(tmp_path)
    found = placed(tmp_path)

    assert [(r["code"], r["place"], r["planned_start"], r["booked"]) for r in found] == [
        ("A-0001", 1, 540, 300), ("B-0007", 2, 540, 300), ("A-0002", 3, 540, 300),
    ]  # fmt: skip
    assert found[0]["delay"] == 25
    assert [r["gap"] for r in found][1:] == [32, 630]


def test_planned_minutes_are_those_of_the_list(tmp_path):
    """The page of facts may say otherwise; the list is what was planned."""
    a_day(tmp_path)

    def planned(audit):
        return {
            r["code"]: (r["planned_minutes"], r["planned_start_minute"])
            for r in rows(audit.everyone.tables.cases)
        }

    assert told(tmp_path, planned) == {"A-0001": (150, 540), "B-0007": (120, 690), "A-0002": (40, None)}


def five_days(folder):
    """Five lists of one case each, booked from nine to two; each begins 25 min late and ends so, one for a reason."""
    for day in range(5):
        name = f"2026-12-0{day + 1}"
        text = THREE.replace("2026-12-01", name).replace("session = 480", "session = 300")
        lists = lists_of(folder, text.replace('"08:30"', '"09:00"'), name)
        case(lists, 1, f"A-000{day + 1}", at("09:25", day), at("14:25", day), name=name)
        reason = "ward" if day else "emergency"
        lists.say(name, de.LateStartReason, "circulating", Hand(at("09:30", day))(), reason=reason)
        lists.say(name, de.PlaceCalledOff, "circulating", Hand(at("09:30", day))(), place=2, reason="unfit")


def test_the_use_of_a_list_is_of_what_it_booked(tmp_path):
    """Three hundred minutes from nine, all of them used, 25 of them late: each list overruns by those."""
    five_days(tmp_path)
    use = told(tmp_path, theatre_lists.use).result

    assert (use.n, use.overrun_sessions, use.overrun_minutes) == (5, 5, 125)
    assert use.uncapped == pytest.approx(1)


def test_reasons_and_places_called_off_are_counted(tmp_path):
    """In the words of the list's own file."""
    a_day(tmp_path)

    starts, gaps, off = told(
        tmp_path,
        lambda audit: (
            theatre_lists.starts(audit),
            theatre_lists.gaps(audit),
            theatre_lists.called_off(audit),
        ),
    )
    assert starts.result.reasons == (("ward or transport", 1),)
    assert gaps.result.reasons == (("emergency came between", 1),)
    assert (off.lists, off.places, off.called_off, off.reasons) == (1, 4, 1, (("not fit today", 1),))


def test_numbers_under_five_are_kept_back(tmp_path):
    """Of five reasons one was given once and another four times; five of fifteen places were called off for one."""
    five_days(tmp_path)

    def grid(ask, title):
        return next(g for g in told(tmp_path, ask).grids if g.title == title).rows

    assert grid(of_lists.starts, "Reasons given for a late start") == (
        ("ward or transport", FEW), ("emergency came between", FEW),
    )  # fmt: skip
    assert grid(of_lists.use, "Lists of the day") == (("from which a case was begun", "5", "15", "5"),)
    assert grid(of_lists.use, "Reasons given for calling off") == (("not fit today", "5"),)


def test_an_entry_of_the_list_folds_its_cases_anew_and_no_others(tmp_path):
    """A reason given the day after is in the tables; what was not touched is not read again."""
    lists = a_day(tmp_path)
    assert bring_up_to_date(Archive(tmp_path)).folded == 3
    assert bring_up_to_date(Archive(tmp_path)).folded == 0

    say(lists, de.TurnoverReason, at("09:00", 1), after="B-0007", reason="ward")
    assert bring_up_to_date(Archive(tmp_path)).folded == 3
    assert ("ward or transport", 1) in told(tmp_path, theatre_lists.gaps).result.reasons


def test_a_book_that_does_not_hold_is_said_and_its_cases_are_in(tmp_path):
    """Its cases go by the usual sessions then."""
    a_day(tmp_path)
    book = tmp_path / "lists" / f"{DAY}.list.jsonl"
    book.write_bytes(book.read_bytes().replace(b'"name":"2026-12-01"', b'"name":"2026-12-02"'))
    made = bring_up_to_date(Archive(tmp_path))

    assert made.cases == 3
    assert [out.name for out in made.left_out] == [book.name]
    assert all(r["planned_start"] != 540 for r in placed(tmp_path))


def test_a_case_of_no_list_goes_by_the_usual_sessions(tmp_path):
    """As before there were lists."""
    lists = a_day(tmp_path)
    begun = standing(lists, at("02:00", 1)).seats
    assert len(begun) == 4
    shutil.rmtree(tmp_path / "lists")

    assert {r["planned_start"] for r in placed(tmp_path)} == {Sessions().starts[0]}


@pytest.mark.spark
@pytest.mark.parametrize("ask", [questions.said_of_lists, questions.turnover_reasons])
def test_both_engines_say_the_same_of_lists(tmp_path, ask):
    """Every row the same."""
    a_day(tmp_path)
    made = bring_up_to_date(Archive(tmp_path))
    with connected(made.folder) as here, connected(made.folder, "spark") as there:
        assert rows(ask(here)) == rows(ask(there)) != []
        mine, its = (rows(questions.lists(tables, Sessions())) for tables in (here, there))
    assert mine == its != []
