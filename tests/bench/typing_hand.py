"""The hand of a typist: it presses keys and slips, and every entry that comes of it is set against what is meant.

Five kinds of slip, drawn in equal shares: it goes on blindly for the stage as it was when last seen, it doubles a
key, it hits a neighbouring one, it types a figure nobody asked, it answers a list that is not open.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

from bench.bench_desk import Rig
from bench.intentions import HardCase, Intention
from bench.key_rules import Rule
from bench.tally import KINDS, Tally
from bench.told_facts import FRAME, Fact, facts_of, subject
from bench.uk_keyboard import neighbours
from tracker.core.entries import struck

LOOKS_EVERY = (2, 7)
"""Intentions between two looks, drawn anew after each."""
BETWEEN_KEYS_S = (0.4, 3.0)
DOUBLED_S = (0.05, 0.2)


@dataclass
class Slip:
    """One slip, and the entries nobody meant that came of it until the next look."""

    kind: str
    key: str
    strays: list[Stray] = field(default_factory=list)
    shown: bool = False
    mended: bool = False
    apart: bool = False


@dataclass
class Stray:
    """An entry nobody meant; `asked` if an answer was asked for and only its value is another."""

    event: Any
    slip: Slip | None
    asked: bool
    given_up: bool = False


@dataclass
class Want:
    """A fact that is meant: where it stands, or that it is missing."""

    fact: Fact
    intention: Intention
    seq: int | None = None
    tries: int = 0


class Hand:
    """At the desk of a case. `share` of its keys are slips; `chance` draws them and the times between keys.

    `window` are the slips since the last look, `asked` what the intention at hand still wants in the journal,
    `trail` takes a line for every key, if somebody wants to read along.
    """

    def __init__(self, case: HardCase, rule: Rule, chance: Random, share: float, tally: Tally) -> None:
        self.case, self.rule, self.chance, self.share, self.tally = case, rule, chance, share, tally
        self.rig = Rig(case.facts)
        self.stage: int = self.rig.desk.stage
        self.blind = False
        self.until_look = chance.randint(*LOOKS_EVERY)
        self.window: list[Slip] = []
        self.slips: list[Slip] = []
        self.strays: list[Stray] = []
        self.wants: list[Want] = []
        self.asked: list[Want] = []
        self.to_come: list[str] = []
        self.striking: set[int] = set()
        self.seen_events = len(self.rig.events)
        self.by_seq = {e.seq: e for e in self.rig.events}
        self.given: dict[str, set[str]] = {}
        self.late: Intention | None = None
        self._void: tuple[int, frozenset[int]] = (0, frozenset())
        self.trail: Callable[[str], None] = lambda line: None

    # -- keys

    def key(self, key: str) -> int:
        """Press a key, or slip; how many entries came of it."""
        self.rig.clock.on(self.chance.uniform(*BETWEEN_KEYS_S))
        self.tally.keys += 1
        kind = self._slip()
        beside = neighbours(key)
        if kind == "neighbour" and beside:
            hit = self.chance.choice(beside)
            self.slipped(kind, f"{hit} for {key}")
            return self.press(hit, meant=False)
        made = self.press(key, meant=True)
        if kind == "double":
            self.rig.clock.on(self.chance.uniform(*DOUBLED_S))
            self.slipped(kind, f"{key} {key}")
            self.press(key, meant=False)
        elif kind == "blind":
            self.slipped(kind, f"at {key}")
            self.blind, self.until_look = True, self.chance.randint(*LOOKS_EVERY)
        elif kind in ("figure", "answer"):
            self.to_come.append(kind)
        return made

    def _slip(self) -> str:
        return self.chance.choice(KINDS) if self.chance.random() < self.share else ""

    def slipped(self, kind: str, key: str) -> None:
        """Note a slip: what is written from now on and not meant is laid to it."""
        slip = Slip(kind, key)
        self.window.append(slip)
        self.slips.append(slip)
        self.trail(f"      SLIP {kind}: {key}")

    def press(self, key: str, *, meant: bool) -> int:
        """Press a key; a change of stage is noticed if the key was meant. How many entries came of it."""
        before = self.rig.desk.stage
        self.rig.press(key)
        new = self.rig.events[self.seen_events :]
        self.seen_events += len(new)
        self.trail(f"    {key} -> {', '.join(self.short(e) for e in new) or '-'}")
        for event in new:
            self.by_seq[event.seq] = event
            self._take_in(event)
        now = self.rig.desk.stage
        if self.blind:
            self._believe_blindly(key)
            for slip in self.window:
                slip.apart |= slip.kind == "blind" and now != self.stage
        elif meant and now != before:
            self.stage = now
        return len(new)

    def short(self, event: Any) -> str:
        """An entry in a few words, for reading along."""
        return f"{event.seq} {' '.join(str(part) for fact in facts_of(event, self.by_seq) for part in fact)}"

    def _believe_blindly(self, key: str) -> None:
        last = len(self.rig.protocol.stages) - 1
        if key == self.rig.keys_of("stage_on"):
            self.stage = min(last, self.stage + 1)
        elif key == self.rig.keys_of("stage_back"):
            self.stage = max(0, self.stage - 1)

    def _take_in(self, event: Any) -> None:
        """Set an entry against what is meant now; what is not meant is a stray."""
        if event.kind in FRAME or (event.kind == "strike" and event.ref in self.striking):
            return
        facts = facts_of(event, self.by_seq)
        still = [w for w in self.asked if w.seq is None]
        met = [w for w in still if w.fact in facts]
        if len(met) == len(facts):
            for want in met:
                want.seq = event.seq
            return
        asked = any(subject(w.fact) == subject(fact) != () for w in still for fact in facts)
        stray = Stray(event, self.window[-1] if self.window else None, asked)
        self.strays.append(stray)
        if stray.slip is None:
            self.tally.later += 1
        else:
            stray.slip.strays.append(stray)

    # -- slips that are acts of their own

    def type_unasked(self, kind: str) -> None:
        """A figure nobody asked for, or the answer to a list that is not open."""
        if kind == "figure":
            ranges = [r.usual or r.plausible for r in self.rig.protocol.readings]
            low, high = self.chance.choice([bounds for bounds in ranges if bounds])
            value = self.chance.uniform(low, high)
            keys = [*(f"{value:.0f}" if high >= 2 else f"{value:.2f}"), "enter"]
        else:
            keys = [self.chance.choice(self._answers())]
            keys += ["enter"] if self.chance.random() < 1 / 3 else []
        self.slipped(kind, " ".join(keys))
        for key in keys:
            self.rig.clock.on(self.chance.uniform(*BETWEEN_KEYS_S))
            self.tally.keys += 1
            self.press(key, meant=False)

    def _answers(self) -> list[str]:
        """The letters of the lists that the file has for the stage believed shown, or the ones beside it."""
        protocol = self.rig.protocol
        stages = protocol.stages[max(0, self.stage - 1) : self.stage + 2]
        steps = [step for stage in stages for step in stage.steps]
        read = [protocol.reading[w.id] for step in steps for w in step.readings]
        lists = [*(s.choices for s in steps), *(r.choices for r in read), protocol.reasons]
        return [choice.key for choices in lists for choice in choices if choice.key]

    def void(self) -> frozenset[int]:
        """The numbers of the entries that are struck, or hang on one that is."""
        if self._void[0] != self.seen_events:
            self._void = (self.seen_events, struck(self.rig.events))
        return self._void[1]
