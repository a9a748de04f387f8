"""The invented case: a script of keys on a scripted clock, played on the same desk as a live one.

Each line of the script is a time of day and what is pressed then: a step's id (the finger goes to its stage
if the step is not on the screen, and presses its key), `:command` for the key of a command, `:key` for any other key,
`=answer` for the letter of an answer, or "words" typed letter by letter. Nothing in it happened.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, time, timedelta
from importlib.resources import files
from typing import Final

from msgspec import Struct

from tracker.core.events import Scalar
from tracker.core.protocol import Protocol
from tracker.core.wording import clock_time
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.screen.asking import Ask
from tracker.screen.station import Now
from tracker.screen.touch import ONE_PRESS_MS
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
A_KEY: Final = timedelta(seconds=0.3)
"""A hand takes so long from one key to the next."""
SAME_KEY: Final = timedelta(milliseconds=ONE_PRESS_MS)
"""And so much longer to the same key again, which otherwise would be one press."""
_DAY: Final = datetime(2026, 3, 10, tzinfo=UTC)


class Cue(Struct, frozen=True, gc=False):
    """Something pressed at a time of day: a step's id, a key, or words."""

    at: datetime
    does: str


class Moment(Struct, frozen=True, gc=False):
    """A part of the script that is worth a look: its words, its first cue, and the first that is none of it."""

    words: str
    first: int
    end: int


class Script(Struct, frozen=True, gc=False):
    """What is pressed, in order, and the moments of it that are shown."""

    cues: tuple[Cue, ...]
    moments: tuple[Moment, ...]


def read(text: str) -> Script:
    """The script that a text holds; what follows a `#` is for the reader.

    A line `> "words"` begins a moment that is shown, a bare `>` ends it.
    """
    cues: list[Cue] = []
    moments: list[Moment] = []
    words, first = "", 0
    for line in [*text.splitlines(), ">"]:
        stamp, *said = shlex.split(line, comments=True) or [""]
        if stamp == ">":
            moments += [Moment(words, first, len(cues))] if words else []
            words, first = " ".join(said), len(cues)
        elif stamp:
            at = datetime.combine(_DAY, time.fromisoformat(stamp), UTC)
            cues += [Cue(at, word) for word in said]
    return Script(tuple(cues), tuple(moments))


def script() -> Script:
    """The invented case that ships with the program."""
    return read(files("tracker.theatre").joinpath("demo_case.txt").read_text("utf-8"))


class ScriptedClock:
    """A clock that stands where it is put."""

    def __init__(self, start: datetime) -> None:
        self.start = start
        self.now = start

    def __call__(self) -> Now:
        """Where it stands, and how long since the start."""
        return Now(self.now, round((self.now - self.start).total_seconds() * 1000))


def keys_for(desk: Desk, does: str) -> Iterator[str]:
    """The keys that a finger presses for a cue, given what is on the screen."""
    if does.startswith(":"):
        named = does[1:]
        yield desk.keys_of(named)[0] if any(c.id == named for c in desk.all_commands) else named
    elif does.startswith("="):
        yield _answer(desk, does[1:])
    elif does in desk.protocol.step:
        yield from _to_step(desk, does)
    else:
        yield from ("space" if letter == " " else letter for letter in does)


def _answer(desk: Desk, meant: str) -> str:
    """The letter of an answer to what is asked now."""
    options = desk.panel.question.options if isinstance(desk.panel, Ask) else ()
    value = {"yes": "True", "no": "False"}.get(meant, meant)
    return next(o.key for o in options if str(o.value) == value)


def _to_step(desk: Desk, step: str) -> Iterator[str]:
    """The key of a step, after the keys that show its stage unless the key means the step as things stand."""
    stages, stage, key = desk.protocol.stages, desk.protocol.stage_of.get(step), desk.protocol.step[step].key
    meant = desk.step_for(key) if key else None
    at_once = stage is None or (step in desk.on_screen().steps and meant is not None and meant.id == step)
    if stage is not None and not at_once:
        on = (desk.protocol.stage_index[stage] - desk.stage) % len(stages)
        back = len(stages) - on
        yield from ["right"] * on if on <= back else ["left"] * back
    yield key or "space"


class Demo:
    """The invented case being played, key by key, each at its time on the scripted clock; `keys` are the latest cue's."""

    def __init__(self, desk: Desk, clock: ScriptedClock, script: Script) -> None:
        self.desk = desk
        self.clock = clock
        self.cues = script.cues
        self.moments = script.moments
        self.done = 0
        self.pressed = 0
        self.keys: tuple[str, ...] = ()

    def play_to(self, moment: datetime) -> None:
        """Press everything that is due up to `moment`, each at its own time."""
        self.play_cues(sum(cue.at <= moment for cue in self.cues))
        self.clock.now = max(self.clock.now, moment)

    def play_cues(self, count: int) -> None:
        """Press what is due until so many of the cues are done, each at its own time."""
        while self.done < count:
            cue = self.cues[self.done]
            self.clock.now = max(self.clock.now, cue.at)
            self._do(cue.does)
            self.done += 1

    def play(self) -> None:
        """Play it all."""
        self.play_cues(len(self.cues))

    def _do(self, does: str) -> None:
        """Press the keys of a cue, and the last of them once more where the screen asks for that."""
        last, self.keys = self.keys[-1:], ()
        for key in keys_for(self.desk, does):
            self._press(key, last)
            last = (key,)
        if self.desk.scene().ask:
            self._press(last[0], last)

    def _press(self, key: str, last: tuple[str, ...]) -> None:
        """Press a key; a hand takes a moment from one to the next, and longer before the same one again."""
        if last == (key,):
            self.clock.now += SAME_KEY
        self.desk.press(key)
        self.keys = (*self.keys, key)
        self.pressed += 1
        self.clock.now += A_KEY

    def close(self) -> str:
        """Let go of the journal."""
        return self.desk.close()


def begin(protocol: Protocol, text: str, archive: Archive) -> Demo:
    """An invented case, begun in `archive` and marked as invented in its first line."""
    played = script()
    clock = ScriptedClock(played.cues[0].at)
    code = archive.propose_code(SITE)
    journal = Journal.create(archive.folder, code, now=clock_time(clock.now))
    values = {**protocol.defaults, **FACTS}
    session = Session.begin(journal, protocol, text, code, values, clock, station="invented", invented=True)
    return Demo(Desk(session), clock, played)
