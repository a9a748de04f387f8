"""How far a log can be trusted: the figures of one case."""

from __future__ import annotations

from story import case_of, protocol_of
from tracker.core.completeness import Part, amendments, back_stamped, completeness, is_told
from tracker.core.events import Opened, Resumed

PROTOCOL = protocol_of(
    """
    [[readings]]
    id = "pressure"
    label = "Pressure"
    [[stages]]
    id = "work"
    label = "Work"
    [[stages.steps]]
    id = "brief"
    label = "Brief"
    occurrence = "optional"
    [[stages.steps]]
    id = "core"
    label = "Core"
    shape = "span"
    readings = [{ id = "pressure", required = true }]
    [[stages.steps]]
    id = "gas"
    label = "Gas"
    occurrence = "one_of"
    group = "fill"
    [[stages.steps]]
    id = "oil"
    label = "Oil"
    occurrence = "one_of"
    group = "fill"
    """
)


def figures(story: str):
    """The figures of a told case."""
    return completeness(case_of(PROTOCOL, story))


def test_an_optional_step_is_not_required_and_alternatives_count_once():
    """Two required: core, and one of gas and oil; core is done and the group is not."""
    told = figures("09:00:00 open\n 09:01:00 start core\n 09:05:00 stop core")

    assert told.required_steps == Part(1, 2)


def test_what_was_decided_against_is_done():
    """Not needed satisfies what the file asks for; not logged does not."""
    told = figures("09:00:00 open\n 09:01:00 not_needed core\n 09:02:00 not_logged gas")

    assert (told.required_steps, told.not_logged) == (Part(1, 2), 1)


def test_spans_and_readings_are_counted_over_what_was_begun():
    """One of two spans has both ends; one of two readings asked for is there."""
    first = "09:00:00 open\n 09:01:00 start core\n 09:02:00 read pressure=20 2"
    told = figures(f"{first}\n 09:03:00 start core\n 09:05:00 stop core")

    assert (told.spans_with_both_ends, told.required_readings) == (Part(1, 2), Part(1, 2))


def test_lateness_is_asked_of_all_entries_but_the_frame():
    """Over 60 s is late, over 20 min of low confidence (J Med Syst 2026, PMC12883500), any a back-stamp."""
    told = figures(
        "09:00:00 open\n 09:01:00 +60 tick gas\n 09:02:00 +61 tick brief\n 09:03:00 +1201 note late"
    )

    assert (told.late, told.low_confidence, told.back_stamped) == (Part(2, 3), Part(1, 3), Part(3, 3))
    assert (back_stamped(0.0004), back_stamped(-1)) == (False, True)
    kinds = {type(e) for e in case_of(PROTOCOL, "09:00:00 open\n 09:01:00 resume").events if not is_told(e)}
    assert kinds == {Opened, Resumed}


def test_amendments_are_strikes_moves_back_stamps_and_second_words():
    """A first choice amends nothing, a second does; one that points at nothing is unknown instead."""
    case = case_of(
        PROTOCOL,
        """
        09:00:00 open
        09:01:00 tick gas
        09:02:00 move 2 oil
        09:03:00 back 2 30
        09:04:00 start core
        09:05:00 read pressure=20 5
        09:06:00 read pressure=21 5
        09:07:00 strike 2
        09:08:00 strike 99
        """,
    )

    assert (amendments(case), completeness(case).unknown) == (4, 1)


def test_a_second_word_for_one_that_was_struck_is_a_first_word():
    """Nothing stands that it would replace."""
    first = "09:00:00 open\n 09:01:00 start core\n 09:02:00 read pressure=20 2\n 09:03:00 strike 3"

    assert amendments(case_of(PROTOCOL, f"{first}\n 09:04:00 read pressure=21 2")) == 1


def test_gaps_are_counted_with_their_seconds():
    """The journal was not open for four minutes."""
    told = figures("09:00:00 open\n 09:01:00 tick gas\n 09:05:00 resume")

    assert (told.gaps, told.gap_s) == (1, 240)
