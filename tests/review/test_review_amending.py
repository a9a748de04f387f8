"""Amending and adding at the review, as a surgeon does: the keys, what is said, what the screen then tells."""

from __future__ import annotations

from debriefs import archive_of, desk_of, log_bytes, press, screen, told
from tracker.review.plain_text import review_text
from tracker.review.screen.desk import ReviewDesk

OPEN = """
09:00:00 opened
09:00:10 tick step=in_theatre
09:06:00 start step=core
09:20:00 start step=laser
09:25:00 stop step=laser ref=4
09:25:10 reading reading=rows value=1 ref=4
09:26:00 reading reading=pressure value=30
09:30:00 tick step=tamponade choice=oil
09:40:00 tick step=out_theatre
"""
"""A core vitrectomy that nobody stopped, one laser with its rows, a pressure on its own."""


def at(step: str, keys: str = "", text: str = OPEN) -> ReviewDesk:
    """A desk with the cursor on a step, after `keys` that leave the log as it was."""
    archive = archive_of(text)
    desk, before = desk_of(archive=archive), log_bytes(archive)
    [(row, place)] = [
        (r, i)
        for r, lane in enumerate(desk.drawn.rows)
        for i, item in enumerate(lane.items)
        if lane.kind == "stage" and item.ident == step
    ]
    desk.go(row, place)
    press(desk, keys)
    assert log_bytes(archive) == before
    return desk


def test_a_span_that_nobody_stopped_gets_its_stop() -> None:
    """`a` offers it, asks when, and the bar then ends there; both are told."""
    desk = at("core", 'a e enter "9:14" enter f enter')

    assert told(desk) == ["amended 3 2026-10-24T09:14:00.000+01:00 forced"]
    text = screen(desk, 120, 40)
    assert "09:06:00 to 09:14:00, 8 min Core vitrectomy" in text
    assert "entry 3; start; Core vitrectomy; 09:06:00" in text
    assert "amended at the debrief, 2026-10-26: stopped at 09:14:00; finding forced it" in text


def test_a_stop_before_its_start_is_asked_again() -> None:
    """The words say so, and nothing is said at the debrief."""
    desk = at("core", 'a e enter "9:05" enter')

    assert desk.panel is not None
    assert desk.panel.rows()[-1].text == "it began later than that"
    assert told(desk) == []


def test_a_reading_gets_another_value_and_its_original_stays_on_the_screen() -> None:
    """The readings of the tick come first; the log's own entry is told, and what it became."""
    desk = at("laser", "a r enter a enter 3 enter f enter")

    assert told(desk) == ["amended 6 3 forced"]
    text = screen(desk, 120, 40)
    assert "Laser rows 3" in text
    assert "entry 6; reading; Laser rows 1; 09:25:10" in text
    assert "amended at the debrief, 2026-10-26: 3; finding forced it" in text


def test_a_reading_of_no_tick_is_reached_from_any_tick() -> None:
    """The one nearest in time comes next."""
    assert told(at("laser", "a r enter b enter 2 5 enter f enter")) == ["amended 7 25 forced"]


def test_a_decision_gets_another_choice() -> None:
    """By the choice's own key."""
    desk = at("tamponade", "a c enter g enter f enter")

    assert told(desk) == ["amended 8 gas forced"]
    assert desk.case.state("tamponade").choice == "gas"


def test_a_missed_span_is_added() -> None:
    """Stage, step, from, to, why: the bar is there, and the screen tells that nothing was logged."""
    desk = at("laser", 'A s enter b enter b enter "9:15" enter "9:18" enter f enter')

    assert told(desk) == [
        "added step 2026-10-24T09:15:00.000+01:00 2026-10-24T09:18:00.000+01:00 membranes forced"
    ]
    press(desk, "left")
    text = screen(desk, 120, 40)
    assert "09:15:00 to 09:18:00, 3 min Membrane peel" in text
    assert (
        "nothing was logged; added at the debrief, 2026-10-26: Membrane peel; at 09:15:00; to 09:18:00"
        in text
    )


def test_a_missed_decision_asks_for_its_choice_and_an_end_not_known_is_left_open() -> None:
    """A decision has no end to ask for; a span may be left without one."""
    assert told(at("laser", 'A s enter c enter a enter g enter "9:31" enter f enter')) == [
        "added step 2026-10-24T09:31:00.000+01:00 tamponade gas forced"
    ]
    assert told(at("laser", 'A s enter b enter b enter "9:15" enter "-" enter f enter')) == [
        "added step 2026-10-24T09:15:00.000+01:00 membranes forced"
    ]


def test_missed_readings_complications_operators_and_moments_are_added() -> None:
    """Each by its key, a moment of the recording with its words."""
    assert told(at("laser", 'A r enter b enter 4 enter "9:26:30" enter f enter')) == [
        "added reading 2026-10-24T09:26:30.000+01:00 rows 4 forced"
    ]
    assert told(at("laser", 'A c enter a enter "9:22" enter "9:23" enter f enter')) == [
        "added complication 2026-10-24T09:22:00.000+01:00 2026-10-24T09:23:00.000+01:00 bleed forced"
    ]
    assert told(at("laser", 'A o enter b enter "9:22" enter f enter')) == [
        "added operator 2026-10-24T09:22:00.000+01:00 fellow forced"
    ]
    assert told(at("laser", 'A b enter "edge folds" enter "9:22" enter f enter')) == [
        "added bookmark 2026-10-24T09:22:00.000+01:00 edge folds forced"
    ]


def test_a_missed_thing_is_told_between_what_was_and_the_debrief() -> None:
    """An end before the beginning is asked again, in words."""
    desk = at("laser", 'A s enter b enter b enter "9:15" enter "9:10" enter')

    assert desk.panel is not None
    assert desk.panel.rows()[-1].text == "the end is before the beginning"


def test_what_was_added_is_taken_back_not_amended() -> None:
    """`a` on it says how."""
    desk = at("laser", 'A s enter b enter b enter "9:15" enter "9:18" enter f enter left a')

    assert desk.hint == "entry 2 of the debrief said this: Backspace takes it back, A adds another"
    press(desk, "backspace y enter")
    assert not desk.case.state("membranes").ticks


def test_additions_ask_why_after_the_sign_off() -> None:
    """As every change does."""
    desk = at("laser", 's a enter y enter A b enter "edge" enter "9:22" enter f enter')

    assert desk.panel is not None
    assert "sign" in desk.panel.title
    press(desk, '"seen on the film" enter')
    assert desk.debrief.state == "changed since the sign-off"


def test_the_text_without_a_terminal_tells_additions() -> None:
    """One line each, after the amendments' own."""
    desk = at("laser", 'A b enter "edge" enter "9:22" enter f enter')

    assert "added: bookmark; edge; at 09:22:00; finding forced it" in review_text(desk.review, 100)
