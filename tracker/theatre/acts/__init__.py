"""What each command does beside ticking the marked step: one line a command, one function of the desk."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Final

from tracker.core import events as ev
from tracker.theatre.acts import corrections, entries, keeping, people, questions, screen, ticking

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk

ACTS: Final[Mapping[str, Callable[[Desk], object]]] = {
    "up": partial(ticking.mark_by, by=-1),
    "down": partial(ticking.mark_by, by=1),
    "stage_back": partial(ticking.stage_by, by=-1),
    "stage_on": partial(ticking.stage_by, by=1),
    "strike": corrections.strike,
    "back_stamp": corrections.back_stamp,
    "entries": entries.ask_entry,
    "missed": corrections.ask_missed,
    "spread": corrections.spread,
    "reading": questions.ask_readings,
    "decision": questions.ask_decisions,
    "count": questions.ask_count,
    "note": questions.write_note,
    "not_needed": questions.ask_not_needed,
    "not_logged": questions.not_logged,
    "reason": questions.ask_reason,
    "facts": questions.ask_facts,
    "bookmark": lambda desk: desk.say(ev.Bookmark),
    "close_stage": ticking.close_stage,
    "pause": people.pause,
    "hand_over": people.ask_hand_over,
    "complication": people.complication,
    "leave": people.ask_leave,
    "open": screen.show_open,
    "key_sheet": screen.show_keys,
    "elsewhere": keeping.elsewhere,
    "dimmer": partial(screen.light, command="dimmer"),
    "brighter": partial(screen.light, command="brighter"),
    "theme": partial(screen.light, command="theme"),
}
