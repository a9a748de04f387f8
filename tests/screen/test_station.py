"""The station's clocks and its zone."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import timedelta

import pytest

from tracker.screen.station import StationClock, zone_trouble


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """The machine's zone may be set; afterwards it is as it was."""
    yield monkeypatch
    monkeypatch.undo()
    time.tzset()


def _set(zone: pytest.MonkeyPatch, to: str) -> None:
    zone.setenv("TZ", to)
    time.tzset()


@pytest.mark.parametrize(
    "to", ["Europe/London", ":Europe/London", "UTC", "GMT0BST,M3.5.0/1,M10.5.0", "<+0545>-5:45", "XXX12"]
)
def test_a_sound_zone_is_told_without_a_word(zone: pytest.MonkeyPatch, to: str) -> None:
    """A name, a rule, an offset written out."""
    _set(zone, to)

    assert zone_trouble({"TZ": to}) is None


def test_where_no_zone_is_named_nothing_is_said() -> None:
    """The machine's own zone is taken as it is."""
    assert zone_trouble({}) is None


@pytest.mark.parametrize(
    "to", ["XXX-99:99", "AAA-24", "XXX30", "Europe/Lodnon", "abc", "", "Europe", "../../etc"]
)
def test_a_zone_that_cannot_be_told_is_said_and_times_are_in_utc(zone: pytest.MonkeyPatch, to: str) -> None:
    """Too far for any clock, misspelt, a folder, nothing: a sentence, and a clock that goes on."""
    _set(zone, to)
    told = zone_trouble({"TZ": to})

    assert told is not None
    assert told[0].startswith(f"{to!r} is no ")
    assert told[0].endswith("times are told in UTC")
    assert StationClock()().at.utcoffset() == timedelta(0)


def test_a_zone_further_than_any_place_is_said(zone: pytest.MonkeyPatch) -> None:
    """Twenty hours: a clock can show it, and no place on earth has it."""
    _set(zone, "XXX-20")

    assert "further from UTC than any place" in str(zone_trouble({"TZ": "XXX-20"}))
    assert StationClock()().at.utcoffset() == timedelta(hours=20)
