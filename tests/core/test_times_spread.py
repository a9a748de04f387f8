"""Times that the program spread are told and not judged: no finding hangs on them."""

from __future__ import annotations

from small_procedures import CUT
from story import case_of, codes_in, events_of, found_in, protocol_of, steps_of
from tracker.core.case import Case
from tracker.core.deviations import unjudged
from tracker.core.entries import standing
from tracker.core.wording import SPREAD

CLOCK = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "iodine"
label = "Iodine"
shape = "span"
minutes = [3, 5]
[[stages.steps]]
id = "drape"
label = "Drape"
needs = [{ step = "iodine", until = "stop", level = "order", reason = "contact first" }]
[[stages.steps]]
id = "out"
label = "Out"
ends_case = true
[[clocks]]
id = "contact"
label = "Iodine contact"
start = [{ step = "iodine" }]
stop = [{ step = "drape" }]
min_s = 180
level = "safety"
""")
BURST = "09:00:00 start iodine\n09:04:44 stop iodine\n09:04:44 tick drape\n"
SPREAD_BURST = f"{BURST}09:05:00 spread 2 200\n09:05:00 spread 3 190\n"


def _unjudged(case: Case) -> list[tuple[str, str]]:
    return [(d.step, d.found) for d in unjudged(case, case.last_t) if not d.key.startswith("late:")]


def test_the_entry_carries_that_its_time_was_spread() -> None:
    """The spread entries say so, the others do not, and a struck spreading says nothing."""
    told = {e.seq: e.spread for e in standing(events_of(SPREAD_BURST))}
    struck = {e.seq: e.spread for e in standing(events_of(f"{SPREAD_BURST}09:06:00 strike 5\n"))}

    assert told == {1: False, 2: True, 3: True}
    assert struck == {1: False, 2: True, 3: False}


def test_a_clock_stopped_at_a_spread_time_is_not_judged() -> None:
    """4 min 44 s of contact spread to 1 min 34 s are no safety deviation; what is known is said."""
    story = f"{SPREAD_BURST}09:10:00 tick out"
    case = case_of(CLOCK, story)

    assert codes_in(case) == []
    assert ("contact", SPREAD) in _unjudged(case)


def test_the_same_clock_at_its_own_times_is_judged() -> None:
    """Back-stamped by a person, the same times are a deviation."""
    case = case_of(CLOCK, SPREAD_BURST.replace("spread", "back"))

    assert ("clock_under", "contact") in codes_in(case)
    assert unjudged(case, case.last_t) == ()


def test_the_length_of_a_span_is_not_judged() -> None:
    """Its end was spread: neither too short nor too long, and it is said."""
    case = case_of(CLOCK, f"{SPREAD_BURST}09:10:00 tick out")

    assert found_in(case, "under_time") == found_in(case, "over_time") == ()
    assert ("iodine", SPREAD) in _unjudged(case)


def test_an_entry_spread_is_not_called_late() -> None:
    """How late it was entered nobody knows."""
    case = case_of(CUT, "09:00:00 tick sign_in\n09:10:00 tick ports\n09:10:10 spread 2 300")

    assert codes_in(case) == []
    assert [(d.key, d.found) for d in unjudged(case, case.last_t)] == [("late:2", SPREAD)]


def test_an_order_of_spread_times_is_not_judged() -> None:
    """A need that came after by a spread time may have come before."""
    steps = steps_of("a", 'b needs = [{ step = "a", level = "safety", reason = "r" }]')
    case = case_of(steps, "09:00:00 tick a\n09:05:00 tick b\n09:05:10 spread 2 400")

    assert codes_in(case) == []
    assert ("b", SPREAD) in _unjudged(case)


def test_a_step_without_any_tick_is_missing_whoever_chose_the_times() -> None:
    """Where there is nothing to compare, the time of the other does not matter."""
    case = case_of(CUT, "09:10:00 tick ports\n09:10:10 spread 1 300")

    assert ("skipped", "sign_in") in codes_in(case)


def test_a_pair_closed_after_a_spread_check_is_not_judged() -> None:
    """The check was put before the way out: whether it was so, nobody knows."""
    file = protocol_of("""
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "liquid_in"
    label = "In"
    [[stages.steps]]
    id = "liquid_out"
    label = "Out"
    [[stages.steps]]
    id = "ports_out"
    label = "Ports out"
    [[pairs]]
    id = "liquid"
    label = "Heavy liquid"
    opens = [{ step = "liquid_in" }]
    closes = [{ step = "liquid_out" }]
    by = "ports_out"
    """)
    told = "09:00:00 tick liquid_in\n09:10:00 tick liquid_out\n09:20:00 tick ports_out\n"

    assert codes_in(case_of(file, f"{told}09:20:10 spread 3 900")) == []
    assert codes_in(
        case_of(file, told.replace("09:10:00 tick liquid_out\n", "") + "09:20:10 spread 2 900")
    ) == [("unmatched", "liquid")]


def test_figures_given_before_the_ticks_were_spread_are_not_late() -> None:
    """The ports were put before the figures of the count by the program: no safety deviation of that."""
    file = protocol_of("""
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
    id = "ports"
    label = "Ports in"
    needs = [{ step = "count_1", level = "safety", reason = "counted" }]
    """)
    story = "09:00:00 tick count_1\n09:05:00 count 1 swab=10\n09:06:00 tick ports\n09:06:10 spread 3 200"

    assert codes_in(case_of(file, story)) == []


def test_a_stop_held_at_a_spread_start_is_uncertain_too() -> None:
    """No span is negative: a stop held at a start that the program chose has that start's time."""
    [_, stop] = standing(events_of("09:00:00 start a\n09:01:00 stop a\n09:01:10 spread 1 -120"))

    assert stop.spread
