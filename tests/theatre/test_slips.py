"""Slips that a hard case was logged with: each scene as it was pressed, and nothing is written that nobody meant.

The board moves only by a key, a letter means one thing, and what lies over the board lets nothing through.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from desks import clock_of, codes, desk_of, panel, press, shipped, told
from hard_eye import CUTTING, FACTS, LASER, OPENING, PEELING, eye_after, stage_names, stage_shown
from tracker.screen.touch import ONE_PRESS_MS
from tracker.theatre.acts.screen import open_rows
from tracker.theatre.desk import LAPSE_MS, Desk

STAGES = stage_names()


def _entered(desk: Desk, script: str) -> list[str]:
    """What keys enter, in short."""
    before = len(told(desk))
    press(desk, script)
    return told(desk)[before:]


def _words(entered: list[str]) -> list[str]:
    """Entries without the numbers that they point at."""
    return [word.partition(" @")[0] for word in entered]


# -- the board stays where it is


def test_after_edge_flat_a_further_cut_is_a_cut() -> None:
    """Neither cryotherapy, nor all heavy liquid out, nor the tip seen again: letters mean what they meant before."""
    desk = eye_after(OPENING, PEELING, CUTTING)

    entered = _entered(desk, "+5 c +120 c +1 h +30 h +1 c +60 c")

    assert _words(entered) == [
        "start rx_cut", "stop rx_cut", "start haemostasis", "stop haemostasis", "start rx_cut", "stop rx_cut",
    ]  # fmt: skip
    assert stage_shown(desk) == "retinectomy"


def test_a_further_cut_is_one_key_while_the_laser_is_shown() -> None:
    """The steps of the loop stay together on the screen, whichever of its stages is shown."""
    desk = eye_after(OPENING, PEELING, CUTTING, LASER)
    assert stage_shown(desk) == "laser"

    assert _words(_entered(desk, "+5 c +60 c h +30 h e")) == [
        "start rx_cut", "stop rx_cut", "start haemostasis", "stop haemostasis", "tick edge_check",
    ]  # fmt: skip
    assert stage_shown(desk) == "laser"


def test_the_board_does_not_follow_the_place_of_a_step_in_the_file() -> None:
    """The last step of a stage alone leaves the board there, with what is not done yet still due."""
    desk = eye_after(OPENING, PEELING, CUTTING, more="v y +60 y")

    assert stage_shown(desk) == "laser"
    assert desk.on_screen().ahead == ()
    assert desk.marked in ("laser_safe", "laser_edge")


def test_a_decision_ticked_again_in_a_finished_stage_moves_nothing() -> None:
    """Where all is done a decision is stated anew, and its stage stays on the screen."""
    desk = eye_after(OPENING, PEELING, CUTTING)

    assert _words(_entered(desk, "r r o")) == ["tick rx_decide", "choice full_360"]
    assert stage_shown(desk) == "retinectomy"


def test_the_next_stage_is_offered_and_gone_to_by_one_of_its_steps() -> None:
    """Once nothing is due its steps are on the screen; until one of them is ticked, the board stays."""
    desk = eye_after(OPENING)
    assert (stage_shown(desk), set(desk.on_screen().ahead) >= {"core_vit", "break_search"}) == ("media", True)

    press(desk, "+900 R I escape < backspace")
    assert stage_shown(desk) == "media"

    press(desk, "v")
    assert stage_shown(desk) == "vitrectomy"


def test_with_something_due_no_other_stage_is_offered() -> None:
    """A stage that was begun stays until it is done or the team says that it is through with it."""
    desk = eye_after(OPENING, more="v +60 v")
    assert desk.on_screen().ahead == ()

    press(desk, "<close_stage> <close_stage>")
    assert (told(desk)[-1], stage_shown(desk)) == ("stage_closed vitrectomy", "peel")


# -- a letter that is not on the screen


@pytest.mark.parametrize("after", [STAGES.index("laser"), STAGES.index("exchange")])
def test_a_letter_of_a_stage_not_shown_writes_nothing(after: int) -> None:
    """`c` is the closing count for a board that shows the exchange, and says so before it is ticked."""
    desk = eye_after(OPENING, PEELING, CUTTING, LASER, more="right " * (after - STAGES.index("laser")))
    key = "c" if stage_shown(desk) == "exchange" else "g"

    assert _entered(desk, key) == []
    assert "once more" in desk.hint
    assert "stage" in desk.hint or "not in this case" in desk.hint


def test_a_letter_asked_for_once_more_writes_with_the_time_of_the_first_press() -> None:
    """The second press says that the first was meant; that was when it happened."""
    desk = eye_after(OPENING, PEELING, more="r f l +120 l v")
    first = clock_of(desk).now
    assert told(desk)[-1].startswith("stop dia_line")
    assert desk.hint == "v once more: tick Heavy liquid to beyond the edge; it belongs to stage 8"
    assert desk.scene().ask == "v once more: tick Heavy liquid to beyond the edge"

    assert _entered(desk, "+4 v") == ["tick pfcl_fill"]
    assert (desk.case.events[-1].at, desk.case.events[-1].entered_at) == (first, first + timedelta(seconds=4))
    assert stage_shown(desk) == "laser"
    assert desk.scene().ask == ""


def test_the_second_press_may_not_come_from_the_same_touch() -> None:
    """Within half a second it is one press; it still asks, and then the key acts."""
    desk = eye_after(OPENING, PEELING, more="r f l +120 l")

    assert _entered(desk, "v +0.1 v +0.3 v") == []
    assert desk.scene().ask != ""
    assert _entered(desk, f"+{ONE_PRESS_MS / 1000} v") == ["tick pfcl_fill"]


def test_what_was_asked_once_more_lapses() -> None:
    """After half a minute nobody remembers: the key asks anew, and the board has long stopped asking."""
    desk = eye_after(OPENING, PEELING, more=f"r f l +120 l v +{LAPSE_MS / 1000}")
    assert desk.scene().ask != ""
    clock_of(desk).on(1)
    assert desk.scene().ask == ""

    assert _entered(desk, "v") == []
    assert desk.hint.startswith("not done: tick Heavy liquid to beyond the edge. v once more:")


@pytest.mark.parametrize("other", ["c", "escape", "<bookmark>", "left", "?", "5", "%", "<reading>", "w"])
def test_another_key_leaves_it_undone_and_says_so(other: str) -> None:
    """Whatever follows, the step that was not ticked is named before what the key itself says."""
    desk = eye_after(OPENING, PEELING, more=f"r f l +120 l v +2 {other}")

    assert desk.hint.startswith("not done: tick Heavy liquid to beyond the edge")
    assert "tick pfcl_fill" not in told(desk)


def test_a_step_not_in_the_case_asks_once_more() -> None:
    """No implant is there to be taken out of an aphakic eye; who means it presses the key again."""
    desk = eye_after(OPENING)

    assert _entered(desk, "r") == []
    assert "it is not in this case as things stand" in desk.hint
    assert _entered(desk, "r") == ["start lens_out"]


def test_a_safety_step_before_what_it_needs_asks_once_more() -> None:
    """A trial of air with the tip not seen again is no slip of a finger any more."""
    desk = eye_after(OPENING, PEELING)

    assert _entered(desk, "t") == []
    assert (
        "t once more: tick Trial of air; your file asks for Tip seen again, before air or oil done first"
        in desk.hint
    )


def test_a_point_ticked_already_asks_once_more() -> None:
    """Its key again is mostly a key too many."""
    desk = eye_after(OPENING, more="v +60 v y")

    assert _entered(desk, "+30 y") == []
    assert "it was ticked already" in desk.hint


def test_to_close_a_stage_and_to_spread_a_burst_ask_once_more() -> None:
    """What writes much, and what lies beside letters, is meant twice or not at all."""
    for command, kind in (
        ("close_stage", "stage_closed"),
        ("not_logged", "not_logged"),
        ("spread", "back_stamp"),
    ):
        desk = eye_after(OPENING, more="+600 v v y b b s")
        assert _entered(desk, f"<{command}>") == []
        assert f"{desk.keys_of(command)[0]} once more" in desk.hint
        assert all(word.startswith(kind) for word in _entered(desk, f"<{command}>"))


# -- lists refuse what is not theirs


@pytest.mark.parametrize("stage", range(len(STAGES)), ids=STAGES)
def test_r_for_relief_ticks_nothing_in_any_stage(stage: int) -> None:
    """At the hand-over list a letter that it does not have is refused in words, and the list stays."""
    desk = eye_after(OPENING, PEELING, CUTTING, more="right " * (stage - STAGES.index("retinectomy")))
    press(desk, "left " * (STAGES.index("retinectomy") - stage))
    assert stage_shown(desk) == STAGES[stage]

    assert _entered(desk, "<hand_over> r") == []
    assert panel(desk) == "Hand-over, or change of operator"
    assert desk.hint.startswith("r is no answer here")

    assert _entered(desk, "a") == []
    assert panel(desk).startswith("Hand-over to Relief circulating practitioner")


def test_a_letter_at_the_list_of_complications_names_one_and_ticks_nothing() -> None:
    """`b` is bleeding, not the band that has this letter in another stage."""
    for more in ("", "left left left left", "right"):
        desk = eye_after(OPENING, PEELING, CUTTING, more=more)
        entered = _entered(desk, "<complication> b")
        assert _words(entered) == ["complication", "complication_detail edge_bleeding"]


def test_the_letter_of_a_dye_with_no_list_open_ticks_nothing() -> None:
    """Trypan's letter, typed once the list was left, is asked for once more; so is the one it had before."""
    desk = eye_after(OPENING, more="v +400 v y b +200 b s +60 s d escape")

    for key in ("y", "t"):
        assert _entered(desk, key) == []
        assert f"{key} once more" in desk.hint

    assert _words(_entered(desk, "<decision> t")) == []
    assert panel(desk).startswith("Dye in")
    assert _words(_entered(desk, "y")) == ["choice trypan_blue"]


def test_a_refused_letter_pressed_again_leaves_the_list_and_acts() -> None:
    """Who means the step and not the list is two keys away, with the time of the first."""
    desk = eye_after(OPENING, PEELING, CUTTING, more="<hand_over> +2 h")
    assert desk.hint == "h is no answer here. h once more: start Haemostasis at the edge"

    assert _words(_entered(desk, "+3 h")) == ["start haemostasis"]
    assert (panel(desk), desk.case.events[-1].entered_at - desk.case.events[-1].at) == (
        "",
        timedelta(seconds=3),
    )


def test_letters_that_are_answers_stay_answers_however_many_were_none() -> None:
    """Three letters that the list does not have do not make the fourth, which it has, a step."""
    desk = eye_after(OPENING, more="v +400 v y b +200 b s +60 s d")

    assert _words(_entered(desk, "p i a y")) == ["choice trypan_blue"]


def test_nothing_is_preselected_where_enter_would_write() -> None:
    """Not needed without a reason, counts re-confirmed, a decision, leaving: Enter takes no answer."""
    for keys in (
        "<not_needed>",
        "<hand_over>",
        "<hand_over> a",
        "<decision>",
        "<complication>",
        "Q",
        "<entries>",
    ):
        desk = eye_after(OPENING, PEELING, CUTTING, more=keys)
        shown = panel(desk)
        assert shown, keys

        assert _entered(desk, "enter +1 enter") == []
        assert (panel(desk), desk.left) == (shown, False)


def test_counts_are_confirmed_at_a_hand_over_by_a_key_of_its_own() -> None:
    """Enter says neither that they were nor that the sheet was read; `y` says each, at two presses."""
    desk = eye_after(OPENING, PEELING, CUTTING)

    assert _entered(desk, "<hand_over> a enter") == []
    assert _words(_entered(desk, "y +0.2 y")) == ["handover circulating relief_circulating True"]
    assert any("has not acknowledged the hand-over" in row.text for row in open_rows(desk))
    assert _words(_entered(desk, "+1 y")) == ["handover_accepted"]


# -- sheets


@pytest.mark.parametrize("sheet", ["<open>", "<key_sheet>"])
@pytest.mark.parametrize("key", ["enter", "<natural>", "<onward>"])
def test_a_sheet_lets_no_enter_through(sheet: str, key: str) -> None:
    """Who pages on or closes it by habit writes nothing; Esc is the way out, and is named."""
    desk = eye_after(OPENING, PEELING, CUTTING, more=f"+5 c +60 {sheet}")

    assert _entered(desk, key) == []
    assert panel(desk)
    assert "is no answer here" in desk.hint

    press(desk, "escape")
    assert panel(desk) == ""


# -- the side of the eye


def test_the_case_of_these_tests_has_its_eye_and_no_file_gives_one() -> None:
    """The shipped file has no side by default; what stands in the case is what was chosen."""
    assert "eye" not in desk_of(shipped()).case.facts
    assert eye_after().case.facts["eye"] == FACTS["eye"] == "left"


def test_a_hard_case_pressed_without_a_slip_differs_in_nothing_of_safety() -> None:
    """The parts of the case that these tests begin from are as the file has them."""
    desk = eye_after(OPENING, PEELING, CUTTING, LASER)

    assert [code for code in codes(desk) if not code.startswith(("reading_missing", "late_entry"))] == []
