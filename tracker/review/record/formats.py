"""The formats a record is kept in, and the one place where its files are written.

A new format is one module with a `render`, and one line in `FORMATS`.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tracker.journal.disk import RealDisk
from tracker.journal.trouble import OutOfReach
from tracker.review.record import as_csv, as_fhir, as_json, as_markdown, as_sheet, as_toml, as_xes
from tracker.review.record.extras import with_report
from tracker.review.record.structure import Record

_FILE_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_\-]*(\.[A-Za-z0-9]+)+")


class NotWritten(OutOfReach):
    """A record was not written, or not all of it; the message says which file and why in one sentence."""


@dataclass(frozen=True, slots=True)
class Format:
    """One way to keep a record: its name in `--as`, and how to make its files.

    `render` gives the bytes of each file by its name; it is pure and the same record gives the same bytes.
    """

    name: str
    render: Callable[[Record], Mapping[str, bytes]]


FORMATS: Final[Mapping[str, Format]] = {
    f.name: f
    for f in (
        Format("toml", as_toml.render),
        Format("md", as_markdown.render),
        Format("csv", as_csv.render),
        Format("json", as_json.render),
        Format("html", with_report("as_html", "HTML")),
        Format("pdf", with_report("as_pdf", "PDF")),
        Format("fhir", as_fhir.render),
        Format("xes", as_xes.render),
        Format("sheet", as_sheet.render),
    )
}


def write(record: Record, folder: Path, names: Iterable[str]) -> tuple[Path, ...]:
    """Write a record into `folder` in the named formats; the paths written, in that order.

    Files have mode 0600 and are there whole or not at all; one of the same name is replaced. The folder is
    made (0700) if it is missing. Nothing is written unless every format could be rendered.

    Raises:
        NotWritten: an unknown format, a name that leaves the folder, a symbolic link, or the disk refused.
    """
    files = {name: data for chosen in _chosen(names) for name, data in chosen.render(record).items()}
    return write_files(files, folder)


def write_files(files: Mapping[str, bytes], folder: Path) -> tuple[Path, ...]:
    """Write files by their names into `folder`, all or none, as `write` does.

    Raises:
        NotWritten: a name that leaves the folder, a symbolic link, or the disk refused.
    """
    for name in files:
        _check_inside(name)
    with _refusals(folder):
        _check_folder(folder)
        for name in files:
            _check_target(folder / name)
        _place_all(folder, files)
    return tuple(folder / name for name in files)


def _chosen(names: Iterable[str]) -> Iterator[Format]:
    for name in dict.fromkeys(names):
        if name not in FORMATS:
            raise NotWritten(f"There is no record format {name!r}; there are {', '.join(FORMATS)}.")
        yield FORMATS[name]


def _check_inside(name: str) -> None:
    if not _FILE_NAME.fullmatch(name):
        raise NotWritten(f"The case code makes {name!r}, which cannot be the name of a record's file.")


def _check_folder(folder: Path) -> None:
    if folder.is_symlink():
        raise NotWritten(f"{folder} is a symbolic link; name the folder itself.")
    RealDisk().make_folder(folder.parent)
    folder.mkdir(mode=0o700, exist_ok=True)


def _check_target(path: Path) -> None:
    if path.is_symlink():
        raise NotWritten(f"{path} is a symbolic link and is not followed; choose another folder.")
    if path.exists() and not path.is_file():
        raise NotWritten(f"{path} is there and is no plain file; choose another folder.")


@contextmanager
def _refusals(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as refusal:
        why = refusal.strerror or str(refusal)
        raise NotWritten(
            f"The record could not be written to {refusal.filename or folder}: {why}."
        ) from refusal


def _place_all(folder: Path, files: Mapping[str, bytes]) -> None:
    parts: dict[Path, Path] = {}
    try:
        for name, data in files.items():
            parts[folder / name] = _part(folder, data)
        for path, part in parts.items():
            part.replace(path)
    finally:
        for part in parts.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)


def _part(folder: Path, data: bytes) -> Path:
    # mkstemp opens a new name only, follows no link, and sets mode 0600.
    handle, name = tempfile.mkstemp(prefix=".record-", suffix=".part", dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)
