"""Looking on at a live case from another terminal or machine: read-only, without a lock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from msgspec.structs import replace

from tracker.core.case import Case
from tracker.core.deviations import deviations
from tracker.core.events import Opened
from tracker.core.fold import extend, fold
from tracker.core.forecast import Forecast, Forecaster
from tracker.journal.cases import protocol_within
from tracker.journal.follow import Follower
from tracker.journal.trouble import Trouble
from tracker.screen.commands import Command, by_key
from tracker.screen.light import LIGHTS
from tracker.screen.lines import Line, Size, page
from tracker.screen.room import set_aside
from tracker.screen.station import Now
from tracker.theatre.board import draw
from tracker.theatre.path import first_mark
from tracker.theatre.scene import Look, differing, scene
from tracker.theatre.settings import Settings

FOOT = (Command("leave", "Q", "leave", "leave the screen"),)


class Watch:
    """The board of a case that another program writes; it survives that program's end and return."""

    become: Watch | None = None

    def __init__(
        self,
        follower: Follower,
        code: str,
        clock: Callable[[], Now],
        settings: Settings,
        forecaster: Forecaster | None = None,
    ) -> None:
        self.follower = follower
        self.forecaster = forecaster
        self.code = code
        self.clock = clock
        self.theme = settings.theme
        self.brightness = settings.brightness
        self.left = False
        self.hint = ""
        self._commands = by_key(settings.commands)
        self.case: Case | None = None
        self.trouble = ""
        self._over: tuple[Case | None, int] = (None, 0)
        self._differs: tuple[str, ...] = ()
        self._forecast: Forecast | None = None
        self.pulse()

    def pulse(self) -> None:
        """Take what was written since."""
        try:
            for event in self.follower.poll():
                if self.case is not None:
                    self.case = extend(self.case, event)
                elif isinstance(event, Opened):
                    self.case = fold(protocol_within(event), (event,))
            self.trouble = self.follower.problem or ""
        except Trouble as refusal:
            self.trouble = str(refusal)

    def press(self, key: str) -> None:
        """Q or Esc leaves, and the screen's light has the keys that it has in theatre; nothing is ticked."""
        self.left = key in ("Q", "escape")
        command = self._commands.get(key)
        self.hint = LIGHTS[command.id](self) if command and command.id in LIGHTS else ""

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.hint = set_aside(text)

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self.hint = words

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The board, with what this screen is at its foot."""
        if self.case is None:
            return page(f"{self.code}: waiting for its first entry", (self.trouble,), (), "Q leaves", size)
        now = self.clock()
        now_t = self._now_t(self.case, now.at)
        self._look_over(self.case, now_t)
        shown = scene(self.case, now_t, now.at, self._look(self.case), self._differs, self._forecast)
        hint = self.hint or f"watching {self.code}: read only, nothing can be ticked here"
        return draw(replace(shown, hint=hint, trouble=self.trouble), size, FOOT)

    def _look_over(self, case: Case, now_t: float) -> None:
        """Find what asks for the whole case, once for each entry and each second."""
        if self._over[0] is case and self._over[1] == int(now_t):
            return
        self._over = case, int(now_t)
        self._differs = differing(case, deviations(case, now_t))
        if self.forecaster:
            self._forecast = self.forecaster(case, now_t)

    def _now_t(self, case: Case, at: datetime) -> float:
        """The case second by this machine's wall clock, never before the last entry."""
        last = case.events[-1]
        passed = (at - last.entered_at).total_seconds()
        return case.bases.entered_t(last) + max(0.0, passed)

    def _look(self, case: Case) -> Look:
        marked = first_mark(case)
        return Look(case.protocol.stage_index[case.protocol.stage_of[marked]], marked)

    def close(self) -> str:
        """Nothing is held here."""
        return ""
