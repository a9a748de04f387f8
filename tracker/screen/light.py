"""The light of a screen, the same in every room: a step dimmer or brighter, the next theme."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Final, Protocol

from tracker.screen.paint import BRIGHTNESS, THEMES


class Lit(Protocol):
    """A room as far as its light goes."""

    theme: str
    brightness: int


def dim(room: Lit, by: int) -> str:
    """Dim or brighten a room by so many steps; what is to be said of it."""
    room.brightness = min(max(0, room.brightness + by), len(BRIGHTNESS) - 1)
    return f"brightness {room.brightness + 1} of {len(BRIGHTNESS)}"


def next_theme(room: Lit) -> str:
    """Give a room the next theme; what is to be said of it."""
    names = list(THEMES)
    room.theme = names[(names.index(room.theme) + 1) % len(names)]
    return f"theme {room.theme}: {THEMES[room.theme].does}"


LIGHTS: Final[Mapping[str, Callable[[Lit], str]]] = {
    "dimmer": partial(dim, by=-1), "brighter": partial(dim, by=1), "theme": next_theme,
}  # fmt: skip
"""What each command of light does, by its id."""
