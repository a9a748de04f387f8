"""The record as one Markdown page, in the order in which a surgeon reads it.

Whatever was typed stands in table cells with every letter that a renderer might obey taken out of its hands.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from tracker.core.text import shown
from tracker.core.timeline_text import text_timeline
from tracker.review.record.debrief_tables import FIRST, debrief_tables
from tracker.review.record.structure import Record
from tracker.review.record.tables import Rows, Table, number, tables

PICTURE_WIDTH: Final = 100

_ENTITIES: Final = {"&": "&amp;", "<": "&lt;", ">": "&gt;", "|": "&#124;"}
# The last two would let a renderer make a link of a bare address.
_OBEYED: Final = re.compile(r"[&<>|]|[\\`*_\[\]{}#~@$^]|/(?=/)|(?<=\w)\.(?=[^\W\d_])")


def inert(text: str) -> str:
    """`text` for a place inside a line: no markup, HTML, table pipe, link or control code of its own.

    HTML letters and the pipe become entities, which every dialect knows; the rest a backslash (CommonMark
    0.31, 2.4: any ASCII punctuation may be escaped so).
    """
    return _OBEYED.sub(lambda found: _ENTITIES.get(found[0], f"\\{found[0]}"), shown(text))


def table(headings: tuple[str, ...], rows: Rows) -> Iterator[str]:
    """The lines of a table; the cells are raw text and made inert here."""
    yield _row(headings)
    yield _row(("---",) * len(headings))
    for cells in rows:
        yield _row(tuple(map(inert, cells)))


def _row(cells: tuple[str, ...]) -> str:
    return f"| {' | '.join(cells)} |"


def fenced(lines: Iterable[str]) -> Iterator[str]:
    """Lines as they are, between fences longer than any run of backticks among them."""
    held = list(lines)
    longest = max((len(run) for line in held for run in re.findall("`+", line)), default=0)
    fence = "`" * max(3, longest + 1)
    yield from (f"{fence}text", *held, fence)


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.md`."""
    text = "".join(f"{line}\n" for line in _page(record))
    return {f"{record.header.case}.md": text.encode()}


def _page(record: Record) -> Iterator[str]:
    header = record.header
    invented = " (an invented case)" if header.invented else ""
    yield f"# Case {inert(header.case)}: {inert(header.title)}{invented}"
    yield ""
    yield from (f"- {inert(caution)}" for caution in record.cautions)
    said = debrief_tables(record)
    for part in tables(record, minutes=number).values():
        yield from _section(part)
        if part.ident == "completeness":
            yield from ("", "## Timeline", "", *fenced(text_timeline(record.timeline, PICTURE_WIDTH)))
            yield from _sections(table for ident, table in said.items() if ident in FIRST)
    yield from _sections(table for ident, table in said.items() if ident not in FIRST)


def _section(part: Table) -> Iterator[str]:
    told = table(part.headings, part.rows) if part.rows else ["None."]
    yield from ("", f"## {part.title}", "", *told)


def _sections(parts: Iterable[Table]) -> Iterator[str]:
    for part in parts:
        yield from _section(part)
