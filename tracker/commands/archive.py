"""`clockhour archive`: the cases on disk."""

from __future__ import annotations

import argparse

from tracker.commands.common import archive_of, talk
from tracker.commands.exits import DAMAGED, DONE
from tracker.core.day_plan import day_of
from tracker.core.text import shown
from tracker.journal.archive import CaseFile, Mended
from tracker.journal.books import BESIDE, CASE, LIST, Book
from tracker.journal.day_lists import Lists


def list_cases(args: argparse.Namespace) -> int:
    """Print every case and what state its file is in; what is foreign in the folder too."""
    entries = archive_of(args).entries()
    for entry in entries:
        print(_line(entry))
    if not entries:
        talk("No cases yet.")
    return DONE


def _line(entry: CaseFile) -> str:
    if entry.opened is None:
        return f"{shown(entry.name):<14} {entry.state:<8} {shown(entry.what)}"
    kind = "  invented" if entry.invented else ""
    what = f"  {shown(entry.what)}" if entry.what else ""
    when = f"{entry.opened:%Y-%m-%d %H:%M}"
    return f"{entry.code:<14} {entry.state:<8} {when}  {entry.entries:>5} entries{kind}{what}"


def verify(args: argparse.Namespace) -> int:
    """Check every line of the cases named, or of all."""
    archive = archive_of(args)
    codes = args.cases or archive.codes()
    named = (f for code in args.cases for f in archive.verify(code))
    findings = [*named] if args.cases else [*archive.verify_all(), *Lists(archive).verify()]
    for finding in findings:
        print(shown(str(finding)))
    talk(f"{len(codes)} verified, {len(findings)} with a finding.")
    return DAMAGED if findings else DONE


def mend(args: argparse.Namespace) -> int:
    """Set what cannot be verified aside, of the log and of the books beside it; nothing is rewritten."""
    archive = archive_of(args)
    if day_of(args.case) is not None:
        print(_mended(args.case, Lists(archive).mend(args.case), LIST))
        return DONE
    print(_mended(args.case, archive.mend(args.case), CASE))
    for book in (book for book in BESIDE if archive.has_beside(args.case, book)):
        print(_mended(args.case, archive.mend(args.case, book), book))
    return DONE


def _mended(code: str, mended: Mended | None, book: Book) -> str:
    if mended is None:
        sound = code if book is CASE else book.called(code)
        return f"{sound} is sound: nothing to mend."
    aside = f"the rest lies in {mended.aside}, the original in {mended.damaged}"
    return f"{code if book is CASE else book.called(code)}: {mended.kept} entries kept; {aside}."


def export(args: argparse.Namespace) -> int:
    """Copy a case with its digest into another folder."""
    print(archive_of(args).export_case(args.case, args.to))
    return DONE


def take_in(args: argparse.Namespace) -> int:
    """Take in a case that another machine exported, once its digest and every line agree."""
    print(f"{archive_of(args).import_case(args.file)} taken in.")
    return DONE
