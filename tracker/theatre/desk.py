"""Where a key goes: the circulating assistant's desk, without a screen.

`press` takes any key. A step's own key ticks it, a command does what the key sheet says, a panel may use the
key first, and a key that means nothing is answered in words. A tick never needs more than one key: what
belongs to it (a choice, a reading, a number) is asked afterwards and may be left open.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from msgspec.structs import replace

from tracker.core import events as ev
from tracker.core.case import Case, status
from tracker.core.deviations import Deviation, deviations
from tracker.core.forecast import Forecast, Forecaster
from tracker.core.protocol import Protocol, Step
from tracker.screen.asking import Ask, Question
from tracker.screen.commands import by_key, key_words
from tracker.screen.lines import Line, Size
from tracker.screen.panels import Panel, Write
from tracker.screen.room import set_aside
from tracker.theatre.acts import ACTS
from tracker.theatre.acts.ticking import act
from tracker.theatre.board import draw
from tracker.theatre.path import expected_after
from tracker.theatre.scene import Look, Scene, differing, scene
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings

STANDARD: Final = Settings()


class Desk:
    """The state of the screen that is not the case: the stage shown, the step marked, the panel open."""

    def __init__(
        self, session: Session, settings: Settings = STANDARD, forecaster: Forecaster | None = None
    ) -> None:
        self.forecaster = forecaster
        self.session = session
        self.commands = by_key(settings.commands)
        self.all_commands = settings.commands
        self.theme = settings.theme
        self.brightness = settings.brightness
        self.second_folder = settings.second_folder
        self.panel: Panel | None = None
        self.drafts: dict[str, str] = {}
        self.answers: dict[str, ev.Scalar] = {}
        self.hint = ""
        self.left = False
        self.become: Desk | None = None
        self._differs: tuple[str, ...] = ()
        self._forecast: Forecast | None = None
        self.marked: str = self._first_mark()
        self.stage: int = self.stage_of(self.marked)

    @property
    def case(self) -> Case:
        """The case as it stands."""
        return self.session.case

    @property
    def protocol(self) -> Protocol:
        """Its protocol."""
        return self.case.protocol

    def _first_mark(self) -> str:
        running = [s.id for s in self.protocol.all_steps() if status(self.case, s) == "running"]
        ticked = [e.step for e in self.case.log if e.step and e.step in self.protocol.stage_of]
        after = expected_after(self.case, ticked[-1] if ticked else None)
        marked = next((s for s in reversed(running) if s in self.protocol.stage_of), after)
        return marked or self.protocol.stages[-1].steps[-1].id

    def stage_of(self, step: str) -> int:
        """The place of a step's stage."""
        return self.protocol.stage_index[self.protocol.stage_of[step]]

    def stage_steps(self) -> Sequence[Step]:
        """The steps of the stage shown."""
        return self.protocol.stages[self.stage].steps

    def complicated(self) -> bool:
        """Whether a complication is open: then nothing asks for attention by itself."""
        return any(t.stop is None for t in self.case.troubles)

    def deviations(self) -> tuple[Deviation, ...]:
        """The deviations as of now."""
        return deviations(self.case, self.session.now_t(self.session.clock()))

    def press(self, key: str) -> None:
        """Do what a key says; nothing is swallowed silently."""
        self.hint = ""
        if self.panel is not None:
            panel, before = self.panel, self._told()
            used = panel.press(key)
            if self.panel is panel and (not panel.open or not used):
                self.panel = None
            if used:
                if self._told() == before:
                    self.hint = f"{key_words(key)} changes nothing here; Esc goes back to the board"
                return
        command, step = self.commands.get(key), self.step_for(key)
        if command is not None:
            ACTS[command.id](self)
        elif step is not None:
            act(self, step)
        elif key == "escape":
            self.hint = "nothing lies over the board; Esc never leaves it"
        else:
            sheet = key_words(self.keys_of("key_sheet")[0])
            self.hint = f"{key_words(key)}: no step shown has this key. {sheet} shows the keys"

    def _told(self) -> object:
        """What a key could have changed: the entries, the panel and what it shows."""
        rows = tuple(self.panel.rows()) if self.panel else ()
        return len(self.case.events), self.hint, self.panel, self.panel and self.panel.title, rows

    def pulse(self) -> None:
        """Once a second: try again to put on disk what waits."""
        self.session.keep_waiting()

    def close(self) -> str:
        """Let go of the journal; where what the disk does not take went is said."""
        return self.session.close(self.second_folder)

    def paste(self, text: str) -> None:
        """Take pasted text into a note; anywhere else it is set aside, and said."""
        if isinstance(self.panel, Write):
            self.panel.paste(text)
        else:
            self.hint = f"{set_aside(text)}; only a note takes them"

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self.hint = words

    def step_for(self, key: str) -> Step | None:
        """The step that a key ticks now."""
        steps = [*self.stage_steps(), *self.protocol.anytime]
        return next((s for s in steps if s.key == key), None)

    def keys_of(self, command: str) -> tuple[str, ...]:
        """The keys that give a command."""
        return next((c.key, *c.also) for c in self.all_commands if c.id == command)

    def say(self, kind: type[ev.Event], **fields: Any) -> ev.Event:
        """Record that something happened now."""
        return self.session.record(kind, **fields)

    def mark(self, step: str) -> None:
        """Mark a step, and show its stage."""
        self.marked = step
        self.stage = self.stage_of(step)

    def ask(self, questions: Sequence[Question]) -> None:
        """Ask something over the foot of the board."""
        self.panel = Ask(questions, self.drafts)

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:
        """The board as lines; `quick` leaves the deviations and the forecast as drawn last, after a key."""
        if not quick:
            self._look_over()
        return draw(self.scene(), size, self.all_commands)

    def _look_over(self) -> None:
        """Find what asks for the whole case: the deviations, and when its end is expected."""
        self._differs = differing(self.case, self.deviations())
        if self.forecaster:
            self._forecast = self.forecaster(self.case, self.session.now_t(self.session.clock()))

    def scene(self) -> Scene:
        """What the board shows now."""
        now = self.session.clock()
        now_t = self.session.now_t(now)
        look = Look(self.stage, self.marked)
        shown_now = scene(self.case, now_t, now.at, look, self._differs, self._forecast)
        waiting = len(self.session.waiting)
        trouble = f"{waiting} not on disk, kept in memory" if waiting else ""
        panel = self.panel.title if self.panel else ""
        rows = tuple(self.panel.rows()) if self.panel else ()
        hint = self.hint or (self._offer_elsewhere() if waiting else "")
        return replace(shown_now, hint=hint, trouble=trouble, panel=panel, rows=rows)

    def _offer_elsewhere(self) -> str:
        key = self.keys_of("elsewhere")[0]
        return f"{self.session.trouble} Tried again; {key_words(key)} goes on in {self.second_folder}"
