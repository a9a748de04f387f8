"""The record as one page that needs nothing else: no network, no further file, no script to be read.

With script the timeline can be zoomed and moved. A content security policy lets nothing run but the two
scripts written here, named by their hashes, and lets nothing be fetched; so a note can do nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

from jinja2 import Environment

from tracker.paper.page import bundle, environment, policy, template
from tracker.review.record.chart import draw
from tracker.review.record.debrief_tables import FIRST, debrief_tables
from tracker.review.record.drawing import in_words
from tracker.review.record.structure import Record
from tracker.review.record.tables import Table, numeric, tables

_HERE: Final = "tracker.review.record"
_CLOCK_TIME: Final = re.compile(r"\d\d:\d\d:\d\d")


@dataclass(frozen=True, slots=True)
class _Section(Table):
    """A section with those of its columns that hold numbers, from 0."""

    @property
    def numbers(self) -> frozenset[int]:
        return numeric(self)


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.html`."""
    drawing = None if record.timeline.blank else draw(record.timeline)
    scripts = (bundle(), template(_HERE, "record.js"))
    page = _environment().get_template("record.html")
    text = page.render(
        record=record,
        sections=list(_sections(record)),
        drawing=drawing,
        picture=in_words(record),
        policy=policy(scripts),
        style=template(_HERE, "record.css"),
        bundle=scripts[0],
        script=scripts[1],
    )
    return {f"{record.header.case}.html": f"{text}\n".encode()}


def _sections(record: Record) -> Iterator[_Section]:
    said = debrief_tables(record)
    for table in tables(record).values():
        if table.ident == "provenance":
            yield from (_section(part) for ident, part in said.items() if ident not in FIRST)
        yield _section(table)
        if table.ident == "completeness":
            yield _Section("timeline", "Timeline", (), ())
            yield from (_section(part) for ident, part in said.items() if ident in FIRST)


def _section(table: Table) -> _Section:
    return _Section(table.ident, table.title, table.headings, table.rows)


@cache
def _environment() -> Environment:
    made = environment(_HERE)
    made.tests["clock_time"] = _CLOCK_TIME.fullmatch
    made.globals["table"] = made.get_template("table.html").module.table  # type: ignore[attr-defined]
    return made
