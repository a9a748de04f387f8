"""Slips of a hand: figures that nobody asked for, keys twice at once or held down, values left, entries far back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desks import desk_of, how, panel, press, shipped, told
from hard_eye import CUTTING, FACTS, OPENING, PEELING, eye_after, stage_shown
from tracker.core.durations import step_seconds
from tracker.screen.touch import ONE_PRESS_MS
from tracker.theatre.acts.screen import open_rows
from tracker.theatre.desk import Desk


def _entered(desk: Desk, script: str) -> list[str]:
    """What keys enter, in short, without the numbers that it points at."""
    before = len(told(desk))
    press(desk, script)
    return [word.partition(" @")[0] for word in told(desk)[before:]]


def _rows(desk: Desk) -> list[str]:
    assert desk.panel is not None
    return [f"{row.key} {row.text}".strip() for row in desk.panel.rows()]


# -- figures


@pytest.mark.parametrize("figure", [*"0123456789", ".", "-"])
@pytest.mark.parametrize("parts", [(), (OPENING,), (OPENING, PEELING, CUTTING)], ids=["new", "lens", "cut"])
def test_a_bare_figure_never_writes(figure: str, parts: tuple[str, ...]) -> None:
    """In any stage a figure with nothing open is only shown, and Enter and Esc drop it."""
    for end in ("enter", "escape"):
        desk = eye_after(*parts)
        assert _entered(desk, f"{figure} +1 {figure} {end} enter") == []
        assert panel(desk) == ""


def test_a_pressure_that_nobody_asked_for_writes_nothing() -> None:
    """Neither "not needed" without a reason, nor a step of the lens, nor an item opened: `2 5 0 Enter` is dropped."""
    desk = eye_after(OPENING)

    assert _entered(desk, "2 5 0") == []
    assert (panel(desk), _rows(desk)[0]) == ("Figures that nothing asked for", "250_")

    assert _entered(desk, "enter") == []
    assert (panel(desk), desk.hint) == ("", "not kept: 250")
    assert (how(desk, "lens_none"), stage_shown(desk)) == ("ticked", "media")


def test_figures_are_taken_along_to_a_reading() -> None:
    """The key for readings asks which it is; Enter keeps it there, and nothing was kept before."""
    desk = eye_after(OPENING, more="I escape")

    assert _entered(desk, "2 5 <reading>") == []
    assert panel(desk).startswith("Infusion pressure: Infusion pressure")
    assert _rows(desk)[0] == "25_ mmHg"

    assert _entered(desk, "enter") == ["reading infusion_mmhg 25"]


def test_figures_left_by_a_step_s_key_are_said() -> None:
    """The step is ticked, and what was typed before it is named as not kept."""
    desk = eye_after(OPENING)

    assert _entered(desk, "2 5 v") == ["start core_vit"]
    assert desk.hint.startswith("not kept: 25")


def test_backspace_over_figures_corrects_them_and_strikes_nothing() -> None:
    """One backspace too many is still no strike."""
    desk = eye_after(OPENING)

    assert _entered(desk, "2 5 backspace backspace backspace") == []
    assert panel(desk) == "Figures that nothing asked for"


# -- values that were left


def test_an_implausible_value_left_at_its_question_is_found_again() -> None:
    """The next step's key ticks the step, and the value waits: it is open, and the key for readings has it."""
    desk = eye_after(OPENING, more="I 4 0 5 enter")
    assert "outside 0 to 120 mmHg: Enter again keeps it, Backspace corrects" in _rows(desk)[-1]

    assert _entered(desk, "v") == ["start core_vit"]
    assert any("405" in row.text for row in open_rows(desk))

    press(desk, "+60 v <reading>")
    while not panel(desk).startswith("Infusion pressure: Infusion pressure"):
        press(desk, "+0 right")
    assert _rows(desk)[0] == "405_ mmHg"
    assert _entered(desk, "backspace backspace enter") == ["reading infusion_mmhg 4"]


def test_enter_twice_at_once_keeps_no_implausible_value() -> None:
    """To keep it asks for Enter again; the same touch twice is not again."""
    desk = eye_after(OPENING, more="I 4 0 5 enter +0.1")

    assert _entered(desk, "enter") == []
    assert _entered(desk, f"+{ONE_PRESS_MS / 1000} enter") == ["reading infusion_mmhg 405"]


def test_a_count_left_half_said_keeps_what_was_typed() -> None:
    """A step's letter over the count ticks the step, and the count key shows the lines as they were."""
    desk = desk_of(shipped(), "m s a x b +60 b i +200 i d t c 1 0 enter 4", facts=FACTS)

    press(desk, "+5 M escape <count>")

    first, second, third = (row.partition(": ")[2].split()[:1] for row in _rows(desk)[:3])
    assert (first, second, third) == (["10_"], ["4"], [])


# -- keys twice at once


@pytest.mark.parametrize(
    ("keys", "entered"),
    [
        ("v", ["start core_vit"]),
        ("I", ["tick infusion_read"]),
        ("space", ["start core_vit"]),
        ("<onward>", ["start core_vit"]),
        ("<bookmark>", ["bookmark"]),
        ("<complication>", ["complication"]),
        ("<pause>", []),
        ("<close_stage>", []),
        ("r", []),
    ],
)
@pytest.mark.parametrize("gap", [0, 0.05, 0.3, 0.49])
def test_a_key_twice_at_once_is_one_press(keys: str, entered: list[str], gap: float) -> None:
    """A shaking hand or a worn key starts no span and stops it, ticks nothing twice and confirms nothing."""
    desk = eye_after(OPENING)

    assert _entered(desk, f"{keys} +{gap} {keys}") == entered
    assert desk.hint.endswith("twice at once is one press")


def test_an_answer_twice_at_once_answers_one_question() -> None:
    """The second `y` does not acknowledge what the first one opened."""
    desk = eye_after(OPENING)

    assert _entered(desk, "<hand_over> a y +0.2 y") == ["handover circulating relief_circulating True"]


def test_a_figure_twice_at_once_is_asked_about_before_it_is_kept() -> None:
    """Fifty-five or five: the figure is said back once, and Enter again keeps it."""
    desk = eye_after(OPENING, more="I 5 +0.1 5 enter")
    assert "55: a figure came twice at once. Enter again keeps it, Backspace corrects" in _rows(desk)[-1]

    assert _entered(desk, "backspace enter") == ["reading infusion_mmhg 5"]


def test_what_goes_on_by_one_more_may_come_twice() -> None:
    """Two minutes back are two quick presses, and so are two entries struck, two steps down, two stages on."""
    desk = eye_after(OPENING)

    assert _entered(desk, "<back_stamp> +0.2 <back_stamp>") == ["back_stamp 60.0", "back_stamp 60.0"]
    assert _entered(desk, "backspace +0.2 backspace") == ["strike", "strike"]
    before = desk.stage
    press(desk, "right +0.05 right")
    assert desk.stage == before + 2


@pytest.mark.parametrize(
    ("key", "most"),
    [
        *(("v", 1), ("space", 1), ("I", 1), ("<complication>", 1), ("<bookmark>", 1)),
        *(("5", 0), ("enter", 0), ("r", 0), ("<close_stage>", 0), ("<pause>", 0)),
        *(("backspace", 2), ("<back_stamp>", 2)),
    ],
)
@pytest.mark.parametrize("delay", [0.25, 0.4])
def test_a_key_held_down_is_one_press(key: str, most: int, delay: float) -> None:
    """As a keyboard repeats it, after a while thirty times a second, for five seconds."""
    desk = eye_after(OPENING)

    held = " ".join([f"{key} +{delay}", *[f"{key} +0.033"] * 150])

    assert len(_entered(desk, held)) <= most


# -- entries further back


def test_an_entry_six_places_back_is_struck_alone() -> None:
    """It is picked from the last twenty, and nothing that was entered since is touched."""
    desk = eye_after(OPENING, PEELING, CUTTING, more="+60 <entries>")
    picked = next(row for row in _rows(desk) if "Retina cut stopped" in row)
    assert _rows(desk).index(picked) == 5
    before = {e.seq for e in desk.case.log}

    assert _entered(desk, f"{picked[0]} s") == ["strike"]

    ref = desk.case.events[-1].ref
    assert before - {e.seq for e in desk.case.log} == {ref}
    assert how(desk, "rx_cut") == "running"
    assert panel(desk) == ""


def test_an_entry_is_moved_to_a_step_of_its_own_stage_before_all_others() -> None:
    """Those of the stage come first, then its neighbours', the steps of any time at last."""
    desk = eye_after(OPENING, PEELING, CUTTING, more="<entries>")
    picked = next(row for row in _rows(desk) if "Haemostasis at the edge started" in row)

    press(desk, f"{picked[0]} m")
    protocol = desk.protocol
    labels = {s.label: s.id for s in protocol.all_steps()}
    stages = [protocol.stage_of.get(labels[row.partition(" ")[2]], "any time") for row in _rows(desk)]
    own = [stage for stage in stages if stage == "retinectomy"]
    assert stages[: len(own)] == own != []
    assert stages[-1] == "any time"

    seconds = step_seconds(desk.case, protocol.step["haemostasis"], 0)
    assert _entered(desk, "k") == ["move ant_trim"]
    assert how(desk, "haemostasis") == "due"
    assert seconds == 60
    assert len(desk.case.state("ant_trim").ticks) == 2


def test_an_entry_is_put_earlier_by_minutes() -> None:
    """Picked and told how many minutes before it was; what came after it stays where it is."""
    desk = eye_after(OPENING, PEELING, CUTTING, more="+600 <entries>")
    picked = next(row for row in _rows(desk) if "Edge flat" in row)
    others = {e.seq: e.at for e in desk.case.log}

    assert _entered(desk, f"{picked[0]} e 4 enter") == ["back_stamp 240.0"]

    ref = desk.case.events[-1].ref
    moved = {e.seq: e.at - others[e.seq] for e in desk.case.log if e.at != others.get(e.seq)}
    assert moved == {ref: timedelta(minutes=-4)}


def test_an_entry_struck_is_not_among_those_to_be_picked() -> None:
    """What was struck stays legible in the record, and is not offered again."""
    desk = eye_after(OPENING, more="backspace <entries>")

    assert not any("No lens to remove" in row for row in _rows(desk))
    assert any("Old oil out stopped" in row for row in _rows(desk))
    assert len(_rows(eye_after(OPENING, PEELING, more="<entries>"))) == 20
