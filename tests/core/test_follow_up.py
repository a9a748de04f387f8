"""What a follow-up says: visits that stand, those put right or struck, and what is wanting or questioned in one."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from tracker.core.beside import begun_on
from tracker.core.events import Event, Unknown
from tracker.core.follow_up import NO_FOLLOW_UP, FollowUp, day_of, days_words, fold_follow_up, follow_up_lines
from tracker.core.follow_up_events import Followed, Visit, VisitStruck
from tracker.core.visit_checks import questioned, remarked, wanting

SURGERY = date(2026, 3, 2)
TODAY = date(2026, 9, 1)
NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


def frame(seq: int) -> dict[str, object]:
    """What every entry carries."""
    return {"seq": seq, "at": NOON, "entered_at": NOON, "elapsed_ms": 0, "run": 1, "role": "clinic"}


def visit(seq: int = 2, day: str = "2026-06-01", **found: object) -> Visit:
    """A visit, on a day three months after the operation unless told otherwise."""
    return Visit(**frame(seq), day=day, **found)  # type: ignore[arg-type]


def struck(seq: int, ref: int, why: str = "") -> VisitStruck:
    """A visit struck."""
    return VisitStruck(**frame(seq), ref=ref, why=why)  # type: ignore[arg-type]


def book(*events: Event) -> FollowUp:
    """A follow-up with its first line."""
    first = Followed(**frame(1), code="A-0001", log_hash="a" * 64, log_entries=3, program="0.1.0")  # type: ignore[arg-type]
    return fold_follow_up((first, *events))


def test_visits_come_by_their_day_however_they_were_entered() -> None:
    """The visit before the operation was entered last and stands first."""
    told = book(visit(2, "2026-06-01"), visit(3, "2026-04-01"), visit(4, "2026-02-20"))

    assert [v.seq for v in told.visits] == [4, 3, 2]


def test_of_two_visits_of_one_day_the_later_entry_comes_last() -> None:
    """Both stand, in the order in which they were entered."""
    assert [v.seq for v in book(visit(2, pressure=14), visit(3, pressure=15)).visits] == [2, 3]


def test_a_visit_put_right_is_replaced_and_stays_legible() -> None:
    """The new entry stands in its place; the old one is told with what became of it."""
    told = book(visit(2, acuity="6/60"), visit(3, acuity="6/6", ref=2, why="slip"))
    lines = [*follow_up_lines(told, SURGERY)]

    assert [v.acuity for v in told.visits] == ["6/6"]
    assert "acuity 6/60" in lines[1]
    assert "[replaced by entry 3: slip]" in lines[1]


def test_a_visit_struck_is_void_and_stays_legible() -> None:
    """It no longer stands, and the reason is told beside it."""
    told = book(visit(2, pressure=14), struck(3, 2, "another eye"))

    assert told.visits == ()
    assert next(follow_up_lines(told, SURGERY)).endswith("[struck by entry 3: another eye]")


def test_what_points_at_nothing_that_stands_changes_nothing_and_is_told() -> None:
    """A second strike, a strike of the first line, a replacement of what is not there, a kind from the future."""
    future = Unknown(**frame(7), kind="from_the_future")  # type: ignore[arg-type]
    told = book(visit(2), struck(3, 2), struck(4, 2), struck(5, 1), visit(6, ref=99), future)

    assert [e.seq for e in told.odd] == [4, 5, 6, 7]
    assert [v.seq for v in told.visits] == [6]
    assert [*follow_up_lines(told, SURGERY)][-1].endswith(
        "an entry that this program cannot use (from_the_future)"
    )


def test_a_day_that_is_none_is_odd_and_no_visit() -> None:
    """A book from elsewhere may hold any text for a day."""
    told = book(visit(2, "20260601"), visit(3, "2026-02-30"), visit(4, "soon"))

    assert told.visits == ()
    assert len(told.odd) == 3
    assert len([*follow_up_lines(told, SURGERY)]) == 3


def test_no_follow_up_at_all_is_nothing() -> None:
    """Neither visits nor a first line."""
    assert (NO_FOLLOW_UP.visits, NO_FOLLOW_UP.opened, NO_FOLLOW_UP.odd) == ((), None, ())


def test_a_book_is_of_the_log_that_it_was_begun_on() -> None:
    """The log may have gone on; another one is another."""
    opened = Followed(**frame(1), code="A-0001", log_hash="b", log_entries=2, program="0.1.0")  # type: ignore[arg-type]

    assert begun_on(opened, ["a", "b"])
    assert begun_on(opened, ["a", "b", "c"])
    assert not begun_on(opened, ["a", "c"])
    assert not begun_on(opened, ["b"])


@pytest.mark.parametrize(
    ("text", "is_day"),
    [("2026-03-02", True), ("2026-3-2", False), ("2026-W10-1", False), ("20260302", False), ("", False)],
)
def test_a_day_is_written_one_way(text: str, is_day: bool) -> None:
    """Year, month and day with hyphens, and nothing else."""
    assert (day_of(text) is not None) == is_day


@pytest.mark.parametrize(
    ("days", "words"), [(0, "day 0"), (91, "day 91"), (-1, "1 day before"), (-9, "9 days before")]
)
def test_days_in_words(days: int, words: str) -> None:
    """Days after the operation have a number, those before it say so."""
    assert days_words(days) == words


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (visit(day="June", pressure=14), "June is no day"),
        (visit(day="2026-09-02", pressure=14), "has not come yet"),
        (visit(), "Nothing was said of that visit"),
        (visit(day="2026-02-20", attached="yes"), "is before the operation"),
        (visit(day="2026-02-20", operation="other"), "is before the operation"),
        (visit(pressure=-1), "not below 0"),
        (visit(oil_out="May"), "May is no day"),
        (visit(oil_out="2026-02-01"), "is before the operation"),
        (visit(oil_out="2026-06-02"), "is after the visit"),
        (visit(oil="in", oil_out="2026-05-01"), "cannot both be in the eye"),
        (visit(text="x" * 2001), "longer than 2000 characters"),
        (visit(acuity="6/6\x1b[2J"), "no terminal should be sent"),
    ],
)
def test_what_is_wanting_is_said_in_a_sentence(found: Visit, why: str) -> None:
    """Each reason by itself."""
    [told] = wanting(found, SURGERY, TODAY)

    assert why in told


@pytest.mark.parametrize(
    "found",
    [
        visit(attached="unknown"),
        visit(day="2026-02-20", acuity="HM", pressure=12, oil="in"),
        visit(day="2026-09-01", text="came by himself"),
        visit(oil="out", oil_out="2026-06-01"),
    ],
)
def test_a_visit_that_wants_nothing_is_entered(found: Visit) -> None:
    """One finding or a note will do; before the operation acuity, pressure, oil and a note."""
    assert [*wanting(found, SURGERY, TODAY)] == []
    assert [*questioned(found, SURGERY)] == []


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (visit(pressure=95), "95 mmHg is outside 0 to 80"),
        (visit(day="2016-03-02", acuity="6/6"), "days before the operation"),
        (visit(text="Mrs Invented asked"), "a title with a name"),
        (visit(text="born 3.7.1948"), "a date that could be a date of birth"),
        (visit(pressure=14, why="943 476 5919"), "a ten-digit health number"),
    ],
)
def test_what_looks_like_a_slip_is_questioned(found: Visit, why: str) -> None:
    """It may be right, so it is asked about and no more."""
    assert [*wanting(found, SURGERY, TODAY)] == []
    [told] = questioned(found, SURGERY)
    assert why in told


def test_acuity_that_cannot_be_read_is_said_and_kept() -> None:
    """The entry says so wherever it is shown."""
    found = visit(acuity="quite good")

    assert "has no logMAR" in " ".join(remarked(found, SURGERY))
    assert "acuity quite good (not readable as acuity)" in next(follow_up_lines(book(found), SURGERY))
