"""The commands of the live screen and the keys that give them: one table, from which the key sheet is made.

Only keys that terminals and multiplexers pass on: digits, punctuation, space, enter, arrows, backspace. The
letters belong to the protocol's steps. The digits and `/ - +` also lie on a numeric keypad.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Command:
    """Something one key does, whatever the stage: `word` for the board's foot, `does` for the key sheet.

    `also` are further keys that do the same, as a foot switch sends them.
    """

    id: str
    key: str
    word: str
    does: str
    also: tuple[str, ...] = ()


COMMANDS: Final[tuple[Command, ...]] = (
    Command("natural", "space", "tick", "tick the marked step; start or stop it if it is a span"),
    Command("onward", "enter", "stop, next", "stop the marked span and start the next one"),
    Command("up", "up", "", "mark the step before"),
    Command("down", "down", "", "mark the step after"),
    Command("stage_back", "left", "", "show the stage before"),
    Command("stage_on", "right", "stage", "show the stage after"),
    Command("strike", "backspace", "strike", "strike the last entry; again: the one before"),
    Command("back_stamp", "-", "1 min back", "the last entry was a minute earlier; again: one more"),
    Command("open", "0", "open", "what is open: the hand-over sheet"),
    Command("reading", "1", "reading", "enter a reading"),
    Command("decision", "2", "decision", "state the choice of a decision"),
    Command("count", "3", "count", "what the count board says; items opened or handed off"),
    Command("note", "4", "note", "write a note"),
    Command("not_needed", "5", "not needed", "the marked step is not needed, with a reason"),
    Command("bookmark", "6", "bookmark", "a moment worth finding in the recording"),
    Command("pause", "7", "pause", "the operation stands still; again: it goes on"),
    Command("hand_over", "8", "hand-over", "hand the circulating post over; change of operator"),
    Command("move", "9", "move", "the last tick belongs to another step"),
    Command(
        "complication",
        "/",
        "complication",
        "stamp a complication now; again: which it was, or that it is dealt with",
    ),
    Command("reason", "=", "reason", "give the reason for a deviation"),
    Command("not_logged", ";", "", "the marked step was done, nobody ticked it"),
    Command("close_stage", "#", "", "the team is through with this stage"),
    Command("facts", ",", "", "a case fact has changed"),
    Command("missed", "'", "", "add what was missed between the last two entries; Up goes further back"),
    Command("spread", ".", "", "the last burst of ticks was late: spread it over the time before"),
    Command("elsewhere", "`", "", "the disk does not take entries: go on in the second folder"),
    Command("dimmer", "[", "", "dim the screen"),
    Command("brighter", "]", "", "brighten the screen"),
    Command("theme", "\\", "", "the next theme: dark, daylight, high contrast, no colour"),
    Command("key_sheet", "?", "keys", "this sheet"),
    Command("leave", "Q", "leave", "leave the screen; the case stays open"),
)


def by_key(commands: tuple[Command, ...] = COMMANDS) -> Mapping[str, Command]:
    """The command of each key."""
    return {key: c for c in commands for key in (c.key, *c.also)}


def keys_of(command: Command) -> str:
    """All keys of a command as they are printed."""
    return " ".join(key_words(k) for k in (command.key, *command.also))


_SHOWN: Final = {
    "space": "Space", "enter": "Enter", "up": "Up", "down": "Down", "left": "Left", "right": "Right",
    "backspace": "Backspace", "escape": "Esc",
}  # fmt: skip


def key_words(key: str) -> str:
    """A key as it is printed on the screen."""
    return _SHOWN.get(key, key.upper() if key[:1] == "f" and key[1:].isdigit() else key)
