"""The table that turns counting fingers and less into logMAR: the shipped one, or the department's own."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from tracker.core.acuity import OFF_CHART, Convention
from tracker.core.text import shown
from tracker.journal.books import ACUITY
from tracker.journal.disk import RealDisk
from tracker.journal.trouble import OutOfReach, Trouble, plainly

LARGEST: Final = 16 * 1024
_RANGE: Final = (0.0, 5.0)


class BadConvention(Trouble):
    """The department's table of acuity cannot be used; the text says why."""


def convention_of(archive: Path) -> Convention:
    """The table in use: that of `acuity.toml` in the archive if there is one, else the shipped one.

    Raises:
        BadConvention, OutOfReach: with a sentence.
    """
    path, disk = archive / ACUITY, RealDisk()
    if disk.kind(path) is None:
        return shipped()
    with plainly(OutOfReach, f"{ACUITY} in the archive cannot be read"):
        if disk.stamp_of(path).size > LARGEST:
            raise BadConvention(f"{ACUITY} in the archive is larger than {LARGEST} bytes.")
        return convention_from(disk.read(path))


def shipped() -> Convention:
    """The table in use of the file that comes with the program."""
    return convention_from(files("tracker.audit").joinpath(ACUITY).read_bytes())


def convention_from(data: bytes) -> Convention:
    """The table in use of such a file.

    Raises:
        BadConvention: it is no such file.
    """
    try:
        told = tomllib.loads(data.decode())
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as refusal:
        raise BadConvention(f"{ACUITY} is not readable as TOML: {shown(str(refusal))[:200]}.") from refusal
    tables = told.get("tables")
    known = [t for t in tables if isinstance(t, dict)] if isinstance(tables, list) else []
    found = next((t for t in known if t.get("name") == told.get("use")), None)
    if found is None:
        raise BadConvention(f"{ACUITY} has no table of the name under `use`.")
    return _convention(found)


def _convention(table: Mapping[str, Any]) -> Convention:
    name, source = table["name"], table.get("source")
    if not (isinstance(name, str) and isinstance(source, str) and source):
        raise BadConvention(f"{ACUITY}: the table in use needs a name and a source.")
    low, high = _RANGE
    for word in OFF_CHART:
        value = table.get(word)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise BadConvention(
                f"{ACUITY}: {word} needs a logMAR from {low:g} to {high:g} in the table in use."
            )
    return Convention(shown(name), shown(source), {word: float(table[word]) for word in OFF_CHART})
