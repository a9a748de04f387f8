"""Readers for the record's files that know nothing of the program: tomllib, json, csv and markdown-it."""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from markdown_it import MarkdownIt
from markdown_it.token import Token

Table = list[dict[str, str]]


def read_json(data: bytes) -> dict[str, Any]:
    """A JSON file, with what is null left out."""
    held: dict[str, Any] = _without_null(json.loads(data))
    return held


def _without_null(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _without_null(v) for k, v in value.items() if v is not None}
    return [_without_null(v) for v in value] if isinstance(value, list) else value


def read_toml(data: bytes) -> dict[str, Any]:
    """A TOML file."""
    return tomllib.loads(data.decode())


def read_csv(data: bytes) -> Table:
    """A CSV file with a byte order mark."""
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def unguarded(cell: str) -> str:
    """The text of a cell without the apostrophes that keep a spreadsheet from reading a formula."""
    return re.sub(r"(^|;)'('*\s*[=+\-@\t\r\n＝＋－＠])", r"\1\2", cell)


def markdown_tokens(text: str) -> list[Token]:
    """The tokens of a page as GitHub's dialect reads it: tables, strike-through, bare addresses as links."""
    return MarkdownIt("gfm-like").parse(text)


def live_kinds(tokens: list[Token]) -> set[str]:
    """The kinds of inline token on a page that are anything but words."""
    return {c.type for t in tokens for c in t.children or () if c.type not in ("text", "softbreak")}


def words(token: Token) -> str:
    """What a reader sees of an inline token."""
    return "".join(c.content for c in token.children or ())


def read_markdown(data: bytes) -> Mapping[str, Table]:
    """The tables of a Markdown page by the heading they stand under."""
    found: dict[str, Table] = {}
    for heading, rows in _tables(markdown_tokens(data.decode())):
        top, *rest = rows
        found[heading] = [dict(zip(top, row, strict=True)) for row in rest]
    return found


def _tables(tokens: list[Token]) -> Iterator[tuple[str, list[list[str]]]]:
    heading, rows = "", []
    for before, token in zip([tokens[0], *tokens], tokens, strict=False):
        if token.type == "inline" and before.type == "heading_open":
            heading = words(token)
        elif token.type == "table_open":
            rows = []
        elif token.type == "tr_open":
            rows.append([])
        elif token.type == "inline" and rows and before.type in ("th_open", "td_open"):
            rows[-1].append(words(token))
        elif token.type == "table_close":
            yield heading, rows
