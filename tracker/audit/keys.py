"""The commands of the audit's screen and the keys that give them: one table, which makes the key sheet."""

from __future__ import annotations

from typing import Final

from tracker.screen.commands import Command

COMMANDS: Final[tuple[Command, ...]] = (
    Command("next_question", "right", "question", "the next question", ("space",)),
    Command("last_question", "left", "", "the question before", ("backspace",)),
    Command("up", "up", "filter", "mark the filter above"),
    Command("down", "down", "", "mark the filter below", ("tab",)),
    Command("change", "enter", "change it", "the next value of the marked filter", ("+",)),
    Command("change_back", "-", "", "its value before"),
    Command("clear", "0", "clear", "no filter but what the command line gave"),
    Command("way", "t", "table or drawing", "show the figures as tables or drawn"),
    Command("read_on", ".", "more", "further down in a long figure", ("pagedown",)),
    Command("read_back", ",", "", "further up", ("pageup",)),
    Command("list", "q", "all questions", "the list of questions; its letter goes to one"),
    Command("dimmer", "[", "", "dim the screen"),
    Command("brighter", "]", "", "brighten the screen"),
    Command("theme", "\\", "", "the next theme: dark, daylight, high contrast, no colour"),
    Command("key_sheet", "?", "keys", "this sheet"),
    Command("leave", "Q", "leave", "leave the screen", ("escape",)),
)
