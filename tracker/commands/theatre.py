"""`clockhour`, `clockhour theatre`, `clockhour watch`: the live screens."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import partial

from tracker.audit.past_cases import past_cases
from tracker.audit.remaining_case import Expecting
from tracker.commands.common import archive_of, has_terminal, loaded, settings_of, show, talk
from tracker.commands.exits import FINDINGS, NOT_KEPT, USAGE
from tracker.core.forecast import Forecaster
from tracker.journal.archive import Archive
from tracker.journal.files import case_path
from tracker.journal.follow import Follower
from tracker.journal.shelf import find_protocol, shelves
from tracker.journal.trouble import Trouble
from tracker.screen.app import TheatreApp
from tracker.screen.room import Room
from tracker.screen.station import StationClock
from tracker.theatre.home import Home
from tracker.theatre.live import opening, resumed
from tracker.theatre.settings import Settings
from tracker.theatre.watching import Watch

WATCH_PERIOD_S = 0.5


def home(args: argparse.Namespace) -> int:
    """Open the first screen."""
    if not has_terminal():
        talk("The first screen needs a terminal. clockhour --help lists the commands.")
        return USAGE
    archive, settings = archive_of(args), settings_of(args)
    first = partial(
        Home, archive, StationClock(), settings, expecting(archive), partial(_review, archive, settings),
        partial(_sheets, archive, settings),
    )  # fmt: skip
    return play(first(), back=partial(_unless_out_of_reach, first))


def _unless_out_of_reach(first: Callable[[], Room]) -> Room | None:
    """The first screen; None where the archive has gone, for what was left is closed all the same."""
    try:
        return first()
    except Trouble as trouble:
        talk(trouble)
        return None


def _review(archive: Archive, settings: Settings, code: str) -> Room:
    from tracker.commands.review import desk_of
    from tracker.review.debriefing import Debriefing

    return desk_of(archive, Debriefing(archive, code, StationClock()), settings)


def _sheets(archive: Archive, settings: Settings, name: str) -> Room:
    from tracker.commands.sheet import shown

    return shown(archive, settings, name)


def theatre(args: argparse.Namespace) -> int:
    """Start a case from a protocol, or go on with one."""
    if args.what is None or not has_terminal():
        return home(args)
    archive = archive_of(args)
    if args.what in archive.codes():
        return play(resumed(archive, args.what, settings_of(args), expecting(archive)))
    return _start(args, archive)


def _start(args: argparse.Namespace, archive: Archive) -> int:
    path, text = find_protocol(args.what, shelves(archive.folder))
    protocol = loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    return play(opening(protocol, text, archive, settings_of(args), expecting(archive)))


def watch(args: argparse.Namespace) -> int:
    """Look on at a live case."""
    if not has_terminal():
        return home(args)
    archive = archive_of(args)
    archive.read(args.case)
    follower = Follower(case_path(archive.folder, args.case))
    room = Watch(follower, args.case, StationClock(), settings_of(args), expecting(archive))
    return play(room, WATCH_PERIOD_S)


def expecting(archive: Archive) -> Forecaster:
    """What past cases of the archive say of a running one, once the screen is up."""
    return Expecting(partial(past_cases, archive))


def play(room: Room, period_s: float = 1.0, back: Callable[[], Room | None] | None = None) -> int:
    """Show a room until it is left, and close the one that is then shown; `back` as the app has it."""
    app = TheatreApp(room, period_s, back)
    said = ""
    try:
        ended = show(app)
    finally:
        said = app.room.close()
        if said:
            talk(said)
    return NOT_KEPT if said else ended
