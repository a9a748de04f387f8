"""What a person wants in the record, one intention after another, and a case of them in the making.

Steps, readings and choices are those of `protocols/complex-pvr.toml`, by their ids; there is no key in them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from random import Random

Value = bool | int | float | str


@dataclass(frozen=True)
class Intention:
    """One thing that a person wants in the record.

    `kind` says what: a step is ticked, started, stopped, decided on, read, counted or not needed; or it is a
    moment without a step. `step` is the step it is about, `value` a choice, a figure, a reason or a role.
    """

    kind: str
    step: str = ""
    about: str = ""
    value: Value = ""
    figures: tuple[tuple[str, int], ...] = ()
    seconds: float = 0.0


@dataclass(frozen=True)
class HardCase:
    """The facts known before, and what is meant to be logged, in order."""

    facts: Mapping[str, Value]
    intentions: tuple[Intention, ...]


_SPANS = """
block iodine peritomy_buckle oil_out lens_out core_vit base_shave break_search peel_post ilm_peel peel_ant
sr_band dia_line rx_cut ant_trim haemostasis laser_edge laser_360 cryo fax pfcl_oil gas_in oil_in
ports_out recording
"""
_COUNTED = """
swabs spears needles blades port_items plug_items soft_tips instrument_tips hook_items buckle_pieces syringes
"""
SPANS = frozenset(_SPANS.split())
COUNTED = _COUNTED.split()
NOTES = ("gauze soaked once more", "view poor for a while", "second pack opened", "light pipe changed")


@dataclass
class CaseInMaking:
    """A case in the making: what has been drawn so far."""

    chance: Random
    facts: dict[str, Value] = field(default_factory=dict)
    told: list[Intention] = field(default_factory=list)
    circulating: str = "circulating"
    operator: str = "consultant"
    figures: dict[str, int] = field(default_factory=dict)
    interruptible: bool = False
    in_trouble: bool = False

    def may(self, share: float) -> bool:
        """Whether something happens that does in such a share of cases."""
        return self.chance.random() < share

    def say(self, kind: str, step: str = "", about: str = "", value: Value = "") -> None:
        """Mean one thing more."""
        self.told.append(Intention(kind, step, about, value))

    def gap(self, low: float, high: float) -> None:
        """Let time pass."""
        self.told.append(Intention("gap", seconds=round(self.chance.uniform(low, high), 1)))

    def do(self, *steps: str) -> None:
        """Do steps one after the other: a span is started and stopped, things may come between."""
        for step in steps:
            self.interrupt()
            if step not in SPANS:
                self.say("tick", step)
                self.gap(10, 90)
                continue
            self.say("start", step)
            self.gap(30, 300)
            self.interrupt()
            self.say("stop", step)
            self.gap(5, 40)

    def decide(self, step: str, choice: str) -> None:
        """Tick a decision and state its choice."""
        self.interrupt()
        self.say("decide", step, value=choice)
        self.gap(5, 40)

    def read(self, step: str, reading: str, value: Value) -> None:
        """Enter what belongs to the step done last."""
        self.say("read", step, reading, value)
        self.gap(3, 20)

    def read_now(self, step: str, reading: str, value: Value) -> None:
        """A step of any time that is a reading: it is asked at once."""
        self.say("read_now", step, reading, value)
        self.gap(3, 20)

    def count(self, step: str) -> None:
        """Tick a count and say what the board says."""
        figures = tuple(self.figures.items())
        self.told.append(Intention("count", step, figures=figures))
        self.gap(20, 60)

    # -- what comes between

    def interrupt(self) -> None:
        """Now and then something comes between, never within a complication."""
        if not self.interruptible or self.in_trouble:
            return
        for share, happens in (
            (0.10, self._called_away),
            (0.03, lambda: self.say("bookmark")),
            (0.01, self._note),
            (0.012, self._hand_over),
            (0.012, self._operator),
            (0.01, self._pause),
            (0.005, lambda: self.say("leave")),
            (0.005, lambda: self.say("killed")),
            (0.02, self._pressure),
            (0.01, lambda: self.do_quietly("plug_in" if self.may(0.5) else "specimen")),
        ):
            if self.may(share):
                happens()

    def do_quietly(self, step: str) -> None:
        """A step of any time, nothing between."""
        self.say("tick", step)

    def _called_away(self) -> None:
        self.gap(60, 600)

    def _note(self) -> None:
        self.say("note", value=self.chance.choice(NOTES))

    def _hand_over(self) -> None:
        here = self.circulating
        self.circulating = "relief_circulating" if here == "circulating" else "circulating"
        self.say("hand_over", value=self.circulating)
        self.gap(20, 120)

    def _operator(self) -> None:
        others = [r for r in ("consultant", "fellow_supervised", "fellow", "joint") if r != self.operator]
        self.operator = self.chance.choice(others)
        self.say("operator", value=self.operator)

    def _pause(self) -> None:
        self.say("pause")
        self.gap(60, 300)
        self.say("go_on")

    def _pressure(self) -> None:
        self.read_now("infusion_read", "infusion_mmhg", self.chance.choice((20, 25, 30, 35)))

    def trouble(self, complication: str) -> None:
        """A complication: stamped, named and dealt with, something done about it in between."""
        self.say("complication")
        self.gap(10, 60)
        self.in_trouble = True
        named_first = self.may(0.6)
        if named_first:
            self.say("name", value=complication)
        if complication == "edge_bleeding":
            self.do("pressure_up")
            self.gap(30, 120)
            self.do("pressure_back")
        elif complication == "iatrogenic_tear":
            self.do("new_break")
        if not named_first:
            self.say("name", value=complication)
        self.gap(20, 120)
        self.say("dealt")
        self.in_trouble = False
        self.gap(5, 30)
