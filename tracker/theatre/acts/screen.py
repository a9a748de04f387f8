"""The screen itself: its light, its theme, the sheets that lie over it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

from tracker.core.text import shown
from tracker.screen.commands import key_words, keys_of
from tracker.screen.light import LIGHTS
from tracker.screen.panels import Row, Sheet
from tracker.theatre import open_items

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk


def light(desk: Desk, command: str) -> None:
    """Dim or brighten the screen by one step, or wear the next theme."""
    desk.hint = LIGHTS[command](desk)


def show_keys(desk: Desk) -> None:
    """Show every key."""
    desk.panel = Sheet("Keys", partial(key_rows, desk), desk.keys_of("key_sheet"))


def key_rows(desk: Desk) -> Sequence[Row]:
    """The key sheet, from the commands and steps as they are."""
    steps = [Row(s.key, s.label) for s in (*desk.stage_steps(), *desk.protocol.anytime) if s.key]
    return [*(Row(keys_of(c), c.does) for c in desk.all_commands), *steps]


def show_open(desk: Desk) -> None:
    """Show what is open."""
    desk.panel = Sheet("What is open", partial(open_rows, desk), desk.keys_of("open"))


def open_rows(desk: Desk) -> Sequence[Row]:
    """What is open, as the hand-over sheet says it."""
    now_t = desk.session.now_t(desk.session.clock())
    return [Row(i.word, i.text) for i in open_items.open_items(desk.case, now_t, _typed(desk))]


def _typed(desk: Desk) -> Mapping[str, str]:
    """What was typed and not kept, in words, by the draft it is."""
    return {
        ident: f"{_about(desk, ident)}: {shown(text)}, typed and not kept"
        for ident, text in desk.drafts.items()
        if text.strip()
    }


def _about(desk: Desk, ident: str) -> str:
    """What a draft is about: `reading:ID:REF`, `count:REF:LINE`, else one of its kind."""
    kind, *parts = ident.split(":")
    if kind == "reading":
        return desk.protocol.label(parts[0])
    return desk.protocol.label(parts[1]) if kind == "count" else kind


def open_words(desk: Desk) -> str:
    """What is open, in one line."""
    now_t = desk.session.now_t(desk.session.clock())
    items = [
        i for i in open_items.open_items(desk.case, now_t, _typed(desk)) if i.word not in open_items.BESIDE
    ]
    running = sum(1 for i in items if i.word in ("running", "clock"))
    shows = key_words(desk.keys_of("open")[0])
    return f"{running} running, {len(items) - running} more open; {shows} shows them"
