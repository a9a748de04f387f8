"""`clockhour sheet`: the register sheet of a case, or the debrief of a day's list with all its sheets."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path

from tracker import __version__
from tracker.commands.common import archive_of, talk
from tracker.commands.exits import DONE, USAGE
from tracker.commands.extras import needing
from tracker.commands.list import name_of
from tracker.commands.record import reviewed_record
from tracker.core.day_course import Course, course
from tracker.journal.archive import Archive
from tracker.journal.day_lists import Lists
from tracker.journal.trouble import Trouble
from tracker.review.record.as_day import DayPage, day_lines, day_page, text
from tracker.review.record.as_sheet import sheet_lines
from tracker.review.record.formats import write_files
from tracker.review.record.structure import Record
from tracker.screen.station import StationClock
from tracker.theatre.reading import Reading
from tracker.theatre.settings import Settings

FOLDER = "sheets"
"""Where the key of the first screen puts them, in the archive."""


def sheet(args: argparse.Namespace) -> int:
    """Print the sheet of a case, or of a day; with a folder, write it as text and PDF."""
    archive = archive_of(args)
    if (args.case is None) == (args.day is None):
        talk("Name a case, or --day for the list of a day: clockhour sheet A-0001, clockhour sheet --day.")
        return USAGE
    if args.day is not None:
        return _of_day(archive, name_of(args.day or None), args.to)
    record = reviewed_record(archive, args.case, usual=False)
    if args.to is None:
        print("\n".join(sheet_lines(record)))
        return DONE
    made = _pdf(None, [record])
    told = "".join(f"{line}\n" for line in sheet_lines(record)).encode()
    _written({f"{args.case}-sheet.txt": told, f"{args.case}-sheet.pdf": made}, args.to)
    return DONE


def _of_day(archive: Archive, name: str, folder: Path | None) -> int:
    its, records = day_of_list(archive, name)
    page = day_page(its, records)
    if folder is None:
        print(text(page, [*records.values()]), end="")
        return DONE
    made = _pdf(page, [*records.values()])
    _written({f"{name}-list.txt": text(page, [*records.values()]).encode(), f"{name}-list.pdf": made}, folder)
    return DONE


def _pdf(page: DayPage | None, sheets: Sequence[Record]) -> bytes:
    with needing("report"):
        from tracker.review.record.as_day_pdf import pdf
    return pdf(page, sheets, __version__)


def _written(files: Mapping[str, bytes], folder: Path) -> None:
    for path in write_files(files, folder):
        print(path)


def day_of_list(archive: Archive, name: str) -> tuple[Course, Mapping[str, Record]]:
    """A list with its cases, and the record of each, in the order in which they were begun.

    Raises:
        Trouble: there is no such list, or it cannot be read.
    """
    lists, now = Lists(archive), StationClock()()
    day = lists.day(name)
    its = course(day, lists.cases(day, lists.latest_cases()), now.at)
    found: dict[str, Record] = {}
    for code in (seat.code for seat in its.seats if seat.case):
        try:
            found[code] = reviewed_record(archive, code, usual=False)
        except Trouble as trouble:
            talk(f"{code} is left out: {trouble}")
    return its, found


def shown(archive: Archive, settings: Settings, name: str) -> Reading:
    """Write the sheets of a day into the archive, and show the page; without the typesetter, as text alone.

    Raises:
        Trouble: there is no such list, or the disk refused.
    """
    its, records = day_of_list(archive, name)
    page, folder, sheets = day_page(its, records), archive.folder / FOLDER, [*records.values()]
    files = {f"{name}-list.txt": text(page, sheets).encode()}
    said = ""
    try:
        files[f"{name}-list.pdf"] = _pdf(page, sheets)
    except Trouble as trouble:
        said = f" as text alone: {trouble}"
    write_files(files, folder)
    lines = [*day_lines(page), *(line for record in sheets for line in ("", *sheet_lines(record)))]
    return Reading(f"{name}: written to {folder}{said}", lines, settings)
