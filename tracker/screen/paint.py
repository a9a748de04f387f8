"""Tones and the four themes. A tone is a word for a role on the board; a theme says how it is painted.

Colour is always the last cue: every state is told by a word first. `lamp` is the dark-adapted default, deep
red and amber on black; `daylight` serves a lit room; `stark` is for high contrast; `plain` uses no colour.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Final

from msgspec import Struct
from rich.color import Color
from rich.style import Style

TONES: Final = ("plain", "quiet", "done", "live", "amber", "red", "large", "echo", "mark", "rule", "key")


class Theme(Struct, frozen=True, gc=False):
    """A background and a foreground for each tone, as `#rrggbb`; `plain` has neither."""

    id: str
    does: str
    ground: str | None
    tones: Mapping[str, str]


THEMES: Final[Mapping[str, Theme]] = {
    "lamp": Theme(
        "lamp", "dark-adapted: deep red and amber on black", "#000000",
        {
            "plain": "#c98d3c", "quiet": "#a8742f", "done": "#a8742f", "live": "#e0a04a", "amber": "#f0b04c",
            "red": "#ff5a48", "large": "#e59a3c", "echo": "#e0a04a", "mark": "#f2b25a", "rule": "#9a3c30",
            "key": "#ec6456",
        },
    ),
    "daylight": Theme(
        "daylight", "for a lit room", "#f6f3ec",
        {
            "plain": "#26231d", "quiet": "#5b564c", "done": "#46525c", "live": "#0c4a6e", "amber": "#7a4500",
            "red": "#a01a10", "large": "#1b1a17", "echo": "#0c4a6e", "mark": "#1b1a17", "rule": "#7b7466",
            "key": "#7a2e12",
        },
    ),
    "stark": Theme(
        "stark", "high contrast", "#000000",
        {
            "plain": "#ffffff", "quiet": "#c8c8c8", "done": "#c8c8c8", "live": "#ffffff", "amber": "#ffd24a",
            "red": "#ff9d8f", "large": "#ffffff", "echo": "#ffffff", "mark": "#ffffff", "rule": "#b4b4b4",
            "key": "#ffe08a",
        },
    ),
    "plain": Theme("plain", "no colour, for NO_COLOR and serial consoles", None, {}),
}  # fmt: skip

_BOLD: Final = frozenset({"live", "amber", "red", "large", "echo", "key", "mark"})
BRIGHTNESS: Final = (0.25, 0.4, 0.6, 0.8, 1.0)
"""Steps of brightness, as shares of the theme's own relative luminance."""


def channel(value: float) -> float:
    """An 8-bit sRGB channel as linear light, 0 to 1 (WCAG 2.2, relative luminance)."""
    share = value / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def _encoded(linear: float) -> int:
    share = linear * 12.92 if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055
    return round(share * 255)


def rgb(colour: str) -> tuple[int, int, int]:
    """`#rrggbb` as three numbers."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def dimmed(colour: str, share: float) -> str:
    """`colour` with its linear light multiplied by `share`."""
    return "#" + "".join(f"{_encoded(channel(v) * share):02x}" for v in rgb(colour))


@lru_cache(maxsize=32)
def styles(theme_id: str, step: int) -> Mapping[str, Style]:
    """A painted style for every tone, at a step of brightness; it dims the letters of dark themes only."""
    theme, brightness = THEMES[theme_id], BRIGHTNESS[step]
    if theme.ground is None:
        return {t: Style(bold=t in _BOLD, reverse=t in ("mark", "red")) for t in TONES}
    dark = theme.ground == "#000000"
    ground = Color.parse(theme.ground)
    painted = {}
    for tone, colour in theme.tones.items():
        ink = Color.parse(dimmed(colour, brightness) if dark else colour)
        swapped = tone == "mark"
        painted[tone] = Style(
            color=ground.name if swapped else ink.name, bgcolor=ink.name if swapped else ground.name,
            bold=tone in _BOLD,
        )  # fmt: skip
    return painted
