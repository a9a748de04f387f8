"""The commands of the review screen and their keys: one table, from which the key sheet is made.

No step has a key here, so the letters are free for words that begin with them.
"""

from __future__ import annotations

from typing import Any, Final

from tracker.core.findings import Finding
from tracker.screen.binding import NAMED, Table, bound
from tracker.screen.commands import Command

COMMANDS: Final[tuple[Command, ...]] = (
    Command("up", "up", "", "the lane above"),
    Command("down", "down", "", "the lane below"),
    Command("before", "left", "", "the entry before on this lane; the view goes along"),
    Command("after", "right", "", "the entry after on this lane; the view goes along"),
    Command("closer", "+", "closer", "closer, about the cursor", ("=",)),
    Command("wider", "-", "wider", "wider, about the cursor"),
    Command("whole", "0", "", "the whole case"),
    Command("pan_back", ",", "", "earlier by half a view", ("shift+left",)),
    Command("pan_on", ".", "", "later by half a view", ("shift+right",)),
    Command("deviation", "d", "deviation", "the next deviation"),
    Command("deviation_back", "D", "", "the deviation before"),
    Command("bookmark", "b", "bookmark", "the next bookmark"),
    Command("longest", "l", "longest", "the longest span; again: the next longest"),
    Command("entry", "e", "entry", "everything about the entry under the cursor"),
    Command("deviations", "i", "list", "all deviations, strongest first, with their reasons"),
    Command(
        "reason", "r", "reason", "why the deviation under the cursor came about, or the first without one"
    ),
    Command("words", "R", "", "words to that reason"),
    Command("amend", "a", "amend", "what the entry under the cursor should have been; the log stays"),
    Command(
        "missed", "A", "add", "add what happened and was not logged: a step, reading, complication, operator"
    ),
    Command("went_well", "w", "went well", "what went well"),
    Command("to_change", "c", "change", "what to change: action, owner, date"),
    Command("attended", "t", "", "who took part, by role; again: not"),
    Command("sign", "s", "sign", "sign the debrief off"),
    Command("debrief", "o", "debrief", "what the debrief says so far"),
    Command("withdraw", "backspace", "", "take an entry of the debrief back; it stays legible"),
    Command("video", "v", "video", "recordings, marks, and how they lie on the log"),
    Command("compare", "x", "compare", "stage minutes beside those of earlier cases"),
    Command("writer", "u", "", "the role that writes"),
    Command("dimmer", "[", "", "dim the screen"),
    Command("brighter", "]", "", "brighten the screen"),
    Command("theme", "\\", "", "the next theme: dark, daylight, high contrast, no colour"),
    Command("key_sheet", "?", "keys", "this sheet"),
    Command("leave", "Q", "leave", "leave the screen"),
)


def may_bind(key: str) -> bool:
    """Whether a command may have this key: any sign that is printed, letters too, or one of the named keys."""
    return key in NAMED or (len(key) == 1 and key.isascii() and key.isprintable() and key != " ")


_TABLE: Final = Table(
    "review_keys",
    COMMANDS,
    may_bind,
    "Write a letter, a digit, a punctuation mark, f1 to f12, space, enter, an arrow",
)


def own_keys(raw: Any, source: str) -> tuple[tuple[Command, ...], tuple[Finding, ...]]:
    """The commands with the keys that the table `review_keys` of the settings gives them, and what is amiss."""
    return bound(_TABLE, raw, source)
