"""`clockhour demo`: an invented case from end to end."""

from __future__ import annotations

import argparse
import shutil

from tracker.commands.common import draws, has_terminal, loaded, show
from tracker.commands.exits import DONE, FINDINGS
from tracker.commands.record import write_record
from tracker.core.case import Case
from tracker.core.deviations import deviations
from tracker.core.timeline import timeline
from tracker.core.timeline_text import text_timeline
from tracker.journal.archive import Archive
from tracker.journal.shelf import find_protocol, shipped
from tracker.theatre.demo import PROTOCOL, Demo, begin

PERIOD_S = 0.1
NAMES = ("toml", "md", "csv", "json")


def demo(args: argparse.Namespace) -> int:
    """Play the invented case, in the live screen if there is a terminal, and write its record."""
    path, text = find_protocol(PROTOCOL, [shipped()])
    protocol = loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    archive = Archive(args.to / "cases")
    played = begin(protocol, text, archive, step_s=args.speed * PERIOD_S)
    if has_terminal():
        ended = _on_screen(played)
        if ended != DONE:
            played.close()
            return ended
    played.play()
    played.close()
    _tell(played.desk.case, played.pressed)
    return write_record(archive, played.desk.case.code, args.to / "record", NAMES)


def _on_screen(played: Demo) -> int:
    from tracker.screen.app import TheatreApp

    return show(TheatreApp(played, PERIOD_S))


def _tell(case: Case, keys: int) -> None:
    width = min(160, max(80, shutil.get_terminal_size((100, 24)).columns))
    print("An invented case in an invented unit. Nothing in it happened.\n")
    print("\n".join(text_timeline(timeline(case, case.last_t), width, ascii_only=not draws())))
    found = len(deviations(case, case.last_t))
    print(f"\n{len(case.events)} entries, {keys} keys, {found} deviations. The record:")
