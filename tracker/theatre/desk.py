"""Where a key goes: the circulating assistant's desk, without a screen.

`press` takes any key. The key of a step on the screen ticks it, a command does what the key sheet says, and a key that
means nothing is answered in words. What a tired hand may not mean asks for the same key once more: a step that is not
on the screen or not in the case, a letter that an open list does not have. The same key again at once is one press.
What belongs to a tick (a choice, a reading, a number) is asked afterwards and may be left open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.deviations import Deviation, deviations
from tracker.core.forecast import Forecast, Forecaster
from tracker.core.protocol import Protocol, Step
from tracker.screen.asking import Ask, Question
from tracker.screen.commands import by_key, key_words
from tracker.screen.lines import Line, Size
from tracker.screen.panels import FIGURES, Figures, Panel, Write
from tracker.screen.room import set_aside
from tracker.screen.touch import AT_ANY_RATE, HELD_MS, OnePress
from tracker.theatre.acts import ACTS
from tracker.theatre.acts.ticking import act, doing, onward
from tracker.theatre.board import draw
from tracker.theatre.keys import ONCE_MORE
from tracker.theatre.path import expected_after, first_expected, first_mark
from tracker.theatre.reach import OnScreen, doubt, on_screen, step_of
from tracker.theatre.scene import Look, Scene, differing, scene
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings

STANDARD: Final = Settings()
LAPSE_MS: Final = 30_000
"""A key that was asked for once more is forgotten after so long."""
_GOES_ON: Final[Mapping[str, int]] = {
    "back_stamp": HELD_MS,
    "strike": HELD_MS,
    "dimmer": AT_ANY_RATE,
    "brighter": AT_ANY_RATE,
    "theme": AT_ANY_RATE,
}
"""Commands that may well be meant twice at once, going on by more than one; a key held down is one press of what writes."""
_OF_THE_MARK: Final = frozenset({"natural", "onward"})
"""Commands for the marked step. Their keys, and Enter, mean something else in many a program: what lies over the board
does not let them through."""


class Asked(Struct, frozen=True, gc=False):
    """A key that was pressed and is asked for once more: when that was, and what it will do."""

    key: str
    at_ms: int
    words: str


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
        self.back_s = 0.0
        self.left = False
        self.become: Desk | None = None
        self._differs: tuple[str, ...] = ()
        self._forecast: Forecast | None = None
        self._asked: Asked | None = None
        self._one_press = OnePress()
        self.marked: str = first_mark(self.case)
        self.stage: int = self.stage_of(self.marked)
        self._on_screen = self.case, self.stage, on_screen(self.case, self.stage)

    @property
    def case(self) -> Case:
        """The case as it stands."""
        return self.session.case

    @property
    def protocol(self) -> Protocol:
        """Its protocol."""
        return self.case.protocol

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
        self.hint, at_ms = "", self.session.clock().elapsed_ms
        command = self.commands.get(key)
        goes_on = _GOES_ON.get(command.id) if command is not None else None
        heard = self._one_press.heard(key, at_ms, self.panel, goes_on)
        if heard == "same":
            self.hint = f"{key_words(key)} twice at once is one press"
            return
        asked, self._asked = self._asked, None
        again = asked is not None and asked.key == key and at_ms - asked.at_ms <= LAPSE_MS
        self.back_s = (at_ms - asked.at_ms) / 1000 if asked is not None and again else 0.0
        figures = self.panel.typed if isinstance(self.panel, Figures) else ""
        told = self._told() if self.panel is not None else None
        if self.panel is None or not self._in_panel(key, again):
            self._on_board(key, again)
        elif heard == "twice" and self.panel is not None and self.panel.types(key):
            self.panel.doubled()
        if told is not None and not self.hint and self._told() == told:
            self.hint = f"{key_words(key)} changes nothing here; Esc goes back to the board"
        if figures and not isinstance(self.panel, Figures) and key not in self.keys_of("reading"):
            self._say_first(f"not kept: {figures}")
        if asked is not None and not again:
            self._say_first(f"not done: {asked.words}")

    def _say_first(self, words: str) -> None:
        """Say something before what the key itself says."""
        self.hint = f"{words}. {self.hint}" if self.hint else words

    def _in_panel(self, key: str, again: bool) -> bool:
        """Give a key to the panel; whether it goes no further."""
        panel = self.panel
        if panel is None or (isinstance(panel, Figures) and key in self.keys_of("reading")):
            return False
        used = panel.press(key)
        if self.panel is panel and not panel.open:
            self.panel = None
        if used:
            return True
        held = isinstance(panel, Ask) and panel.held
        if self.panel is panel and (held or (not again and (panel.lists or self._is_of_the_mark(key)))):
            self._refuse(key, held=held)
            return True
        self.panel = None
        return False

    def _is_of_the_mark(self, key: str) -> bool:
        """Whether a key does something to the marked step, or is Enter."""
        command = self.commands.get(key)
        return key == "enter" or (command is not None and command.id in _OF_THE_MARK)

    def _refuse(self, key: str, *, held: bool) -> None:
        """Say that what lies over the board does not have this key, and what the key once more does.

        What is held is left by Esc alone: words typed there have many a letter twice.
        """
        step, words = self._meant(key), self._words_of(key)
        if words and not held:
            why = doubt(self.case, self.on_screen(), step) if step is not None else ""
            hint = f"{key_words(key)} is no answer here. {key_words(key)} once more: {words}"
            self.ask_once_more(key, words, f"{hint}; {why}" if why else hint)
        else:
            self.hint = f"{key_words(key)} is no answer here; Esc goes back to the board"

    def _meant(self, key: str) -> Step | None:
        """The step that a key acts on: the marked one, or the step that has this letter."""
        command = self.commands.get(key)
        if command is None:
            return self.step_for(key)
        return self.protocol.step[self.marked] if command.id in _OF_THE_MARK else None

    def _words_of(self, key: str) -> str:
        """What a key does on the board, in words; nothing if it does nothing there."""
        command, step = self.commands.get(key), self._meant(key)
        if step is not None:
            return doing(self, step)
        return command.word or command.does if command is not None else ""

    def ask_once_more(self, key: str, words: str, hint: str) -> None:
        """Ask for a key once more before it does what the words say."""
        self._asked = Asked(key, self.session.clock().elapsed_ms, words)
        self.hint = hint

    def _on_board(self, key: str, again: bool) -> None:
        command, step = self.commands.get(key), self._meant(key)
        if step is not None:
            self._tick(key, step, again)
        elif command is not None:
            if command.id in ONCE_MORE and not again:
                words = command.does.partition(";")[0]
                self.ask_once_more(key, words, f"{key_words(key)} once more: {words}")
            else:
                ACTS[command.id](self)
        elif key in FIGURES:
            reading = key_words(self.keys_of("reading")[0])
            self.panel = Figures(key, f"{reading} takes them along to a reading")
        elif key == "enter":
            onward = key_words(self.keys_of("onward")[0])
            self.hint = f"Enter answers questions, and none is open; {onward} stops the marked step"
        elif key == "escape":
            self.hint = "nothing lies over the board; Esc never leaves it"
        else:
            sheet = key_words(self.keys_of("key_sheet")[0])
            self.hint = f"{key_words(key)}: no step within reach has this key. {sheet} shows the keys"

    def _tick(self, key: str, step: Step, again: bool) -> None:
        """Tick a step, as of when its key was first pressed; one in doubt asks for its key once more."""
        why = "" if again else doubt(self.case, self.on_screen(), step)
        if why:
            words = doing(self, step)
            self.ask_once_more(key, words, f"{key_words(key)} once more: {words}; {why}")
        elif key in self.keys_of("onward"):
            onward(self, self.back_s)
        else:
            act(self, step, self.back_s)

    def _told(self) -> object:
        """What a key could have changed of what lies over the board, and the entries."""
        return len(self.case.events), self.panel and (self.panel.title, *self.panel.rows())

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
        """The step that a key means now."""
        return step_of(self.case, self.stage, self.on_screen(), key)

    def on_screen(self) -> OnScreen:
        """The steps that are on the screen."""
        # Asked several times a key; a case is never edited, so the same one has the same steps on the screen.
        case, stage, shown = self._on_screen
        if case is not self.case or stage != self.stage:
            shown = on_screen(self.case, self.stage)
            self._on_screen = self.case, self.stage, shown
        return shown

    def keys_of(self, command: str) -> tuple[str, ...]:
        """The keys that give a command."""
        return next((c.key, *c.also) for c in self.all_commands if c.id == command)

    def say(self, kind: type[ev.Event], **fields: Any) -> ev.Event:
        """Record that something happened now, or when its key was first pressed if that was asked for once more."""
        return self.session.record(kind, self.back_s, **fields)

    def mark(self, step: str) -> None:
        """Mark a step; the stage that is shown stays."""
        self.marked = step

    def mark_after(self, step: str) -> None:
        """Mark what comes after a step: on the screen if anything there is expected, else in the file."""
        shown = self.on_screen()
        order = [s for s in self.protocol.stage_of if s in (*shown.stage, *shown.beside)]
        start = order.index(step) + 1 if step in order else 0
        here = first_expected(self.case, (*order[start:], *order[:start]))
        self.marked = here or expected_after(self.case, step) or self.marked

    def ask(self, questions: Sequence[Question], *, held: bool = False) -> None:
        """Ask something over the foot of the board; what is held wants Enter behind its letter."""
        self.panel = Ask(questions, self.drafts, held=held)

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
        shown = self.on_screen()
        look = Look(self.stage, self.marked, shown.beside, shown.ahead)
        shown_now = scene(self.case, now_t, now.at, look, self._differs, self._forecast)
        waiting = len(self.session.waiting)
        trouble = f"{waiting} not on disk, kept in memory" if waiting else ""
        panel = self.panel.title if self.panel else ""
        rows = tuple(self.panel.rows()) if self.panel else ()
        hint = self.hint or (self._offer_elsewhere() if waiting else "")
        asked = self._asked if self._asked and now.elapsed_ms - self._asked.at_ms <= LAPSE_MS else None
        asks = f"{key_words(asked.key)} once more: {asked.words}" if asked else ""
        return replace(shown_now, hint=hint, trouble=trouble, panel=panel, rows=rows, ask=asks)

    def _offer_elsewhere(self) -> str:
        key = self.keys_of("elsewhere")[0]
        return f"{self.session.trouble} Tried again; {key_words(key)} goes on in {self.second_folder}"
