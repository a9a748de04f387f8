"""The record as two flat tables, one row an entry and one row a span, and a page of text beside them.

The tables are RFC 4180 with a byte order mark, without which common spreadsheets misread anything that is
not ASCII. A line of comment would break readers of CSV, so the cautions and the completeness figures stand
in `CODE-about.txt`, which every row names; and every row carries case, protocol, version and digest, so that
tables of many cases can be stacked.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping
from io import StringIO
from typing import Final

from tracker.core.events import Scalar
from tracker.review.record.debrief_tables import debrief_tables
from tracker.review.record.plain_values import Plain
from tracker.review.record.structure import EventLine, Record, Share, SpanLine
from tracker.review.record.words import COMPLETENESS_WORDS, percent

# OWASP, "CSV Injection": what a spreadsheet may take for a formula, full-width forms included. Where lists
# are parted by semicolons, a spreadsheet parts this file there too, quoted or not.
_FORMULA: Final = re.compile(r"(^|;)('*\s*[=+\-@\t\r\n＝＋－＠])")

Cell = Scalar | tuple[str, ...] | None


def guarded(text: str) -> str:
    """`text` with an apostrophe wherever a spreadsheet might begin to read a formula.

    Text that already looks guarded gets one more, so that taking one off always gives back what was there.
    """
    return _FORMULA.sub(r"\1'\2", text)


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE-events.csv`, `CODE-spans.csv` and `CODE-about.txt`."""
    code = record.header.case
    return {
        f"{code}-events.csv": _table(record, EventLine, record.events),
        f"{code}-spans.csv": _table(record, SpanLine, record.spans),
        f"{code}-about.txt": "".join(f"{line}\r\n" for line in _about(record)).encode("utf-8-sig"),
    }


def _table(record: Record, kind: type[Plain], rows: Iterable[Plain]) -> bytes:
    header = record.header
    origin = {
        "protocol": header.protocol,
        "protocol_version": header.version,
        "protocol_digest": header.digest,
        "invented": header.invented,
        "about": f"{header.case}-about.txt",
    }
    file = StringIO(newline="")
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(["case", *kind.model_fields, *origin])
    for row in rows:
        cells = [header.case, *(value for _, value in row), *origin.values()]
        writer.writerow([_cell(value) for value in cells])
    return file.getvalue().encode("utf-8-sig")


def _cell(value: Cell) -> str | float:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return value
    return guarded(value if isinstance(value, str) else "; ".join(value))


def _about(record: Record) -> Iterator[str]:
    header = record.header
    yield f"Case {header.case}" + (" (an invented case)" if header.invented else "")
    yield f"Protocol {header.protocol} {header.version}, {header.title}"
    yield f"Digest of the protocol text (SHA-256) {header.digest}"
    yield f"Reviewed by: {header.reviewed_by}"
    yield f"Entries {record.entries}, last hash {record.last_hash}"
    yield ""
    yield from record.cautions
    yield ""
    yield "How far the log can be trusted"
    for name, value in record.completeness:
        yield f"{name}: {_figure(value)} ({COMPLETENESS_WORDS[name]})"
    yield ""
    for part in debrief_tables(record).values():
        yield part.title
        yield from ("; ".join(cells) for cells in part.rows or [("none",)])
        yield ""
    yield f"{header.case}-events.csv has one row for each entry, void ones marked in the column struck."
    yield f"{header.case}-spans.csv has one row for each span: minutes without pauses, blank without a stop."
    yield "Times are RFC 3339 with offset, case_s is seconds from the first entry, a blank is not known."
    yield "Text that a spreadsheet might take for a formula has an apostrophe before it."


def _figure(value: Share | float) -> str:
    return percent(value) if isinstance(value, Share) else str(value)
