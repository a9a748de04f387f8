"""A report as files in a folder: the page, the typeset pages, and the flat files beside them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from itertools import chain
from pathlib import Path
from typing import Final

from tracker.audit.answers.form import Audit
from tracker.audit.parquet import placed
from tracker.audit.report.as_html import as_html, drawn
from tracker.audit.report.as_pdf import as_pdf
from tracker.audit.report.book import Report, Told
from tracker.audit.report.flat import FILES as FLAT_FILES
from tracker.audit.report.flat import write_flat
from tracker.journal.disk import RealDisk
from tracker.journal.trouble import NotKept, plainly

PAGES: Final = ("audit.html", "audit.pdf")
NAMES: Final = (*PAGES, *FLAT_FILES)
FILES: Final = len(NAMES)


def make_ready(folder: Path) -> None:
    """Make the folder of a report, if it is not there.

    Raises:
        NotKept: it cannot be written, or is a symbolic link, or a file stands in its place.
    """
    if folder.is_symlink():
        raise NotKept(f"{folder} is a symbolic link; name the folder itself.")
    there = next((path for path in (folder, *folder.parents) if path.exists()), folder)
    if not there.is_dir():
        raise NotKept(f"{there} is a file; name a folder.")
    with plainly(NotKept, "The report cannot be written"):
        RealDisk().make_folder(folder)
    if not os.access(folder, os.W_OK):
        raise NotKept(f"The report cannot be written: {folder} may not be written.")


def write(report: Report, audit: Audit, folder: Path, told: Told | None = None) -> tuple[Path, ...]:
    """Write a report; each file takes the place of one of its name, whole or not at all.

    `told` hears how many of the files are written.

    Raises:
        NotKept: the folder cannot be written, or is a symbolic link.
    """
    make_ready(folder)
    paths = []
    with plainly(NotKept, "The report cannot be written"), _no_parts(folder), ThreadPoolExecutor(1) as beside:
        # The engine reads and Arrow writes without Python's lock, while Python draws the pages.
        flat = beside.submit(lambda: tuple(write_flat(audit, folder)))
        for path in chain(_pages(report, folder), _once(flat)):
            paths.append(path)
            if told:
                told(len(paths), FILES)
    return tuple(paths)


@contextmanager
def _no_parts(folder: Path) -> Iterator[None]:
    """Leave no part of a file behind, whatever stops the writing."""
    try:
        yield
    except BaseException:
        for part in (folder / f"{name}.part" for name in NAMES):
            with suppress(OSError):
                part.unlink(missing_ok=True)
        raise


def _once(written: Future[tuple[Path, ...]]) -> Iterator[Path]:
    yield from written.result()


def _pages(report: Report, folder: Path) -> Iterator[Path]:
    drawings = {sheet.key: drawn(sheet) for sheet in report.sheets}
    for name, made in zip(PAGES, (as_html, as_pdf), strict=True):
        with placed(folder / name) as file:
            file.write(made(report, drawings))
        yield folder / name
