"""What it costs to look at the audit room."""

import subprocess
import sys

import pytest

HEAVY = ("numpy", "pandas", "scipy", "statsmodels")


def loaded_by(module):
    """Import a module in a fresh interpreter and list the heavy libraries it brought."""
    program = f"import sys, {module}; print(*[name for name in {HEAVY} if name in sys.modules])"
    return subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout.split()


def test_the_room_alone_costs_nothing():
    """Importing the room loads no library at all."""
    assert loaded_by("tracker.audit") == []


@pytest.mark.parametrize("module", ["planning", "statistics.drivers", "statistics.survival"])
def test_the_heavy_libraries_wait(module):
    """Planning, models and curves load numpy and leave scipy and statsmodels until they are used."""
    assert loaded_by(f"tracker.audit.{module}") == ["numpy"]
