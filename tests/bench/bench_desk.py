"""A desk without a screen for a benchmark, of whatever commit `tracker` is imported from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import tracker
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.screen.lines import Size
from tracker.screen.station import Now
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session

TREE = Path(tracker.__file__).resolve().parent.parent
START = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
SCREEN = Size(120, 40)


@cache
def shipped() -> tuple[Protocol, str]:
    """The protocol of the commit under test, and its text."""
    text = (TREE / "protocols" / "complex-pvr.toml").read_text("utf-8")
    loaded = load_protocol(text, "complex-pvr.toml")
    assert loaded.protocol is not None, "\n".join(map(str, loaded.findings))
    return loaded.protocol, text


class Kept:
    """A keeper in memory that takes every entry."""

    def __init__(self) -> None:
        self.events: list[Any] = []

    def append(self, event: Any) -> None:
        """Keep one entry."""
        self.events.append(event)

    def move_to(self, folder: Path, *, now: str = "") -> None:
        """Go on elsewhere: there is nothing to move."""

    def close(self) -> None:
        """Let go: there is nothing to let go of."""


class SetClock:
    """A clock that stands where it is put."""

    def __init__(self, start: datetime) -> None:
        self.start = self.now = start

    def __call__(self) -> Now:
        """What it says."""
        return Now(self.now, round((self.now - self.start) / timedelta(milliseconds=1)))

    def on(self, seconds: float) -> None:
        """Let time pass, in whole milliseconds."""
        self.now += timedelta(milliseconds=round(seconds * 1000))


class Rig:
    """A case at a desk; left or killed, it is taken up again."""

    def __init__(self, facts: Mapping[str, Any]) -> None:
        self.protocol, text = shipped()
        self.keeper, self.clock = Kept(), SetClock(START)
        # A fact without a default is a choice that somebody must make: here the first there is.
        values = {f.id: f.choices[0].id if f.default is None else f.default for f in self.protocol.facts}
        session = Session.begin(self.keeper, self.protocol, text, "B-0001", {**values, **facts}, self.clock)
        self.desk = Desk(session)
        self.openings = 1

    @property
    def events(self) -> tuple[Any, ...]:
        """Every entry so far."""
        return tuple(self.desk.case.events)

    def press(self, key: str) -> None:
        """Press a key; a screen that was left by it is opened again."""
        self.desk.press(key)
        if self.desk.left:
            self.reopen()

    def reopen(self) -> None:
        """Take the case up again at a new desk, some time later."""
        self.desk.close()
        self.clock.on(40)
        self.clock = SetClock(self.clock.now)
        self.desk = Desk(Session.resume(self.keeper, self.protocol, self.keeper.events, self.clock))
        self.openings += 1

    def drawn(self) -> str:
        """What the screen says, as one run of words."""
        rows = ("".join(text for text, _ in line) for line in self.desk.draw(SCREEN))
        return " ".join(" ".join(rows).split())

    def keys_of(self, command: str) -> str:
        """The first key of a command; nothing if this commit has no such command."""
        found = next((c for c in self.desk.all_commands if c.id == command), None)
        return found.key if found else ""
