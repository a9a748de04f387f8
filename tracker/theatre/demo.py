"""The invented case: a script of keys on a scripted clock, played on the same desk as a live one.

Each line of the script is a time of day and what is pressed then: a step's id (the finger goes to its stage
and presses its key), `:key` for any other key, or "words" typed letter by letter. Nothing in it happened.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from importlib.resources import files
from typing import Final

from msgspec import Struct

from tracker.core.events import Scalar
from tracker.core.protocol import Protocol
from tracker.core.wording import clock_time
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.screen.lines import Line, Size
from tracker.screen.room import set_aside
from tracker.screen.station import Now
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session

SITE: Final = "DEMO"
PROTOCOL: Final = "complex-pvr"
FACTS: Final[Mapping[str, Scalar]] = {
    "eye": "left", "anaesthetic": "block", "lens": "phakic", "previous_operations": 2, "pvr_grade": "CP6-CA3",
    "tamponade_in_situ": "oil_1000", "operator": "consultant", "planned_retinectomy": "relaxing",
    "planned_tamponade": "c3f8", "planned_minutes": 150, "video_consent": True,
}  # fmt: skip
"""The facts of the invented case where they differ from the file's defaults."""
_DAY: Final = datetime(2026, 3, 10, tzinfo=UTC)


class Cue(Struct, frozen=True, gc=False):
    """Something pressed at a time of day: a step's id, a key, or words."""

    at: datetime
    does: str


def cues(text: str) -> tuple[Cue, ...]:
    """The cues of a script, in order; what follows a `#` is for the reader."""
    found = []
    for line in text.splitlines():
        stamp, *words = shlex.split(line, comments=True) or [""]
        if stamp:
            at = datetime.combine(_DAY, time.fromisoformat(stamp), UTC)
            found += [Cue(at, word) for word in words]
    return tuple(found)


def script() -> tuple[Cue, ...]:
    """The invented case that ships with the program."""
    return cues(files("tracker.theatre").joinpath("demo_case.txt").read_text("utf-8"))


class ScriptedClock:
    """A clock that stands where it is put."""

    def __init__(self, start: datetime) -> None:
        self.start = start
        self.now = start

    def __call__(self) -> Now:
        """Where it stands, and how long since the start."""
        return Now(self.now, round((self.now - self.start).total_seconds() * 1000))


def keys_for(desk: Desk, does: str) -> Iterator[str]:
    """The keys that a finger presses for a cue, given the stage shown."""
    if does.startswith(":"):
        yield does[1:]
    elif does in desk.protocol.step:
        yield from _to_step(desk, does)
    else:
        yield from ("space" if letter == " " else letter for letter in does)


def _to_step(desk: Desk, step: str) -> Iterator[str]:
    stages = desk.protocol.stages
    stage = desk.protocol.stage_of.get(step)
    if stage is not None:
        on = (desk.protocol.stage_index[stage] - desk.stage) % len(stages)
        back = len(stages) - on
        yield from ["right"] * on if on <= back else ["left"] * back
    yield desk.protocol.step[step].key or "space"


class Demo:
    """The invented case being played; a room for the live screen, or run to its end without one."""

    become: Demo | None = None

    def __init__(self, desk: Desk, clock: ScriptedClock, cues: Sequence[Cue], step_s: float) -> None:
        self.desk = desk
        self.clock = clock
        self.cues = tuple(cues)
        self.done = 0
        self.pressed = 0
        self.step_s = step_s
        self.left = False
        self.theme = desk.theme
        self.brightness = desk.brightness

    def play_to(self, moment: datetime) -> None:
        """Press everything that is due up to `moment`, each at its own time."""
        while self.done < len(self.cues) and self.cues[self.done].at <= moment:
            cue = self.cues[self.done]
            self.clock.now = max(self.clock.now, cue.at)
            for key in keys_for(self.desk, cue.does):
                self.desk.press(key)
                self.pressed += 1
            self.done += 1
        self.clock.now = max(self.clock.now, moment)

    def play(self) -> None:
        """Play it all."""
        self.play_to(self.cues[-1].at)

    def press(self, key: str) -> None:
        """Esc or Q ends the playing; other keys belong to a real case."""
        self.left = key in ("escape", "Q")

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.desk.said(set_aside(text))

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self.desk.said(words)

    def pulse(self) -> None:
        """Go on by one step of time; shortly after the last cue it is over."""
        self.play_to(self.clock.now + timedelta(seconds=self.step_s))
        self.left = self.clock.now > self.cues[-1].at + timedelta(seconds=20 * self.step_s)

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:
        """The board of the case, a line at its foot saying how far the playing is."""
        board = self.desk.draw(Size(size.width, size.height - 1), quick=quick)
        share = self.done / len(self.cues)
        words = f" invented case, playing {clock_time(self.clock.now)}  Esc ends it "
        room = max(0, size.width - len(words) - 8)
        full = round(room * share)
        bar = f"{'━' * full}{'─' * (room - full)} {share:4.0%} "
        return (*board, ((words, "key"), (bar.ljust(size.width - len(words)), "rule")))

    def close(self) -> str:
        """Let go of the journal."""
        return self.desk.close()


def begin(protocol: Protocol, text: str, archive: Archive, step_s: float) -> Demo:
    """An invented case, begun in `archive` and marked as invented in its first line."""
    played = script()
    clock = ScriptedClock(played[0].at)
    code = archive.propose_code(SITE)
    journal = Journal.create(archive.folder, code, now=clock_time(clock.now))
    values = {**protocol.defaults, **FACTS}
    session = Session.begin(journal, protocol, text, code, values, clock, station="invented", invented=True)
    return Demo(Desk(session), clock, played, step_s)
