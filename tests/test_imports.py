"""Imports point inwards only, the core is pure, and help loads no screen and no engine."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import tracker

PACKAGE = Path(tracker.__file__).parent
STANDARD = sys.stdlib_module_names

REPORTS = {"altair", "jinja2", "tomli_w", "typst", "vl_convert"}
ENGINES = {"duckdb", "ibis", "numpy", "pandas", "pyarrow", "pyspark", "scipy", "statsmodels"}
OWN = {"tracker", "tracker.core", "tracker.journal"}

ALLOWED = {
    "core": {"msgspec", "pydantic", "tracker.core"},
    "journal": {*OWN, "msgspec", "pydantic", "filelock", "platformdirs", "rfc8785", "tomli_w"},
    "paper": {*REPORTS, "markupsafe", "tracker.core", "tracker.journal", "tracker.paper"},
    "screen": {"msgspec", "rich", "textual", "tracker.core", "tracker.screen"},
    "theatre": {*OWN, "msgspec", "platformdirs", "rich", "tracker.screen", "tracker.theatre"},
    "review": {
        *OWN,
        *REPORTS,
        "pydantic",
        "rich",
        "tracker.paper",
        "tracker.review",
        "tracker.screen",
    },
    "audit": {
        *OWN,
        *REPORTS,
        *ENGINES,
        "msgspec",
        "pydantic",
        "rich",
        "tracker.audit",
        "tracker.paper",
        "tracker.screen",
    },
    "commands": {
        *OWN,
        "msgspec",
        "pydantic",
        *(f"tracker.{r}" for r in ("audit", "commands", "paper", "review", "screen", "theatre")),
    },
    "cli": {"tracker", "tracker.commands", "tracker.journal"},
    "__main__": {"tracker.cli"},
    "__init__": set[str](),
}
"""What the modules of each room may import beside the standard library."""

MODULES = sorted(PACKAGE.rglob("*.py"))
CORE = sorted(PACKAGE.joinpath("core").rglob("*.py"))


def _room(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def _imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            own = [f"tracker.{a.name}" for a in node.names if (PACKAGE / a.name).is_dir()]
            yield from own if node.module == "tracker" and own else [node.module or ""]


def _part(module: str) -> str:
    """A module of ours by its room, of others by its package."""
    parts = module.split(".")
    return ".".join(parts[:2]) if parts[0] == "tracker" else parts[0]


def _named(path: Path) -> str:
    return path.relative_to(PACKAGE.parent).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=_named)
def test_imports_point_inwards(path: Path) -> None:
    """A module imports what its room may and nothing else: the rooms never import each other."""
    others = {_part(m) for m in _imported(ast.parse(path.read_text())) if m.split(".")[0] not in STANDARD}

    assert others <= ALLOWED[_room(path)]


def test_the_table_knows_every_room() -> None:
    """Each room has its line in the table, and the table no room that is not there."""
    assert {_room(path) for path in MODULES} <= ALLOWED.keys()


def test_the_door_imports_nothing_before_it_must() -> None:
    """At the top of the door's module stand the standard library and the version, nothing of the rooms."""
    top = ast.Module(ast.parse((PACKAGE / "cli.py").read_text()).body, [])
    lazily = [n for n in top.body if isinstance(n, ast.Import | ast.ImportFrom)]
    others = {_part(m) for n in lazily for m in _imported(n)} - STANDARD

    assert others <= {"tracker"}


# -- the core is pure

CLOCKS_AND_FILES = {
    "asyncio", "io", "logging", "os", "pathlib", "random", "secrets", "shutil", "socket", "subprocess", "sys",
    "tempfile", "threading", "time", "urllib", "uuid",
}  # fmt: skip
ASKING = {
    "eval", "exec", "getenv", "input", "localtime", "monotonic", "monotonic_ns", "now", "open",
    "perf_counter", "print", "read_bytes", "read_text", "sleep", "time", "time_ns", "today", "utcnow",
    "write_bytes", "write_text",
}  # fmt: skip


def _called(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            yield node.func.id
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            yield node.func.attr


@pytest.mark.parametrize("path", CORE, ids=_named)
def test_core_asks_no_clock_and_opens_no_file(path: Path) -> None:
    """Time is an argument: nothing in the core asks what time it is, reads, writes or prints."""
    tree = ast.parse(path.read_text())

    assert {m.split(".")[0] for m in _imported(tree)} & CLOCKS_AND_FILES == set()
    assert set(_called(tree)) & ASKING == set()


def test_core_does_not_call_into_the_shell_by_name() -> None:
    """Nothing in the core imports by a name made up as it runs."""
    called = {name for path in CORE for name in _called(ast.parse(path.read_text()))}

    assert called & {"__import__", "import_module"} == set()


# -- what is loaded when

HEAVY = ("textual", "rich", "duckdb", "ibis", "altair", "numpy", "scipy", "pandas", "pyarrow", "statsmodels")


def _loaded(program: str) -> list[str]:
    """The heavy libraries that a fresh interpreter has loaded after `program`."""
    told = f"{program}\nimport sys\nprint('loaded:', *[n for n in {HEAVY} if n in sys.modules])"
    run = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    return run.stdout.rpartition("loaded:")[2].split()


def test_core_loads_no_screen_and_no_engine() -> None:
    """All modules of the core together load no screen, no engine, no charts."""
    modules = (path.relative_to(PACKAGE.parent).with_suffix("").parts for path in CORE)
    names = ", ".join(".".join(parts).removesuffix(".__init__") for parts in modules)

    assert _loaded(f"import {names}") == []


def test_help_loads_no_screen_and_no_engine() -> None:
    """`clockhour --help` loads no screen, no engine, no charts."""
    program = """
import runpy, sys
sys.argv = ["clockhour", "--help"]
try:
    runpy.run_module("tracker", run_name="__main__")
except SystemExit as left:
    assert not left.code
"""

    assert _loaded(program) == []
