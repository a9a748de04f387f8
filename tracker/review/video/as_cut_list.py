"""The cut as a table: file, in, out, title, note."""

from __future__ import annotations

import csv
import re
from io import StringIO
from typing import Final

from tracker.review.video.film import Film
from tracker.review.video.stamps import stamp

COLUMNS: Final = ("file", "in", "out", "title", "note")

# OWASP, "CSV Injection": what a spreadsheet may take for a formula, full-width forms included. Where lists
# are parted by semicolons, a spreadsheet parts this file there too, quoted or not.
_FORMULA: Final = re.compile(r"(^|;)(\s*[=+\-@\t\r\n＝＋－＠])")


def guarded(text: str) -> str:
    """`text` with an apostrophe wherever a spreadsheet might begin to read a formula."""
    return _FORMULA.sub(r"\1'\2", text)


def guarded_file(name: str) -> str:
    """A file name that no spreadsheet takes for a formula and that still finds the file."""
    return f"./{name}" if _FORMULA.match(name) else name


def render(film: Film) -> str:
    """One row a clip, in and out as `HH:MM:SS.mmm` of the file (RFC 4180)."""
    table = StringIO(newline="")
    writer = csv.writer(table, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for clip in film.clips:
        times = stamp(clip.stretch.in_s), stamp(clip.stretch.out_s)
        writer.writerow([guarded_file(clip.file), *times, guarded(clip.title), guarded(clip.note)])
    return table.getvalue()
