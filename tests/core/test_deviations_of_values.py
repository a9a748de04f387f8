"""Deviations of what was said: readings, pairs, counts, plans, and what came late."""

from __future__ import annotations

import pytest

from story import case_of, codes_in, found_in, only, protocol_of

# -- readings

READINGS = protocol_of("""
[[readings]]
id = "mmhg"
label = "Infusion pressure"
unit = "mmHg"
plausible = [0, 120]
caution_below = 10
caution_above = 40
[[readings]]
id = "spots"
label = "Spots"
caution_total_above = 1500
[[readings]]
id = "ml"
label = "Volume"
unit = "ml"
plausible = [0.5, 10]
[[readings]]
id = "seen"
label = "Tip seen"
kind = "choice"
choices = [{ id = "yes", label = "Seen", key = "y" }, { id = "no", label = "Not seen", key = "n" }]
caution_choices = ["no"]
[[readings]]
id = "perfused"
label = "Disc perfused"
kind = "flag"

[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "laser"
label = "Laser"
shape = "span"
occurrence = "repeat"
readings = [{ id = "spots", required = true }, { id = "ml" }]
[[stages.steps]]
id = "tamp"
label = "Tamponade decision"
shape = "decision"
occurrence = "optional"
choices = [{ id = "gas", label = "Gas", key = "g" }]
[[stages.steps]]
id = "out"
label = "Out"
ends_case = true
occurrence = "optional"
""")


@pytest.mark.parametrize(
    ("said", "expected", "found"),
    [
        ("mmhg=41", "at most 40 mmHg", "41 mmHg"),
        ("mmhg=9.5", "at least 10 mmHg", "9.5 mmHg"),
        ("ml=12", "0.5 to 10 ml", "12 ml"),
        ("seen=no", "none of the choices marked in your file", "Not seen"),
    ],
)
def test_reading_outside_caution(said: str, expected: str, found: str) -> None:
    """A reading outside its caution limits, its plausible range or among its marked choices is noted."""
    caution = only(case_of(READINGS, f"09:00:00 read {said}"), "reading_caution")

    assert (caution.expected, caution.found, caution.level) == (expected, found, "note")


@pytest.mark.parametrize("said", ["mmhg=40", "mmhg=10", "ml=10", "ml=0.5", "seen=yes", "perfused=false"])
def test_reading_on_the_limit_is_inside(said: str) -> None:
    """Both ends of a range are inside it, and a yes or no has no caution."""
    assert codes_in(case_of(READINGS, f"09:00:00 read {said}")) == []


def test_total_of_a_reading() -> None:
    """A total over the file's figure is one deviation, shown where it was passed, with the total so far."""
    story = (
        "09:00:00 read spots=800\n09:10:00 read spots=700\n09:20:00 read spots=100\n09:30:00 read spots=50"
    )
    total = only(case_of(READINGS, story), "reading_caution")

    assert (total.key, total.seq, total.expected, total.found) == (
        "total:spots",
        3,
        "in all at most 1500",
        "1650 in all",
    )


def test_reading_missing_once_its_stage_is_over() -> None:
    """A reading the file asks for is missing for each tick without one, once nothing more is to come."""
    story = """
    09:00:00 start laser
    09:01:00 read spots=400 1
    09:05:00 stop laser
    09:10:00 start laser
    09:15:00 stop laser
    """
    missing = only(case_of(READINGS, f"{story}\n09:20:00 tick out"), "reading_missing")

    assert found_in(case_of(READINGS, story), "reading_missing") == ()
    assert (missing.step, missing.seq, missing.found) == ("spots", 4, "not entered for Laser")


def test_reading_of_a_step_behind_the_end_may_still_come() -> None:
    """A step ticked behind the end of the case has until its stage is closed for its readings."""
    steps = protocol_of("""
    [[readings]]
    id = "minutes"
    label = "Minutes"
    [[stages]]
    id = "leave"
    label = "Leave"
    [[stages.steps]]
    id = "out"
    label = "Out"
    ends_case = true
    [[stages.steps]]
    id = "debrief"
    label = "Debrief"
    readings = [{ id = "minutes", required = true }]
    """)
    story = "10:00:00 tick out\n10:30:00 tick debrief"

    assert codes_in(case_of(steps, story)) == []
    assert codes_in(case_of(steps, f"{story}\n10:40:00 close leave")) == [("reading_missing", "minutes")]


def test_reading_is_due_by_the_step_that_needs_its_step() -> None:
    """It is missing once a step that needs its own is ticked, of a span not before its stop."""
    steps = protocol_of("""
    [[readings]]
    id = "n"
    label = "How many"
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "ports"
    label = "Ports in"
    readings = [{ id = "n", required = true }]
    [[stages.steps]]
    id = "core"
    label = "Core vitrectomy"
    shape = "span"
    readings = [{ id = "n", required = true }]
    needs = [{ step = "ports", level = "safety", reason = "r" }]
    [[stages.steps]]
    id = "peel"
    label = "Peel"
    needs = [{ step = "core", level = "order", reason = "r" }]
    """)
    begun = "09:00:00 tick ports\n09:01:00 start core\n"

    assert codes_in(case_of(steps, "09:00:00 tick ports")) == []
    assert only(case_of(steps, begun), "reading_missing").key == "reading_missing:n:1"
    running = f"{begun}09:01:30 read n=3 1\n09:02:00 tick peel\n09:05:00 stop core\n"
    assert codes_in(case_of(steps, running)) == []
    assert (
        only(case_of(steps, f"{running}09:06:00 tick peel"), "reading_missing").key == "reading_missing:n:2"
    )


def test_loose_reading_serves_the_tick_before_it() -> None:
    """A reading entered on its own serves the step it followed, not one begun later."""
    begun = "09:00:00 start laser\n09:01:00 read spots=400\n09:05:00 stop laser\n"

    assert codes_in(case_of(READINGS, f"{begun}09:20:00 tick out")) == []
    later = case_of(READINGS, f"{begun}09:10:00 start laser\n09:15:00 stop laser\n09:20:00 tick out")
    assert [(d.step, d.seq) for d in found_in(later, "reading_missing")] == [("spots", 4)]


def test_loose_reading_after_a_later_tick_serves_that_one() -> None:
    """One loose reading does not serve two ticks of the same step."""
    story = """
    09:00:00 start laser
    09:05:00 stop laser
    09:10:00 start laser
    09:11:00 read spots=400
    09:15:00 stop laser
    09:20:00 tick out
    """

    assert [d.seq for d in found_in(case_of(READINGS, story), "reading_missing")] == [1]


def test_decision_without_a_choice_is_missing_it() -> None:
    """A decision ticked without its choice, and without a plan for it, has nothing decided."""
    missing = only(case_of(READINGS, "09:00:00 tick tamp\n09:20:00 tick out"), "reading_missing")

    assert (missing.step, missing.expected) == ("tamp", "a choice")
    assert found_in(case_of(READINGS, "09:00:00 tick tamp gas\n09:20:00 tick out"), "reading_missing") == ()


# -- pairs and counts

PAIRS = protocol_of("""
[[readings]]
id = "in_n"
label = "Ports in"
[[readings]]
id = "out_n"
label = "Ports out"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "ports"
label = "Ports in"
[[stages.steps]]
id = "ports_out"
label = "Ports out"
occurrence = "optional"
[[stages.steps]]
id = "sign_out"
label = "Sign-out"
occurrence = "optional"
[[stages.steps]]
id = "out"
label = "Out"
occurrence = "optional"
ends_case = true
[[pairs]]
id = "port_pair"
label = "Ports"
counted = true
opens = [{ step = "ports", amount_from = "in_n" }]
closes = [{ step = "ports_out", amount_from = "out_n" }]
by = "sign_out"
""")

IN = "09:00:00 tick ports\n09:00:05 read in_n=3 1\n"


def test_unmatched_at_the_step_it_should_be_closed_by() -> None:
    """A pair still open when the file's step is ticked is unmatched, as serious as the file says."""
    found = only(case_of(PAIRS, f"{IN}10:00:00 tick sign_out"), "unmatched")

    assert (found.step, found.level, found.seq, found.expected, found.found) == (
        "port_pair",
        "safety",
        3,
        "out by Sign-out",
        "3 in, 0 out",
    )


def test_unmatched_stays_once_closed_later() -> None:
    """A pair closed after that step stays unmatched, and the words say when it was closed."""
    story = f"{IN}10:00:00 tick sign_out\n10:05:00 tick ports_out\n10:05:05 read out_n=3 4"

    assert only(case_of(PAIRS, story), "unmatched").found == "3 in, 0 out; out at 10:05:00"


def test_numbers_that_differ_are_unmatched() -> None:
    """Three in and two out is unmatched at sign-out, with both numbers."""
    story = f"{IN}09:50:00 tick ports_out\n09:50:05 read out_n=2 3\n10:00:00 tick sign_out"

    assert only(case_of(PAIRS, story), "unmatched").found == "3 in, 2 out"


def test_matched_pair_is_no_deviation() -> None:
    """Three in and three out is matched."""
    story = f"{IN}09:50:00 tick ports_out\n09:50:05 read out_n=3 3\n10:00:00 tick sign_out\n10:05:00 tick out"

    assert codes_in(case_of(PAIRS, story)) == []


def test_unmatched_at_the_end_where_the_step_never_came() -> None:
    """Without that step a pair is looked at when the case ends, also if it was opened after the step."""
    never = only(case_of(PAIRS, f"{IN}10:00:00 tick out"), "unmatched")
    after = only(
        case_of(PAIRS, "08:50:00 tick sign_out\n" + IN.replace(" 1", " 2") + "10:00:00 tick out"), "unmatched"
    )

    assert never.seq == 3
    assert after.seq == 4


def test_pair_out_not_logged_carries_that_reason() -> None:
    """A pair said afterwards to be out, not logged at the time, carries that as its reason by itself."""
    found = only(case_of(PAIRS, f"{IN}10:00:00 tick sign_out\n10:05:00 not_logged ports_out"), "unmatched")

    assert found.found == "3 in, 0 out; out, not logged at the time"
    assert found.given is not None
    assert found.given.reason == "not_logged"


def test_pair_may_be_closed_after_an_early_stop() -> None:
    """After an early stop a pair is unmatched only as long as it is open."""
    story = f"{IN}09:30:00 stop_early collapse"

    assert only(case_of(PAIRS, story), "unmatched").found == "3 in, 0 out"
    assert found_in(case_of(PAIRS, f"{story}\n09:35:00 tick ports_out"), "unmatched") == ()


COUNTS = protocol_of("""
[[counted]]
id = "swab"
label = "Swabs"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "count_1"
label = "First count"
shape = "count"
count = "opening"
[[stages.steps]]
id = "count_2"
label = "Closing count"
shape = "count"
count = "closing"
""")

COUNTED = "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n09:30:00 swab +5\n10:00:00 tick count_2\n"


def test_count_that_agrees_is_no_deviation() -> None:
    """10 + 5 - 0 = 15 said is no deviation."""
    assert codes_in(case_of(COUNTS, f"{COUNTED}10:01:00 count 4 swab=15")) == []


def test_count_discrepancy() -> None:
    """A number said that is not start + added - removed is a discrepancy of the highest class."""
    found = only(case_of(COUNTS, f"{COUNTED}10:01:00 count 4 swab=14"), "count_discrepancy")

    assert (found.step, found.level, found.expected, found.found) == (
        "swab",
        "safety",
        "15 (10 + 5 - 0)",
        "14",
    )


def test_count_discrepancy_stays_once_the_item_is_found() -> None:
    """A discrepancy stays in the record when a recount agrees, and says so."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:06:00 count 4 swab=15"

    assert only(case_of(COUNTS, story), "count_discrepancy").found == "14; 15 at 10:06:00"


def test_recount_that_differs_too_is_no_agreement() -> None:
    """A recount that differs again is a second discrepancy and settles nothing."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:06:00 count 4 swab=13"

    assert [d.found for d in found_in(case_of(COUNTS, story), "count_discrepancy")] == ["14", "13"]


def test_first_count_put_right_is_no_recount() -> None:
    """A first count put right afterwards is not a recount that agreed."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:06:00 count 1 swab=9"

    assert only(case_of(COUNTS, story), "count_discrepancy").found == "14"


def test_number_struck_was_never_said() -> None:
    """A number mistyped and struck leaves no discrepancy."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:01:10 strike 5\n10:01:15 count 4 swab=15"

    assert codes_in(case_of(COUNTS, story)) == []


# -- minds and troubles

PLANS = protocol_of("""
[[facts]]
id = "planned"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Silicone oil", key = "o" }]
[[facts]]
id = "axial_mm"
label = "Axial length"
kind = "number"
unit = "mm"
default = 24
[[complications]]
id = "bleed"
label = "Bleeding from the edge"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "tamp"
label = "Tamponade decision"
shape = "decision"
occurrence = "repeat"
plan_fact = "planned"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Silicone oil", key = "o" }]
""")


def test_choice_against_the_plan() -> None:
    """A choice other than the plan's says what was planned and what it became."""
    changed = only(case_of(PLANS, "09:00:00 tick tamp oil"), "plan_changed")

    assert (changed.step, changed.expected, changed.found) == ("tamp", "Gas, as planned", "Silicone oil")


def test_second_thoughts_are_one_line() -> None:
    """Decided and then changed back is one change of plan, at the first tick, with all it went through."""
    changed = only(case_of(PLANS, "09:00:00 tick tamp oil\n09:30:00 tick tamp gas"), "plan_changed")

    assert (changed.key, changed.seq) == ("plan_changed:tamp:1", 1)
    assert (changed.expected, changed.found) == ("Gas, as planned", "Silicone oil, then Gas")


def test_a_plan_and_the_decision_on_it_are_one_line() -> None:
    """The plan changed and decided against is one deviation of that plan."""
    story = "08:50:00 facts planned=gas axial_mm=24\n09:10:00 facts planned=oil\n09:30:00 tick tamp gas"
    changed = only(case_of(PLANS, story), "plan_changed")

    assert (changed.step, changed.expected, changed.found) == ("planned", "Gas", "Silicone oil, then Gas")


def test_planned_fact_changed() -> None:
    """A fact that holds a plan is a change of plan, a length put right is not."""
    story = "08:50:00 facts planned=gas axial_mm=24\n09:00:00 facts axial_mm=26"

    assert codes_in(case_of(PLANS, story)) == []
    changed = case_of(PLANS, f"{story}\n09:10:00 facts planned=oil")
    assert [(d.step, d.expected, d.found) for d in found_in(changed)] == [("planned", "Gas", "Silicone oil")]


def test_complication_named_or_not_yet() -> None:
    """A complication is a deviation from its stamp on, its name and words follow."""
    bare = only(case_of(PLANS, "09:00:00 complication"), "complication")
    named = only(case_of(PLANS, "09:00:00 complication\n09:01:00 detail 1 bleed small"), "complication")

    assert (bare.key, bare.found) == ("complication:1", "not yet named")
    assert (named.key, named.step, named.found) == (
        "complication:1",
        "bleed",
        "Bleeding from the edge: small",
    )
