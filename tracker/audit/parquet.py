"""Tables as Parquet files: plain types that every engine reads, the columns' words and units inside.

The definitions lie under the key `clockhour` of the file's own key-value metadata, as JSON, where any reader
of Parquet finds them. A file is there whole or not at all, and readable by its owner only.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any, BinaryIO, Final

import pyarrow as pa
import pyarrow.parquet as pq
from msgspec import Struct
from msgspec.structs import astuple

from tracker.audit.columns import TABLES, Kind, columns
from tracker.core.text import shown

SUFFIX: Final = ".parquet"
KEY: Final = b"clockhour"

_TYPES: Final[Mapping[Kind, Any]] = {
    "text": pa.string(), "whole": pa.int64(), "number": pa.float64(), "flag": pa.bool_(), "day": pa.date32(),
}  # fmt: skip


@cache
def schema(table: str) -> Any:
    """The Arrow schema of a table."""
    fields = [pa.field(c.name, _TYPES[c.kind], nullable=c.optional) for c in columns(table)]
    return pa.schema(fields)


def definitions(table: str) -> str:
    """What a table and its columns say, as JSON: name, kind, whether optional, words, unit, private."""
    words = (TABLES[table].__doc__ or "").strip()
    return json.dumps({"table": table, "words": words, "columns": [asdict(c) for c in columns(table)]})


def batch(table: str, rows: Sequence[Struct]) -> Any:
    """Rows as an Arrow table; text is made harmless for a terminal on its way in."""
    if not rows:
        return schema(table).empty_table()
    held = zip(columns(table), zip(*map(astuple, rows), strict=True), strict=True)
    arrays = [
        pa.array(_harmless(values) if c.kind == "text" else values, _TYPES[c.kind]) for c, values in held
    ]
    return pa.Table.from_arrays(arrays, schema=schema(table))


def _harmless(values: Sequence[str | None]) -> Sequence[str | None]:
    # A few words come again and again, and nearly always they are harmless as they are.
    odd = {value: safe for value in set(values) if value is not None and (safe := shown(value)) != value}
    return [odd.get(value, value) for value in values] if odd else values  # type: ignore[arg-type]


def write(path: Path, tables: Iterable[Any], table: str) -> None:
    """Write Arrow tables one after the other as one file, in place of any of that name.

    Raises:
        OSError: the disk refused; the file of that name stays as it was.
    """
    with writer(path, table) as out:
        for each in tables:
            out.write_table(each)


@contextmanager
def writer(path: Path, table: str) -> Iterator[Any]:
    """A writer of Arrow tables into one file, which takes its place once all are written."""
    # Without the Arrow schema inside, the file holds plain types and nothing that only Arrow reads.
    options = {"compression": "zstd", "store_schema": False}
    with placed(path) as file, pq.ParquetWriter(file, schema(table), **options) as out:
        out.add_key_value_metadata({KEY: definitions(table).encode()})
        yield out


def read(path: Path, table: str) -> Any:
    """A file as an Arrow table.

    Raises:
        OSError, pyarrow.ArrowInvalid: it cannot be read, or is no such table.
    """
    return pq.read_table(path, partitioning=None).cast(schema(table))


def read_definitions(path: Path) -> str:
    """The definitions that a file carries; empty where it has none or cannot be read."""
    try:
        held = pq.read_metadata(path).metadata or {}
    except (OSError, pa.ArrowException):
        return ""
    return str(held.get(KEY, b"").decode())


@contextmanager
def placed(path: Path) -> Iterator[BinaryIO]:
    """A new file of mode 0600 to write, which takes the name `path` once it is whole and synced."""
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
    with os.fdopen(handle, "wb") as file:
        yield file
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
