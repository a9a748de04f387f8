"""The commands of the live screen and the keys that give them: one table, from which the key sheet is made.

Only keys that terminals and multiplexers pass on. The letters belong to the protocol's steps. The digits, the point
and the minus are figures everywhere, so no command has one; what writes at once lies where no figure and no letter is
next to it.
"""

from __future__ import annotations

from typing import Final

from tracker.screen.commands import Command

COMMANDS: Final[tuple[Command, ...]] = (
    Command("natural", "space", "tick", "tick the marked step; start or stop it if it is a span"),
    Command("onward", "tab", "stop, next", "stop the marked span and start the next one"),
    Command("up", "up", "", "mark the step before"),
    Command("down", "down", "", "mark the step after"),
    Command("stage_back", "left", "", "show the stage before"),
    Command("stage_on", "right", "stage", "show the stage after"),
    Command("strike", "backspace", "strike", "strike the last entry; again: the one before"),
    Command("back_stamp", "<", "1 min back", "the last entry was a minute earlier; again: one more"),
    Command("open", "f10", "open", "what is open: the hand-over sheet"),
    Command("reading", "f1", "reading", "enter a reading"),
    Command("decision", "f2", "decision", "state the choice of a decision"),
    Command("count", "f3", "count", "what the count board says; items opened or handed off"),
    Command("note", "f4", "note", "write a note"),
    Command("not_needed", "f5", "not needed", "the marked step is not needed, with a reason"),
    Command("bookmark", "f6", "bookmark", "a moment worth finding in the recording"),
    Command("pause", "f7", "pause", "the operation stands still, then goes on; asks once more"),
    Command("hand_over", "f8", "hand-over", "hand the circulating post over; change of operator"),
    Command("entries", "f9", "entries", "one of the last twenty entries: strike it, move it, put it earlier"),
    Command(
        "complication",
        "/",
        "complication",
        "stamp a complication now, then say which; again: which it was, or that it is dealt with",
    ),
    Command("reason", "=", "reason", "give the reason for a deviation"),
    Command("not_logged", ";", "", "the marked step was done, nobody ticked it; asks once more"),
    Command("close_stage", "#", "", "the team is through with this stage; asks once more"),
    Command("facts", ",", "", "a case fact has changed"),
    Command("missed", "'", "", "add what was missed between the last two entries; Up goes further back"),
    Command(
        "spread", ">", "", "the last burst of ticks was late: spread it over the time before; asks once more"
    ),
    Command("elsewhere", "`", "", "the disk does not take entries: go on in the second folder"),
    Command("dimmer", "[", "", "dim the screen"),
    Command("brighter", "]", "", "brighten the screen"),
    Command("theme", "\\", "", "the next theme: dark, daylight, high contrast, no colour"),
    Command("key_sheet", "?", "keys", "this sheet"),
    Command("leave", "Q", "leave", "leave the screen; the case stays open"),
)

ONCE_MORE: Final = frozenset({"not_logged", "close_stage", "spread", "pause"})
"""Commands that write at once and lie beside letters or beside another that does, or write much: they ask once more."""
