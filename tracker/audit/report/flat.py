"""Flat files beside a report: one row a case, a span or a visit, pseudonymised, for another program.

Left out are the station, the day and the time of day (the ISO week stands for them), and words that someone
may have written. Case codes stay, so that the department can find a case; whoever holds the key list holds
personal data.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet as pq

from tracker.audit.answers.form import Audit
from tracker.audit.answers.order import precedence
from tracker.audit.columns import TABLES as ALL
from tracker.audit.columns import Column, columns
from tracker.audit.engine import streamed
from tracker.audit.parquet import KEY, placed
from tracker.audit.statistics.enough import FEWEST

TABLES: Final = ("cases", "spans", "visits")
MATRIX: Final = "precedence.csv"
FILES: Final = (*(f"{table}.{kind}" for table in TABLES for kind in ("csv", "parquet")), MATRIX)
WITHHELD: Final = frozenset({
    "weekday", "opened_minute", "stop_reason", "acuity", "role", "list_shift", "list_start_minute",
    "planned_start_minute", "called_off", "late_start_reason", "turnover_reason",
})  # fmt: skip
"""With the week these would tell the day, or were written by someone."""

_FROM_FIRST: Final = "min from the first line of the journal"
_PLACES: Final = 3


def write_flat(audit: Audit, folder: Path) -> Iterator[Path]:
    """Write the flat files of a population into a folder; the path of each as it is there.

    Raises:
        OSError: the disk refused; a file of that name stays as it was.
    """
    for table in TABLES:
        paths = folder / f"{table}.csv", folder / f"{table}.parquet"
        _write_both(*paths, table, flat(audit, table))
        yield from paths
    with placed(folder / MATRIX) as file:
        pyarrow.csv.write_csv(matrix(audit), file)
    yield folder / MATRIX


def _write_both(csv_path: Path, parquet_path: Path, table: str, rows: Any) -> None:
    plain = {"compression": "zstd", "store_schema": False}
    with (
        placed(csv_path) as csv_file,
        placed(parquet_path) as parquet_file,
        pyarrow.csv.CSVWriter(csv_file, rows.schema) as as_csv,
        pq.ParquetWriter(parquet_file, rows.schema, **plain) as as_parquet,
        ThreadPoolExecutor(2) as both,
    ):
        for batch in map(_rounded, rows):
            # Arrow writes without Python's lock, so the two formats take the time of the slower one.
            list(both.map(lambda writer, batch=batch: writer.write_batch(batch), (as_csv, as_parquet)))
        as_parquet.add_key_value_metadata({KEY: _definitions(table).encode()})


def _rounded(batch: Any) -> Any:
    # Not asked of the engine: two engines break a tie in two ways.
    its = (pc.round(c, _PLACES) if pa.types.is_floating(c.type) else c for c in batch.columns)
    return pa.RecordBatch.from_arrays(list(its), schema=batch.schema)


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
    """The rows of a table that may leave, ordered by case, as an Arrow reader of record batches."""
    asked, told = getattr(audit.asked, table), {}
    moved = {c.name for c in columns(table) if _of_day(c)}
    for column in kept(table):
        value = asked[column.name]
        told[column.name] = value - asked.opened_minute if column.name in moved else value
    order = [name for name in ("code", "seq") if name in told]
    return streamed(asked.select(**told).order_by(order))


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


def _definitions(table: str) -> str:
    """What the columns that leave say, as the tables of the archive say it."""
    words = (ALL[table].__doc__ or "").strip()
    return json.dumps({"table": table, "words": words, "columns": [asdict(c) for c in kept(table)]})
