"""A page to read: the sheet of a case, the debrief of a day."""

from __future__ import annotations

from collections.abc import Sequence

from tracker.core.wording import CAUTION
from tracker.screen.lines import Line, Size, fit
from tracker.screen.room import Room, set_aside
from tracker.theatre.settings import Settings


class Reading:
    """Lines of text under a title. Up and Down turn it, Esc and Q leave."""

    become: Room | None = None

    def __init__(self, title: str, lines: Sequence[str], settings: Settings) -> None:
        self.title = title
        self.lines = tuple(lines)
        self.theme = settings.theme
        self.brightness = settings.brightness
        self.left = False
        self.at = 0
        self.says = ""

    def press(self, key: str) -> None:
        """Turn, or leave."""
        self.says = ""
        if key in ("escape", "Q"):
            self.left = True
        elif key in ("up", "down"):
            self.at = min(max(0, self.at + (10 if key == "down" else -10)), max(0, len(self.lines) - 1))
        else:
            self.says = "this page is for reading: "

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.said(set_aside(text))

    def said(self, words: str) -> None:
        """Say something of the terminal, before what the keys do."""
        self.says = f"{words}. "

    def pulse(self) -> None:
        """Nothing changes here by itself."""

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The page as lines."""
        room = size.height - 3
        shown = self.lines[self.at : self.at + room]
        foot = f"{self.says}Up Down turn, Esc leaves; line {self.at + 1} of {len(self.lines)}"
        drawn: list[Line] = [((f" {self.title}", "live"),), ((f" {CAUTION}", "quiet"),)]
        drawn += [((f" {line}", "plain"),) for line in shown]
        drawn += [()] * (size.height - len(drawn) - 1)
        return tuple(fit(line, size.width) for line in (*drawn[: size.height - 1], ((f" {foot}", "key"),)))

    def close(self) -> str:
        """Nothing is held here."""
        return ""
