"""What a case costs in keys: one for a point, two for a span, and the next span for nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from desks import desk_of, press, shipped
from tracker.core import events as ev
from tracker.theatre.desk import Desk
from tracker.theatre.forms import CountSheet

IN_ORDER = """
team_brief sign_in
patient_in side_check block iodine drape time_out count_1
ports cannula_check infusion_on chandelier
oil_out pupil lens_none
core_vit hyaloid base_shave break_search
dye_in:brilliant_blue dye_out peel_post ilm_peel peel_ant specimen pfcl_in mobility:stiff
sr_band rx_decide:inferior_180 dia_line rx_cut ant_trim haemostasis edge_check
pfcl_fill laser_safe laser_edge laser_360
cannula_recheck fax pfcl_out pfcl_rinse tamp_decide:c3f8
n2o_off gas_check gas_in
hooks_out chandelier_out ports_out pressure_check drugs_end laser_off count_2 drape_off
sign_out orders gas_band out_theatre debrief
"""
"""The shipped file in its order: a block, old oil, an implant, a cut, gas. `:x` is the choice stated,
by its id."""

FACTS = {
    "anaesthetic": "block", "lens": "pseudophakic", "tamponade_in_situ": "oil_1000",
    "planned_tamponade": "c3f8", "planned_retinectomy": "inferior_180",
}  # fmt: skip


@dataclass
class Counted:
    """Keys for ticks, stage changes among them, for choices and readings asked beside, for the lines of counts."""

    ticks: int = 0
    beside: int = 0
    counts: int = 0


def _to_stage(desk: Desk, step: str) -> int:
    """Show a step's stage by the shorter way unless the step is on the screen; how many keys that took."""
    if step not in desk.protocol.stage_of or step in desk.on_screen().steps:
        return 0
    on = (desk.stage_of(step) - desk.stage) % len(desk.protocol.stages)
    back = len(desk.protocol.stages) - on
    press(desk, "right " * on if on <= back else "left " * back)
    return min(on, back)


def _start(desk: Desk, step: str) -> int:
    """Tick a step by its own key, once more where that is asked for; how many keys that took."""
    moved, before = _to_stage(desk, step), len(desk.case.events)
    key = desk.protocol.step[step].key or "space"
    press(desk, key)
    if len(desk.case.events) > before:
        return moved + 1
    press(desk, key)
    return moved + 2


def _beside(desk: Desk, step: str, choice: str) -> int:
    """State the choice and enter the required readings; how many keys that took."""
    keys = [c.key for c in desk.protocol.step[step].choices if c.id == choice]
    press(desk, " ".join(keys))
    required = [desk.protocol.reading[w.id] for w in desk.protocol.step[step].readings if w.required]
    answers = [
        f"<reading> {r.choices[0].key}"
        if r.choices
        else "<reading> y"
        if r.kind == "flag"
        else "<reading> 3 enter"
        for r in required
    ]
    press(desk, " ".join(answers))
    return len(keys) + sum(len(answer.split()) for answer in answers)


def _count(desk: Desk) -> int:
    """Say a count, two of each line; how many keys that took."""
    keys = "2 enter " * len(desk.protocol.counted)
    press(desk, keys)
    return len(keys.split())


def _log(desk: Desk, script: str) -> Counted:
    """Log the steps of a script, a minute and a half each; a span is stopped before the next step."""
    keys = Counted()
    words = [word.partition(":") for word in script.split()]
    for (step, _, choice), (after, _, _) in zip(words, [*words[1:], words[0]], strict=True):
        keys.ticks += 0 if desk.session.running(step) else _start(desk, step)
        keys.beside += _beside(desk, step, choice)
        keys.counts += _count(desk) if isinstance(desk.panel, CountSheet) else 0
        press(desk, "+90")
        if desk.session.running(step):
            if desk.panel is not None:
                press(desk, "escape")
                keys.beside += 1
            press(desk, "<onward>" if desk.protocol.step[after].shape == "span" else "space")
            keys.ticks += 1
    return keys


def test_sixty_steps_cost_at_most_thirteen_keys_in_ten(
    record_property: Callable[[str, object], None],
) -> None:
    """Sixty steps logged in order cost at most 1.3 keys a step; choices and readings come beside that."""
    desk = desk_of(shipped(), facts=FACTS)
    steps = [word.partition(":")[0] for word in IN_ORDER.split()]

    keys = _log(desk, IN_ORDER)

    record_property("keys to tick 60 steps", keys.ticks)
    record_property("keys for choices and required readings", keys.beside)
    record_property("keys for two counts", keys.counts)
    logged = [e.step for e in desk.case.log if isinstance(e.event, ev.Tick | ev.Start)]
    running = [s.id for s in desk.protocol.all_steps() if desk.session.running(s.id)]
    assert (len(steps), sorted(logged), running) == (60, sorted(steps), [])
    assert desk.case.end is not None
    assert keys.ticks <= 1.3 * len(steps), f"{keys.ticks} keys for {len(steps)} steps"
    assert keys.ticks + keys.beside <= 1.7 * len(steps), f"{keys.beside} keys beside"
