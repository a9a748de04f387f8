"""The invented case as it is shown in a terminal: its interesting moments told in words, or all of it from end to end.

A moment begins with its words, which stand long enough to be read; then what they tell of is pressed, key by key. What
lies between two moments is played at once, and a quiet time within one is jumped over: the foot of the screen says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct

from tracker.core.wording import clock_time
from tracker.screen.commands import key_words
from tracker.screen.lines import Line, Size, fit, flow
from tracker.screen.room import Room, set_aside
from tracker.theatre.demo import Cue, Demo, Moment
from tracker.theatre.desk import Desk

WORDS_A_S: Final = 3.0
"""Words are read at this rate, a hundred and eighty a minute: a little slower than most people read a page."""
LOOK_S: Final = 1.0
"""For the eye to find the words, and at the end of a moment to see what came of it."""
CUE_S: Final = 0.6
"""A key, or a figure typed, stands so long before the next."""
SPEED: Final = 30.0
"""Case seconds a second while something goes on."""
QUIET_S: Final = 5.0
"""A time without a key that would take longer to show is jumped over, but for a second before and after it."""

LEAST_BAR: Final = 4
"""A shorter bar tells nothing."""


class Beat(Struct, frozen=True, gc=False):
    """Part of the show: how many cues are done once it begins, how long it stands, what the clock does meanwhile."""

    moment: int
    done: int
    at: datetime
    until: datetime
    stands_s: float
    jumped: timedelta = timedelta()


def reading_s(words: str) -> float:
    """How long words stand before anything happens."""
    return LOOK_S + len(words.split()) / WORDS_A_S


def beats(cues: Sequence[Cue], moments: Sequence[Moment]) -> tuple[Beat, ...]:
    """The show of a script: it needs no clock and no desk."""
    shown: list[Beat] = []
    for n, moment in enumerate(moments):
        # The case goes on at its own pace while the words are read, and the first key comes once they are.
        first, read_s = cues[moment.first].at, reading_s(moment.words)
        before = cues[moment.first - 1].at if moment.first else first
        begun = max(before, first - timedelta(seconds=read_s))
        jumped = begun - shown[-1].until if shown else timedelta()
        shown += [Beat(n, moment.first, begun, first, read_s, jumped), *_pressed(n, cues, moment)]
    return tuple(shown)


def _pressed(n: int, cues: Sequence[Cue], moment: Moment) -> Iterator[Beat]:
    """The beats of a moment once its words are read: one a cue, and one more where the clock jumps."""
    for i in range(moment.first, moment.end):
        at = cues[i].at
        if i + 1 == moment.end:
            yield Beat(n, i + 1, at, at + timedelta(seconds=LOOK_S), CUE_S + LOOK_S)
            return
        following = cues[i + 1].at
        gap_s = (following - at).total_seconds()
        if gap_s <= QUIET_S * SPEED:
            yield Beat(n, i + 1, at, following, max(CUE_S, gap_s / SPEED))
            continue
        left, landed = at + timedelta(seconds=LOOK_S), following - timedelta(seconds=LOOK_S)
        yield Beat(n, i + 1, at, left, CUE_S + LOOK_S)
        yield Beat(n, i + 1, landed, following, LOOK_S, landed - left)


def length_s(show: Sequence[Beat]) -> float:
    """How long a show lasts when nobody holds it."""
    return sum(beat.stands_s for beat in show)


class Playing:
    """The invented case on the screen; keys say how it is shown, and none reaches the case."""

    become: Room | None = None

    def __init__(self, demo: Demo, period_s: float) -> None:
        """`period_s` is how long it is from one pulse to the next."""
        self.demo = demo
        self.period_s = period_s
        self.left = False
        self.theme = demo.desk.theme
        self.brightness = demo.desk.brightness

    def press(self, key: str) -> None:
        """Esc or Q ends the playing."""
        self.left = self.left or key in ("escape", "Q")

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.said(set_aside(text))

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self.demo.desk.said(words)

    def pulse(self) -> None:
        """Go on by one step of time."""
        raise NotImplementedError

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:
        """The board of the case, and under it what is shown and how far it is."""
        foot = self.foot(size.width)
        return (*self.demo.desk.draw(Size(size.width, size.height - len(foot)), quick=quick), *foot)

    def foot(self, width: int) -> Sequence[Line]:
        """What stands under the board; always as many lines, so that the board stays where it is."""
        raise NotImplementedError

    def close(self) -> str:
        """Let go of the journal."""
        return self.demo.close()


class Whole(Playing):
    """All of it, at one pace."""

    def __init__(self, demo: Demo, period_s: float, speed: float) -> None:
        """`speed` is case seconds a second."""
        super().__init__(demo, period_s)
        self.step = timedelta(seconds=speed * period_s)

    def pulse(self) -> None:
        """Go on by one step of time; shortly after the last cue it is over."""
        self.demo.play_to(self.demo.clock.now + self.step)
        self.left = self.left or self.demo.clock.now > self.demo.cues[-1].at + 20 * self.step

    def foot(self, width: int) -> Sequence[Line]:
        """A line saying how far it is."""
        words = f" invented case, playing {clock_time(self.demo.clock.now)}  Esc ends it "
        return (fit(_bar(words, self.demo.done / len(self.demo.cues), width), width),)


class Show(Playing):
    """Its moments, one after the other; Space holds the show, Right goes to the next moment."""

    def __init__(self, demo: Demo, period_s: float) -> None:
        super().__init__(demo, period_s)
        self.beats = beats(demo.cues, demo.moments)
        self.words = [_said(demo.desk, moment.words) for moment in demo.moments]
        self.at = -1
        self.stood_s = 0.0
        self.held = False
        self._go(0)

    @property
    def beat(self) -> Beat:
        """The part that is shown now."""
        return self.beats[self.at]

    def press(self, key: str) -> None:
        """Hold the show or let it go on, go to the next moment, or end."""
        super().press(key)
        if key == "space":
            self.held = not self.held
        elif key == "right":
            onward = (i for i, b in enumerate(self.beats) if b.moment > self.beat.moment)
            self._go(next(onward, len(self.beats)))

    def pulse(self) -> None:
        """Go on by one step of time, unless it is held."""
        if self.held or self.left:
            return
        self.stood_s += self.period_s
        while not self.left and self.stood_s >= self.beat.stands_s:
            over = self.stood_s - self.beat.stands_s
            self._go(self.at + 1)
            self.stood_s = over
        part = min(1.0, self.stood_s / self.beat.stands_s)
        self._clock_to(self.beat.at + (self.beat.until - self.beat.at) * part)

    def _go(self, at: int) -> None:
        """Begin a part of the show: press what is due by then. After the last one it is over."""
        if at >= len(self.beats):
            self.left = True
            return
        self.at, self.stood_s = at, 0.0
        self.demo.play_cues(self.beat.done)
        self._clock_to(self.beat.at)

    def _clock_to(self, moment: datetime) -> None:
        self.demo.clock.now = max(self.demo.clock.now, moment)

    def foot(self, width: int) -> Sequence[Line]:
        """The words of the moment, what was pressed or jumped over, and the keys of the show."""
        told = [flow(words, width - 2, "", 1) for words in self.words]
        most = max(map(len, told))
        now: list[Line] = [((" ", "plain"), *line) for line in told[self.beat.moment]]
        goes = "Space goes on" if self.held else "Space holds"
        keys = f" invented case, {self.beat.moment + 1} of {len(self.words)}  {goes}  Right next  Esc ends "
        shown_s = length_s(self.beats[: self.at]) + self.stood_s
        bar = _bar(f"{keys}  {self._news()} ", shown_s / length_s(self.beats), width)
        return tuple(fit(line, width) for line in (*now, *[()] * (most - len(now)), bar))

    def _news(self) -> str:
        """What this part shows that the one before did not: a jump of the clock, or the keys just pressed."""
        if self.beat.jumped >= timedelta(minutes=1):
            return f"{self.beat.jumped // timedelta(minutes=1)} min skipped"
        pressed = self.at > 0 and self.beat.done > self.beats[self.at - 1].done
        return f"pressed {' '.join(map(key_words, self.demo.keys))}" if pressed else ""


def _said(desk: Desk, words: str) -> Sequence[Line]:
    """The words of a moment, one by one; `<x>` stands for the key of a command or a step."""
    return [_word(desk, word) for word in words.split()]


def _word(desk: Desk, word: str) -> Line:
    named = re.fullmatch(r"<(\w+)>(.*)", word)
    if named is None:
        return ((word, "live"),)
    step = desk.protocol.step.get(named[1])
    key = (step.key or "") if step else desk.keys_of(named[1])[0]
    return ((key_words(key), "key"), (named[2], "live"))


def _bar(words: str, share: float, width: int) -> Line:
    """Words, and after them how much of it is over, where there is room."""
    room = width - len(words) - 6
    if room < LEAST_BAR:
        return ((words, "key"),)
    full = round(room * share)
    return ((words, "key"), (f"{'━' * full}{'─' * (room - full)} {share:4.0%} ", "rule"))
