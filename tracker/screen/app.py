"""The live screen: Textual passes keys to the room and paints its lines, only those that changed."""

from __future__ import annotations

import asyncio
import gc
import sys
from collections.abc import Callable
from functools import lru_cache
from typing import Any, ClassVar, Final, Literal

from rich.segment import Segment
from textual import events
from textual.app import App
from textual.driver import Driver
from textual.geometry import Region
from textual.screen import Screen
from textual.strip import Strip

from tracker.screen.lines import Line, Size
from tracker.screen.paint import THEMES, styles
from tracker.screen.reading import HungUp, Said, driver_of
from tracker.screen.room import Room


class Canvas(Screen[None]):
    """Lines of toned text, as a screen of their own; a new drawing repaints only the lines that differ."""

    def __init__(self, theme: str, brightness: int) -> None:
        super().__init__()
        self.lines: tuple[Line, ...] = ()
        self.worn = (theme, brightness)

    def on_mount(self) -> None:
        """Lay the ground of the theme."""
        self._ground()

    def wear(self, theme: str, brightness: int) -> None:
        """Paint in a theme, at a step of brightness, from now on."""
        if self.worn != (theme, brightness):
            self.worn = (theme, brightness)
            self._ground()
            self.refresh()

    def _ground(self) -> None:
        self.styles.background = THEMES[self.worn[0]].ground or "#000000"

    def show(self, lines: tuple[Line, ...]) -> None:
        """Show these lines."""
        before, self.lines = self.lines, lines
        if len(before) != len(lines):
            self.refresh()
            return
        changed = [i for i, (was, now) in enumerate(zip(before, lines, strict=True)) if was != now]
        if changed:  # with no region at all the whole screen would be painted
            self.refresh(*[Region(0, i, self.size.width, 1) for i in changed])

    def render_lines(self, crop: Region) -> list[Strip]:
        """Paint the part of the lines that was asked for; just after a resize they are of another size yet."""
        blank = styles(*self.worn)["plain"]
        return [
            painted(self._line(y), *self.worn).crop_extend(crop.x, crop.right, blank) for y in crop.line_range
        ]

    def _line(self, y: int) -> Line:
        return self.lines[y] if y < len(self.lines) else ()


@lru_cache(maxsize=512)
def painted(line: Line, theme: str, brightness: int) -> Strip:
    """A line in the styles of a theme."""
    tones = styles(theme, brightness)
    return Strip([Segment(text, tones[tone]) for text, tone in line if text])


SETTLE_S: Final = 0.15
"""After so long without a key all of the screen is drawn: longer than between the keys of a quick hand."""
LET_THROUGH_S: Final = 0.0005
"""A thread beside the screen gives way after so long."""
MANY: Final = 50_000
"""So many new objects are looked through whatever else is done; between two pulses there are never so many."""
SELDOM: Final = 600
"""Every so many quiet pulses all that is not young is looked through, too."""
QUIT_KEY: Final = "ctrl+q"
LEAVES: Final = "Q"
"""What closes other programs only asks here, as this key does."""
Ending = Literal["left", "hung up", "ended"]
"""How a screen came to its end: by a key, with its terminal, or because the system asked."""


class TheatreApp(App[None]):
    """The board on a terminal. It decides nothing: the desk does."""

    ENABLE_COMMAND_PALETTE = False
    CSS = "Canvas { background: #000000; }"
    BINDINGS: ClassVar[list[Any]] = []

    def __init__(
        self,
        room: Room,
        period_s: float = 1.0,
        back: Callable[[], Room | None] | None = None,
    ) -> None:
        """`back` gives the first screen anew for what was opened from it; without it, leaving any room ends."""
        super().__init__()
        self.period_s = period_s
        self.ending: Ending = "left"
        self.failure: Exception | None = None
        self._mine: asyncio.AbstractEventLoop | None = None
        self._settling: asyncio.TimerHandle | None = None
        self._pulses = 0
        self.room = self.first = room
        self.back = back
        self.canvas = Canvas(room.theme, room.brightness)

    def get_driver_class(self) -> type[Driver]:
        """The toolkit's choice, with a reading of our own."""
        return driver_of(super().get_driver_class())

    def get_default_screen(self) -> Canvas:
        """The lines are the whole screen."""
        return self.canvas

    def on_mount(self) -> None:
        """Draw, and again every second."""
        # What is there by now stays: a collection that walks through it would hold a key up for 20 ms. What
        # comes is looked through between the keys, by `pulse`.
        gc.collect()
        gc.freeze()
        gc.set_threshold(MANY)
        # Past cases are read in a thread beside the screen: it lets a key through after this, not after 5 ms,
        # each time that the key's way waits for the disk or the terminal.
        sys.setswitchinterval(LET_THROUGH_S)
        self.set_interval(self.period_s, self.pulse)
        self.call_after_refresh(self.redraw)
        self._mine = asyncio.get_running_loop()
        if self.ending != "left":
            self.exit()

    def pulse(self) -> None:
        """Let the room do what time asks of it, and draw."""
        self.room.pulse()
        pressed = self._pressed_just_now()
        self.redraw(quick=pressed)
        self._sweep(pressed)
        if self.room.left:
            self._leave()

    def _sweep(self, pressed: bool) -> None:
        """Look through what came since the last pulse, and between keys through what is older."""
        if pressed:
            gc.collect(0)
            return
        self._pulses += 1
        gc.collect(2 if self._pulses % SELDOM == 0 else 1)

    def _pressed_just_now(self) -> bool:
        """Whether the drawing of all that a key may have changed is still to come: the next key may come first."""
        return self._settling is not None and self._settling.when() > asyncio.get_running_loop().time()

    def on_resize(self, _: events.Resize) -> None:
        """Draw to the new size, once the toolkit has it; all of it, for a terminal forgets what it cut off."""
        self.canvas.refresh()
        self.call_after_refresh(self.redraw)

    async def on_event(self, event: events.Event) -> None:
        """Pass keys and pasted text to the room in their order, before the toolkit looks who might want them."""
        if isinstance(event, events.Paste):
            self.room.paste(event.text)
            self.redraw()
        elif isinstance(event, events.Key):
            printable = event.character and event.is_printable and event.character != " "
            key = event.character if printable and event.character else event.key
            self.press(LEAVES if key == QUIT_KEY else key)
        elif isinstance(event, Said):
            self.room.said(event.words)
            self.redraw()
        elif isinstance(event, HungUp):
            self.end("hung up")
        else:
            await super().on_event(event)

    def press(self, key: str) -> None:
        """Give a key to the room, and draw what came of it."""
        self.room.press(key)
        self.room = self.room.become or self.room
        self.redraw(quick=True)
        self._settle()
        if self.room.left:
            self._leave()

    def _leave(self) -> None:
        """Go back to the first screen, as dark as it was, or end."""
        first = self.back() if self.back and self.room is not self.first else None
        if first is None:
            self.exit()
            return
        first.theme, first.brightness = self.room.theme, self.room.brightness
        if said := self.room.close():
            first.said(said)
        self.room = self.first = first
        self.redraw()

    def end(self, ending: Ending) -> None:
        """End, whatever is open: nobody can be asked."""
        if self.ending == "left":
            self.ending = ending
            if self._mine is not None:
                self.exit()

    def end_soon(self, ending: Ending) -> None:
        """The same from outside of the loop, as in the handler of a signal."""
        if self._mine is None:
            self.end(ending)
        elif not self._mine.is_closed():
            self._mine.call_soon_threadsafe(self.end, ending)

    def _handle_exception(self, error: Exception) -> None:
        """Keep what went wrong: whoever runs the screen says it once the terminal is as it was."""
        self.failure = self.failure or error
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """End without the toolkit's own telling, which shows what is in memory."""
        self._close_messages_no_wait()

    def _settle(self) -> None:
        """Draw what may wait once no key has come for a moment: the paint of a key waits for nothing."""
        if self._settling is not None:
            self._settling.cancel()
        # The loop's own timer: one of the toolkit's would be a task more for every key.
        later = asyncio.get_running_loop().call_later
        self._settling = later(SETTLE_S, self.call_later, self.redraw)

    def redraw(self, *, quick: bool = False) -> None:
        """Draw the scene as it is now."""
        if not self.canvas.is_attached or self.size.width < 1:
            return
        size = Size(self.size.width, self.size.height)
        self.canvas.wear(self.room.theme, self.room.brightness)
        self.canvas.show(self.room.draw(size, quick=quick))
