"""How a case goes on and ends at the desk: reasons, facts, what is open, going on, the shipped file."""

from __future__ import annotations

import re

import pytest

from desks import (
    AT_WORK,
    SMALL,
    Memory,
    board,
    clock_of,
    codes,
    desk_of,
    how,
    keeper_of,
    panel,
    press,
    protocol_of,
    read,
    shipped,
    told,
)
from tracker.theatre.acts.screen import open_rows, open_words
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session

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


# -- reasons, facts, end


def test_a_reason_is_two_keys() -> None:
    """The reason key asks for the latest deviation without one; a key of the file's list answers."""
    desk = desk_of(SMALL, "right k k <reason> f")

    assert told(desk)[-1] == "reason skipped:peel forced"
    assert "came before" not in board(desk)


def test_with_no_deviation_the_reason_key_says_so() -> None:
    """Nothing to give a reason for is answered in words."""
    desk = desk_of(SMALL, "=")

    assert desk.hint == "no deviation is without a reason"


def test_changed_facts_bring_steps_in_and_take_them_out() -> None:
    """A changed case fact brings a step into the case, and the hint says which."""
    desk = desk_of(SMALL, "right right d o")
    assert how(desk, "iridotomy") == "not_in_case"

    press(desk, ", a enter")

    assert told(desk)[-1] == "facts lens=aphakic"
    assert how(desk, "iridotomy") == "due"
    assert "Iridotomy: now in the case" in board(desk)
    assert "Lens now" in desk.hint

    press(desk, ", p enter")

    assert "Iridotomy: no longer in the case" in board(desk)


def test_a_step_is_ticked_over_the_case_facts_and_what_was_answered_is_found_again() -> None:
    """A key that is no answer is refused, once more it ticks; nothing is kept before Enter, nothing lost."""
    desk = desk_of(SMALL, "i <facts> a t")
    assert told(desk)[-1] == "tick in_theatre"
    assert panel(desk) == "A case fact changed"

    press(desk, "t")
    assert told(desk)[-1] == "tick time_out"
    assert desk.case.facts["lens"] == "phakic"

    press(desk, "<facts> enter")

    assert told(desk)[-1] == "facts lens=aphakic"


def test_a_note_put_earlier_says_so() -> None:
    """What has no word of its own is told without one."""
    assert "note kept back-stamped 1 min" in board(desk_of(SMALL, 'i <note> "gauze" enter <back_stamp>'))


def test_a_choice_says_what_it_brought_in() -> None:
    """A decision that brings a step into the case says so and why, as does one that takes it out again."""
    desk = desk_of(SMALL, "right d z")
    assert "Retina cut: now in the case" in board(desk)
    assert "Cut decision" in desk.hint

    press(desk, "<decision> n")

    assert "Retina cut: no longer in the case" in board(desk)


def test_due_again_is_said_with_its_reason() -> None:
    """A cut after the laser makes the laser due again, and the board says why, whichever stage is shown."""
    desk = desk_of(SMALL, "right d z p p l l left k k left")

    assert "edge laser due again: a further cut was made" in read(desk)
    assert how(desk, "laser") == "due"


def test_an_optional_step_is_asked_for_by_its_trigger() -> None:
    """One never ticked is due, not due again, and the board says why; its tick settles it."""
    desk = desk_of(CHECKED, "c 2 0 enter")
    assert not re.search(r"C Count checked due", board(desk))

    press(desk, "<count> a enter 1 enter")

    assert desk.hint == "Count checked due: an item was opened"
    assert re.search(r"C Count checked due$", board(desk), re.MULTILINE)
    assert "count checked due: an item was opened" in read(desk)
    assert "due Count checked: an item was opened" in [f"{row.key} {row.text}" for row in open_rows(desk)]

    press(desk, "C 2 1 enter")

    assert how(desk, "check") == "ticked"
    assert "an item was opened" not in board(desk)

    press(desk, "<count> a enter 1 enter")

    assert desk.hint == "Count checked due again: an item was opened"
    assert "C Count checked due again" in board(desk)
    assert "count checked due again: an item was opened" in read(desk)


def test_what_no_longer_belongs_to_the_case_is_not_asked_for() -> None:
    """Once its condition is unmet a step is not due, however often its trigger fires."""
    desk = desk_of(CHECKED, "c 2 0 enter <count> a enter 1 enter n 2 1 enter")
    assert how(desk, "check") == "not_in_case"

    press(desk, "<count> a enter 1 enter")

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
    desk = desk_of(REVISED, "p o f l f f")
    assert (how(desk, "look"), desk.marked) == ("due", "look")

    press(desk, "p p g")

    assert (how(desk, "look"), desk.marked) == ("ticked", "close")


def test_leaving_takes_a_deliberate_act() -> None:
    """The leave key asks; any other key but the answer is refused, and once more goes on with the case."""
    desk = desk_of(SMALL, "Q")
    assert not desk.left

    press(desk, "i")
    assert (desk.left, told(desk), panel(desk)) == (False, [], "Leave? (Esc stays)")

    press(desk, "i")
    assert (desk.left, told(desk), panel(desk)) == (False, ["tick in_theatre"], "")

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
    assert how(desk, "core") == "not_reached"
    assert codes(desk) == []


def test_stopping_early_without_a_list_of_reasons() -> None:
    """A file that names no reasons can still be stopped early."""
    bare = SMALL.split("[[reasons]]")[0]

    desk = desk_of(bare, "i Q e")

    assert told(desk)[-1] == "stopped_early"
    assert desk.left


# -- what is open, the keys


def test_the_open_sheet_is_one_key_and_a_tick_closes_it() -> None:
    """One key shows what is open; a step's key leaves the sheet and ticks."""
    desk = desk_of(SMALL, f"{AT_WORK} v h <open>")
    assert panel(desk) == "What is open"
    assert [f"{row.key} {row.text}" for row in open_rows(desk)][:4] == [
        "on Circulating practitioner", "operating Consultant", "running Core vitrectomy 00:00",
        "in Heavy liquid: in the eye",
    ]  # fmt: skip

    press(desk, "p")

    assert (panel(desk), told(desk)[-1]) == ("", "start peel")


def test_the_open_sheet_begins_with_the_side_of_the_eye() -> None:
    """Where the file says which fact that is; it is said with the rest and is not counted as open."""
    sided = SMALL.replace("[[facts]]", 'side_fact = "lens"\n\n[[facts]]', 1)

    assert _sheet(desk_of(shipped(), facts={"eye": "left"}))[0] == "side LEFT EYE"
    assert _sheet(desk_of(SMALL))[0].startswith("on ")
    assert open_words(desk_of(sided)) == open_words(desk_of(SMALL))


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
    desk = desk_of(SMALL, f"{AT_WORK} v h <hand_over> a y")

    open_words = ("hand-over", "in", "due", "count", "choice", "reading", "deviation")
    more = len([i for i in _sheet(desk) if i.split()[0] in open_words])
    assert f": 1 running, {more} more open" in panel(desk)


@pytest.mark.parametrize("key", ["<open>", "<key_sheet>"])
def test_a_sheet_is_closed_by_the_key_that_opened_it(key: str) -> None:
    """The key of a sheet shows it, and again takes it away; the same touch twice only shows it."""
    assert panel(desk_of(SMALL, f"i {key} +0 {key}")) != ""
    assert panel(desk_of(SMALL, f"i {key}")) != ""
    assert panel(desk_of(SMALL, f"i {key} {key}")) == ""


def test_the_key_sheet_has_every_key() -> None:
    """Question mark shows every command and every step of the stage with its key."""
    desk = desk_of(SMALL, "right ?")

    keys = {row.key for row in desk.panel.rows()}
    assert {"Space", "Tab", "Backspace", "/", "v", "p", "h", "d", "k", "l", "u", "P"} <= keys


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
    desk = desk_of(shipped(), "right right right right right right r r")

    press(desk, "f")

    assert told(desk) == ["tick rx_decide", "choice inferior_180 @4"]
    assert desk.marked == "dia_line"


def test_a_choice_stated_later_leaves_the_mark_where_it_is() -> None:
    """A choice stated after other steps were ticked does not send the eye back."""
    desk = desk_of(SMALL, "right d escape l")

    press(desk, "<decision> z")

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
