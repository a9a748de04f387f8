"""What the fold makes of decisions and facts, pairs, clocks and counts."""

from __future__ import annotations

import pytest

from story import case_of, protocol_of, steps_of
from tracker.core.case import Case, in_case, plan, standing_choice

# -- decisions, plans, facts

TAMPONADE = protocol_of("""
[[facts]]
id = "planned_tamponade"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Oil", key = "o" }]
[[facts]]
id = "lens"
label = "Lens"
kind = "choice"
default = "phakic"
choices = [{ id = "phakic", label = "Phakic", key = "p" }, { id = "aphakic", label = "Aphakic", key = "a" }]

[[stages]]
id = "exchange"
label = "Exchange"
[[stages.steps]]
id = "lens_out"
label = "Lens removed"
occurrence = "optional"
sets = [{ fact = "lens", to = "aphakic" }]
[[stages.steps]]
id = "tamp_decide"
label = "Tamponade decision"
shape = "decision"
plan_fact = "planned_tamponade"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Oil", key = "o" }]
[[stages.steps]]
id = "iridotomy"
label = "Inferior iridotomy"
when = { all = [{ fact = "lens", choice = ["aphakic"] }, { decision = "tamp_decide", choice = ["oil"] }] }
""")


def _choice(case: Case) -> str | None:
    return standing_choice(case, case.protocol.step["tamp_decide"])


def test_plan_stands_until_a_choice_is_stated() -> None:
    """A decision not ticked, or ticked without its choice, stands as planned."""
    assert _choice(case_of(TAMPONADE, "")) == "gas"
    assert _choice(case_of(TAMPONADE, "09:00:00 tick tamp_decide")) == "gas"
    assert _choice(case_of(TAMPONADE, "09:00:00 tick tamp_decide oil")) == "oil"


def test_choice_may_follow_its_tick() -> None:
    """A choice said after the tick is the choice of that tick; said again, the last one stands."""
    case = case_of(TAMPONADE, "09:00:00 tick tamp_decide\n09:00:04 choose 1 oil")
    put_right = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:00:04 choose 1 gas")

    assert case.state("tamp_decide").ticks[0].choice == "oil"
    assert _choice(put_right) == "gas"


def test_earlier_choice_stands_when_a_decision_is_ticked_bare() -> None:
    """A further tick without a choice leaves what was said before."""
    assert _choice(case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:30:00 tick tamp_decide")) == "oil"


def test_choice_against_the_plan_is_a_change_of_plan() -> None:
    """A choice other than the planned one is kept as a change, marked as planned before."""
    [change] = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil").changes

    assert (change.was, change.now, change.planned) == ("gas", "oil", True)


def test_second_thoughts_are_a_change_between_choices() -> None:
    """A decision ticked again with another choice is a change from what was said, not from the plan."""
    case = case_of(TAMPONADE, "09:00:00 tick tamp_decide gas\n09:30:00 tick tamp_decide oil")

    assert [(c.was, c.now, c.planned) for c in case.changes] == [("gas", "oil", False)]


def test_same_choice_again_is_no_change() -> None:
    """A decision confirmed is not a change."""
    assert case_of(TAMPONADE, "09:00:00 tick tamp_decide gas\n09:30:00 tick tamp_decide gas").changes == ()


def test_fact_changed_by_a_step_switches_another() -> None:
    """Removing the lens of an eye to be filled with oil brings the iridotomy into the case."""
    step = TAMPONADE.step["iridotomy"]
    before = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil")
    after = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:10:00 tick lens_out")
    unseen = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:10:00 not_logged lens_out")

    assert [in_case(case, step) for case in (before, after, unseen)] == [False, True, True]
    assert after.changes == before.changes


def test_condition_on_a_step_is_met_by_one_not_logged() -> None:
    """A step wanted once another was done is wanted too once that was done but not logged."""
    steps = steps_of("lens_out", 'capsule when = { all = [{ step = "lens_out", state = "ticked" }] }')

    assert not in_case(case_of(steps, ""), steps.step["capsule"])
    assert in_case(case_of(steps, "09:00:00 not_logged lens_out"), steps.step["capsule"])


def test_first_facts_are_asked_later_ones_change() -> None:
    """The first facts are what was asked; later ones are changes, and the plan follows them."""
    case = case_of(TAMPONADE, "09:00:00 facts lens=phakic\n09:30:00 facts planned_tamponade=oil lens=phakic")

    assert case.asked == {"planned_tamponade": "gas", "lens": "phakic"}
    assert [(c.what, c.was, c.now) for c in case.changes] == [("planned_tamponade", "gas", "oil")]
    assert plan(case, TAMPONADE.step["tamp_decide"]) == "oil"


# -- pairs

PORTS = protocol_of("""
[[readings]]
id = "ports_n"
label = "Ports in"
[[readings]]
id = "ports_out_n"
label = "Ports out"

[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "ports"
label = "Ports in"
[[stages.steps]]
id = "chandelier"
label = "Chandelier"
[[stages.steps]]
id = "ports_out"
label = "Ports out"
shape = "span"
[[stages.steps]]
id = "pfcl_in"
label = "Heavy liquid in"
occurrence = "repeat"
[[stages.steps]]
id = "pfcl_out"
label = "Heavy liquid out"
[[stages.steps]]
id = "sign_out"
label = "Sign-out"

[[pairs]]
id = "port_pair"
label = "Ports"
counted = true
opens = [{ step = "ports", amount_from = "ports_n" }, { step = "chandelier", amount = 1 }]
closes = [{ step = "ports_out", edge = "stop", amount_from = "ports_out_n" }]
by = "sign_out"
[[pairs]]
id = "pfcl"
label = "Heavy liquid"
opens = [{ step = "pfcl_in" }]
closes = [{ step = "pfcl_out" }]
by = "sign_out"
""")

FOUR_IN = """
09:00:00 tick ports
09:00:05 read ports_n=3 1
09:10:00 tick chandelier
10:00:00 start ports_out
10:05:00 stop ports_out
"""


def test_ports_and_chandelier_make_four() -> None:
    """Three ports and a chandelier's own are matched by four out, said when the span has ended."""
    ports = case_of(PORTS, f"{FOUR_IN}\n10:05:05 read ports_out_n=4 4").pairs["port_pair"]

    assert (ports.total(+1), ports.total(-1), ports.open) == (4, 4, False)


def test_number_said_while_the_span_runs_counts() -> None:
    """A number said before the span's stop is how many that stop moved."""
    story = """
    09:00:00 tick ports
    09:00:05 read ports_n=3 1
    10:00:00 start ports_out
    10:01:00 read ports_out_n=3 3
    10:05:00 stop ports_out
    """
    ports = case_of(PORTS, story).pairs["port_pair"]

    assert (ports.total(+1), ports.total(-1), ports.open) == (3, 3, False)


@pytest.mark.parametrize("out", [3, 5])
def test_numbers_that_differ_leave_a_pair_open(out: int) -> None:
    """Fewer or more out than in is not matched."""
    assert case_of(PORTS, f"{FOUR_IN}\n10:05:05 read ports_out_n={out} 4").pairs["port_pair"].open


def test_number_corrected_is_the_one_that_stands() -> None:
    """A second number for the same tick replaces the first."""
    story = f"{FOUR_IN}\n10:05:05 read ports_out_n=3 4\n10:06:00 read ports_out_n=4 4"
    case = case_of(PORTS, story)

    assert not case.pairs["port_pair"].open
    assert [v.value for v in case.readings] == [3, 4]


def test_way_out_without_a_number_takes_all() -> None:
    """Ports out without a number leaves none in."""
    ports = case_of(PORTS, FOUR_IN).pairs["port_pair"]

    assert not ports.open
    assert ports.total(-1) is None


def test_number_never_said_cannot_differ() -> None:
    """Where the number in was never said, a number out closes the pair."""
    story = """
    09:00:00 tick ports
    10:00:00 start ports_out
    10:05:00 stop ports_out
    10:05:05 read ports_out_n=3 2
    """
    ports = case_of(PORTS, story).pairs["port_pair"]

    assert not ports.open
    assert ports.total(+1) is None


def test_number_that_is_none_moves_nothing() -> None:
    """A number that is no number leaves the amount unknown."""
    case = case_of(PORTS, '09:00:00 tick ports\n09:00:05 read ports_n=NaN 1\n09:00:06 read ports_n="three" 1')

    assert case.pairs["port_pair"].total(+1) is None


def test_number_is_that_of_its_own_tick() -> None:
    """Where one reading numbers several ticks, each number is that of the tick it was said for."""
    story = "09:00:00 tick ports\n09:01:00 tick ports\n09:01:05 read ports_n=3 1\n09:01:10 read ports_n=2 2"

    assert [m.amount for m in case_of(PORTS, story).pairs["port_pair"].movements] == [3, 2]


def test_heavy_liquid_topped_up_is_in_once() -> None:
    """Something without a number is in or out: in twice is out by once."""
    story = "09:00:00 tick pfcl_in\n09:10:00 tick pfcl_in"

    assert case_of(PORTS, story).pairs["pfcl"].open
    assert not case_of(PORTS, f"{story}\n09:20:00 tick pfcl_out").pairs["pfcl"].open
    assert case_of(PORTS, f"{story}\n09:20:00 tick pfcl_out\n09:30:00 tick pfcl_in").pairs["pfcl"].open


def test_out_without_in_moves_nothing() -> None:
    """Something without a number that was never in cannot come out."""
    pfcl = case_of(PORTS, "09:20:00 tick pfcl_out").pairs["pfcl"]

    assert not pfcl.ever_open
    assert pfcl.movements == ()


def test_not_logged_moves_what_it_stands_for() -> None:
    """Heavy liquid in, not logged, is in the eye; out, not logged, is out, nobody knows since when."""
    inside = case_of(PORTS, "09:00:00 not_logged pfcl_in").pairs["pfcl"]
    out = case_of(PORTS, "09:00:00 tick pfcl_in\n09:30:00 not_logged pfcl_out").pairs["pfcl"]

    assert inside.open
    assert not out.open
    assert out.movements[-1].unsure


# -- clocks

DYE = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "dye_in"
label = "Dye in"
shape = "decision"
occurrence = "repeat"
choices = [{ id = "blue", label = "Blue", key = "b" }, { id = "green", label = "Green", key = "g" }]
[[stages.steps]]
id = "dye_out"
label = "Dye out"
occurrence = "repeat"

[[readings]]
id = "infusion_mmhg"
label = "Infusion pressure"
unit = "mmHg"

[[complications]]
id = "bleed"
label = "Bleeding"

[[clocks]]
id = "blue"
label = "Blue"
start = [{ step = "dye_in", choice = ["blue"] }]
stop = [{ step = "dye_out" }]
amber_s = 60
[[clocks]]
id = "raised"
label = "Raised pressure"
start = [{ reading = "infusion_mmhg", above = 40 }]
stop = [{ reading = "infusion_mmhg", at_most = 30 }]
amber_s = 120
[[clocks]]
id = "bleeding"
label = "Bleeding"
start = [{ complication = "bleed" }]
stop = [{ event = "operator" }]
amber_s = 300
""")


def _runs(case: Case, clock: str, now_t: float = 0.0) -> list[float]:
    return [run.seconds(now_t) for run in case.clocks if run.clock == clock]


def test_clock_waits_for_its_choice() -> None:
    """A clock of one dye does not run for another."""
    assert _runs(case_of(DYE, "09:00:00 tick dye_in green"), "blue") == []
    assert _runs(case_of(DYE, "09:00:00 tick dye_in blue\n09:01:10 tick dye_out"), "blue") == [70.0]


def test_clock_runs_from_the_first_start() -> None:
    """A start while the clock runs does not set it back; after a stop it runs anew."""
    story = """
    09:00:00 tick dye_in blue
    09:00:30 tick dye_in blue
    09:01:00 tick dye_out
    09:02:00 tick dye_in blue
    09:02:40 tick dye_out
    """

    assert _runs(case_of(DYE, story), "blue") == [60.0, 40.0]


def test_clock_moves_with_a_reading() -> None:
    """A clock started above 40 runs until a reading of at most 30; both edges as the file writes them."""
    story = """
    09:00:00 read infusion_mmhg=40
    09:01:00 read infusion_mmhg=41
    09:02:00 read infusion_mmhg=60
    09:03:00 read infusion_mmhg=31
    09:04:00 read infusion_mmhg=30
    """

    assert _runs(case_of(DYE, story), "raised") == [180.0]


def test_clock_starts_when_a_complication_is_named() -> None:
    """A complication stamped first and named later starts its clock when named, and only once."""
    story = """
    09:00:00 complication
    09:01:00 detail 1 bleed from the edge
    09:02:00 detail 1 bleed from a vessel
    09:04:00 operator consultant
    """

    assert _runs(case_of(DYE, story), "bleeding") == [180.0]
    assert _runs(case_of(DYE, f"{story}\n09:05:00 detail 1 bleed all told"), "bleeding") == [180.0]


def test_running_clock_counts_to_now() -> None:
    """A clock without a stop has run up to now, never less than nought."""
    case = case_of(DYE, "09:00:00 tick dye_out\n09:01:00 tick dye_in blue")

    assert _runs(case, "blue", now_t=90.0) == [30.0]
    assert _runs(case, "blue", now_t=0.0) == [0.0]


def test_clock_stopped_by_something_not_logged_is_unsure() -> None:
    """Dye out, not logged, stops the clock, but how long it ran is not known."""
    case = case_of(DYE, "09:00:00 tick dye_in blue\n09:30:00 not_logged dye_out")

    assert [run.unsure for run in case.clocks] == [True]


# -- counts

SWABS = protocol_of("""
[[counted]]
id = "swab"
label = "Swabs"
[[counted]]
id = "hook"
label = "Hooks"

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
[[anytime]]
id = "count_check"
label = "Count at hand-over"
shape = "count"
count = "check"
occurrence = "repeat"
""")


def test_count_arithmetic() -> None:
    """A line should end at start + added - removed: 10 + 5 - 2 = 13."""
    story = """
    09:00:00 tick count_1
    09:01:00 count 1 swab=10
    09:30:00 swab +5
    09:40:00 swab -2
    """
    line = case_of(SWABS, story).counts["swab"]

    assert (line.start, line.added, line.removed, line.expected, line.final) == (10, 5, 2, 13, None)


def test_item_opened_before_the_first_count_is_in_its_number() -> None:
    """What was opened before the first count is not added to it again."""
    case = case_of(SWABS, "08:50:00 swab +5\n09:00:00 tick count_1\n09:01:00 count 2 swab=15")

    assert case.counts["swab"].expected == 15


def test_first_count_restated_keeps_what_came_since() -> None:
    """A first count put right afterwards changes the start and nothing else."""
    story = "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n09:30:00 swab +5\n09:31:00 count 1 swab=11"

    assert case_of(SWABS, story).counts["swab"].expected == 16


def test_number_said_lapses_when_an_item_is_added() -> None:
    """A number said at a check is not held against what is opened later."""
    story = """
    09:00:00 tick count_1
    09:01:00 count 1 swab=10
    10:00:00 tick count_check
    10:01:00 count 3 swab=10
    10:30:00 swab +5
    """
    line = case_of(SWABS, story).counts["swab"]

    assert line.final is None
    assert line.differences == ()
    assert line.expected == 15


def test_line_opened_after_the_first_count_is_expected_too() -> None:
    """Items of a line that the first count did not have are expected back."""
    case = case_of(SWABS, "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n09:30:00 hook +4")

    assert case.counts["hook"].expected == 4


def test_line_never_counted_expects_nothing() -> None:
    """A line of which nothing was said expects no number, and any number is taken."""
    case = case_of(SWABS, "10:00:00 tick count_2\n10:01:00 count 1 swab=9")

    assert case.counts["hook"].expected is None
    assert (case.counts["swab"].final, case.counts["swab"].differences) == (9, ())
