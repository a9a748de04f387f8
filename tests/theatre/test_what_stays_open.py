"""What was asked and not given stays in what is open until it is dealt with, and is told by when it was due."""

from __future__ import annotations

import pytest

from desks import SMALL, clock_of, codes, desk_of, press, read, shipped
from tracker.core import events as ev
from tracker.core.deviations import unjudged
from tracker.core.wording import SPREAD
from tracker.theatre.desk import Desk
from tracker.theatre.open_items import open_items


def do(desk: Desk, script: str) -> None:
    """Tick what a script names: ids of steps, each by its own key in its own stage, and `+60` for time.

    What is asked afterwards is left open. A step that asks for its key once more gets it.
    """
    for word in script.split():
        if word.startswith("+"):
            clock_of(desk).on(float(word))
            continue
        step, before = desk.protocol.step[word], len(desk.case.events)
        assert step.key is not None
        while word in desk.protocol.stage_of and desk.stage != desk.stage_of(word):
            desk.press("right" if desk.stage < desk.stage_of(word) else "left")
        press(desk, step.key)
        if len(desk.case.events) == before:
            press(desk, step.key)
        assert len(desk.case.events) > before, word
        leave(desk)


def leave(desk: Desk) -> None:
    """Leave what is asked open."""
    if desk.panel is not None:
        desk.press("escape")


def command(desk: Desk, ident: str, *keys: str) -> None:
    """Give a command, and then the keys that answer what it asks."""
    press(desk, " ".join([f"<{ident}>", *keys]))


def count(desk: Desk, *figures: str) -> None:
    """Say what the count board says, a figure a line; blank where none is said."""
    command(desk, "count", *(key for figure in figures for key in (*figure, "enter")))


def open_now(desk: Desk) -> list[str]:
    """What is open, as the sheet says it: word and text."""
    now_t = desk.session.now_t(desk.session.clock())
    return [f"{i.word}: {i.text}" for i in open_items(desk.case, now_t)]


# -- counts


def test_both_counts_ticked_without_a_figure_are_told_by_the_end() -> None:
    """First and closing count ticked, nothing said, the patient leaves: two safety deviations, both open."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre count_in time_out +60 count_out +60 out_theatre")

    assert [(d.step, d.level) for d in desk.deviations() if d.code == "count_unsaid"] == [
        ("count_in", "safety"),
        ("count_out", "safety"),
    ]
    assert "count: First count 09:00: figures not given" in open_now(desk)
    assert "count: Closing count 09:01: figures not given" in open_now(desk)
    assert "deviation: First count: figures not given" not in open_now(desk)  # it is told once
    assert "first count: figures not given" in read(desk, 120, 40)


def test_a_count_is_open_from_its_tick_until_its_figures_are_said() -> None:
    """It stands in what is open at once, and no longer once every line has its figure."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre count_in")
    assert "count: First count 09:00: figures not given" in open_now(desk)

    count(desk, "1", "")
    assert "count: First count 09:00: no figure for Blades" in open_now(desk)
    assert codes(desk) == []


def test_the_shipped_file_meets_no_need_by_a_tick_alone() -> None:
    """Ports after a first count without figures: a safety deviation at the ports, in one line."""
    desk = desk_of(shipped())
    do(desk, "sign_in patient_in time_out count_1 +60 ports")
    [line] = [d for d in desk.deviations() if "count_1" in d.key]

    assert (line.code, line.level) == ("count_unsaid", "safety")
    assert [d.step for d in line.beneath] == ["ports"]


def test_figures_that_differ_are_of_safety_and_open_until_a_later_count_agrees() -> None:
    """One swab short stands open with its figures, and is closed by the count that agrees."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre count_in")
    count(desk, "10", "2")
    do(desk, "count_out")
    command(desk, "count", "9", "enter", "enter", "2", "enter")
    assert "count_discrepancy swabs" in codes(desk)
    assert "count: Swabs: 10 + 0 - 0 = 10, said 9" in open_now(desk)

    do(desk, "+60 count_out")
    count(desk, "10", "2")
    assert not [line for line in open_now(desk) if line.startswith("count: Swabs")]
    assert next(d for d in desk.deviations() if d.code == "count_discrepancy").level == "safety"


# -- hand-over


def hand_over(desk: Desk, confirmed: str) -> None:
    """Hand the circulating post over, and say whether the counts were confirmed; acknowledge nothing."""
    command(desk, "hand_over", "a", confirmed)
    leave(desk)


def test_a_hand_over_nobody_acknowledged_is_open_and_told() -> None:
    """It is open, not beside what is open; at the end of the case it is a deviation of order."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre")
    hand_over(desk, "y")
    assert "hand-over: Relief circulating practitioner has not acknowledged the hand-over" in open_now(desk)
    assert codes(desk) == []

    do(desk, "+60 out_theatre")
    [found] = [d for d in desk.deviations() if d.code == "handover_unacknowledged"]
    assert found.level == "order"
    assert "hand-over: not acknowledged" in read(desk, 120, 40)


def test_the_next_hand_over_takes_the_place_of_one_not_acknowledged() -> None:
    """What is open is of the last hand-over; that the first was never read is a deviation."""
    desk = desk_of(SMALL)
    hand_over(desk, "y")
    desk.say(ev.HandOver, outgoing="relief", incoming="runner", counts_confirmed=True)

    assert [line for line in open_now(desk) if line.startswith("hand-over")] == [
        "hand-over: Circulating practitioner has not acknowledged the hand-over"
    ]
    assert codes(desk) == ["handover_unacknowledged hand-over"]


def test_counts_not_confirmed_are_open_until_a_count_is_said() -> None:
    """A tick alone does not close it, its figures do."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre count_in")
    count(desk, "1", "2")
    hand_over(desk, "n")
    do(desk, "+60 count_out")
    assert "hand-over: counts not confirmed since 09:00:00" in open_now(desk)

    count(desk, "1", "2")
    assert not [line for line in open_now(desk) if "counts not confirmed" in line]


# -- values


def test_figures_asked_and_not_given_are_open() -> None:
    """A required reading, a choice and a reading of no other step stand open under the time of their tick."""
    desk = desk_of(SMALL)
    do(desk, "laser laser cut_decide noted")

    assert "reading: Edge laser 09:00:00: Laser rows not given" in open_now(desk)
    assert "choice: Cut decision 09:00:00: not stated" in open_now(desk)
    assert "reading: Pressure noted 09:00:00: Infusion pressure not given" in open_now(desk)


def test_what_was_typed_and_not_kept_is_open_in_the_desks_words() -> None:
    """The desk hands in what stands in its lines, and each is an open line."""
    desk = desk_of(SMALL)
    found = open_items(desk.case, 0.0, {"reading:rows:4": "Laser rows 25, not kept"})

    assert [i.text for i in found if i.word == "typed"] == ["Laser rows 25, not kept"]


# -- spread


IODINE = "sign_in patient_in iodine +284 iodine drape time_out count_1 ports"


@pytest.fixture
def late() -> Desk:
    """A case of the shipped file whose first steps after the iodine were ticked in one go."""
    desk = desk_of(shipped())
    do(desk, IODINE)
    return desk


def test_spreading_makes_no_deviation_of_a_clock(late: Desk) -> None:
    """4 min 44 s of iodine contact: spread, the clock is not judged, and the desk says which."""
    before = {d.key for d in late.deviations()}
    command(late, "spread", "<spread>")

    assert {d.code for d in late.deviations() if d.key not in before} == set()
    contact = [d for d in unjudged(late.case, late.case.last_t) if d.step == "iodine_contact"]
    assert [d.found for d in contact] == [SPREAD]
    assert "times spread by the program; not judged: " in late.hint
    assert "Iodine contact" in late.hint


def test_nothing_is_spread_to_before_what_was_entered_earlier() -> None:
    """A reading in the quiet time started a clock: its stop is not put before it."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre +300 noted")
    command(desk, "reading")
    press(desk, "5 5 enter")
    do(desk, "+300 count_in time_out core core peel")
    command(desk, "spread", "<spread>")

    assert min(e.t for e in desk.case.log if e.spread) > 300
    [run] = [r for r in desk.case.clocks if r.clock == "raised"]
    assert run.start.t == 300


def test_a_time_told_is_not_spread() -> None:
    """A tick of the burst that was added as missed has the time that was told for it."""
    desk = desk_of(SMALL)
    do(desk, "in_theatre +600 count_in time_out core core peel")
    at = desk.session.now_t(desk.session.clock()) - 120
    desk.session.natural("liquid_in", 120)
    command(desk, "spread", "<spread>")
    told = next(e for e in desk.case.log if e.step == "liquid_in")

    assert (told.t, told.spread) == (at, False)
    assert sum(e.spread for e in desk.case.log) == 5
