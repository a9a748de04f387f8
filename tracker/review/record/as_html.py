"""The record as one page that needs nothing else: no network, no further file, no script to be read.

With script the timeline can be zoomed and moved. A content security policy lets nothing run but the two
scripts written here, named by their hashes, and lets nothing be fetched; so a note can do nothing.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Final

import vl_convert
from jinja2 import Environment, PackageLoader, StrictUndefined

from tracker.review.record.chart import draw
from tracker.review.record.debrief_tables import FIRST, debrief_tables
from tracker.review.record.drawing import in_words
from tracker.review.record.structure import Record
from tracker.review.record.tables import Table, Usual, numeric, tables

_HERE: Final = "tracker.review.record"
_CLOCK_TIME: Final = re.compile(r"\d\d:\d\d:\d\d")
_ADDRESS: Final = re.compile(r"https?://(?!www\.w3\.org/)[^\s\"'`)]*")


@dataclass(frozen=True, slots=True)
class _Section(Table):
    """A section with those of its columns that hold numbers, from 0."""

    @property
    def numbers(self) -> frozenset[int]:
        return numeric(self)


def render(record: Record, usual: Mapping[str, Usual] | None = None) -> Mapping[str, bytes]:
    """`CODE.html`; `usual` gives the usual range of a stage by its id."""
    drawing = None if record.timeline.blank else draw(record.timeline)
    scripts = (_bundle(), _text("record.js"))
    page = _environment().get_template("record.html")
    text = page.render(
        record=record,
        sections=list(_sections(record, usual)),
        drawing=drawing,
        picture=in_words(record),
        policy=_policy(scripts),
        style=_text("record.css"),
        bundle=scripts[0],
        script=scripts[1],
    )
    return {f"{record.header.case}.html": f"{text}\n".encode()}


def _sections(record: Record, usual: Mapping[str, Usual] | None) -> Iterator[_Section]:
    said = debrief_tables(record)
    for table in tables(record, usual=usual).values():
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
    made = Environment(
        loader=PackageLoader(_HERE), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.tests["clock_time"] = _CLOCK_TIME.fullmatch
    made.globals["table"] = made.get_template("table.html").module.table  # type: ignore[attr-defined]
    return made


def _text(name: str) -> str:
    return files(_HERE).joinpath("templates", name).read_text("utf-8")


@cache
def _bundle() -> str:
    # Three addresses in messages and in menus that are not shown: nothing would ask for them, but a page
    # that says it has no network address in it must have none.
    return _ADDRESS.sub("", vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;"))


def _policy(scripts: tuple[str, ...]) -> str:
    hashes = (b64encode(sha256(script.encode()).digest()).decode() for script in scripts)
    return "; ".join(
        (
            "default-src 'none'",
            "script-src " + " ".join(f"'sha256-{value}'" for value in hashes),
            "style-src 'unsafe-inline'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
