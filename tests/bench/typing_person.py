"""A tired person at the desk: knows the case, looks now and then, and slips.

What it believes is the screen as it last saw it. It notices a change of stage that a key of its own brings
about; all else (what was entered, whether a list is open) it sees only when it looks, every few intentions.
A slip is not noticed before the next look. Then it strikes what it sees and did not mean, enters again what it
sees missing, and goes on.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bench.intentions import Intention
from bench.told_facts import NOT_STRUCK, meant_by, shown
from bench.typing_acts import STEPS_OF_A_WAY, Acting
from bench.typing_hand import LOOKS_EVERY, Slip, Stray, Want

DEEPEST = 4
"""So many entries back a person goes with the strike key, not further."""
TRIES = 2
"""So often it tries to enter again what it sees missing."""


class Typist(Acting):
    """Logs a hard case."""

    def log(self) -> None:
        """Log the whole case."""
        for intention in self.case.intentions:
            self.mean(intention)
        for _ in range(TRIES):
            self.look()
            if not self.window:
                break

    def mean(self, intention: Intention) -> None:
        """Log one intention, after a look if it is time for one, and slip in between."""
        if intention.kind == "gap":
            self.rig.clock.on(intention.seconds)
            return
        if self.late is not None and self.until_look <= 0:
            self.look()
        self.trail(f"  {intention.kind} {intention.step} {intention.about} {intention.value}".rstrip())
        self.tally.intentions += 1
        self.asked = [Want(fact, intention) for fact in meant_by(intention)]
        self.wants += self.asked
        self.do(intention)
        self._leave_open_panel()
        self.asked = []
        for kind in self.to_come:
            self.type_unasked(kind)
        self.to_come, self.late = [], intention
        self.until_look -= 1

    def _leave_open_panel(self) -> None:
        """One that is open though all went as meant: it is seen, and left."""
        if self.rig.desk.panel is not None and not self.window:
            self.key("escape")

    # -- looking

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
        self.trail(f"  LOOK: {[(self.short(s.event), slip.shown) for slip in judged for s in slip.strays]}")
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
                self.choose(intention)
            case "reading":
                self.command("reading")
                self._turn_to(desk.protocol.reading[intention.about].label)
                self.clear()
                self.enter_value(intention)
            case "count":
                self.command("count")
                self.figures(intention, looking=True)
            case "handover_accepted":
                self.command("hand_over")
                self.pick(["I have read"], "y")
            case "reason":
                pass
            case _:
                self.do(intention)

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
