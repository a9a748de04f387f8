"""What the program needs to run is under licences that let a department use it; the list is true."""

from __future__ import annotations

import re

import pytest

from licences import FILE, licence, table
from terminal import ROOT

MAY_BE_USED = ("MIT", "BSD", "Apache", "PSF-2.0", "Zlib", "0BSD", "CC0-1.0", "Unlicense", "MPL-2.0", "ISC")
"""Licences that ask nothing of those who only use the program."""


def listed() -> dict[str, str]:
    """The packages of the list and their licences."""
    form = r"^\| ([a-z0-9\-]+) \| (.+?) \| (?:program|report|audit|spark) \|$"
    return dict(re.findall(form, FILE.read_text("utf-8"), re.M))


def test_every_package_that_the_program_needs_is_listed() -> None:
    """`python tests/licences.py` writes the list anew when a dependency changes."""
    assert {name: told for name, (told, _) in table().items() if listed().get(name) != told} == {}


@pytest.mark.parametrize("name", listed())
def test_every_licence_lets_a_department_use_it(name: str) -> None:
    """No package at run time is under a licence that asks for the source of what it is used in."""
    parts = re.split(r"\s+(?:AND|OR|and|or)\s+", listed()[name])

    assert all(part.startswith(MAY_BE_USED) for part in parts), listed()[name]


def test_what_is_only_for_tests_is_not_needed_to_run() -> None:
    """The one package under a strong copyleft licence is for tests alone."""
    assert "pm4py" not in listed()
    assert '"pm4py' in (ROOT / "pyproject.toml").read_text("utf-8").partition("dev = [")[2]


def test_a_licence_is_read_from_wherever_a_package_says_it() -> None:
    """By expression, by classifier, or by the first line of its text."""
    from importlib.metadata import distribution

    assert licence(distribution("pydantic")) == "MIT"
    assert licence(distribution("rfc8785")) == "Apache-2.0"
