"""From what is meant to keys: how a person who knows the program logs each kind of intention."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from bench.intentions import Intention
from bench.typing_hand import Hand

STEPS_OF_A_WAY = 14
"""No way over the stages, and none along the questions, is longer."""


class Acting(Hand):
    """A hand that knows the keys of the program and what lies where in the file."""

    def do(self, intention: Intention) -> None:
        """What an intention of its kind asks."""
        ACTS[intention.kind](self, intention)

    def _go_to(self, wanted: int, near_enough: Callable[[int, int], bool]) -> None:
        """The stage keys, until the stage believed to be shown is near enough."""
        for _ in range(STEPS_OF_A_WAY):
            if near_enough(self.stage, wanted):
                return
            self.key(self.rig.keys_of("stage_on" if wanted > self.stage else "stage_back"))

    def tick(self, step: str) -> None:
        """A step's own key, from the stage it is in; once more if that is seen to be asked."""
        protocol, key = self.rig.protocol, self.rig.protocol.step[step].key or ""
        if step in protocol.stage_of:
            self._go_to(self.rig.desk.stage_of(step), self.rule.near_enough)
        written = self.key(key)
        if not self.blind and self.rule.asks_once_more(self.rig.desk, written):
            self.rig.clock.on(0.3)
            self.key(key)

    def decide(self, intention: Intention) -> None:
        """Tick a decision, then its choice; with a complication open the list is asked for first."""
        self.tick(intention.step)
        if self.in_trouble():
            self.key(self.rig.keys_of("decision"))
        self.choose(intention)

    def choose(self, intention: Intention) -> None:
        """The letter of the choice, known by heart."""
        choices = self.rig.protocol.step[intention.step].choices
        self.key(next(c.key for c in choices if c.id == intention.value))

    def in_trouble(self) -> bool:
        """Whether this person has stamped a complication that is not dealt with yet."""
        told = [w.intention.kind for w in self.wants]
        return told.count("complication") > told.count("dealt")

    def read(self, intention: Intention) -> None:
        """The key for readings, on to the reading meant, its value."""
        self.key(self.rig.keys_of("reading"))
        wanted = sorted(self.rig.protocol.step[intention.step].readings, key=lambda w: not w.required)
        given = self.given.setdefault(intention.step, set())
        still = [w.id for w in wanted if w.id not in given]
        for _ in range(still.index(intention.about) if intention.about in still else 0):
            self.key("right")
        self.enter_value(intention)
        given.add(intention.about)

    def enter_value(self, intention: Intention) -> None:
        """A letter, or a figure and Enter, as the reading asks."""
        reading = self.rig.protocol.reading[intention.about]
        if reading.kind == "choice":
            self.key(next(c.key for c in reading.choices if c.id == intention.value))
        elif reading.kind == "flag":
            self.key("y" if intention.value else "n")
        else:
            self._figure(intention.value)

    def _figure(self, value: Any) -> None:
        for digit in f"{value:g}":
            self.key(digit)
        self.key("enter")

    def figures(self, intention: Intention, *, looking: bool = False) -> None:
        """What the count board says, line by line."""
        said = dict(intention.figures)
        for line in self.rig.protocol.counted:
            if looking:
                self.clear()
            self._figure(said[line.id])

    def clear(self) -> None:
        """Take back what is seen to stand typed where a figure goes."""
        panel = self.rig.desk.panel
        marked = next((row.text for row in panel.rows() if row.marked), "") if panel is not None else ""
        typed = re.search(r"([\d.]+)_", marked)
        for _ in range(len(typed[1]) if typed else 0):
            self.key("backspace")

    def pick(self, words: Sequence[str], otherwise: str) -> None:
        """Read the open list and pick what is so called, or has some of the words: few know it by heart."""
        panel = self.rig.desk.panel
        rows = [row for row in panel.rows() if row.key] if panel is not None else []
        exact = [row.key for word in words for row in rows if row.text == word]
        found = [row.key for word in words for row in rows if word in row.text]
        self.key(next(iter([*exact, *found]), otherwise))

    def hand_over(self, intention: Intention) -> None:
        """The post is handed over, counts re-confirmed, and taken over."""
        self.key(self.rig.keys_of("hand_over"))
        self.pick([f"to {self.rig.protocol.label(str(intention.value))}"], "a")
        self.pick(["yes, counts"], "y")
        self.pick(["I have read"], "y")

    def operator(self, intention: Intention) -> None:
        """Another operator."""
        self.key(self.rig.keys_of("hand_over"))
        label = self.rig.protocol.label(str(intention.value))
        rows = self.rig.desk.panel.rows() if self.rig.desk.panel is not None else ()
        self.pick([row.text for row in rows if row.text.endswith(f": {label}")], "b")

    def not_needed(self, intention: Intention) -> None:
        """Bring the mark to the step, which is done by looking at it; then the key and the reason."""
        self._go_to(self.rig.desk.stage_of(intention.step), lambda believed, wanted: believed == wanted)
        for _ in range(STEPS_OF_A_WAY):
            if self.rig.desk.marked == intention.step:
                break
            self.key(self._towards(intention.step))
        self.key(self.rig.keys_of("not_needed"))
        self.key(next(r.key for r in self.rig.protocol.reasons if r.id == intention.value))
        self.take()

    def _towards(self, step: str) -> str:
        ids = [s.id for s in self.rig.desk.stage_steps()]
        marked = self.rig.desk.marked
        if step in ids and marked in ids and ids.index(step) < ids.index(marked):
            return self.rig.keys_of("up")
        return self.rig.keys_of("down")

    def note(self, intention: Intention) -> None:
        """Free words."""
        self.key(self.rig.keys_of("note"))
        for letter in str(intention.value):
            self.key("space" if letter == " " else letter)
        self.key("enter")

    def take(self) -> None:
        """Enter, where a list is known to want it behind the letter."""
        if self.rule.holds:
            self.key("enter")

    def command(self, command: str) -> None:
        """A command that asks nothing; once more if that is seen to be asked."""
        written = self.key(self.rig.keys_of(command))
        if not self.blind and self.rule.asks_once_more(self.rig.desk, written):
            self.rig.clock.on(0.3)
            self.key(self.rig.keys_of(command))

    def name(self, intention: Intention) -> None:
        """Say which complication it is."""
        self.command("complication")
        named = next(c for c in self.rig.protocol.complications if c.id == intention.value)
        self.key(named.key or "")

    def dealt(self) -> None:
        """Say that it is dealt with."""
        self.command("complication")
        self.pick(["dealt with"], self.rig.keys_of("complication"))

    def opened(self, intention: Intention) -> None:
        """An item of a counted line was opened."""
        self.command("count")
        self.pick([self.rig.protocol.label(intention.about)], "a")
        self.take()
        self.pick([f"{intention.value} opened"], f"{intention.value}")
        self.take()

    def leave(self) -> None:
        """Leave the screen and come back; if it is still there, look."""
        openings = self.rig.openings
        self.command("leave")
        self.pick(["leave the screen"], "l")
        if self.rig.openings == openings:
            self.until_look = 0
        else:
            self._come_back()

    def killed(self) -> None:
        """The program is killed and started again."""
        self.rig.reopen()
        self._come_back()

    def _come_back(self) -> None:
        self.seen_events = len(self.rig.events)
        self.by_seq = {e.seq: e for e in self.rig.events}
        self.stage = self.rig.desk.stage


def _ticked(typist: Acting, intention: Intention) -> None:
    if intention.kind != "stop":
        typist.given.pop(intention.step, None)
    typist.tick(intention.step)


def _read_now(typist: Acting, intention: Intention) -> None:
    typist.tick(intention.step)
    typist.enter_value(intention)


def _counted(typist: Acting, intention: Intention) -> None:
    typist.tick(intention.step)
    typist.figures(intention)


ACTS: dict[str, Callable[[Acting, Intention], object]] = {
    "tick": _ticked,
    "start": _ticked,
    "stop": _ticked,
    "decide": Acting.decide,
    "read": Acting.read,
    "read_now": _read_now,
    "count": _counted,
    "hand_over": Acting.hand_over,
    "operator": Acting.operator,
    "not_needed": Acting.not_needed,
    "note": Acting.note,
    "bookmark": lambda typist, _: typist.command("bookmark"),
    "pause": lambda typist, _: typist.command("pause"),
    "go_on": lambda typist, _: typist.command("pause"),
    "complication": lambda typist, _: typist.command("complication"),
    "name": Acting.name,
    "dealt": lambda typist, _: typist.dealt(),
    "opened": Acting.opened,
    "leave": lambda typist, _: typist.leave(),
    "killed": lambda typist, _: typist.killed(),
}
"""How each kind of intention becomes keys."""
