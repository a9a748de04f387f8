"""From what the terminal sends to what the toolkit passes on: in the place of the toolkit's own parser.

That parser takes any answer of the terminal for keys, and some for more than it can read. Nothing reaches it any more.
"""

from __future__ import annotations

import time
from codecs import IncrementalDecoder, getincrementaldecoder
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from importlib import import_module
from typing import Any, Final

from textual import constants, events, messages
from textual.driver import Driver
from textual.message import Message

from tracker.screen.hand import Hand
from tracker.screen.wire import Given, Heard, Key, Pasted, Wire

BEAT_S: Final = 0.1
"""The terminal is listened to for so long at a time."""


class Said(events.Event, bubble=False):
    """Something about the terminal that the screen is to say."""

    def __init__(self, words: str) -> None:
        self.words = words
        super().__init__()


class HungUp(events.Event, bubble=False):
    """The terminal is gone."""


class Reading:
    """What came from the terminal, as messages of the toolkit; its parser's shape, for the drivers that ask for one."""

    def __init__(self, debug: bool = False, clock: Callable[[], float] = time.monotonic) -> None:  # noqa: ARG002
        self._clock = clock
        self._wire, self._hand = Wire(), Hand(clock())

    def feed(self, text: str) -> Sequence[Message]:
        """What some text is, read just now."""
        now = self._clock()
        return self.heard(text, now, now)

    def tick(self) -> Sequence[Message]:
        """What it means that nothing is there to be read just now."""
        return self.quiet(self._clock())

    def heard(self, text: str, asked: float, at: float) -> Sequence[Message]:
        """What some text is that was asked for at `asked` and there by `at`."""
        return _messages(self._hand.take(self._wire.feed(text, at), asked, at))

    def quiet(self, at: float) -> Sequence[Message]:
        """What it means that nothing was there to be read at `at`."""
        return _messages([*self._hand.tick(at), *self._wire.tick(at)])

    def patience(self, now: float) -> float:
        """How long to listen from `now` on, before asking what silence means."""
        due = [at for at in (self._wire.due(), self._hand.due()) if at is not None]
        return max(0.0, min([BEAT_S, *(at - now for at in due)]))


def _messages(heard: Sequence[Heard]) -> Sequence[Message]:
    return [message for one in heard for message in _message(one)] if heard else ()


def _message(one: Heard) -> Iterator[Message]:
    if isinstance(one, Key):
        yield events.Key(one.name, " " if one.name == "space" else one.name if len(one.name) == 1 else None)
    elif isinstance(one, Pasted):
        yield events.Paste(one.text)
        if one.cut:
            yield Said(
                f"of a paste of {len(one.text) + one.cut} characters the first {len(one.text)} were taken"
            )
    elif isinstance(one, Given):
        yield Said(one.words)
    else:
        yield messages.TerminalSupportsSynchronizedOutput()


def driver_of(toolkits: type[Driver]) -> type[Driver]:
    """The driver to take for the one that the toolkit chose: no parser of the toolkit's reads what is sent."""
    # Each key is to come in one form: the newer protocol of keyboards, which has others, is not asked for.
    vars(constants)["DISABLE_KITTY_KEY"] = True
    if toolkits.__module__ == "textual.drivers.linux_driver":
        from tracker.screen.terminal import TerminalDriver  # noqa: PLC0415 - not there on every system

        return TerminalDriver
    windows = toolkits.__module__ == "textual.drivers.windows_driver"
    place: dict[str, Any] = vars(import_module("textual.drivers.win32" if windows else toolkits.__module__))
    place["XTermParser"] = Reading
    if not windows:  # there the system hands over text
        place["getincrementaldecoder"] = _forgiving
    return toolkits


def _forgiving(encoding: str) -> Callable[[], IncrementalDecoder]:
    """A decoder that puts U+FFFD in the place of a byte that is no text."""
    return partial(getincrementaldecoder(encoding), "replace")
