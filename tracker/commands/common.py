"""What the commands share: talk on standard error, the archive, the settings, a terminal or none."""

from __future__ import annotations

import argparse
import json
import os
import sys
from typing import TYPE_CHECKING

from msgspec.structs import replace

from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.core.text import shown
from tracker.journal.archive import Archive, default_folder

if TYPE_CHECKING:
    from tracker.theatre.settings import Settings


def talk(*sentences: object) -> None:
    """Say something on standard error."""
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
    from tracker.theatre.settings import read_settings, settings_from, settings_path

    settings = read_settings(settings_path(os.environ))
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
