"""A report as files in a folder: the page, the typeset pages, and the flat files beside them."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import chain
from pathlib import Path
from typing import Final

from tracker.audit.answers.form import Audit
from tracker.audit.parquet import placed
from tracker.audit.report.as_html import as_html, drawn
from tracker.audit.report.as_pdf import as_pdf
from tracker.audit.report.book import Report, Told
from tracker.audit.report.flat import write_flat
from tracker.journal.disk import RealDisk
from tracker.journal.trouble import NotKept, plainly

FILES: Final = 9


def write(report: Report, audit: Audit, folder: Path, told: Told | None = None) -> tuple[Path, ...]:
    """Write a report; each file takes the place of one of its name, whole or not at all.

    `told` hears how many of the files are written.

    Raises:
        NotKept: the folder cannot be written, or is a symbolic link.
    """
    if folder.is_symlink():
        raise NotKept(f"{folder} is a symbolic link; name the folder itself.")
    paths = []
    with plainly(NotKept, "The report cannot be written"), ThreadPoolExecutor(1) as beside:
        RealDisk().make_folder(folder)
        # The engine reads and Arrow writes without Python's lock, while Python draws the pages.
        flat = beside.submit(lambda: tuple(write_flat(audit, folder)))
        for path in chain(_pages(report, folder), _once(flat)):
            paths.append(path)
            if told:
                told(len(paths), FILES)
    return tuple(paths)


def _once(written: Future[tuple[Path, ...]]) -> Iterator[Path]:
    yield from written.result()


def _pages(report: Report, folder: Path) -> Iterator[Path]:
    drawings = {sheet.key: drawn(sheet) for sheet in report.sheets}
    for name, made in (("audit.html", as_html), ("audit.pdf", as_pdf)):
        with placed(folder / name) as file:
            file.write(made(report, drawings))
        yield folder / name
