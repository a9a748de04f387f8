"""Hand-overs: not acknowledged, and counts not confirmed at them."""

from __future__ import annotations

from small_procedures import CUT
from story import case_of, codes_in, found_in, only, protocol_of

HANDED = "09:30:00 handover relief counted\n"


def test_not_acknowledged_by_the_end_is_a_deviation_of_order() -> None:
    """Nobody said that what is open was read: told at the end of the case, not before."""
    found = only(case_of(CUT, f"{HANDED}10:00:00 tick out"), "handover_unacknowledged")

    assert (found.key, found.level) == ("handover_unacknowledged:1", "order")
    assert (found.step, found.seq) == ("hand-over", 2)
    assert found.expected == "what is open read after the hand-over at 09:30:00"
    assert codes_in(case_of(CUT, HANDED)) == []


def test_not_acknowledged_by_the_next_hand_over() -> None:
    """The next hand-over is when it was due; acknowledged afterwards it still stands, with the time."""
    story = f"{HANDED}09:50:00 handover runner counted\n09:51:00 accept 2\n"

    assert only(case_of(CUT, story), "handover_unacknowledged").seq == 2
    late = only(case_of(CUT, f"{story}09:55:00 accept 1"), "handover_unacknowledged")
    assert late.found == "acknowledged at 09:55:00"


def test_a_hand_over_after_the_end_does_not_put_off_when_the_one_before_was_due() -> None:
    """It was due by the end of the case, and that stays so."""
    story = f"{HANDED}10:00:00 tick out\n10:05:00 handover runner counted"

    assert [d.seq for d in found_in(case_of(CUT, story), "handover_unacknowledged")] == [2]


def test_acknowledged_in_time_is_no_deviation() -> None:
    """Acknowledged before the end of the case."""
    case = case_of(CUT, f"{HANDED}09:31:00 accept 1\n10:00:00 tick out")

    assert found_in(case, "handover_unacknowledged") == ()


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
occurrence = "optional"
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
""")
FIRST = "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n"
UNCONFIRMED = f"{FIRST}09:30:00 handover relief uncounted\n09:31:00 accept 3\n"


def test_counts_not_confirmed_and_none_said_since_is_of_safety() -> None:
    """Counts left open at a hand-over, and none said by the end of the case."""
    found = only(case_of(COUNTS, f"{UNCONFIRMED}10:00:00 tick out"), "handover_unconfirmed")

    assert (found.key, found.level, found.seq) == ("handover_unconfirmed:3", "safety", 5)
    assert found.expected == "a count said after the hand-over at 09:30:00"
    assert found.found == "counts not confirmed"


def test_a_count_said_since_confirms_them() -> None:
    """A closing count, or a later hand-over with the counts confirmed."""
    said = "09:40:00 tick count_2\n09:41:00 count 5 swab=10\n10:00:00 tick out"
    handed = "09:50:00 handover runner counted\n09:51:00 accept 5\n10:00:00 tick out"

    for story in (said, handed):
        assert found_in(case_of(COUNTS, UNCONFIRMED + story), "handover_unconfirmed") == ()


def test_a_tick_without_figures_confirms_nothing() -> None:
    """A count that was only ticked since the hand-over does not confirm the counts."""
    case = case_of(COUNTS, f"{UNCONFIRMED}09:40:00 tick count_2\n10:00:00 tick out")

    assert {d.code for d in found_in(case)} == {"handover_unconfirmed", "count_unsaid"}
