"""The hazard log of the guide: every row has a test, and the test is there."""

from __future__ import annotations

import ast
import re
from functools import cache

import pytest

from terminal import ROOT

GUIDE = (ROOT / "shared" / "guide.md").read_text("utf-8")
TESTS = ROOT / "tests"

LEAST = (
    "wrong case open", "stale clock", "distracted", "count trusted", "wrong file version", "log lost",
    "glare", "punitively", "not reviewed",
)  # fmt: skip
"""What a starter hazard log for theatre has at least."""


def rows() -> list[list[str]]:
    """The rows of the table under the heading of the hazard log."""
    section = GUIDE.partition("### Hazards\n")[2].partition("\n##")[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]


@cache
def functions_of(name: str) -> frozenset[str]:
    """The names of the tests in a file under tests/."""
    functions = (ast.FunctionDef, ast.AsyncFunctionDef)
    tree = ast.parse((TESTS / name).read_text("utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, functions))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row[0])
def test_every_hazard_has_a_cause_a_control_and_a_test_that_exists(row: list[str]) -> None:
    """Four cells, and each test named in the last is a function of the file named with it."""
    assert len(row) == 4
    assert all(row)
    named = re.findall(r"`([\w/]+\.py)::(\w+)`", row[3])
    assert named
    for file, test in named:
        assert test in functions_of(file), f"{file}::{test}"


@pytest.mark.parametrize("hazard", LEAST)
def test_no_known_hazard_is_left_out(hazard: str) -> None:
    """Each of the hazards that a starter log names has a row."""
    assert any(hazard in " ".join(row[:3]).lower() for row in rows())
