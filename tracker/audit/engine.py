"""The engines that answer: DuckDB inside this program, or Apache Spark, asked the very same expressions.

Both are asked through Ibis. The engines load only when a connection is made.
"""

from __future__ import annotations

import glob
import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from tracker.audit.columns import TABLES
from tracker.core.text import shown

if TYPE_CHECKING:
    from ibis.expr.types import Table

Engine = Literal["duckdb", "spark"]
LOCAL: Final = "local[2]"
MEMORY: Final = "800MB"
"""What DuckDB may hold before it lays aside on disk, so that a million cases need no large machine."""

_SPILL: Final = ".spill"


class NoEngine(Exception):  # noqa: N818 - a fact about the machine
    """The engine that was asked for is not to be had here; the text is a sentence that says how to get it."""


@dataclass(frozen=True, slots=True)
class Tables:
    """The tables of an archive as expressions of one engine."""

    cases: Table
    facts: Table
    stages: Table
    steps: Table
    spans: Table
    entries: Table
    deviations: Table
    readings: Table
    clocks: Table
    pairs: Table
    visits: Table

    def of(self, cases: Table) -> Tables:
        """The same tables with these cases only."""
        held = {f.name: getattr(self, f.name) for f in fields(self)}
        kept = {name: table.semi_join(cases, "code") for name, table in held.items() if name != "cases"}
        return replace(self, cases=cases, **kept)


@contextmanager
def connected(folder: Path, engine: Engine = "duckdb", master: str = LOCAL) -> Iterator[Tables]:
    """The tables in `folder`, asked through an engine; `master` is where Spark runs.

    Raises:
        NoEngine: it is not installed, or lacks what it needs.
    """
    if engine == "duckdb":
        with _duckdb(folder) as tables:
            yield tables
    else:
        with _spark(folder, master) as tables:
            yield tables


def streamed(table: Table) -> Any:
    """The rows of an expression as an Arrow reader of record batches, so that they need not be held together."""
    backend, schema = table.get_backend(), table.schema().to_pyarrow()
    if backend.name != "duckdb":
        return table.to_pyarrow_batches().cast(schema)
    # Ibis 12 asks DuckDB 2 for its batches under a name that is gone; Arrow's own stream is in every version.
    relation = backend.con.sql(backend.compile(table))
    return import_module("pyarrow").RecordBatchReader.from_stream(relation).cast(schema)


@contextmanager
def _duckdb(folder: Path) -> Iterator[Tables]:
    ibis = _ibis("duckdb")
    settings: Mapping[str, Any] = {
        "memory_limit": MEMORY,
        "temp_directory": str(folder / _SPILL),
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
    }
    backend = ibis.duckdb.connect(**settings)
    try:
        yield Tables(**{
            name: backend.read_parquet(f"{glob.escape(str(folder / name))}/*.parquet", table_name=name)
            for name in TABLES
        })  # fmt: skip
    finally:
        backend.disconnect()
        shutil.rmtree(folder / _SPILL, ignore_errors=True)


@contextmanager
def _spark(folder: Path, master: str) -> Iterator[Tables]:
    ibis = _ibis("spark")
    if master.startswith("local") and not _java():
        raise NoEngine("Apache Spark needs Java 17 or later on this machine: install it, or set JAVA_HOME.")
    session = _started(master)
    backend = ibis.pyspark.connect(session)
    try:
        yield Tables(**{
            name: backend.read_parquet((folder / name).resolve().as_uri(), table_name=name) for name in TABLES
        })  # fmt: skip
    finally:
        session.stop()


def _started(master: str) -> Any:
    try:
        return _session(master)
    except Exception as odd:  # what Spark raises depends on how far it came: Python, gateway or Java
        raise NoEngine(f"Apache Spark at {shown(master)} did not start ({type(odd).__name__}).") from odd


def _session(master: str) -> Any:
    sql = import_module("pyspark.sql")
    settings = {
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.sql.session.timeZone": "UTC",
        "spark.sql.shuffle.partitions": "8",
    }
    if master.startswith("local"):
        settings |= {"spark.driver.host": "localhost", "spark.driver.bindAddress": "127.0.0.1"}
    builder = sql.SparkSession.builder.appName("clockhour").master(master)
    for key, value in settings.items():
        builder = builder.config(key, value)
    session = builder.getOrCreate()
    session.sparkContext.setLogLevel("ERROR")
    return session


def _java() -> bool:
    home = os.environ.get("JAVA_HOME")
    return shutil.which("java") is not None or bool(home and (Path(home) / "bin" / "java").exists())


def _ibis(engine: str) -> Any:
    extra, modules = {"duckdb": ("audit", ("duckdb",)), "spark": ("spark", ("pyspark", "setuptools"))}[engine]
    try:
        for module in modules:
            import_module(module)
        return import_module("ibis")
    except ImportError as missing:
        name = missing.name or "a library"
        raise NoEngine(f"{name} is not installed: pip install 'clockhour[{extra}]' brings it.") from missing
