"""What a key does to a step at the desk: a tick first, details after, nothing refused."""

from __future__ import annotations

import pytest

from desks import (
    AT_WORK,
    SMALL,
    board,
    desk_of,
    how,
    panel,
    press,
    told,
)
from tracker.core.durations import step_seconds
from tracker.theatre.acts.screen import open_rows

TWO_SPANS = """
format = 1
id = "two-spans"
version = "1"
title = "Two spans"

[[stages]]
id = "first"
label = "First"
steps = [{ id = "one", label = "One", key = "a", shape = "span" }]

[[stages]]
id = "second"
label = "Second"
steps = [{ id = "two", label = "Two", key = "b", shape = "span" }]
"""
"""A span is all that a stage has."""

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
    """Space does what is next: with a span's start and stop for two, the file in its order; a count is left by Esc."""
    desk = desk_of(SMALL, "space space escape space space space space space space space")

    assert told(desk) == [
        "tick in_theatre", "tick count_in", "tick time_out", "start core", "stop core @7",
        "start peel", "stop peel @9", "tick liquid_in", "tick cut_decide",
    ]  # fmt: skip


def test_onward_stops_a_span_and_starts_the_next() -> None:
    """Where one span follows another on the screen, the key for going on costs one press for both."""
    desk = desk_of(SMALL, f"{AT_WORK} space")

    press(desk, "<onward>")

    assert told(desk)[-2:] == ["stop core @7", "start peel"]
    assert desk.marked == "peel"


def test_onward_starts_nothing_but_a_span() -> None:
    """Where the next step is no span, going on only stops; it never ticks what nobody did."""
    desk = desk_of(SMALL, f"{AT_WORK} p")

    press(desk, "<onward>")

    assert told(desk)[-1] == "stop peel @7"
    assert desk.marked == "liquid_in"


def test_onward_on_a_step_that_does_not_run_does_the_natural_thing() -> None:
    """Going on ticks a point, and starts a span that is not running."""
    desk = desk_of(SMALL, f"{AT_WORK} <onward>")

    assert told(desk)[-1] == "start core"


def test_onward_starts_nothing_that_is_not_on_the_screen() -> None:
    """With the last of a stage stopped, a span of the next one is offered; it is not begun before it was shown."""
    desk = desk_of(TWO_SPANS, "a")

    press(desk, "<onward>")
    assert (told(desk)[-1], desk.stage, desk.marked) == ("stop one @3", 0, "two")

    press(desk, "<onward>")
    assert (told(desk)[-1], desk.stage) == ("start two", 1)


def test_onward_asks_once_more_before_it_ticks_what_is_not_on_the_screen() -> None:
    """With the board two stages back the marked step is out of view; so is what the key would do to it."""
    desk = desk_of(SMALL, f"{AT_WORK} v h left")
    desk.mark("fill")

    press(desk, "<onward>")
    assert told(desk)[-1] == "tick liquid_in"
    assert "once more: tick Tamponade; it belongs to stage 3" in desk.hint

    press(desk, "<onward>")
    assert told(desk)[-1] == "tick fill"


@pytest.mark.parametrize("before", ["", "right", f"{AT_WORK} v", f"{AT_WORK} v v p p h escape"])
def test_enter_never_writes_on_the_board(before: str) -> None:
    """Whatever is marked, running or due: Enter answers questions, and with none open it says so."""
    desk = desk_of(SMALL, before)
    entered = told(desk)

    press(desk, "enter enter")

    assert told(desk) == entered
    assert desk.hint.startswith("Enter answers questions, and none is open")


def test_a_step_has_its_own_key() -> None:
    """A step's key ticks it wherever the mark is, and another running span goes on."""
    desk = desk_of(SMALL, f"{AT_WORK} v h")

    assert told(desk)[-2:] == ["start core", "tick liquid_in"]
    assert how(desk, "core") == "running"


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


def test_the_board_stays_in_its_stage_until_a_step_of_the_next_is_ticked() -> None:
    """Once nothing of a stage is due the next one is offered beside it; ticking one of its steps goes there."""
    desk = desk_of(SMALL, "i c escape t")
    assert (desk.stage, desk.marked) == (0, "core")
    assert desk.on_screen().ahead == ("core", "peel", "liquid_in", "cut_decide", "laser", "liquid_out")

    press(desk, "p")

    assert (desk.protocol.stages[desk.stage].id, told(desk)[-1]) == ("work", "start peel")


def test_a_key_that_means_nothing_is_answered() -> None:
    """A key without a step or command is answered with the way to the key sheet."""
    desk = desk_of(SMALL, "%")

    assert desk.hint.startswith("%: no step within reach has this key")
    assert "? shows the keys" in board(desk)
    assert told(desk) == []


def test_what_the_file_says_stops_nobody() -> None:
    """A tick that comes before what it needs is made by the same key once more, and the difference is a quiet line."""
    desk = desk_of(SMALL, "right k")
    assert told(desk) == []
    assert "k once more: start Retina cut" in desk.hint

    press(desk, "k")

    assert told(desk) == ["start cut"]
    assert "Membrane peel: no tick" in board(desk, 80, 40)


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
    assert how(desk, tick.split()[1]) == "ticked"


def test_a_decision_is_two_keys() -> None:
    """The key of the choice is asked for by the decision, and one key gives it."""
    desk = desk_of(SMALL, "right d")
    assert panel(desk) == "Cut decision 09:00:00"

    press(desk, "z")

    assert told(desk) == ["tick cut_decide", "choice cut @4"]
    assert panel(desk) == ""


def test_a_step_s_key_is_never_an_answer_to_a_decision() -> None:
    """The peel's own key over an open decision is refused in words; once more it starts the peel."""
    desk = desk_of(SMALL, "right d p")

    assert (told(desk), panel(desk)) == (["tick cut_decide"], "Cut decision 09:00:00")
    assert desk.hint == "p is no answer here. p once more: start Membrane peel"

    press(desk, "p")

    assert (told(desk), panel(desk)) == (["tick cut_decide", "start peel"], "")

    press(desk, "<decision> z")

    assert told(desk)[-1] == "choice cut @4"


def test_a_choice_may_come_later() -> None:
    """A decision left open is listed as open and is asked again by one key, from any stage."""
    desk = desk_of(SMALL, "right d escape +600 right")
    assert "Cut decision 09:00:00: not stated" in [r.text for r in open_rows(desk)]

    press(desk, "<decision> z")

    assert told(desk)[-1] == "choice cut @4"
    assert "not stated" not in "".join(r.text for r in open_rows(desk))


def test_a_choice_may_be_stated_anew() -> None:
    """The choice stated last stands, the other stays in the record, and a changed plan is told."""
    desk = desk_of(SMALL, "right right d o <decision> g")

    assert told(desk) == ["tick fill", "choice oil @4", "choice gas @4"]
    assert desk.case.state("fill").choice == "gas"


def test_the_planned_choice_is_told_and_never_taken_unasked() -> None:
    """The question says what was planned; no answer is marked, so Enter takes none."""
    desk = desk_of(SMALL, "right right d", facts={"fill_plan": "oil"})
    assert panel(desk) == "Tamponade 09:00:00, planned: oil"
    assert not any(row.marked for row in desk.panel.rows())

    press(desk, "enter")
    assert told(desk) == ["tick fill"]
    assert "No answer is marked: Up and Down mark one, or press its letter" in board(desk)

    press(desk, "down down enter")
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
    desk = desk_of(SMALL, "P 4 0 +1 1 enter")
    assert "outside 0 to 120 mmHg: Enter again keeps it" in board(desk)
    assert told(desk) == ["tick noted"]

    press(desk, "enter")

    assert told(desk)[-1] == "reading pressure 401 @4"


def test_a_reading_can_be_left_and_found_again() -> None:
    """Digits typed before an interruption are there when the reading is asked again; Enter keeps them."""
    desk = desk_of(SMALL, "P 4 5")

    press(desk, "i +200 <reading>")
    assert "45_ mmHg" in board(desk)

    press(desk, "enter")

    assert told(desk) == ["tick noted", "tick in_theatre", "reading pressure 45 @4"]


def test_a_figure_typed_over_one_found_again_begins_anew() -> None:
    """What was left is forgotten by whoever types: no figure is made of half of one and half of another."""
    desk = desk_of(SMALL, "P 4 i +200 <reading> 2 5 enter")

    assert told(desk)[-1] == "reading pressure 25 @4"


@pytest.mark.parametrize("before", ["", "4 backspace"])
def test_enter_on_an_empty_number_leaves_it_open(before: str) -> None:
    """Enter with no digit closes the question, keeps nothing, and neither stops nor starts a span."""
    desk = desk_of(SMALL, f"{AT_WORK} v P {before}")
    entered = told(desk)

    press(desk, "enter")

    assert (told(desk), panel(desk)) == (entered, "")
    assert (how(desk, "core"), how(desk, "peel")) == ("running", "due")


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
    desk = desk_of(SMALL, "right l l <reading>")
    assert panel(desk).startswith("Edge laser: Laser rows")

    press(desk, "3 enter")

    assert told(desk)[-1] == "reading rows 3 @4"


def test_left_and_right_choose_the_reading() -> None:
    """Right goes to the next reading that may be entered, a choice or a yes-or-no among them."""
    desk = desk_of(SMALL, "<reading> right")
    assert panel(desk).startswith("Infusion tip")

    press(desk, "s")
    assert told(desk) == ["reading tip seen"]

    press(desk, "<reading> right right y")
    assert told(desk)[-1] == "reading told True"


def test_a_step_s_key_over_a_count_ticks_the_step() -> None:
    """A count takes figures; a step's letter is none, and ticks the step at once."""
    desk = desk_of(SMALL, "c t")

    assert told(desk) == ["tick count_in", "tick time_out"]
    assert panel(desk) == ""


@pytest.mark.parametrize("command", ["natural", "onward"])
@pytest.mark.parametrize(
    ("keys", "over"),
    [
        ("right v v p p h d", "Cut decision"),
        ("c", "First count"),
        ("P 2", "Pressure noted"),
        ("<open>", "What is"),
    ],
)
def test_the_keys_of_the_marked_step_go_through_nothing_that_lies_over_the_board(
    command: str, keys: str, over: str
) -> None:
    """Over a list, a count, a number or a sheet they are refused in words; the same key once more acts."""
    desk = desk_of(SMALL, keys)
    entered, marked = told(desk), desk.marked

    press(desk, f"<{command}>")
    assert told(desk) == entered
    assert panel(desk).startswith(over)
    assert "is no answer here" in desk.hint

    press(desk, f"<{command}>")
    assert told(desk)[len(entered) :] in ([f"tick {marked}"], [f"start {marked}"])
