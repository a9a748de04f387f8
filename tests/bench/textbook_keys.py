"""What sixty steps in the order of the file cost in keys, by someone who looks and makes no slip."""

from __future__ import annotations

from dataclasses import dataclass

from bench.bench_desk import Rig
from bench.hard_cases import TEXTBOOK_FACTS, textbook
from bench.key_rules import Rule


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
        if choice:
            self.press(next(c.key for c in protocol.step[step].choices if c.id == choice))
        for wanted in protocol.step[step].readings:
            if wanted.required:
                reading = protocol.reading[wanted.id]
                value = [c.key for c in reading.choices][:1] or ["y" if reading.kind == "flag" else "3"]
                for key in [self.rig.keys_of("reading"), *value, *(["enter"] if value == ["3"] else [])]:
                    self.press(key)


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
