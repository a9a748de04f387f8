"""One cause is one line: what came of the same is folded, keys and reasons stay while the case goes on."""

from __future__ import annotations

import pytest

from small_procedures import CUT
from story import case_of, lines_of, protocol_of


def _lines(story: str) -> list[tuple[str, list[str]]]:
    """Each line's key, with the keys beneath it."""
    return [(d.key, [other.key for other in d.beneath]) for d in lines_of(case_of(CUT, story))]


def test_a_missed_step_is_one_line() -> None:
    """No tick, and what needed it: the missing step stays, the step that needed it stands beneath."""
    assert _lines("09:05:00 tick ports") == [("skipped:sign_in", ["need:ports<sign_in:1"])]


def test_ticked_after_all_it_is_one_line_of_order() -> None:
    """Once the step came after all, the line says that, and keeps the reason given while it was missing."""
    story = "09:05:00 tick ports\n09:06:00 reason skipped:sign_in teaching\n09:07:00 tick sign_in"
    [line] = lines_of(case_of(CUT, story))

    assert (line.key, line.code) == ("need:ports<sign_in:1", "out_of_order")
    assert line.given is not None
    assert line.given.reason == "teaching"


def test_a_reason_for_what_stands_beneath_is_that_of_the_line() -> None:
    """A journal of an earlier program gave its reason to the need: the one line has it."""
    [line] = lines_of(case_of(CUT, "09:05:00 tick ports\n09:06:00 reason need:ports<sign_in:1 teaching"))

    assert line.key == "skipped:sign_in"
    assert line.given is not None
    assert line.given.reason == "teaching"


def test_missed_twice_is_two_lines() -> None:
    """Haemostasis missed before the laser, and missed again after a further cut: two causes, two lines."""
    story = (
        "09:00:00 tick cut\n09:05:00 tick laser\n09:06:00 tick haemostasis\n09:10:00 tick cut\n"
        "09:15:00 tick laser"
    )
    found = [line for line in _lines(story) if "haemostasis" in line[0]]

    assert found == [
        ("need:laser<haemostasis:2", []),
        ("skipped:haemostasis:4", ["need:laser<haemostasis:5"]),
    ]


def test_a_reason_for_the_first_miss_is_not_that_of_the_second() -> None:
    """Each cause has its own reason, also once the step was ticked in between."""
    story = (
        "09:00:00 tick cut\n09:05:00 tick laser\n09:05:30 reason skipped:haemostasis teaching\n"
        "09:06:00 tick haemostasis\n09:10:00 tick cut\n09:15:00 tick laser"
    )
    given = {d.key: d.given for d in lines_of(case_of(CUT, story)) if "haemostasis" in d.key}

    assert given["need:laser<haemostasis:2"] is not None
    assert given["skipped:haemostasis:5"] is None


def test_a_choice_of_steps_missed_is_one_line() -> None:
    """None of a group, and the orders that needed any of them."""
    [line] = [line for line in _lines("09:00:00 tick orders") if "tamponade" in line[0]]

    assert line == ("skipped:one_of:tamponade", ["need:orders<gas_in+oil_in:1"])


def test_the_line_of_the_higher_level_stays() -> None:
    """A need of order and one of safety of the same missing step: the safety line stands."""
    steps = protocol_of("""
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "a"
    label = "A"
    occurrence = "optional"
    [[stages.steps]]
    id = "b"
    label = "B"
    needs = [{ step = "a", level = "order", reason = "r" }]
    [[stages.steps]]
    id = "c"
    label = "C"
    needs = [{ step = "a", level = "safety", reason = "r" }]
    """)
    [line] = lines_of(case_of(steps, "09:00:00 tick b\n09:05:00 tick c"))

    assert (line.key, line.level) == ("need:c<a:2", "safety")
    assert [d.key for d in line.beneath] == ["need:b<a:1"]


PAIR = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "liquid_in"
label = "Heavy liquid in"
[[stages.steps]]
id = "cut"
label = "Cut"
occurrence = "optional"
needs = [{ pair_open = "liquid", level = "safety", reason = "it holds the pole" }]
[[stages.steps]]
id = "liquid_out"
label = "Heavy liquid out"
[[stages.steps]]
id = "ports_out"
label = "Ports out"
occurrence = "optional"
needs = [{ pair_closed = "liquid", level = "safety", reason = "none is left" }]
[[stages.steps]]
id = "out"
label = "Out"
occurrence = "optional"
ends_case = true
[[pairs]]
id = "liquid"
label = "Heavy liquid"
opens = [{ step = "liquid_in" }]
closes = [{ step = "liquid_out" }]
by = "ports_out"
""")


def test_a_pair_left_open_is_one_line() -> None:
    """Not matched at the step, the step that needed it out, and the step that takes it out: one cause."""
    story = "09:00:00 tick liquid_in\n09:30:00 tick ports_out\n10:00:00 tick out"
    [line] = lines_of(case_of(PAIR, story))

    assert line.key == "unmatched:liquid:2"
    assert {d.key for d in line.beneath} == {"need:ports_out<liquid:2", "skipped:liquid_out"}


def test_a_pair_never_opened_is_one_line() -> None:
    """The step that puts it in has no tick, and the cut needed it in."""
    story = "09:10:00 tick cut\n09:20:00 not_needed liquid_out\n10:00:00 tick out"
    [line] = lines_of(case_of(PAIR, story))

    assert {line.key, *(d.key for d in line.beneath)} == {"need:cut<liquid:1", "skipped:liquid_in"}


def test_a_span_without_a_stop_is_one_line() -> None:
    """No stop, the pair that its stop would have closed, and what needed the span finished."""
    steps = protocol_of("""
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "light"
    label = "Light in"
    shape = "span"
    [[stages.steps]]
    id = "out"
    label = "Out"
    ends_case = true
    needs = [{ step = "light", until = "stop", level = "order", reason = "out first" }]
    [[pairs]]
    id = "lamp"
    label = "Light"
    opens = [{ step = "light" }]
    closes = [{ step = "light", edge = "stop" }]
    by = "out"
    """)
    [line] = lines_of(case_of(steps, "09:00:00 start light\n10:00:00 tick out"))

    assert (line.key, line.level) == ("unmatched:lamp:2", "safety")
    assert {d.key for d in line.beneath} == {"need:out<light.stop:2", "unmatched:light:1"}


def test_a_value_beyond_its_own_limit_and_the_total_is_one_line() -> None:
    """One reading that is over both its limits is one cause."""
    file = protocol_of("""
    [[readings]]
    id = "spots"
    label = "Spots"
    caution_above = 1000
    caution_total_above = 1500
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "laser"
    label = "Laser"
    """)
    [line] = lines_of(case_of(file, "09:00:00 read spots=1600"))

    assert (line.key, [d.key for d in line.beneath]) == ("reading:spots:1", ["total:spots"])


def test_a_length_over_two_figures_is_one_line() -> None:
    """A span over the file's range whose own clock reached its figure: one length, one line."""
    file = protocol_of("""
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "air"
    label = "Air"
    shape = "span"
    minutes = [1, 2]
    [[clocks]]
    id = "dry"
    label = "Air in the eye"
    start = [{ step = "air" }]
    stop = [{ step = "air", edge = "stop" }]
    amber_s = 120
    level = "safety"
    """)
    [line] = lines_of(case_of(file, "09:00:00 start air\n09:05:00 stop air"))

    assert (line.key, [d.key for d in line.beneath]) == ("clock_over:dry:1", ["over_time:air"])


DECIDE = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "dye"
label = "Dye"
shape = "decision"
plan_fact = "planned_dye"
choices = [{ id = "blue", label = "Blue", key = "b" }, { id = "green", label = "Green", key = "g" }]
[[stages.steps]]
id = "out"
label = "Out"
ends_case = true
[[facts]]
id = "planned_dye"
label = "Planned dye"
kind = "choice"
default = "blue"
choices = [{ id = "blue", label = "Blue", key = "b" }, { id = "green", label = "Green", key = "g" }]
""")


def test_blue_then_green_then_blue_again_is_one_change() -> None:
    """A plan that came back to what it was changed all the same: once, with what it went through."""
    story = "09:00:00 tick dye blue\n09:05:00 tick dye green\n09:10:00 tick dye blue"
    found = lines_of(case_of(DECIDE, story))
    [line] = [d for d in found if d.code == "plan_changed" or d.beneath]

    assert (len(found), line.code, line.key) == (1, "plan_changed", "plan_changed:dye:2")
    assert (line.expected, line.found) == ("Blue", "Green, then Blue")
    assert [d.code for d in line.beneath] == ["repeated", "repeated"]


def test_a_reason_given_to_the_second_change_by_an_earlier_program_is_kept() -> None:
    """It had a line of its own, and its reason is that of the one line."""
    story = "09:05:00 tick dye green\n09:10:00 tick dye blue\n09:11:00 reason plan_changed:dye:2 teaching"
    [line] = lines_of(case_of(DECIDE, story))

    assert line.given is not None
    assert line.given.reason == "teaching"


@pytest.mark.parametrize("ticks", [1, 2, 3])
def test_a_decision_nobody_stated_is_one_line(ticks: int) -> None:
    """However often it was ticked."""
    file = protocol_of("""
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "cut"
    label = "Cut decision"
    shape = "decision"
    occurrence = "repeat"
    choices = [{ id = "none", label = "None", key = "n" }]
    [[stages.steps]]
    id = "out"
    label = "Out"
    ends_case = true
    """)
    story = "".join(f"09:0{n}:00 tick cut\n" for n in range(ticks))
    [line] = lines_of(case_of(file, f"{story}10:00:00 tick out"))

    assert (line.key, line.found) == ("reading_missing:cut:1", "not entered")


def test_a_count_due_by_a_hand_over_and_never_made_is_one_line() -> None:
    """Counts not confirmed made the closing count due again, and it never came."""
    file = protocol_of("""
    [[counted]]
    id = "swab"
    label = "Swabs"
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "count_2"
    label = "Closing count"
    shape = "count"
    count = "closing"
    due_again = [{ event = "handover_unconfirmed", reason = "counts were not confirmed" }]
    [[stages.steps]]
    id = "out"
    label = "Out"
    ends_case = true
    """)
    story = (
        "09:00:00 tick count_2\n09:01:00 count 1 swab=3\n09:10:00 handover relief uncounted\n"
        "09:11:00 accept 3\n10:00:00 tick out"
    )
    [line] = lines_of(case_of(file, story))

    assert (line.key, line.level) == ("handover_unconfirmed:3", "safety")
    assert [d.key for d in line.beneath] == ["skipped:count_2:3"]
