"""`clockhour demo`: an invented case from end to end."""

from __future__ import annotations

import argparse
import os
import shlex
import shutil
import sys
from pathlib import Path
from subprocess import list2cmdline

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
SPEED = 120.0
"""Case seconds a second when all of it is played."""
NAMES = ("toml", "md", "csv", "json")


def demo(args: argparse.Namespace) -> int:
    """Play the invented case, in the live screen if there is a terminal, and write its record."""
    path, text = find_protocol(PROTOCOL, [shipped()])
    protocol = loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    archive = Archive(args.to / "cases")
    played = begin(protocol, text, archive)
    if has_terminal():
        ended = _on_screen(played, args.speed or (SPEED if args.whole else None))
        if ended != DONE:
            played.close()
            return ended
    played.play()
    played.close()
    code = played.desk.case.code
    _tell(played.desk.case, played.pressed)
    done = write_record(archive, code, args.to / "record", NAMES)
    _tell_next(archive, code, args.to)
    return done


def _on_screen(played: Demo, speed: float | None) -> int:
    """Show the moments worth a look; all of it at a speed, if one is given."""
    from tracker.screen.app import TheatreApp
    from tracker.theatre.show import Show, Whole

    room = Show(played, PERIOD_S) if speed is None else Whole(played, PERIOD_S, speed)
    return show(TheatreApp(room, PERIOD_S))


def _tell_next(archive: Archive, code: str, folder: Path) -> None:
    """Say what may be tried next, as commands that work where this one was given."""
    here = [*_this_program(), "--archive", str(archive.folder)]
    sheet = ["record", code, "--to", str(folder / "record"), "--as", "sheet"]
    print("\nTry next:")
    for words, does in (
        (["review", code], "look at the case and give its deviations reasons"),
        (sheet, "its sheet, ready to copy"),
        (["theatre", PROTOCOL], "log a case by hand; it is kept with this one"),
    ):
        print(f"  {_command_line([*here, *words])}\n      {does}")


def _this_program() -> list[str]:
    """The words by which this program was started."""
    called = sys.argv[0]
    if Path(called).suffix == ".py":
        return [sys.executable, "-m", "tracker"]
    return [Path(called).name] if shutil.which(Path(called).name) == called else [called]


def _command_line(words: list[str]) -> str:
    return list2cmdline(words) if os.name == "nt" else shlex.join(words)


def _tell(case: Case, keys: int) -> None:
    width = min(160, max(80, shutil.get_terminal_size((100, 24)).columns))
    print("An invented case in an invented unit. Nothing in it happened.\n")
    print("\n".join(text_timeline(timeline(case, case.last_t), width, ascii_only=not draws())))
    found = len(deviations(case, case.last_t))
    print(f"\n{len(case.events)} entries, {keys} keys, {found} deviations. The record:")
