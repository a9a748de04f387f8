"""A command of a screen, and its keys as they are printed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from msgspec import Struct


class Command(Struct, frozen=True, gc=False):
    """Something one key does, whatever the stage: `word` for the board's foot, `does` for the key sheet.

    `also` are further keys that do the same, as a foot switch sends them.
    """

    id: str
    key: str
    word: str
    does: str
    also: tuple[str, ...] = ()


def by_key(commands: tuple[Command, ...]) -> Mapping[str, Command]:
    """The command of each key."""
    return {key: c for c in commands for key in (c.key, *c.also)}


def keys_of(command: Command) -> str:
    """All keys of a command as they are printed."""
    return " ".join(key_words(k) for k in (command.key, *command.also))


_SHOWN: Final = {
    "space": "Space", "enter": "Enter", "up": "Up", "down": "Down", "left": "Left", "right": "Right",
    "backspace": "Backspace", "escape": "Esc", "tab": "Tab",
}  # fmt: skip


def key_words(key: str) -> str:
    """A key as it is printed on the screen."""
    return _SHOWN.get(key, key.upper() if key[:1] == "f" and key[1:].isdigit() else key)
