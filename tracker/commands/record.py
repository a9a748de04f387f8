"""`clockhour record`: the timed record of a case as files, and the films cut by it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final, NamedTuple

from tracker.audit.usual_ranges import usual_ranges
from tracker.commands.common import archive_of, talk
from tracker.commands.exits import DONE, USAGE
from tracker.journal.archive import Archive
from tracker.journal.books import DEBRIEF
from tracker.journal.cases import reviewed_of
from tracker.review.film_files import AS_NAMES
from tracker.review.record.build import build_reviewed
from tracker.review.record.debrief_tables import STATE_WORDS
from tracker.review.record.formats import FORMATS, write
from tracker.review.record.structure import Record

_UNSIGNED: Final = ("not signed off", "changed since the sign-off")


class Told(NamedTuple):
    """What a record tells: free words, and which role it was."""

    notes: bool = True
    roles: bool = True


EVERYTHING: Final = Told()


def record(args: argparse.Namespace) -> int:
    """Write the record of a case in the formats asked for, and its films in theirs."""
    names = tuple(name.strip() for name in args.formats.split(",") if name.strip())
    if unknown := [name for name in names if name not in FORMATS and name not in AS_NAMES]:
        talk(f"No such format: {', '.join(unknown)}. There are {', '.join([*FORMATS, *AS_NAMES])}.")
        return USAGE
    archive, films = archive_of(args), [name for name in names if name in AS_NAMES]
    if films and (args.without_notes or args.roles_general):
        talk("Films tell the whole record: ask for them without --without-notes and --roles-general.")
        return USAGE
    came_of_films = _films(archive, args, films) if films else DONE
    pages = tuple(name for name in names if name in FORMATS)
    if pages:
        told = Told(notes=not args.without_notes, roles=not args.roles_general)
        write_record(archive, args.case, args.to, pages, told)
    return came_of_films


def _films(archive: Archive, args: argparse.Namespace, names: list[str]) -> int:
    from tracker.commands.films import write_films

    return write_films(archive, args, names)


def reviewed_record(archive: Archive, code: str, told: Told = EVERYTHING, *, usual: bool = True) -> Record:
    """The record of a case with what its debrief says, with the usual ranges of stages here or without."""
    log, debrief = archive.read(code), archive.read_beside(code, DEBRIEF)
    review = reviewed_of(log, debrief, code)
    ranges = usual_ranges(archive, review.case) if usual else {}
    return build_reviewed(
        review, review.logged.last_t, log.head, len(log.events), debrief.head if debrief else "",
        notes=told.notes, roles=told.roles, usual=ranges,
    )  # fmt: skip


def write_record(
    archive: Archive, code: str, folder: Path, names: tuple[str, ...], told: Told = EVERYTHING
) -> int:
    """Write a record with what its debrief says, and print the path of each file."""
    made = reviewed_record(archive, code, told)
    for path in write(made, folder, names):
        print(path)
    if made.debrief is not None and made.debrief.state in _UNSIGNED:
        talk(f"The debrief of case {code} is {STATE_WORDS[made.debrief.state]}; the record says so.")
    return DONE
