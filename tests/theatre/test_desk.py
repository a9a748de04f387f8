"""What a key does at the desk: ticks first, details after, nothing lost and nothing refused."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from desks import SMALL, Memory, board, clock_of, desk_of, keeper_of, panel, press, protocol_of, shipped, told
from tracker.core.case import status
from tracker.core.deviations import deviations
from tracker.core.durations import step_seconds
from tracker.theatre.acts.screen import open_rows
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings, settings_from

AT_WORK = "i c escape t"
"""Through the first stage, the count's numbers left open: events 4 to 6."""

CHECKED = """
format = 1
id = "checked"
version = "1"
title = "Checked"

[[counted]]
id = "swabs"
label = "Swabs"

[[stages]]
id = "only"
label = "Only"
steps = [
  { id = "count_in", label = "First count", key = "c", shape = "count", count = "opening" },
  { id = "count_out", label = "Closing count", key = "n", shape = "count", count = "closing" },
]

[[anytime]]
id = "check"
label = "Count checked"
key = "C"
shape = "count"
count = "check"
occurrence = "optional"
repeats = true
due_again = [{ event = "count_changed", reason = "an item was opened" }]
when = { all = [{ step = "count_out", state = "ticked", negate = true }] }
"""
"""An optional step that a change of the count asks for until the closing count."""


def _how(desk: Desk, step: str) -> str:
    return status(desk.case, desk.protocol.step[step])


def _codes(desk: Desk) -> list[str]:
    return [f"{d.code} {d.step}" for d in deviations(desk.case, desk.case.last_t)]


# -- ticking


def test_space_ticks_a_point() -> None:
    """Space ticks the marked step, and the mark goes to the next one."""
    desk = desk_of(SMALL, "space")

    assert told(desk) == ["tick in_theatre"]
    assert desk.marked == "count_in"


def test_space_starts_a_span_and_stops_it() -> None:
    """Space starts a span, the mark stays on it, and space again stops it."""
    desk = desk_of(SMALL, AT_WORK)

    press(desk, "space")
    assert (told(desk)[-1], desk.marked) == ("start core", "core")

    press(desk, "+150 space")
    assert (told(desk)[-1], desk.marked) == ("stop core @7", "peel")
    assert step_seconds(desk.case, desk.protocol.step["core"], 0) == 150


def test_space_alone_goes_through_a_case() -> None:
    """Space does what is next: with a span's start and stop for two, the file in its order."""
    desk = desk_of(SMALL, "space space space space space space space space space")

    assert told(desk) == [
        "tick in_theatre", "tick count_in", "tick time_out", "start core", "stop core @7",
        "start peel", "stop peel @9", "tick liquid_in", "tick cut_decide",
    ]  # fmt: skip


def test_enter_stops_a_span_and_starts_the_next() -> None:
    """Where one span follows another, enter costs one key for both."""
    desk = desk_of(SMALL, f"{AT_WORK} space")

    press(desk, "enter")

    assert told(desk)[-2:] == ["stop core @7", "start peel"]
    assert desk.marked == "peel"


def test_enter_starts_nothing_but_a_span() -> None:
    """Where the next step is no span, enter only stops; it never ticks what nobody did."""
    desk = desk_of(SMALL, f"{AT_WORK} p")

    press(desk, "enter")

    assert told(desk)[-1] == "stop peel @7"
    assert desk.marked == "liquid_in"


def test_enter_on_a_step_that_does_not_run_does_the_natural_thing() -> None:
    """Enter on a point ticks it, and on a span that is not running starts it."""
    desk = desk_of(SMALL, f"{AT_WORK} enter")

    assert told(desk)[-1] == "start core"


def test_a_step_has_its_own_key() -> None:
    """A step's key ticks it wherever the mark is, and another running span goes on."""
    desk = desk_of(SMALL, f"{AT_WORK} v h")

    assert told(desk)[-2:] == ["start core", "tick liquid_in"]
    assert _how(desk, "core") == "running"


def test_a_step_of_no_stage_has_its_key_everywhere() -> None:
    """The key of a step that belongs to no stage works in every stage and leaves the mark alone."""
    desk = desk_of(SMALL, "right right")
    marked = desk.marked

    press(desk, "P escape left P")

    assert told(desk) == ["tick noted", "tick noted"]
    assert marked == "fill"


def test_arrows_go_through_the_stage_and_round() -> None:
    """Down and up move the mark within the stage shown, from its end to its beginning."""
    desk = desk_of()

    went = []
    for key in ("down", "down", "down", "up"):
        press(desk, key)
        went.append(desk.marked)

    assert went == ["count_in", "time_out", "in_theatre", "time_out"]

    assert told(desk) == []


def test_arrows_change_the_stage() -> None:
    """Right and left show the next stage and the one before, the mark on what is expected there."""
    desk = desk_of(SMALL, "right")
    assert (desk.stage, desk.marked) == (1, "core")

    press(desk, "v v right left")
    assert (desk.stage, desk.marked) == (1, "peel")

    press(desk, "left left")
    assert (desk.stage, desk.marked) == (2, "fill")


def test_a_tick_in_another_stage_shows_that_stage_on() -> None:
    """Once the last step of a stage is ticked, the next stage is shown."""
    desk = desk_of(SMALL, "i c escape t")

    assert desk.protocol.stages[desk.stage].id == "work"


def test_a_key_that_means_nothing_is_answered() -> None:
    """A key without a step or command is answered with the way to the key sheet."""
    desk = desk_of(SMALL, "%")

    assert desk.hint.startswith("%: no step shown has this key")
    assert "? shows the keys" in board(desk)
    assert told(desk) == []


def test_what_the_file_says_stops_nobody() -> None:
    """A tick that comes before what it needs is made, and the difference is a quiet line."""
    desk = desk_of(SMALL, "right k")

    assert told(desk) == ["start cut"]
    assert "Retina cut: came before what it needs (not ticked by then)" in board(desk, 80, 40)


# -- one key is a whole tick


@pytest.mark.parametrize(
    ("stage", "key", "tick"),
    [
        ("right", "d", "tick cut_decide"),
        ("", "P", "tick noted"),
        ("", "c", "tick count_in"),
        ("right right", "n", "tick count_out"),
    ],
)
def test_a_tick_is_whole_with_one_key(stage: str, key: str, tick: str) -> None:
    """A decision, a reading and a count stand after one key, whether or not anything is said after it."""
    desk = desk_of(SMALL, f"{stage} {key}")
    assert told(desk) == [tick]

    press(desk, "escape")

    assert (told(desk), panel(desk)) == ([tick], "")
    assert _how(desk, tick.split()[1]) == "ticked"


def test_a_decision_is_two_keys() -> None:
    """The key of the choice is asked for by the decision, and one key gives it."""
    desk = desk_of(SMALL, "right d")
    assert panel(desk) == "Cut decision 09:00:00"

    press(desk, "z")

    assert told(desk) == ["tick cut_decide", "choice cut @4"]
    assert panel(desk) == ""


def test_a_step_s_key_is_never_an_answer_to_a_decision() -> None:
    """The cut's own key over an open decision starts the cut; the choice stays to be stated."""
    desk = desk_of(SMALL, "right d k")

    assert (told(desk), panel(desk)) == (["tick cut_decide", "start cut"], "")

    press(desk, "2 z")

    assert told(desk)[-1] == "choice cut @4"


def test_a_choice_may_come_later() -> None:
    """A decision left open is listed as open and is asked again by one key, from any stage."""
    desk = desk_of(SMALL, "right d escape +600 right")
    assert "Cut decision 09:00:00: not stated" in [r.text for r in open_rows(desk)]

    press(desk, "2 z")

    assert told(desk)[-1] == "choice cut @4"
    assert "not stated" not in "".join(r.text for r in open_rows(desk))


def test_a_choice_may_be_stated_anew() -> None:
    """The choice stated last stands, the other stays in the record, and a changed plan is told."""
    desk = desk_of(SMALL, "right right d o 2 g")

    assert told(desk) == ["tick fill", "choice oil @4", "choice gas @4"]
    assert desk.case.state("fill").choice == "gas"


def test_the_planned_choice_is_offered_first() -> None:
    """The mark is on the planned choice: enter takes it."""
    desk = desk_of(SMALL, "right right d enter", facts={"fill_plan": "oil"})

    assert told(desk)[-1] == "choice oil @4"


def test_a_reading_is_typed_number_first() -> None:
    """A reading step asks for its reading; digits and enter give it."""
    desk = desk_of(SMALL, "P 2 5 enter")

    assert told(desk) == ["tick noted", "reading pressure 25 @4"]


def test_the_usual_figure_is_one_key() -> None:
    """Up takes the usual figure of the file; the screen says which."""
    desk = desk_of(SMALL, "P")
    assert "usual in your file 20 to 30 mmHg; Up takes 20" in board(desk)

    press(desk, "up enter")

    assert told(desk)[-1] == "reading pressure 20 @4"


def test_an_implausible_figure_is_asked_about_once() -> None:
    """Outside the plausible range enter asks once, enter again keeps the figure."""
    desk = desk_of(SMALL, "P 4 0 0 enter")
    assert "outside 0 to 120 mmHg: Enter again keeps it" in board(desk)
    assert told(desk) == ["tick noted"]

    press(desk, "enter")

    assert told(desk)[-1] == "reading pressure 400 @4"


def test_a_reading_can_be_left_and_found_again() -> None:
    """Digits typed before an interruption are there when the reading is asked again."""
    desk = desk_of(SMALL, "P 4")

    press(desk, "i +200 1")
    assert "4_ mmHg" in board(desk)

    press(desk, "5 enter")

    assert told(desk) == ["tick noted", "tick in_theatre", "reading pressure 45 @4"]


@pytest.mark.parametrize("before", ["", "4 backspace"])
def test_enter_on_an_empty_number_leaves_it_open(before: str) -> None:
    """Enter with no digit closes the question, keeps nothing, and neither stops nor starts a span."""
    desk = desk_of(SMALL, f"{AT_WORK} v P {before}")
    entered = told(desk)

    press(desk, "enter")

    assert (told(desk), panel(desk)) == (entered, "")
    assert (_how(desk, "core"), _how(desk, "peel")) == ("running", "due")


def test_backspace_in_a_reading_stays_in_the_reading() -> None:
    """Clearing a figure with one backspace too many strikes nothing."""
    desk = desk_of(SMALL, "P 4 backspace backspace backspace")

    assert told(desk) == ["tick noted"]
    assert panel(desk) != ""
    assert desk.hint


def test_backspace_in_a_count_stays_in_the_count() -> None:
    """Clearing a number of the count with one backspace too many strikes nothing."""
    desk = desk_of(SMALL, "c 4 backspace backspace")

    assert told(desk) == ["tick count_in"]


def test_a_required_reading_is_asked_first() -> None:
    """The reading key asks for what belongs to the last ticks before anything else."""
    desk = desk_of(SMALL, "right l l 1")
    assert panel(desk).startswith("Edge laser: Laser rows")

    press(desk, "3 enter")

    assert told(desk)[-1] == "reading rows 3 @4"


def test_left_and_right_choose_the_reading() -> None:
    """Right goes to the next reading that may be entered, a choice or a yes-or-no among them."""
    desk = desk_of(SMALL, "1 right")
    assert panel(desk).startswith("Infusion tip")

    press(desk, "s")
    assert told(desk) == ["reading tip seen"]

    press(desk, "1 right right y")
    assert told(desk)[-1] == "reading told True"


def test_a_key_no_panel_uses_is_done() -> None:
    """A step's key pressed while something is asked ticks the step at once."""
    desk = desk_of(SMALL, "c t")

    assert told(desk) == ["tick count_in", "tick time_out"]
    assert panel(desk) == ""


def test_space_over_a_question_goes_on() -> None:
    """Space is no answer to a question: it ticks what is marked."""
    desk = desk_of(SMALL, "right v v p p h d space")

    assert told(desk)[-2:] == ["tick cut_decide", "start laser"]


# -- counts


def test_the_count_is_told_line_by_line() -> None:
    """Enter goes down the lines of the count board, and on the last keeps what was said."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter")

    assert told(desk)[-1] == "count swabs=10,blades=2 @4"
    assert panel(desk) == ""


def test_a_count_left_half_said_is_found_again() -> None:
    """Numbers typed before an interruption are there when the count is asked again."""
    desk = desk_of(SMALL, "c 1 0 enter t +60 3 down 2 enter")

    assert told(desk) == ["tick count_in", "tick time_out", "count swabs=10,blades=2 @4"]


def test_the_closing_count_says_what_is_expected() -> None:
    """What was opened since the first count is in the number that the closing count is shown."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter 3 a 5 right right n")

    assert told(desk)[-1] == "tick count_out"
    assert "Swabs: _ expected 15" in board(desk)
    assert "Blades: expected 2" in board(desk)


def test_items_opened_and_handed_off() -> None:
    """Between counts the count key asks for the line, then how many were opened or handed off."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter")

    press(desk, "3 a 5 3 b a")

    assert told(desk)[-2:] == ["count_change swabs 5", "count_change blades -1"]
    assert desk.case.counts["swabs"].expected == 15
    assert desk.case.counts["blades"].expected == 1


def test_a_closing_count_that_differs_is_a_quiet_line() -> None:
    """A number that is not the expected one is kept as said, and the difference told."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter right right n 1 0 enter 1 enter")

    assert "Blades: count differs (1)" in board(desk)


# -- notes


def test_a_note_eats_letters_and_logs_no_step() -> None:
    """While a note is written every printable key goes into it, the keys of steps and commands too."""
    desk = desk_of(SMALL, '4 "i c Q 0 ? lens clear"')
    assert told(desk) == []

    press(desk, "enter")

    assert told(desk) == ["note i c Q 0 ? lens clear"]


def test_a_note_left_is_found_again() -> None:
    """Esc leaves a note unfinished; the note key shows it again."""
    desk = desk_of(SMALL, '4 "lens" escape i 4 " clear" enter')

    assert told(desk) == ["tick in_theatre", "note lens clear"]


def test_a_note_that_looks_like_a_person_is_questioned() -> None:
    """Something that looks like a name is asked about once; enter again keeps it."""
    desk = desk_of(SMALL, '4 "Mrs Brown" enter')
    assert told(desk) == []
    assert "looks like a title with a name: no patient identifiers" in board(desk)

    press(desk, "enter")

    assert told(desk) == ["note Mrs Brown"]


def test_an_empty_note_is_none() -> None:
    """Enter with nothing written closes the note and keeps nothing."""
    desk = desk_of(SMALL, "4 enter")

    assert (told(desk), panel(desk)) == ([], "")


def test_pasted_text_goes_into_a_note_up_to_its_length() -> None:
    """Ten thousand pasted characters become a note of the longest length, and the rest is said to be cut."""
    desk = desk_of(SMALL, "4")
    desk.paste("x" * 10_000)
    assert "a note holds 2000 characters: the rest was cut" in board(desk)

    press(desk, "enter")

    assert told(desk) == [f"note {'x' * 2000}"]


def test_pasted_text_anywhere_else_is_put_aside_and_said() -> None:
    """Pasted text ticks no step."""
    desk = desk_of()

    desk.paste("icticticQl")

    assert told(desk) == []
    assert "10 pasted characters put aside" in board(desk)


# -- corrections


def test_strike_takes_back_the_last_entry() -> None:
    """Backspace strikes the last entry, which stays in the record, and marks its step again."""
    desk = desk_of(SMALL, "i c escape backspace")

    assert told(desk) == ["tick in_theatre", "tick count_in", "strike @5"]
    assert (_how(desk, "count_in"), desk.marked) == ("struck", "count_in")


def test_strike_again_walks_back() -> None:
    """Each further backspace strikes the entry before, past entries already struck."""
    desk = desk_of(SMALL, "i c escape t backspace backspace backspace")

    assert told(desk)[3:] == ["strike @6", "strike @5", "strike @4"]
    assert _how(desk, "in_theatre") == "struck"


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

    assert _how(desk, "in_theatre") == "ticked"
    assert _codes(desk) == []


def test_back_stamp_by_minutes() -> None:
    """Each minus moves the last entry back a minute; the entry says by how much."""
    desk = desk_of(SMALL, "+600 i - - -")

    assert told(desk)[1:] == ["back_stamp 60.0 @4"] * 3
    entry = desk.case.log[-1]
    assert (entry.late_s, entry.at) == (180, clock_of(desk).now - timedelta(minutes=3))
    assert "Into theatre ticked, back-stamped 3 min" in board(desk)
    assert "09:07:00, 3 min ago" in board(desk)


def test_back_stamp_after_a_choice_moves_the_decision() -> None:
    """A decision already stated is moved as a whole: the minute belongs to the tick."""
    desk = desk_of(SMALL, "+600 right d z -")

    assert told(desk) == ["tick cut_decide", "choice cut @4", "back_stamp 60.0 @4"]
    assert desk.case.state("cut_decide").ticks[0].late_s == 60


def test_back_stamp_after_naming_a_complication_moves_the_complication() -> None:
    """Named or not, a complication stamped late is moved to when it began."""
    desk = desk_of(SMALL, "+600 / / b - -")

    assert told(desk)[2:] == ["back_stamp 60.0 @4", "back_stamp 60.0 @4"]
    assert desk.case.troubles[0].start.t == 480


def test_back_stamp_with_nothing_entered_says_so() -> None:
    """Minus before the first entry changes nothing and says so."""
    desk = desk_of(SMALL, "-")

    assert (told(desk), desk.hint) == ([], "nothing to back-stamp")


def test_the_last_tick_can_be_moved() -> None:
    """Two keys give the last tick to the step it belongs to, with its time."""
    desk = desk_of(SMALL, "+60 i +60 9 t")

    assert told(desk) == ["tick in_theatre", "move time_out @4"]
    assert (_how(desk, "in_theatre"), _how(desk, "time_out")) == ("due", "ticked")
    assert desk.case.state("time_out").ticks[0].start.t == 60


def test_a_back_stamped_tick_is_moved_under_the_time_that_is_told_for_it() -> None:
    """The question says the time that the board says, not that of the key."""
    desk = desk_of(SMALL, "i +600 t - - 9")

    assert desk.panel is not None
    assert desk.panel.title == "Time-out 09:08:00 belongs to"


def test_only_steps_of_the_same_kind_are_offered() -> None:
    """A span is moved to a span and a point to a point."""
    desk = desk_of(SMALL, f"{AT_WORK} v 9")

    assert [row.text for row in desk.panel.rows()] == ["Membrane peel", "Retina cut", "Edge laser"]


def test_a_stopped_span_is_moved_with_its_stop() -> None:
    """The stop goes along when a span is moved."""
    desk = desk_of(SMALL, f"{AT_WORK} v +60 v 9 p")

    assert told(desk)[-1] == "move peel @7"
    assert step_seconds(desk.case, desk.protocol.step["peel"], 0) == 60
    assert _how(desk, "core") == "due"


def test_a_decision_can_be_moved_after_its_choice() -> None:
    """What was said after a tick does not hide the tick from being moved."""
    desk = desk_of(SMALL, "right d z 9 h")

    assert told(desk)[-1] == "move liquid_in @4"


def test_moving_nothing_says_so() -> None:
    """With no tick to move, the key says so."""
    desk = desk_of(SMALL, "9")

    assert (told(desk), desk.hint) == ([], "no tick to move")


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
    """Before the first entry there is no gap: the panel says so, and a step's key ticks as ever."""
    desk = desk_of(SMALL, "'")
    assert "nothing was entered yet" in board(desk)

    press(desk, "i")

    assert told(desk) == ["tick in_theatre"]


def test_a_late_burst_is_offered_to_be_spread_and_never_forced() -> None:
    """Five ticks at once after a quiet while are offered to be spread; unasked they stay where they are."""
    desk = desk_of(SMALL, "i +600 c escape t v v p")
    assert "5 ticks at once after a gap: . spreads them over it" in board(desk)

    press(desk, "h")
    assert all(e.late_s == 0 for e in desk.case.log)

    press(desk, ".")
    starts = [e.t for e in desk.case.log if e.step]
    assert starts == sorted(starts)
    assert starts[0] == 0
    assert starts[1] == pytest.approx(600 / 7, abs=1)
    assert starts[-1] < 600


def test_without_a_burst_there_is_nothing_to_spread() -> None:
    """The key for spreading says that there is nothing to spread."""
    desk = desk_of(SMALL, "i +30 t .")

    assert (told(desk)[-1], desk.hint) == ("tick time_out", "no burst of late ticks to spread")


def test_a_burst_is_spread_once() -> None:
    """What has been spread is not spread again."""
    desk = desk_of(SMALL, "i +600 c escape t v v p . .")

    assert desk.hint == "no burst of late ticks to spread"


# -- done otherwise


def test_not_needed_with_a_reason() -> None:
    """Not needed stands at once, the reason is one key more, and the mark goes on."""
    desk = desk_of(SMALL, "5 f")

    assert told(desk) == ["not_needed in_theatre", "reason not_needed:in_theatre:4 forced"]
    assert (_how(desk, "in_theatre"), desk.marked) == ("not_needed", "count_in")


def test_not_needed_without_a_reason_stands() -> None:
    """The reason may be left out: the next key does what it says."""
    desk = desk_of(SMALL, "5 t")

    assert told(desk) == ["not_needed in_theatre", "tick time_out"]


def test_not_logged_is_done_without_a_time() -> None:
    """A step done but not ticked is written as just that, and is not expected any more."""
    desk = desk_of(SMALL, ";")

    assert told(desk) == ["not_logged in_theatre"]
    assert (_how(desk, "in_theatre"), desk.marked) == ("not_logged", "count_in")
    assert "done, not logged" in board(desk)


def test_a_closed_stage_tells_what_had_no_tick() -> None:
    """Once the team is through with a stage, what had no tick in it is told as such."""
    desk = desk_of(SMALL, "i t left #")

    assert told(desk)[-1] == "stage_closed ready"
    assert _codes(desk) == ["skipped count_in"]


def test_closing_a_stage_shows_the_next() -> None:
    """The closing key says that the team is through, and goes on to what is expected in the next stage."""
    desk = desk_of(SMALL, "#")
    assert (told(desk), desk.stage, desk.marked) == (["stage_closed ready"], 1, "core")

    press(desk, "# #")

    assert told(desk)[1:] == ["stage_closed work", "stage_closed finish"]
    assert (desk.stage, desk.marked) == (2, "fill")


def test_a_bookmark_is_one_key() -> None:
    """A moment worth finding in the recording costs one key and moves no mark."""
    desk = desk_of(SMALL, "i 6")

    assert told(desk) == ["tick in_theatre", "bookmark"]
    assert desk.marked == "count_in"


def test_pause_and_go_on() -> None:
    """One key says that the operation stands still, the same that it goes on; both are on the board."""
    desk = desk_of(SMALL, f"{AT_WORK} v +60 7")
    assert "paused since 09:01:00" in board(desk)
    assert "running   Paused 00:00" in board(desk)

    press(desk, "+600 7 +60 v")

    assert told(desk)[-3:] == ["paused", "continued", "stop core @7"]
    assert step_seconds(desk.case, desk.protocol.step["core"], 0) == 120


# -- complications


def test_a_complication_is_stamped_by_one_key() -> None:
    """The key stamps at once and opens nothing: hands and eyes are elsewhere."""
    desk = desk_of(SMALL, "+30 /")

    assert (told(desk), panel(desk)) == (["complication"], "")
    assert desk.complicated()
    assert desk.case.troubles[0].start.t == 30


def test_a_complication_is_dealt_with_by_its_key_twice() -> None:
    """While one is open its key asks, stamping nothing; the same key again says that it is dealt with."""
    desk = desk_of(SMALL, "+30 / +60 /")
    assert told(desk) == ["complication"]
    assert panel(desk) == "Complication since 09:00:30: dealt with, or which it is"
    assert re.search(r">/ +dealt with", board(desk))

    press(desk, "/")

    assert (told(desk)[1:], panel(desk)) == (["complication_closed @4"], "")
    assert not desk.complicated()


@pytest.mark.parametrize("key", ["*", "f7"])
def test_any_key_of_the_complication_says_that_it_is_dealt_with(key: str) -> None:
    """A station's own key and the pedal beside it stamp, ask and close as the slash does."""
    commands = settings_from('[keys]\ncomplication = ["*", "f7"]', "settings.toml").commands
    desk = Desk(desk_of(SMALL).session, Settings(commands=commands))

    press(desk, " ".join([key] * 3))

    assert (told(desk), panel(desk)) == (["complication", "complication_closed @4"], "")


@pytest.mark.parametrize(("key", "what"), [("b", "bleed"), ("a", "tear")])
def test_a_complication_is_named(key: str, what: str) -> None:
    """The key of the file, or a free letter, names the complication, which stays open until dealt with."""
    desk = desk_of(SMALL, f"/ / {key}")

    assert told(desk)[-1] == f"complication_detail {what} @4"
    assert desk.complicated()

    press(desk, "/ /")

    assert told(desk)[-1] == "complication_closed @4"
    assert not desk.complicated()


def test_after_one_is_dealt_with_the_key_stamps_the_next() -> None:
    """A second complication is an entry of its own."""
    desk = desk_of(SMALL, "/ / / +60 /")

    assert told(desk) == ["complication", "complication_closed @4", "complication"]
    assert [t.stop is None for t in desk.case.troubles] == [False, True]


def test_a_complication_struck_is_open_no_more() -> None:
    """Stamped by a slip and struck, it asks for nothing, and the key stamps anew."""
    desk = desk_of(SMALL, "/ backspace")
    assert not desk.complicated()

    press(desk, "/")

    assert (told(desk)[-1], panel(desk)) == ("complication", "")


def test_a_file_that_names_no_complication_can_have_one() -> None:
    """Without a list there is nothing to name; the key twice says that it is dealt with."""
    desk = desk_of(SMALL.split("[[complications]]", maxsplit=1)[0], "/ / /")

    assert told(desk) == ["complication", "complication_closed @4"]


def test_an_open_complication_is_on_the_board() -> None:
    """As long as it is open the board tells it with its time, named or not, wherever in the case."""
    desk = desk_of(SMALL, "/ right right +90")
    assert "Complication 01:30 not yet named" in board(desk)

    press(desk, "/ b")
    assert "Bleeding 01:30 complication" in board(desk)

    press(desk, "/ /")
    assert "Bleeding 01:30" not in board(desk)


@pytest.mark.parametrize("keys", ["c", "right d", "right right n", "5"])
def test_nothing_asks_while_a_complication_is_open(keys: str) -> None:
    """Ticks stand as ever, but nothing opens by itself until the complication is dealt with."""
    desk = desk_of(SMALL, f"/ {keys}")

    assert panel(desk) == ""
    assert len(told(desk)) == 2


def test_what_was_not_asked_is_found_afterwards() -> None:
    """A decision ticked during a complication is asked for by its key once there is time."""
    desk = desk_of(SMALL, "/ right d / / 2 z")

    assert told(desk) == ["complication", "tick cut_decide", "complication_closed @4", "choice cut @5"]


# -- people


def test_hand_over_with_counts_confirmed() -> None:
    """Who comes, whether the counts were confirmed, and that what is open was read: a key each."""
    desk = desk_of(SMALL, "8 a y y")

    assert told(desk) == ["handover runner relief True", "handover_accepted @4"]
    assert desk.case.post("circulating") == "relief"
    assert desk.case.posts[-1].accepted is not None


def test_entries_after_a_hand_over_are_by_the_incoming_role() -> None:
    """From the hand-over on, the role in every entry is the incoming one."""
    desk = desk_of(SMALL, "i 8 a y y t")

    assert [e.role for e in desk.case.events[3:]] == ["runner", "runner", "relief", "relief"]


def test_hand_over_without_counts_makes_the_count_due() -> None:
    """Counts not confirmed at a hand-over are due again, and the sheet says why."""
    desk = desk_of(SMALL, "right right n escape 8 a n y")

    assert told(desk)[1] == "handover runner relief False"
    assert "Closing count: counts were not confirmed at the hand-over" in board(desk)


def test_a_hand_over_not_acknowledged_is_open() -> None:
    """A hand-over that was not acknowledged is on the sheet, and the hand-over key asks again."""
    desk = desk_of(SMALL, "8 a y i")
    assert "Relief circulating practitioner has not acknowledged the hand-over" in [
        row.text for row in open_rows(desk)
    ]

    press(desk, "8 y")

    assert told(desk) == ["handover runner relief True", "tick in_theatre", "handover_accepted @4"]


def test_another_operator() -> None:
    """Who operates changes by two keys."""
    desk = desk_of(SMALL, "8 b")

    assert told(desk) == ["operator fellow"]
    assert desk.case.post("operator") == "fellow"


# -- reasons, facts, end


def test_a_reason_is_two_keys() -> None:
    """The reason key asks for the latest deviation without one; a key of the file's list answers."""
    desk = desk_of(SMALL, "right k = f")

    assert told(desk)[-1] == "reason need:cut<peel:4 forced"
    assert "came before" not in board(desk)


def test_with_no_deviation_the_reason_key_says_so() -> None:
    """Nothing to give a reason for is answered in words."""
    desk = desk_of(SMALL, "=")

    assert desk.hint == "no deviation is without a reason"


def test_changed_facts_bring_steps_in_and_take_them_out() -> None:
    """A changed case fact brings a step into the case, and the hint says which."""
    desk = desk_of(SMALL, "right right d o")
    assert _how(desk, "iridotomy") == "not_in_case"

    press(desk, ", a enter")

    assert told(desk)[-1] == "facts lens=aphakic"
    assert _how(desk, "iridotomy") == "due"
    assert "Iridotomy: now in the case" in board(desk)
    assert "Lens now" in desk.hint

    press(desk, ", p enter")

    assert "Iridotomy: no longer in the case" in board(desk)


def test_a_step_is_ticked_over_the_case_facts_and_what_was_answered_is_found_again() -> None:
    """A key that is no answer to the marked fact goes to the board; nothing is kept before Enter, nothing lost."""
    desk = desk_of(SMALL, "i , a t")
    assert told(desk)[-1] == "tick time_out"
    assert desk.case.facts["lens"] == "phakic"

    press(desk, ", enter")

    assert told(desk)[-1] == "facts lens=aphakic"


def test_a_note_put_earlier_says_so() -> None:
    """What has no word of its own is told without one."""
    assert "note kept back-stamped 1 min" in board(desk_of(SMALL, 'i 4 "gauze" enter -'))


def test_a_choice_says_what_it_brought_in() -> None:
    """A decision that brings a step into the case says so and why, as does one that takes it out again."""
    desk = desk_of(SMALL, "right d z")
    assert "Retina cut: now in the case" in board(desk)
    assert "Cut decision" in desk.hint

    press(desk, "2 n")

    assert "Retina cut: no longer in the case" in board(desk)


def test_due_again_is_said_with_its_reason() -> None:
    """A cut after the laser makes the laser due again, and the board says why."""
    desk = desk_of(SMALL, "right d z p p l l left k")

    assert "Edge laser due again: a further cut was made" in board(desk)
    assert _how(desk, "laser") == "due"


def test_an_optional_step_is_asked_for_by_its_trigger() -> None:
    """One never ticked is due, not due again, and the board says why; its tick settles it."""
    desk = desk_of(CHECKED, "c 2 0 enter")
    assert not re.search(r"C Count checked due", board(desk))

    press(desk, "3 a 1")

    assert desk.hint == "Count checked due: an item was opened"
    assert re.search(r"C Count checked due$", board(desk), re.MULTILINE)
    assert " due       Count checked: an item was opened" in board(desk)
    assert "due Count checked: an item was opened" in [f"{row.key} {row.text}" for row in open_rows(desk)]

    press(desk, "C 2 1 enter")

    assert _how(desk, "check") == "ticked"
    assert "an item was opened" not in board(desk)

    press(desk, "3 a 1")

    assert desk.hint == "Count checked due again: an item was opened"
    assert "C Count checked due again" in board(desk)
    assert " due again Count checked: an item was opened" in board(desk)


def test_what_no_longer_belongs_to_the_case_is_not_asked_for() -> None:
    """Once its condition is unmet a step is not due, however often its trigger fires."""
    desk = desk_of(CHECKED, "c 2 0 enter 3 a 1 n 2 1 enter")
    assert _how(desk, "check") == "not_in_case"

    press(desk, "3 a 1")

    assert "Count checked" not in desk.hint
    assert "an item was opened" not in board(desk)
    assert "an item was opened" not in "".join(row.text for row in open_rows(desk))


REVISED = """
format = 1
id = "revised"
version = "1"
title = "Revised"

[[stages]]
id = "only"
label = "Only"
steps = [
  { id = "plan", label = "Plan", key = "p", shape = "decision", repeats = true, choices = [
    { id = "oil", label = "oil", key = "o" }, { id = "gas", label = "gas", key = "g" },
  ] },
  { id = "fill", label = "Fill", key = "f", repeats = true },
  { id = "look", label = "Oil looked at", key = "l", due_again = [
    { step = "fill", reason = "it was filled up" },
  ], when = { all = [{ decision = "plan", choice = ["oil"] }] } },
  { id = "close", label = "Close", key = "c" },
]
"""


def test_the_mark_passes_over_what_is_no_longer_asked_for() -> None:
    """A step once due again is marked next; after its condition is gone the mark goes on past it."""
    desk = desk_of(REVISED, "p o f l f")
    assert (_how(desk, "look"), desk.marked) == ("due", "look")

    press(desk, "p g")

    assert (_how(desk, "look"), desk.marked) == ("ticked", "close")


def test_leaving_takes_a_deliberate_act() -> None:
    """The leave key asks; any other key but the answer goes on with the case."""
    desk = desk_of(SMALL, "Q")
    assert not desk.left

    press(desk, "i")
    assert (desk.left, told(desk)) == (False, ["tick in_theatre"])

    press(desk, "Q l")
    assert (desk.left, told(desk)) == (True, ["tick in_theatre"])


def test_escape_never_leaves() -> None:
    """However often Esc is pressed, the case is still there."""
    desk = desk_of(SMALL, "escape escape Q escape escape")

    assert (desk.left, panel(desk), told(desk)) == (False, "", [])


def test_stopping_early_gives_a_reason() -> None:
    """A case that ends early says why, and what was not reached is not called left out."""
    desk = desk_of(SMALL, "i Q e f")

    assert told(desk) == ["tick in_theatre", "stopped_early forced"]
    assert desk.left
    assert _how(desk, "core") == "not_reached"
    assert _codes(desk) == []


def test_stopping_early_without_a_list_of_reasons() -> None:
    """A file that names no reasons can still be stopped early."""
    bare = SMALL.split("[[reasons]]")[0]

    desk = desk_of(bare, "i Q e")

    assert told(desk)[-1] == "stopped_early"
    assert desk.left


# -- what is open, the keys


def test_the_open_sheet_is_one_key_and_a_tick_closes_it() -> None:
    """Zero shows what is open; a step's key leaves the sheet and ticks."""
    desk = desk_of(SMALL, f"{AT_WORK} v h 0")
    assert panel(desk) == "What is open"
    assert [f"{row.key} {row.text}" for row in open_rows(desk)][:4] == [
        "on Circulating practitioner", "operating Consultant", "running Core vitrectomy 00:00",
        "in Heavy liquid: in the eye",
    ]  # fmt: skip

    press(desk, "p")

    assert (panel(desk), told(desk)[-1]) == ("", "start peel")


def test_the_open_sheet_says_of_every_pair_whether_it_is_open() -> None:
    """Heavy liquid in the eye, or not: both are said, in words."""
    before, there, after = (desk_of(SMALL, f"{AT_WORK} v {keys}") for keys in ("", "h", "h u"))

    assert ["not open Heavy liquid" in _sheet(desk) for desk in (before, there, after)] == [True, False, True]
    assert ["in Heavy liquid: in the eye" in _sheet(desk) for desk in (before, there, after)] == [
        False,
        True,
        False,
    ]


def _sheet(desk: Desk) -> list[str]:
    return [f"{row.key} {row.text}" for row in open_rows(desk)]


def test_what_an_incoming_role_is_told_counts_what_is_open_and_nothing_else() -> None:
    """Neither who is on nor the last entries are open; a span that runs and a pair are."""
    desk = desk_of(SMALL, f"{AT_WORK} v h 8 enter y")

    more = len(
        [i for i in _sheet(desk) if i.split()[0] in ("in", "due", "count", "choice", "reading", "deviation")]
    )
    assert f": 1 running, {more} more open" in panel(desk)


@pytest.mark.parametrize("key", ["0", "?"])
def test_a_sheet_is_closed_by_the_key_that_opened_it(key: str) -> None:
    """The key of a sheet shows it, and again takes it away."""
    assert panel(desk_of(SMALL, f"i {key}")) != ""
    assert panel(desk_of(SMALL, f"i {key} {key}")) == ""


def test_the_key_sheet_has_every_key() -> None:
    """Question mark shows every command and every step of the stage with its key."""
    desk = desk_of(SMALL, "right ?")

    keys = {row.key for row in desk.panel.rows()}
    assert {"Space", "Enter", "Backspace", "/", "v", "p", "h", "d", "k", "l", "u", "P"} <= keys


# -- going on with a case


def _again(desk: Desk) -> Desk:
    events = keeper_of(desk).events
    session = Session.resume(Memory(events), protocol_of(SMALL), events, clock_of(desk))
    return Desk(session)


def test_a_desk_taken_up_again_marks_what_runs() -> None:
    """A case taken up again shows the stage and the span that is running."""
    desk = _again(desk_of(SMALL, f"{AT_WORK} v +60 h"))

    assert desk.marked == "core"
    assert "running 01:00" in board(desk)


def test_a_desk_taken_up_again_can_correct_what_was_before() -> None:
    """The entry before the interruption can still be struck."""
    desk = _again(desk_of(SMALL, "i t"))

    press(desk, "backspace")

    assert told(desk)[-1] == "strike @5"


# -- the shipped file


def test_the_shipped_file_starts_at_its_first_step() -> None:
    """A new case of the shipped file has its first step that is always done marked."""
    desk = desk_of(shipped())

    assert desk.marked == "sign_in"


def test_a_choice_marks_what_it_brings_in() -> None:
    """A decision that brings in steps of its own stage marks the first of them, whatever was planned."""
    desk = desk_of(shipped(), "right right right right right right d")

    press(desk, "i l")

    assert told(desk) == ["tick rx_decide", "choice inferior_180 @4", "start dia_line"]


def test_a_choice_stated_later_leaves_the_mark_where_it_is() -> None:
    """A choice stated after other steps were ticked does not send the eye back."""
    desk = desk_of(SMALL, "right d escape l")

    press(desk, "2 z")

    assert desk.marked == "laser"


SHORT = """
format = 1
id = "short"
version = "1"
title = "Short"

[[stages]]
id = "leave"
label = "Leave"
steps = [
  { id = "out_theatre", label = "Out of theatre", key = "x", ends_case = true },
  { id = "debrief", label = "Debrief", key = "d", occurrence = "optional" },
]
"""


def test_after_the_end_space_does_not_stamp_the_end_again() -> None:
    """With everything ticked that is expected, the mark goes on to what may still come."""
    desk = desk_of(SHORT, "space +60 space")

    assert [e.step for e in desk.case.log if e.step] == ["out_theatre", "debrief"]
