"""What the fold makes of steps: how they stand, what is due again, what is corrected."""

from __future__ import annotations

import pytest

from small_procedures import TWO_STAGES
from story import case_of, protocol_of
from tracker.core.case import Case, due_marks, status


def _status(case: Case, step: str) -> str:
    return status(case, case.protocol.step[step])


# -- the eight words for how a step stands


def test_first_stage_is_due_and_the_next_not_reached() -> None:
    """Before anything is ticked the steps of the first stage are due, those of the next not reached."""
    case = case_of(TWO_STAGES, "")

    assert _status(case, "ports") == "due"
    assert _status(case, "haemostasis") == "not_reached"


def test_optional_step_is_never_due_of_itself() -> None:
    """An optional step of a stage that has been reached is not due."""
    assert _status(case_of(TWO_STAGES, "09:00:00 tick ports"), "chandelier") == "not_reached"


def test_step_with_unmet_condition_is_not_in_case() -> None:
    """A step whose condition is unmet does not belong to the case until a fact changes that."""
    assert _status(case_of(TWO_STAGES, ""), "buckle") == "not_in_case"
    assert _status(case_of(TWO_STAGES, "09:00:00 facts buckle_planned=true"), "buckle") == "due"


def test_span_runs_between_start_and_stop() -> None:
    """A span is running from its start and ticked from its stop."""
    assert _status(case_of(TWO_STAGES, "09:00:00 start cut"), "cut") == "running"
    assert _status(case_of(TWO_STAGES, "09:00:00 start cut\n09:04:00 stop cut"), "cut") == "ticked"


def test_earlier_start_without_a_stop_still_runs() -> None:
    """Of two overlapping spans of one step, the one left open keeps the step running."""
    case = case_of(TWO_STAGES, "09:00:00 start cut\n09:01:00 start cut\n09:02:00 stop cut")

    assert _status(case, "cut") == "running"


def test_ticks_are_numbered() -> None:
    """Each tick of a step has its number, from 1."""
    case = case_of(TWO_STAGES, "09:00:00 start cut\n09:01:00 stop cut\n09:02:00 start cut")

    assert [t.nth for t in case.state("cut").ticks] == [1, 2]


def test_not_needed_and_not_logged_are_words_of_their_own() -> None:
    """A step decided against and a step done without a tick are told apart."""
    case = case_of(TWO_STAGES, "09:00:00 not_needed ports already in\n09:00:00 not_logged cut")

    assert _status(case, "ports") == "not_needed"
    assert _status(case, "cut") == "not_logged"
    assert case.state("ports").not_needed is not None
    assert case.state("ports").not_needed[1] == "already in"


def test_last_word_between_not_needed_and_not_logged_counts() -> None:
    """Of `not needed` and `not logged` for the same step, the later one stands."""
    assert _status(case_of(TWO_STAGES, "09:00:00 not_needed ports\n09:01:00 not_logged ports"), "ports") == (
        "not_logged"
    )
    assert _status(case_of(TWO_STAGES, "09:00:00 not_logged ports\n09:01:00 not_needed ports"), "ports") == (
        "not_needed"
    )


def test_step_not_logged_then_decided_against_was_not_done() -> None:
    """`not needed` takes back a `not logged`, but not where the step was due again: it had been done."""
    taken_back = case_of(TWO_STAGES, "09:00:00 not_logged haemostasis\n09:01:00 not_needed haemostasis")
    due_again = case_of(
        TWO_STAGES,
        """
        09:00:00 not_logged haemostasis
        09:01:00 start cut
        09:02:00 stop cut
        09:03:00 not_needed haemostasis
        """,
    )

    assert not taken_back.state("haemostasis").done
    assert due_again.state("haemostasis").done


def test_tick_after_not_needed_is_a_tick() -> None:
    """A step ticked after it was decided against is ticked."""
    case = case_of(TWO_STAGES, "09:00:00 not_needed ports\n09:01:00 tick ports")

    assert _status(case, "ports") == "ticked"
    assert case.state("ports").not_needed is None


def test_struck_tick_leaves_a_struck_step() -> None:
    """A step whose only tick was struck says so, and is not satisfied."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:00:05 strike 1")

    assert _status(case, "ports") == "struck"
    assert not case.state("ports").satisfied


def test_ticking_a_later_stage_makes_earlier_steps_due() -> None:
    """Steps of every stage up to the furthest one entered are due."""
    assert _status(case_of(TWO_STAGES, "09:00:00 start cut"), "haemostasis") == "due"


def test_closing_a_stage_reaches_the_next() -> None:
    """Once a stage is closed the steps of the next are due."""
    assert _status(case_of(TWO_STAGES, "09:00:00 close access"), "haemostasis") == "due"


def test_closing_the_last_stage_reaches_nothing_more() -> None:
    """Closing the last stage leaves the case in it."""
    assert case_of(TWO_STAGES, "09:00:00 close cut").reached == 1


def test_ticking_in_a_closed_stage_reopens_it() -> None:
    """A stage is no longer closed once a step of it is ticked after all."""
    case = case_of(TWO_STAGES, "09:00:00 close access\n09:01:00 tick ports")

    assert "access" not in case.closed


def test_back_stamped_tick_leaves_a_closed_stage_closed() -> None:
    """A tick told for before the closing was part of the stage that was closed."""
    case = case_of(TWO_STAGES, "09:00:00 close access\n08:59:00 +120 tick ports")

    assert "access" in case.closed


def test_nothing_is_due_once_stopped_early() -> None:
    """After a case was stopped early the steps without a tick are not reached."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:05:00 start cut\n09:06:00 stop_early collapse")

    assert _status(case, "haemostasis") == "not_reached"


def test_nothing_is_due_again_once_stopped_early() -> None:
    """After a case was stopped early a step that was due again is a step that was ticked."""
    story = "10:00:00 start haemostasis\n10:01:00 stop haemostasis\n10:02:00 start cut\n10:03:00 stop cut\n"

    assert _status(case_of(TWO_STAGES, story), "haemostasis") == "due"
    assert _status(case_of(TWO_STAGES, f"{story}10:04:00 stop_early collapse"), "haemostasis") == "ticked"


# -- due again


def test_later_event_makes_a_ticked_step_due_again() -> None:
    """Haemostasis is due again after a further cut, with the file's reason, and is met by a further tick."""
    story = """
    10:00:00 start cut
    10:01:00 stop cut
    10:02:00 start haemostasis
    10:03:00 stop haemostasis
    10:10:00 start cut
    10:12:00 stop cut
    """
    case = case_of(TWO_STAGES, story)

    assert _status(case, "haemostasis") == "due"
    assert [m.reason for m in case.state("haemostasis").due_again] == ["a cut edge bleeds"]
    assert [m.since.seq for m in case.state("haemostasis").due_again] == [6]

    again = case_of(TWO_STAGES, story + "10:13:00 start haemostasis\n10:14:00 stop haemostasis")

    assert _status(again, "haemostasis") == "ticked"
    assert all(t.expected for t in again.state("haemostasis").ticks)


def test_step_not_yet_done_cannot_be_due_again() -> None:
    """A trigger before the step was ever done leaves it simply due."""
    case = case_of(TWO_STAGES, "10:00:00 start cut\n10:01:00 stop cut")

    assert case.state("haemostasis").due_again == ()


CALLED = protocol_of("""
[[facts]]
id = "gas"
label = "Gas in the eye"
kind = "flag"
default = true
[[stages]]
id = "only"
label = "Only"
[[stages.steps]]
id = "air"
label = "Air"
[[stages.steps]]
id = "look"
label = "A look at the tip"
occurrence = "optional"
due_again = [{ step = "air", reason = "air went in" }]
when = { all = [{ fact = "gas", choice = [true] }] }
""")


def test_optional_step_is_due_by_its_trigger() -> None:
    """An optional step never ticked is due from its trigger on, with the file's reason, until ticked."""
    story = "09:00:00 tick air\n09:01:00 tick air"
    case = case_of(CALLED, story)

    assert _status(case_of(CALLED, ""), "look") == "not_reached"
    assert _status(case, "look") == "due"
    assert [(m.reason, m.since.seq) for m in due_marks(case, case.protocol.step["look"])] == [
        ("air went in", 1)
    ]

    looked = case_of(CALLED, f"{story}\n09:02:00 tick look")

    assert (_status(looked, "look"), due_marks(looked, looked.protocol.step["look"])) == ("ticked", ())


def test_optional_step_asked_for_is_not_after_a_strike_of_its_trigger() -> None:
    """What was struck asks for nothing."""
    assert _status(case_of(CALLED, "09:00:00 tick air\n09:00:05 strike 1"), "look") == "not_reached"


@pytest.mark.parametrize(("before", "after"), [("", "not_in_case"), ("09:00:30 tick look\n", "ticked")])
def test_nothing_is_due_once_its_condition_is_unmet(before: str, after: str) -> None:
    """Marks of a step do not count while its condition does not hold, ticked before or never; then again."""
    story = f"09:00:00 tick air\n{before}09:01:00 tick air\n09:02:00 facts gas=false"
    case, again = case_of(CALLED, story), case_of(CALLED, f"{story}\n09:03:00 facts gas=true")

    assert (_status(case, "look"), due_marks(case, case.protocol.step["look"])) == (after, ())
    assert (_status(again, "look"), len(due_marks(again, again.protocol.step["look"]))) == ("due", 1)


@pytest.mark.parametrize("word", ["not_needed", "not_logged"])
def test_due_again_is_met_by_a_word_too(word: str) -> None:
    """`not needed` and `not logged` satisfy a step that was due again."""
    case = case_of(
        TWO_STAGES,
        f"""
        10:00:00 start haemostasis
        10:01:00 stop haemostasis
        10:02:00 start cut
        10:03:00 stop cut
        10:04:00 {word} haemostasis
        """,
    )

    assert case.state("haemostasis").satisfied
    assert _status(case, "haemostasis") == "ticked"


def test_step_decided_against_is_due_again_too() -> None:
    """A trigger after `not needed` makes the step due once more."""
    case = case_of(TWO_STAGES, "10:00:00 not_needed haemostasis\n10:01:00 start cut\n10:02:00 stop cut")

    assert _status(case, "haemostasis") == "due"


# -- corrections


def test_strike_of_a_strike_restores() -> None:
    """A strike that is itself struck strikes nothing."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:00:05 strike 1\n09:00:09 strike 2")

    assert _status(case, "ports") == "ticked"


def test_two_strikes_of_one_tick_need_two_strikes_back() -> None:
    """A tick struck twice stays struck when only one of the strikes is struck."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:00:05 strike 1\n09:00:06 strike 1\n09:00:09 strike 3")

    assert _status(case, "ports") == "struck"


def test_what_hangs_on_a_struck_start_goes_with_it() -> None:
    """The stop of a struck start is void too, and comes back with it."""
    story = "09:00:00 start cut\n09:02:00 stop cut\n09:03:00 strike 1"

    assert case_of(TWO_STAGES, story).odd == ()
    assert _status(case_of(TWO_STAGES, story), "cut") == "struck"
    assert _status(case_of(TWO_STAGES, f"{story}\n09:03:05 strike 3"), "cut") == "ticked"


def test_moved_tick_belongs_to_the_other_step() -> None:
    """A tick moved to another step counts there, at its own time, and nowhere else."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:01:00 move 1 chandelier")

    assert _status(case, "ports") == "due"
    assert [t.start.at.minute for t in case.state("chandelier").ticks] == [0]


@pytest.mark.parametrize("stopped_as", ["cut", "haemostasis"])
def test_stop_follows_its_start_wherever_it_is_moved(stopped_as: str) -> None:
    """A stop belongs to the step of its start, moved before or after, once or twice."""
    case = case_of(
        TWO_STAGES,
        f"""
        09:00:00 start cut
        09:01:00 move 1 ports
        09:01:10 move 1 haemostasis
        09:02:00 stop {stopped_as} @1
        """,
    )

    assert case.odd == ()
    assert [t.stop.seq for t in case.state("haemostasis").ticks if t.stop] == [4]


def test_struck_move_moves_nothing() -> None:
    """A tick whose move was struck is back where it was."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:01:00 move 1 chandelier\n09:01:05 strike 2")

    assert _status(case, "ports") == "ticked"


def test_strike_shows_at_the_step_the_tick_was_moved_to() -> None:
    """A tick moved and then struck leaves its trace where it last stood."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:01:00 move 1 cut\n09:01:05 strike 1")

    assert _status(case, "cut") == "struck"
    assert not case.state("ports").struck


def test_back_stamp_moves_the_time_told() -> None:
    """A back-stamped tick is told for so many seconds earlier, entered late by as much; two add up."""
    case = case_of(TWO_STAGES, "09:10:00 tick ports\n09:10:01 back 1 60\n09:10:02 back 1 60")
    [tick] = case.state("ports").ticks

    assert tick.start.at.strftime("%H:%M:%S") == "09:08:00"
    assert tick.start.t == -120.0
    assert tick.late_s == 120.0


def test_back_stamp_may_change_the_order() -> None:
    """A tick back-stamped to before another comes before it."""
    case = case_of(TWO_STAGES, "09:10:00 tick ports\n09:11:00 tick chandelier\n09:11:05 back 2 120")

    assert [e.step for e in case.log] == ["chandelier", "ports"]


def test_stop_back_stamped_before_its_start_is_held_there() -> None:
    """A stop corrected to before its start stands at the start, so no span is negative."""
    case = case_of(TWO_STAGES, "09:10:00 start cut\n09:11:00 stop cut\n09:11:05 back 2 600")
    [tick] = case.state("cut").ticks

    assert tick.stop is not None
    assert (tick.start.t, tick.start.at) == (tick.stop.t, tick.stop.at)
    assert tick.stop_late_s == 60.0


def test_start_brought_forward_past_its_stop_takes_the_stop_along() -> None:
    """A start corrected to after its stop holds the stop at the start."""
    case = case_of(TWO_STAGES, "09:10:00 start cut\n09:11:00 stop cut\n09:20:00 back 1 -300")
    [tick] = case.state("cut").ticks

    assert tick.stop is not None
    assert tick.start.t == tick.stop.t == 300.0
