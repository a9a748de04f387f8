"""Flat files beside a report: one row a case, one row a span, pseudonymised, for another program.

Left out are the station, the day and the time of day (the ISO week stands for them), and words that someone
may have written. Case codes stay, so that the department can find a case; whoever holds the key list holds
personal data.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import Any, Final

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq

from tracker.audit.answers.form import Audit
from tracker.audit.answers.order import precedence
from tracker.audit.columns import TABLES as ALL
from tracker.audit.columns import Column, columns
from tracker.audit.parquet import KEY
from tracker.audit.statistics.enough import FEWEST

TABLES: Final = ("cases", "spans")
WITHHELD: Final = frozenset({"weekday", "opened_minute", "stop_reason"})
"""With the week these would tell the day, or were written by someone."""

_FROM_FIRST: Final = "min from the first line of the journal"
_PLACES: Final = 3


def flat_files(audit: Audit) -> Iterator[tuple[str, bytes]]:
    """Each flat file of a population by its name."""
    for table in TABLES:
        found = flat(audit, table)
        yield f"{table}.csv", _csv(found)
        yield f"{table}.parquet", _parquet(found, table)
    yield "precedence.csv", _csv(matrix(audit))


def kept(table: str) -> tuple[Column, ...]:
    """The columns of a table that may leave; times of day as minutes from the first line of the journal."""
    return tuple(
        replace(c, says=replace(c.says, unit=_FROM_FIRST)) if _of_day(c) else c
        for c in columns(table)
        if not c.says.private and c.name not in WITHHELD
    )


def _of_day(column: Column) -> bool:
    return "local midnight" in column.says.unit


def flat(audit: Audit, table: str) -> Any:
    """The rows of a table that may leave, as an Arrow table, ordered by case."""
    asked, told = getattr(audit.asked, table), {}
    moved = {c.name for c in columns(table) if _of_day(c)}
    for column in kept(table):
        value = asked[column.name]
        value = value - asked.opened_minute if column.name in moved else value
        told[column.name] = value.round(_PLACES) if column.kind == "number" else value
    order = [name for name in ("code", "seq") if name in told]
    return asked.select(**told).order_by(order).to_pyarrow()


def matrix(audit: Audit) -> Any:
    """How often each step came before each other, one row a pair; pairs that fewer than 5 cases have are out."""
    found = precedence(audit).result
    rows = [
        {"step": one, "other": other, "n_both": found.both[i][j], "came_first": found.first[i][j]}
        for i, one in enumerate(found.steps)
        for j, other in enumerate(found.steps)
        if found.both and i != j and found.both[i][j] >= FEWEST and not _few(found, i, j)
    ]
    kinds = {"step": pa.string(), "other": pa.string(), "n_both": pa.int64(), "came_first": pa.int64()}
    return pa.Table.from_pylist(rows, schema=pa.schema(list(kinds.items())))


def _few(found: Any, i: int, j: int) -> bool:
    """Whether either order was seen in 1 to 4 cases."""
    return any(0 < count < FEWEST for count in (found.first[i][j], found.first[j][i]))


def _csv(table: Any) -> bytes:
    held = io.BytesIO()
    pyarrow.csv.write_csv(table, held)
    return held.getvalue()


def _parquet(table: Any, name: str) -> bytes:
    held = io.BytesIO()
    with pq.ParquetWriter(held, table.schema, compression="zstd", store_schema=False) as out:
        out.write_table(table)
        out.add_key_value_metadata({KEY: _definitions(name).encode()})
    return held.getvalue()


def _definitions(table: str) -> str:
    """What the columns that leave say, as the tables of the archive say it."""
    words = (ALL[table].__doc__ or "").strip()
    return json.dumps({"table": table, "words": words, "columns": [asdict(c) for c in kept(table)]})
