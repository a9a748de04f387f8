"""`clockhour record`: the timed record of a case as files."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final, NamedTuple

from tracker.commands.common import archive_of, talk
from tracker.commands.exits import DONE, USAGE
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.review.record.build import build
from tracker.review.record.formats import FORMATS, write


class Told(NamedTuple):
    """What a record tells: free words, and which role it was."""

    notes: bool = True
    roles: bool = True


EVERYTHING: Final = Told()


def record(args: argparse.Namespace) -> int:
    """Write the record of a case in the formats asked for."""
    names = tuple(name.strip() for name in args.formats.split(",") if name.strip())
    if unknown := [name for name in names if name not in FORMATS]:
        talk(f"No such format: {', '.join(unknown)}. There are {', '.join(FORMATS)}.")
        return USAGE
    told = Told(notes=not args.without_notes, roles=not args.roles_general)
    return write_record(archive_of(args), args.case, args.to, names, told)


def write_record(
    archive: Archive, code: str, folder: Path, names: tuple[str, ...], told: Told = EVERYTHING
) -> int:
    """Write a record and print the path of each file."""
    read = archive.read(code)
    case = case_of(read, code)
    made = build(case, case.last_t, read.head, len(read.events), notes=told.notes, roles=told.roles)
    for path in write(made, folder, names):
        print(path)
    return DONE
