"""Eighty invented cases for all tests of the audit room that only read them."""

from __future__ import annotations

import pytest

from audit_reports import invented
from tracker.journal.archive import Archive


@pytest.fixture(scope="session")
def many(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """Eighty invented cases, straight in tables."""
    return invented(tmp_path_factory.mktemp("many"))
