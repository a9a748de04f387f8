"""What the commands share: talk on standard error, the archive, the settings, a terminal or none."""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from msgspec.structs import replace

from tracker.commands.exits import DONE, ENDED, HUNG_UP
from tracker.core.findings import Finding
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.core.text import shown
from tracker.journal.archive import Archive, default_folder

if TYPE_CHECKING:
    from tracker.screen.app import TheatreApp
    from tracker.theatre.settings import Settings


def talk(*sentences: object) -> None:
    """Say something on standard error; a terminal that is gone hears nothing."""
    with suppress(OSError):
        for sentence in sentences:
            print(shown(str(sentence)), file=sys.stderr)


def has_terminal() -> bool:
    """Whether someone sits before a terminal, or before a browser that the toolkit's own server shows it in."""
    return "TEXTUAL_DRIVER" in os.environ or (sys.stdin.isatty() and sys.stdout.isatty())


def draws() -> bool:
    """Whether standard output has codes for the signs that drawings are made of."""
    try:
        "█▶┊─┬◆▲△●★".encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        return False
    return True


def archive_of(args: argparse.Namespace) -> Archive:
    """The archive that the command line or the environment names."""
    return Archive(args.archive or default_folder(os.environ))


def settings_of(args: argparse.Namespace) -> Settings:
    """The station's settings with what the command line says; what is wrong with them is said."""
    from tracker.screen.station import zone_trouble
    from tracker.theatre.settings import (
        SECOND_FOLDER,
        read_settings,
        second_folder,
        settings_from,
        settings_path,
    )

    settings = read_settings(settings_path(os.environ))
    if trouble := zone_trouble(os.environ):
        settings = replace(settings, findings=(*settings.findings, Finding("station", 0, "TZ", *trouble)))
    if settings.second_folder == SECOND_FOLDER:
        settings = replace(settings, second_folder=second_folder(archive_of(args).folder))
    said = {key: value for key in ("theme", "site") if (value := getattr(args, key, None))}
    spoken = settings_from("\n".join(f"{k} = {json.dumps(v)}" for k, v in said.items()), "command line")
    talk(*settings.findings, *spoken.findings)
    if os.environ.get("NO_COLOR"):
        settings = replace(settings, theme="plain")
    return replace(settings, **{key: getattr(spoken, key) for key in said})


def loaded(text: str, source: str) -> Protocol | None:
    """The protocol of a text; its findings are said, and then there is none."""
    read = load_protocol(text, source)
    talk(*read.findings)
    return read.protocol


# -- a screen and its end


def show(app: TheatreApp) -> int:
    """Show a screen until it is left, hung up or ended; the exit code of that.

    Raises:
        Exception: the screen went wrong; the terminal is as it was before.
    """
    with _heeding(app):
        app.run()
    if app.failure is not None:
        raise app.failure
    return {"left": DONE, "hung up": HUNG_UP, "ended": ENDED}[app.ending]


@contextmanager
def _heeding(app: TheatreApp) -> Iterator[None]:
    """Let a hang-up and the system's wish to end it close the screen in order; the second time the system ends it.

    Where hang-ups are ignored (nohup) they stay ignored: the screen sees the end of its terminal by itself.
    """

    def end(number: int, _: object) -> None:
        signal.signal(number, signal.SIG_DFL)
        app.end_soon("ended" if number == signal.SIGTERM else "hung up")

    numbers = [getattr(signal, name) for name in ("SIGHUP", "SIGTERM") if hasattr(signal, name)]
    heeded = [number for number in numbers if signal.getsignal(number) is signal.SIG_DFL]
    for number in heeded:
        signal.signal(number, end)
    try:
        yield
    finally:
        for number in heeded:
            signal.signal(number, signal.SIG_DFL)
