"""What every test has: no folder of the user's, no limit of time."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# A speed is a benchmark, never a test: a busy machine must not fail one.
# On CI the same inputs every time, so that a run judges the change; at a desk the search goes on.
settings.register_profile(
    "house",
    deadline=None,
    derandomize="CI" in os.environ,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("house")


@pytest.fixture(autouse=True)
def _nothing_of_the_users(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Home, data and settings folders are fresh ones."""
    home: Path = tmp_path_factory.mktemp("home")
    for name in ("HOME", "USERPROFILE", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(home))
    for name in ("CLOCKHOUR_ARCHIVE", "CLOCKHOUR_SETTINGS", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
