"""What a screen shows and gives keys to, whatever it is: home, the opening page, the desk, a watch."""

from __future__ import annotations

from typing import Protocol

from tracker.screen.lines import Line, Size


def set_aside(text: str) -> str:
    """What a room says of pasted text that it has no use for."""
    return f"{len(text)} characters came at once, as from a paste: set aside"


class Room(Protocol):
    """What the screen shows and gives keys to: the opening page, then the desk."""

    left: bool
    theme: str
    brightness: int

    @property
    def become(self) -> Room | None:
        """What comes instead from now on."""

    def press(self, key: str) -> None:
        """Take a key."""

    def paste(self, text: str) -> None:
        """Take pasted text."""

    def said(self, words: str) -> None:
        """Show what is to be said of the terminal."""

    def pulse(self) -> None:
        """Do what is to be done every so often."""

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:
        """Its lines; `quick` may leave out what can wait until after the paint."""

    def close(self) -> str:
        """Let go of what it holds; what is to be said of that afterwards, if anything is."""
