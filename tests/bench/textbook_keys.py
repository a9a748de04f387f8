"""What sixty steps in the order of the file cost in keys, by someone who looks and makes no slip."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bench.bench_desk import Rig
from bench.intentions import Value
from bench.key_rules import Rule

TEXTBOOK = """
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
"""Sixty steps in the order of the file: a block, old oil, an implant, a cut, gas. `:x` is what is decided."""

TEXTBOOK_FACTS: Mapping[str, Value] = {
    "anaesthetic": "block", "lens": "pseudophakic", "tamponade_in_situ": "oil_1000",
    "planned_tamponade": "c3f8", "planned_retinectomy": "inferior_180",
}  # fmt: skip


def textbook() -> Iterator[tuple[str, str, str]]:
    """The textbook case: each step, what is decided there, and the step after it."""
    words = [word.partition(":") for word in TEXTBOOK.split()]
    for (step, _, choice), (after, _, _) in zip(words, [*words[1:], words[0]], strict=True):
        yield step, choice, after


@dataclass
class Cost:
    """Keys for ticks, stage keys among them, and for what is asked beside: choices and required readings."""

    steps: int = 0
    ticks: int = 0
    beside: int = 0


class _Hand:
    """Presses keys one at a time, and counts them."""

    def __init__(self, rule: Rule) -> None:
        self.rig, self.rule = Rig(TEXTBOOK_FACTS), rule
        self.keys = 0

    def press(self, key: str) -> int:
        """One key; how many entries came of it."""
        before = len(self.rig.events)
        self.rig.clock.on(1.0)
        self.rig.press(key)
        self.keys += 1
        return len(self.rig.events) - before

    def taken(self) -> int:
        """The keys since the last time."""
        keys, self.keys = self.keys, 0
        return keys

    def tick(self, step: str) -> None:
        """The marked step with the key that ticks it, any other with its letter from near enough."""
        desk, protocol = self.rig.desk, self.rig.protocol
        wanted = desk.stage_of(step) if step in protocol.stage_of else desk.stage
        while not self.rule.near_enough(desk.stage, wanted):
            self.press(self.rig.keys_of("stage_on" if wanted > desk.stage else "stage_back"))
        key = protocol.step[step].key or ""
        natural = self.rig.keys_of("natural")
        # While something is asked, the key for the marked step is refused: then it is the letter.
        pressed = natural if natural and desk.marked == step and desk.panel is None else key
        if self.rule.asks_once_more(desk, self.press(pressed)):
            self.press(pressed)

    def stop(self, step: str, after: str) -> None:
        """Stop a span; the next one, if it follows at once, starts with the same key where there is one."""
        onward = self.rig.keys_of("onward")
        if onward and self.rig.desk.marked == step and self.rig.protocol.step[after].shape == "span":
            self.press(onward)
        else:
            self.tick(step)

    def answer(self, step: str, choice: str) -> None:
        """The choice, and the readings that the file requires."""
        protocol = self.rig.protocol
        if protocol.step[step].count:
            for key in ("3", "enter") * len(protocol.counted):
                self.press(key)
        if choice:
            self.press(next(c.key for c in protocol.step[step].choices if c.id == choice))
        for wanted in protocol.step[step].readings:
            if wanted.required:
                reading = protocol.reading[wanted.id]
                value = [c.key for c in reading.choices][:1] or ["y" if reading.kind == "flag" else "3"]
                for key in [self.rig.keys_of("reading"), *value, *(["enter"] if value == ["3"] else [])]:
                    self.press(key)
        if self.rig.desk.panel is not None and not self.rule.lets_through:
            self.press("escape")


def cost_of_textbook(rule: Rule) -> Cost:
    """Log the textbook case.

    Raises:
        AssertionError: something else than its sixty steps came into the journal.
    """
    hand, cost = _Hand(rule), Cost()
    for step, choice, after in textbook():
        cost.steps += 1
        if hand.rig.desk.session.running(step) is None:
            hand.tick(step)
        cost.ticks += hand.taken()
        hand.answer(step, choice)
        cost.beside += hand.taken()
        hand.rig.clock.on(90)
        if hand.rig.desk.session.running(step) is not None:
            hand.stop(step, after)
        cost.ticks += hand.taken()
    logged = sorted(e.step for e in hand.rig.events if e.kind in ("tick", "start"))
    assert logged == sorted(step for step, _, _ in textbook()), logged
    return cost
