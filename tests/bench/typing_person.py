"""A tired person at the desk: knows the case, looks now and then, and slips.

What it believes is the screen as it last saw it. It notices a change of stage that a key of its own brings
about; all else (what was entered, whether a list is open) it sees only when it looks, every few intentions.
A slip is not noticed before the next look. Then it strikes what it sees and did not mean, enters again what it
sees missing, and goes on.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Any

from bench.bench_desk import Rig
from bench.hard_cases import HardCase, Intention
from bench.key_rules import Rule
from bench.tally import KINDS, Tally
from bench.told_facts import FRAME, NOT_STRUCK, Fact, facts_of, meant_by, shown, subject
from bench.uk_keyboard import neighbours
from tracker.core.entries import struck

LOOKS_EVERY = (2, 7)
"""Intentions between two looks, drawn anew after each."""
DEEPEST = 4
"""So many entries back a person goes with the strike key, not further."""
TRIES = 2
"""So often it tries to enter again what it sees missing."""
STEPS_OF_A_WAY = 14
"""No way over the stages, and none along the questions, is longer."""


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


class Typist:
    """Logs a hard case. `share` of its keys are slips; `chance` draws them and the times between."""

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
        self.rig.clock.on(self.chance.uniform(0.4, 3.0))
        self.tally.keys += 1
        kind = self._slip()
        beside = neighbours(key)
        if kind == "neighbour" and beside:
            hit = self.chance.choice(beside)
            self._slipped(kind, f"{hit} for {key}")
            return self._press(hit, meant=False)
        made = self._press(key, meant=True)
        if kind == "double":
            self.rig.clock.on(self.chance.uniform(0.05, 0.2))
            self._slipped(kind, f"{key} {key}")
            self._press(key, meant=False)
        elif kind == "blind":
            self._slipped(kind, f"at {key}")
            self.blind, self.until_look = True, self.chance.randint(*LOOKS_EVERY)
        elif kind in ("figure", "answer"):
            self.to_come.append(kind)
        return made

    def _slip(self) -> str:
        return self.chance.choice(KINDS) if self.chance.random() < self.share else ""

    def _slipped(self, kind: str, key: str) -> None:
        slip = Slip(kind, key)
        self.window.append(slip)
        self.slips.append(slip)
        self.trail(f"      SLIP {kind}: {key}")

    def _press(self, key: str, *, meant: bool) -> int:
        before = self.rig.desk.stage
        self.rig.press(key)
        new = self.rig.events[self.seen_events :]
        self.seen_events += len(new)
        self.trail(f"    {key} -> {', '.join(self._short(e) for e in new) or '-'}")
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

    def _short(self, event: Any) -> str:
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

    # -- from what is meant to keys

    def log(self) -> None:
        """Log the whole case."""
        for intention in self.case.intentions:
            self._mean(intention)
        for _ in range(TRIES):
            self.look()
            if not self.window:
                break

    def _mean(self, intention: Intention) -> None:
        if intention.kind == "gap":
            self.rig.clock.on(intention.seconds)
            return
        if self.late is not None and self.until_look <= 0:
            self.look()
        self.trail(f"  {intention.kind} {intention.step} {intention.about} {intention.value}".rstrip())
        self.tally.intentions += 1
        self.asked = [Want(fact, intention) for fact in meant_by(intention)]
        self.wants += self.asked
        self._do(intention)
        self._leave_open_panel()
        for kind in self.to_come:
            self._type_unasked(kind)
        self.to_come, self.asked, self.late = [], [], intention
        self.until_look -= 1

    def _do(self, intention: Intention) -> None:
        ACTS[intention.kind](self, intention)

    def _leave_open_panel(self) -> None:
        """One that is open though all went as meant: it is seen, and left."""
        if self.rig.desk.panel is not None and not self.window:
            self.key("escape")

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
        self._choice(intention)

    def _choice(self, intention: Intention) -> None:
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
        self._value(intention)
        given.add(intention.about)

    def _value(self, intention: Intention) -> None:
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
                self._clear()
            self._figure(said[line.id])

    def _clear(self) -> None:
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

    def command(self, command: str) -> None:
        """A command that asks nothing."""
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
        self.pick([f"{intention.value} opened"], f"{intention.value}")

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

    # -- slips that are acts of their own

    def _type_unasked(self, kind: str) -> None:
        """A figure nobody asked for, or the answer to a list that is not open."""
        if kind == "figure":
            ranges = [r.usual or r.plausible for r in self.rig.protocol.readings]
            low, high = self.chance.choice([bounds for bounds in ranges if bounds])
            value = self.chance.uniform(low, high)
            keys = [*(f"{value:.0f}" if high >= 2 else f"{value:.2f}"), "enter"]
        else:
            keys = [self.chance.choice(self._answers())]
            keys += ["enter"] if self.chance.random() < 1 / 3 else []
        self._slipped(kind, " ".join(keys))
        for key in keys:
            self.rig.clock.on(self.chance.uniform(0.4, 3.0))
            self.tally.keys += 1
            self._press(key, meant=False)

    def _answers(self) -> list[str]:
        """The letters of the lists that the file has for the stage believed shown, or the ones beside it."""
        protocol = self.rig.protocol
        stages = protocol.stages[max(0, self.stage - 1) : self.stage + 2]
        steps = [step for stage in stages for step in stage.steps]
        read = [protocol.reading[w.id] for step in steps for w in step.readings]
        lists = [*(s.choices for s in steps), *(r.choices for r in read), protocol.reasons]
        return [choice.key for choices in lists for choice in choices if choice.key]

    # -- looking

    def void(self) -> frozenset[int]:
        """The numbers of the entries that are struck, or hang on one that is."""
        if self._void[0] != self.seen_events:
            self._void = (self.seen_events, struck(self.rig.events))
        return self._void[1]

    def look(self) -> None:
        """Look at the screen: judge what came of the slips since, mend what is seen, enter what is missing."""
        self.tally.looks += 1
        text, desk = self.rig.drawn(), self.rig.desk
        for slip in self.window:
            slip.shown = all(shown(s.event, desk.case, text) for s in slip.strays)
        self.blind, self.stage = False, desk.stage
        open_ = [s for s in self.strays if not s.given_up and self._stands(s)]
        visible = [s for s in open_ if shown(s.event, desk.case, text)]
        judged, self.window = [s for s in self.window if s.strays], []
        self.trail(f"  LOOK: {[(self._short(s.event), slip.shown) for slip in judged for s in slip.strays]}")
        if desk.panel is not None and not judged:
            self.key("escape")
        if judged:
            self._mend([s for s in visible if s.slip in judged], judged)
        self._strike([s for s in visible if s.slip not in judged])
        self._enter_missing()
        self.until_look = self.chance.randint(*LOOKS_EVERY)

    def _stands(self, stray: Stray) -> bool:
        event, void = stray.event, self.void()
        if event.seq in void or event.kind == "strike":
            return False
        about = event.deviation.split(":") if event.kind == "reason" else []
        return not (about[:1] == ["not_needed"] and about[-1].isdigit() and int(about[-1]) in void)

    def _mend(self, visible: Sequence[Stray], judged: Sequence[Slip]) -> None:
        """Undo what came of the slips since the last look, and judge whether two keys a slip did it."""
        keys = self.tally.keys
        if self.rig.desk.panel is not None:
            self.key("escape")
        self._strike(visible)
        for want in self._victims():
            self._enter(want)
        within, whole = self.tally.keys - keys <= 2 * len(judged), not self._victims()
        for slip in judged:
            gone = not any(self._stands(s) for s in slip.strays)
            slip.mended = slip.shown and gone and whole and within

    def _strike(self, strays: Sequence[Stray]) -> None:
        """Strike what stands of the strays: the last entry by the strike key, one before it by what there is."""
        for _ in range(DEEPEST * max(1, len(strays))):
            order = [e for e in reversed(self.rig.events) if e.seq not in self.void()]
            order = [e for e in order if e.kind not in NOT_STRUCK]
            back = [order.index(s.event) for s in strays if self._stands(s) and s.event in order]
            if not back:
                break
            if min(back) > 0 and self.rig.keys_of("entries"):
                self._strike_picked(order[min(back)])
            elif max(back) < DEEPEST or min(back) == 0:
                self.striking = {e.seq for e in order[: max(back) + 1]}
                self.key(self.rig.keys_of("strike"))
            else:
                break
            self.striking = set()
        for stray in strays:
            stray.given_up = self._stands(stray)

    def _strike_picked(self, event: Any) -> None:
        """Pick an entry among the last ones, reading the list, and strike it."""
        self.striking = {event.seq}
        self.command("entries")
        at = next((e.at for e in self.rig.desk.case.log if e.seq == event.seq), event.at)
        self.pick([f"{at:%H:%M:%S} {label}".rstrip() for label in self._labels(event)], "escape")
        self.pick(["strike it"], "escape")

    def _labels(self, event: Any) -> list[str]:
        step = getattr(event, "step", None)
        return [self.rig.protocol.label(step), ""] if step else [""]

    def _victims(self) -> list[Want]:
        """What was meant and written, and is struck."""
        return [w for w in self.wants if w.seq in self.void() and w.tries < TRIES]

    def _enter_missing(self) -> None:
        """Enter what is seen to be missing."""
        for want in self.wants:
            missing = want.seq is None or want.seq in self.void()
            if missing and want.tries < TRIES and self._seen_missing(want):
                self._enter(want)

    def _seen_missing(self, want: Want) -> bool:
        step, desk = want.intention.step, self.rig.desk
        if want.intention is self.late or want.intention.kind in ("complication", "name", "dealt"):
            return True
        return bool(step) and (step not in desk.protocol.stage_of or desk.stage_of(step) == desk.stage)

    def _enter(self, want: Want) -> None:
        want.tries += 1
        want.seq = None
        self.asked = [want]
        self.trail(f"  AGAIN {want.fact}")
        self._again(want)
        self.asked = []
        if self.rig.desk.panel is not None:
            self.key("escape")

    def _again(self, want: Want) -> None:
        intention, desk, step = want.intention, self.rig.desk, want.intention.step
        match want.fact[0]:
            case "start" if desk.session.running(step) is None:
                self.tick(step)
            case "stop" if desk.session.running(step) is not None:
                self.tick(step)
            case "start" | "stop":
                pass
            case "tick":
                self.tick(step)
            case "choice":
                self.command("decision")
                self._choice(intention)
            case "reading":
                self.command("reading")
                self._turn_to(desk.protocol.reading[intention.about].label)
                self._clear()
                self._value(intention)
            case "count":
                self.command("count")
                self.figures(intention, looking=True)
            case "handover_accepted":
                self.command("hand_over")
                self.pick(["I have read"], "y")
            case "reason":
                pass
            case _:
                self._do(intention)

    def _turn_to(self, label: str) -> None:
        """On along the questions, looking at each."""
        for _ in range(STEPS_OF_A_WAY):
            panel = self.rig.desk.panel
            if panel is None or label in panel.title:
                return
            self.key("right")

    # -- at the end

    def settle(self) -> None:
        """Add what came of this case to the tally."""
        tally = self.tally
        tally.cases += 1
        tally.meant += len(self.wants)
        tally.lost += sum(w.seq is None or w.seq in self.void() for w in self.wants)
        tally.left += sum(self._stands(s) for s in self.strays)
        tally.strikes += sum(e.kind == "strike" for e in self.rig.events)
        for slip in self.slips:
            kind = tally.kinds[slip.kind]
            wrote = bool(slip.strays)
            kind.slips += 1
            kind.wrote += wrote
            kind.asked += wrote and all(s.asked for s in slip.strays)
            kind.entries += len(slip.strays)
            kind.shown += wrote and slip.shown
            kind.mended += wrote and slip.mended
            tally.blind_apart += slip.apart


def _ticked(typist: Typist, intention: Intention) -> None:
    if intention.kind != "stop":
        typist.given.pop(intention.step, None)
    typist.tick(intention.step)


def _read_now(typist: Typist, intention: Intention) -> None:
    typist.tick(intention.step)
    typist._value(intention)


def _counted(typist: Typist, intention: Intention) -> None:
    typist.tick(intention.step)
    typist.figures(intention)


ACTS: dict[str, Callable[[Typist, Intention], object]] = {
    "tick": _ticked,
    "start": _ticked,
    "stop": _ticked,
    "decide": Typist.decide,
    "read": Typist.read,
    "read_now": _read_now,
    "count": _counted,
    "hand_over": Typist.hand_over,
    "operator": Typist.operator,
    "not_needed": Typist.not_needed,
    "note": Typist.note,
    "bookmark": lambda typist, _: typist.command("bookmark"),
    "pause": lambda typist, _: typist.command("pause"),
    "go_on": lambda typist, _: typist.command("pause"),
    "complication": lambda typist, _: typist.command("complication"),
    "name": Typist.name,
    "dealt": lambda typist, _: typist.dealt(),
    "opened": Typist.opened,
    "leave": lambda typist, _: typist.leave(),
    "killed": lambda typist, _: typist.killed(),
}
"""How each kind of intention becomes keys."""
