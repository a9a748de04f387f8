"""Kill -9 at random instants of a live session: what was echoed is kept, and nothing else is there.

A case is begun, resumed, ticked and killed over and over. Every step has a counter on the board, so the
screen tells how many entries the assistant has seen; the journal must hold at least those, and nothing that
was not pressed.
"""

from __future__ import annotations

import os
import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from small_procedures import ONE_STAGE
from terminal import F6
from torture.figures import Figure
from torture.nursery import Live
from tracker.core.case import Case
from tracker.core.events import Event
from tracker.core.fold import extend
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.screen.hand import KEY_S

STEPS = "ABCDEFGH"
BOOKMARK = "6"
"""Stands for the key of the bookmark, which is more than one character on the wire."""
KILLS_A_CASE = 40

PROTOCOL = ONE_STAGE + "".join(
    f"""
[[anytime]]
id = "look_{letter.lower()}"
label = "Look {letter}"
key = "{letter}"
occurrence = "repeat"
"""
    for letter in STEPS
)


@dataclass
class Tally:
    """What came of the kills."""

    kills: int = 0
    pressed: int = 0
    echoed: int = 0
    kept: int = 0
    resumed: int = 0
    torn: int = 0
    starts: int = 0


def counts_shown(text: str) -> Counter[str]:
    """How often each step has been ticked, by the board."""
    shown: Counter[str] = Counter()
    for letter in STEPS:
        found = re.search(rf"Look {letter}\s+ticked \d\d:\d\d(?: x(\d+))?", text)
        if found:
            shown[letter] = int(found[1] or 1)
    return shown


def counts_kept(events: tuple[Event, ...]) -> Counter[str]:
    """How often each step has been ticked, by the journal."""
    steps = (getattr(e, "step", "") for e in events if e.kind == "tick")
    return Counter(step.removeprefix("look_").upper() for step in steps if step.startswith("look_"))


def kinds_of(keys: str, running: bool) -> list[tuple[str, str]]:
    """The kinds and steps of the entries that keys make."""
    made = []
    for key in keys:
        if key == "s":
            made.append(("stop" if running else "start", "shave"))
            running = not running
        elif key == BOOKMARK:
            made.append(("bookmark", ""))
        else:
            made.append(("tick", f"look_{key.lower()}"))
    return made


def told(event: Event) -> tuple[str, str]:
    """An entry in short."""
    return event.kind, getattr(event, "step", "")


class Killed:
    """One case that is killed over and over."""

    def __init__(self, folder: Path, chance: random.Random, tally: Tally) -> None:
        self.folder, self.chance, self.tally = folder, chance, tally
        self.cases = folder / "cases"
        (folder / "counted.toml").write_text(PROTOCOL, "utf-8")
        (folder / "settings.toml").write_text('theme = "plain"\n', "utf-8")
        os.environ["CLOCKHOUR_SETTINGS"] = str(folder / "settings.toml")
        self.events: tuple[Event, ...] = ()
        self.case: Case | None = None

    def start(self) -> Live:
        """The program on the case, or on a new one."""
        what = "A-0001" if self.events else str(self.folder / "counted.toml")
        return Live(["--archive", str(self.cases), "theatre", what])

    def once(self) -> None:
        """Start, tick, kill, and look at what is there."""
        self.tally.kills += 1
        live = self.start()
        if self.events and self.chance.random() < 0.1:
            self.tally.starts += 1
            live.kill_after(self.chance.uniform(0, 0.25))
            self.look(live, "")
            return
        self.opened(live)
        keys = self.keys(self.chance.randint(1, 20))
        self.type(live, keys)
        live.kill_after(self.chance.uniform(0, self.chance.choice([0.03, 0.15, 0.4])))
        self.look(live, keys)

    def keys(self, many: int) -> str:
        """So many keys, no two alike in a row: at once they would be one press."""
        keys = ""
        for _ in range(many):
            keys += self.chance.choice([key for key in STEPS + "s" + BOOKMARK if key != keys[-1:]])
        return keys

    def type(self, live: Live, keys: str) -> None:
        """Press keys as a quick hand does: now one by one, now up to four at once; more at once were no keys."""
        while keys:
            many = self.chance.randint(1, 4)
            at_once, keys = keys[:many], keys[many:]
            live.send(at_once.replace(BOOKMARK, F6))
            if keys:
                live.read_for(len(at_once) * KEY_S)

    def opened(self, live: Live) -> None:
        """Wait for the board; a case that goes on shows what was kept, and no more."""
        if not self.events:
            live.until(lambda text: "Enter starts the case" in text)
            live.send("\r")
            live.until(lambda text: "not started" in text)
            return
        kept = counts_kept(self.events)
        live.until(lambda text: "resumed" in text and counts_shown(text) == kept)
        self.tally.resumed += 1

    def look(self, live: Live, keys: str) -> None:
        """Hold the journal against the screen and the keys."""
        read = Archive(self.cases).read("A-0001")
        assert read.broken is None
        self.tally.torn += read.torn is not None
        assert read.events[: len(self.events)] == self.events
        new = read.events[len(self.events) :]
        running = sum(e.kind in ("start", "stop") for e in self.events) % 2 == 1
        entered = [told(e) for e in new if e.kind not in ("opened", "facts", "resumed")]
        pressed = kinds_of(keys, running)
        assert entered == pressed[: len(entered)], (entered, pressed)
        seen, kept = counts_shown(live.text()), counts_kept(read.events)
        assert all(kept[letter] >= seen[letter] for letter in STEPS), (seen, kept)
        self.tally.pressed += len(pressed)
        self.tally.kept += len(entered)
        self.tally.echoed += sum((seen - counts_kept(self.events)).values())
        self.fold_on(read.events, new)

    def fold_on(self, events: tuple[Event, ...], new: tuple[Event, ...]) -> None:
        """The reopened case is the fold of what was acknowledged, one entry after the other."""
        whole = case_of(Archive(self.cases).read("A-0001"))
        case = self.case
        for event in new if case else ():
            case = extend(case, event)  # type: ignore[arg-type]
        assert case is None or case == whole
        self.events, self.case = events, whole


def kills(folder: Path, seed: int, times: int) -> Iterator[Figure]:
    """Kill the program so many times, with a new case every so often."""
    chance, tally, killed = random.Random(seed), Tally(), None
    for number in range(times):
        if number % KILLS_A_CASE == 0:
            place = folder / f"case-{number}"
            place.mkdir(parents=True)
            killed = Killed(place, chance, tally)
        assert killed is not None
        killed.once()
    came = (
        f"{tally.pressed:,} keys pressed, {tally.echoed:,} entries echoed on counters, {tally.kept:,} kept;"
        f" 0 echoed entries lost, 0 entries invented, {tally.torn} torn lines;"
        f" {tally.resumed} reopened boards equal the fold"
    )
    yield Figure("kill -9", f"in a live session ({tally.starts} of them while starting)", tally.kills, came)
