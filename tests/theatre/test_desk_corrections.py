"""What is put right at the desk: undone, moved, earlier, missed, done otherwise; nothing is lost."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desks import (
    AT_WORK,
    SMALL,
    START,
    board,
    codes,
    desk_of,
    how,
    panel,
    press,
    read,
    told,
)
from tracker.core.durations import step_seconds

# -- corrections


def test_strike_takes_back_the_last_entry() -> None:
    """Backspace strikes the last entry, which stays in the record, and marks its step again."""
    desk = desk_of(SMALL, "i c escape backspace")

    assert told(desk) == ["tick in_theatre", "tick count_in", "strike @5"]
    assert (how(desk, "count_in"), desk.marked) == ("struck", "count_in")


def test_strike_again_walks_back() -> None:
    """Each further backspace strikes the entry before, past entries already struck."""
    desk = desk_of(SMALL, "i c escape t backspace backspace backspace")

    assert told(desk)[3:] == ["strike @6", "strike @5", "strike @4"]
    assert how(desk, "in_theatre") == "struck"


def test_the_start_of_the_case_cannot_be_struck() -> None:
    """Backspace before anything was entered says so: facts and operator were no slip of a finger."""
    desk = desk_of(SMALL, "backspace")

    assert told(desk) == []
    assert desk.hint == "nothing to strike"


def test_strike_of_a_stop_lets_the_span_run_on() -> None:
    """A span stopped by mistake runs on from its own start once the stop is struck."""
    desk = desk_of(SMALL, f"{AT_WORK} v +60 v +30 backspace +30 v")

    assert told(desk)[-3:] == ["stop core @7", "strike @8", "stop core @7"]
    assert step_seconds(desk.case, desk.protocol.step["core"], 0) == 120


def test_a_struck_tick_can_be_made_again() -> None:
    """After a strike the step is ticked again without being called a repetition."""
    desk = desk_of(SMALL, "i backspace i")

    assert how(desk, "in_theatre") == "ticked"
    assert codes(desk) == []


def test_back_stamp_by_minutes() -> None:
    """Each press moves the last entry back a minute; the entry says by how much."""
    desk = desk_of(SMALL, "+600 i <back_stamp> +0.2 <back_stamp> +0.2 <back_stamp>")

    assert told(desk)[1:] == ["back_stamp 60.0 @4"] * 3
    entry = desk.case.log[-1]
    assert (entry.late_s, entry.at) == (180, START + timedelta(minutes=7))
    assert "Into theatre ticked, back-stamped 3 min" in board(desk)
    assert "09:07:00, 3 min ago" in board(desk)


def test_back_stamp_after_a_choice_moves_the_decision() -> None:
    """A decision already stated is moved as a whole: the minute belongs to the tick."""
    desk = desk_of(SMALL, "+600 right d z <back_stamp>")

    assert told(desk) == ["tick cut_decide", "choice cut @4", "back_stamp 60.0 @4"]
    assert desk.case.state("cut_decide").ticks[0].late_s == 60


def test_back_stamp_after_naming_a_complication_moves_the_complication() -> None:
    """Named or not, a complication stamped late is moved to when it began."""
    desk = desk_of(SMALL, "+600 <complication> b <back_stamp> <back_stamp>")

    assert told(desk)[2:] == ["back_stamp 60.0 @4", "back_stamp 60.0 @4"]
    assert desk.case.troubles[0].start.t == 480


def test_back_stamp_with_nothing_entered_says_so() -> None:
    """The key before the first entry changes nothing and says so."""
    desk = desk_of(SMALL, "<back_stamp>")

    assert (told(desk), desk.hint) == ([], "nothing to back-stamp")


def test_the_last_tick_can_be_moved() -> None:
    """Picked from the last entries, a tick is given to the step it belongs to, with its time."""
    desk = desk_of(SMALL, "+60 i +60 <entries> a m t")

    assert told(desk) == ["tick in_theatre", "move time_out @4"]
    assert (how(desk, "in_theatre"), how(desk, "time_out")) == ("due", "ticked")
    assert desk.case.state("time_out").ticks[0].start.t == 60


def test_a_back_stamped_tick_is_moved_under_the_time_that_is_told_for_it() -> None:
    """The questions say the time that the board says, not that of the key."""
    desk = desk_of(SMALL, "i +600 t <back_stamp> <back_stamp> <entries>")
    assert [row.text for row in desk.panel.rows()] == [
        "09:08:00 Time-out ticked",
        "09:00:00 Into theatre ticked",
    ]

    press(desk, "a m")

    assert panel(desk) == "Time-out 09:08:00 belongs to"


def test_only_steps_of_the_same_kind_are_offered() -> None:
    """A span is moved to a span and a point to a point; those of its own stage come first."""
    desk = desk_of(SMALL, f"{AT_WORK} v <entries> a m")

    assert [row.text for row in desk.panel.rows()] == [
        "Membrane peel",
        "Retina cut",
        "Edge laser",
        "Ports closed",
    ]


def test_a_stopped_span_is_moved_with_its_stop() -> None:
    """The stop goes along when a span is moved, whichever of the two entries is picked."""
    for picked in ("a", "b"):
        desk = desk_of(SMALL, f"{AT_WORK} v +60 v <entries> {picked} m p")

        assert told(desk)[-1] == "move peel @7"
        assert step_seconds(desk.case, desk.protocol.step["peel"], 0) == 60
        assert how(desk, "core") == "due"


def test_a_decision_can_be_moved_after_its_choice() -> None:
    """What was said after a tick does not hide the tick from being moved."""
    desk = desk_of(SMALL, "right d z <entries> a m h")

    assert told(desk)[-1] == "move liquid_in @4"


def test_with_nothing_entered_no_entry_can_be_picked() -> None:
    """Facts and operator of the opening were no slip of a finger; the key says that there is nothing else."""
    desk = desk_of(SMALL, "<entries>")

    assert (told(desk), panel(desk), desk.hint) == ([], "", "nothing was entered yet")


# -- what was missed, what came late


def test_what_was_missed_goes_between_the_last_two_entries() -> None:
    """Two keys add a step between the last two entries, at the middle of the time between them."""
    desk = desk_of(SMALL, "i +60 c escape +60 ' t")

    assert told(desk)[-1] == "tick time_out"
    assert desk.case.state("time_out").ticks[0].start.t == 30
    assert desk.case.state("time_out").ticks[0].late_s == 90


def test_up_goes_further_back_and_down_comes_nearer() -> None:
    """Up chooses an earlier gap between entries, down the time since the last one."""
    steps = f"{AT_WORK.replace(' ', ' +60 ')} +60 h +60 '"

    assert told(desk_of(SMALL, f"{steps} up p"))[-1] == "start peel"
    earlier, later = (desk_of(SMALL, f"{steps} {key} u") for key in ("up", "down"))
    assert earlier.case.state("liquid_out").ticks[0].start.t < later.case.state("liquid_out").ticks[0].start.t
    assert later.case.state("liquid_out").ticks[0].start.t > later.case.state("liquid_in").ticks[0].start.t


def test_what_was_missed_may_belong_to_another_stage() -> None:
    """Right shows the steps of the next stage in the panel, and a key of that stage is taken."""
    desk = desk_of(SMALL, "i +60 c escape +60 ' left")
    assert "Heavy liquid in" not in panel(desk)

    press(desk, "right right h")

    assert told(desk)[-1] == "tick liquid_in"


def test_a_missed_step_of_any_time_has_its_key_in_every_stage() -> None:
    """Its key is taken for what was missed, whichever stage is shown."""
    desk = desk_of(SMALL, "i +60 c escape +60 ' right P")

    assert told(desk)[-1] == "tick noted"
    assert desk.case.state("noted").ticks[0].late_s == 90


def test_looking_for_what_was_missed_leaves_the_board_as_it_was() -> None:
    """The stages turned over in the panel are not those of the board: the marked step is still in view."""
    desk = desk_of(SMALL, "i +60 c escape")
    before = (desk.stage, desk.marked, board(desk))

    press(desk, "' right escape")

    assert (desk.stage, desk.marked, board(desk)) == before


def test_with_nothing_entered_nothing_can_be_missed() -> None:
    """Before the first entry there is no gap: the panel says so, and a step's key once more ticks as ever."""
    desk = desk_of(SMALL, "' i")
    assert "nothing was entered yet" in board(desk)
    assert told(desk) == []

    press(desk, "i")

    assert told(desk) == ["tick in_theatre"]


def test_a_late_burst_is_offered_to_be_spread_and_never_forced() -> None:
    """Five ticks at once after a quiet while are offered to be spread; unasked they stay where they are."""
    desk = desk_of(SMALL, "i +600 c escape t v v p")
    assert f"5 ticks at once after a gap: {desk.keys_of('spread')[0]} spreads them over it" in board(desk)

    press(desk, "h")
    assert all(e.late_s == 0 for e in desk.case.log)

    press(desk, "<spread>")
    assert all(e.late_s == 0 for e in desk.case.log)

    press(desk, "<spread>")
    starts = [e.t for e in desk.case.log if e.step]
    assert starts == sorted(starts)
    assert starts[0] == 0
    assert starts[1] == pytest.approx(600 / 7, abs=1)
    assert starts[-1] < 600


def test_without_a_burst_there_is_nothing_to_spread() -> None:
    """The key for spreading says that there is nothing to spread."""
    desk = desk_of(SMALL, "i +30 t <spread> <spread>")

    assert (told(desk)[-1], desk.hint) == ("tick time_out", "no burst of late ticks to spread")


def test_a_burst_is_spread_once() -> None:
    """What has been spread is not spread again."""
    desk = desk_of(SMALL, "i +600 c escape t v v p <spread> <spread> <spread> <spread>")

    assert desk.hint == "no burst of late ticks to spread"


# -- done otherwise


def test_not_needed_with_a_reason() -> None:
    """A letter marks the reason and Enter says both, and the mark goes on."""
    desk = desk_of(SMALL, "<not_needed> f")
    assert told(desk) == []
    assert [row.text for row in desk.panel.rows() if row.marked] == ["forced by the finding"]

    press(desk, "enter")

    assert told(desk) == ["not_needed in_theatre", "reason not_needed:in_theatre:4 forced"]
    assert (how(desk, "in_theatre"), desk.marked) == ("not_needed", "count_in")


def test_not_needed_without_a_reason_stands() -> None:
    """That there is no reason for now is an answer of its own, which is given like any other."""
    desk = desk_of(SMALL, "<not_needed>")
    assert "no reason for now" in board(desk)

    press(desk, "a enter t")

    assert told(desk) == ["not_needed in_theatre", "tick time_out"]


def test_not_needed_is_not_said_before_it_is_answered() -> None:
    """The key writes nothing, Enter takes no reason that is not marked, a step's key is none; Esc leaves."""
    desk = desk_of(SMALL, "<not_needed> enter t t")

    assert told(desk) == []
    assert panel(desk) == "Into theatre is not needed: why"

    press(desk, "escape t")

    assert told(desk) == ["tick time_out"]


def test_not_logged_is_done_without_a_time() -> None:
    """A step done but not ticked is written as just that by its key once more, and is not expected any more."""
    desk = desk_of(SMALL, "<not_logged>")
    assert told(desk) == []
    assert "once more: the marked step was done, nobody ticked it" in desk.hint

    press(desk, "<not_logged>")

    assert told(desk) == ["not_logged in_theatre"]
    assert (how(desk, "in_theatre"), desk.marked) == ("not_logged", "count_in")
    assert "done, not logged" in board(desk)


def test_a_closed_stage_tells_what_had_no_tick() -> None:
    """Once the team is through with a stage, what had no tick in it is told as such."""
    desk = desk_of(SMALL, "i t <close_stage> <close_stage>")

    assert told(desk)[-1] == "stage_closed ready"
    assert codes(desk) == ["skipped count_in"]


def test_closing_a_stage_shows_the_next() -> None:
    """The closing key once more says that the team is through, and goes on to what is expected next."""
    desk = desk_of(SMALL, "<close_stage>")
    assert (told(desk), desk.stage) == ([], 0)

    press(desk, "<close_stage>")
    assert (told(desk), desk.stage, desk.marked) == (["stage_closed ready"], 1, "core")

    press(desk, "<close_stage> <close_stage> <close_stage> <close_stage>")

    assert told(desk)[1:] == ["stage_closed work", "stage_closed finish"]
    assert (desk.stage, desk.marked) == (2, "fill")


def test_a_bookmark_is_one_key() -> None:
    """A moment worth finding in the recording costs one key and moves no mark."""
    desk = desk_of(SMALL, "i <bookmark>")

    assert told(desk) == ["tick in_theatre", "bookmark"]
    assert desk.marked == "count_in"


def test_pause_and_go_on() -> None:
    """A key once more says that the operation stands still, and again that it goes on; both are on the board."""
    desk = desk_of(SMALL, f"{AT_WORK} v +60 <pause>")
    assert told(desk)[-1] == "start core"

    press(desk, "<pause>")
    assert "paused since 09:01:00" in board(desk)
    assert "paused 00:00 running" in read(desk)

    press(desk, "+599.5 <pause> <pause> +59.5 v")

    assert told(desk)[-3:] == ["paused", "continued", "stop core @7"]
    assert step_seconds(desk.case, desk.protocol.step["core"], 0) == 120
