"""Figures as the screen and the record say them."""

from __future__ import annotations

import re
from datetime import datetime, timedelta, timezone

import pytest

from story import protocol_of
from tracker.core.wording import (
    CAUTIONS,
    CODE_WORDS,
    clock_time,
    fact_words,
    figure,
    hms,
    span_words,
    value_words,
)

FILE = protocol_of("""
[[facts]]
id = "lens"
label = "Lens"
kind = "choice"
default = "none"
choices = [{ id = "none", label = "Aphakic", key = "a" }]
[[facts]]
id = "axial_mm"
label = "Axial length"
kind = "number"
unit = "mm"
default = 24.0
[[readings]]
id = "mmhg"
label = "Infusion"
unit = "mmHg"
[[readings]]
id = "level"
label = "Level"
kind = "choice"
choices = [{ id = "disc", label = "Over the disc", key = "d" }]
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "decide"
label = "Decide"
shape = "decision"
choices = [{ id = "oil", label = "Silicone oil", key = "o" }]
""")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "00:00"),
        (59.999, "00:59"),
        (59.9999999, "01:00"),
        (3599, "59:59"),
        (3600, "1:00:00"),
        (90_061, "25:01:01"),
        (-75, "-01:15"),
        (-0.4, "00:00"),
    ],
)
def test_clock_figures(seconds: float, words: str) -> None:
    """A clock shows whole seconds gone by, hours where there are any, a minus sign before nought."""
    assert hms(seconds) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (59.9, "59 s"),
        (60, "1 min"),
        (150, "2 min 30 s"),
        (179.999, "2 min 59 s"),
        (180.0000001, "3 min"),
        (3600, "1 h 00 min"),
        (3900, "1 h 05 min"),
        (7199, "1 h 59 min"),
    ],
)
def test_lengths_in_words(seconds: float, words: str) -> None:
    """A length says whole seconds, from an hour on whole minutes, and never more than has gone by."""
    assert span_words(seconds) == words


def test_time_of_day_is_told_in_its_own_offset() -> None:
    """A moment is told as the station's clock told it."""
    at = datetime(2026, 7, 1, 9, 5, 7, tzinfo=timezone(timedelta(hours=1)))

    assert clock_time(at) == "09:05:07"


@pytest.mark.parametrize(
    ("value", "words"), [(4.0, "4"), (0.025, "0.025"), (1_500_000, "1500000"), (0.1 + 0.2, "0.3"), (-3, "-3")]
)
def test_numbers_without_needless_fractions(value: float, words: str) -> None:
    """A number is written plainly: no trailing nought, no power of ten, no rounding noise."""
    assert figure(value) == words


def test_values_of_readings() -> None:
    """A reading is said with its unit, a choice by its label, a yes or no in words."""
    mmhg, level = FILE.reading["mmhg"], FILE.reading["level"]

    assert value_words(mmhg, 25.0) == "25 mmHg"
    assert value_words(level, "disc") == "Over the disc"
    assert value_words(level, "equator") == "equator"
    assert [value_words(mmhg, v) for v in (True, False)] == ["yes", "no"]


def test_values_of_facts_and_decisions() -> None:
    """A fact is said with its unit or label, a decision by its choice's label, the unknown as it stands."""
    assert fact_words(FILE, "axial_mm", 23.5) == "23.5 mm"
    assert fact_words(FILE, "lens", "none") == "Aphakic"
    assert fact_words(FILE, "decide", "oil") == "Silicone oil"
    assert fact_words(FILE, "consent", True) == "yes"
    assert fact_words(FILE, "unheard", "of") == "of"
    assert fact_words(FILE, "unheard", 3) == "3"


def test_words_are_neutral() -> None:
    """What a screen says of a deviation holds none of the words that judge."""
    judging = re.compile(
        r"error|alarm|alert|warn|score|recommend|fail|wrong|violat|incorrect|unsafe|should", re.I
    )

    assert not [words for words in CODE_WORDS.values() if judging.search(words)]


def test_cautions_say_what_it_is_not() -> None:
    """The cautions say that this is no device, replaces no record and holds no identifiers."""
    text = " ".join(CAUTIONS)

    for part in (
        "Not a medical device",
        "Does not replace",
        "unless marked back-stamped",
        "No patient identifiers",
    ):
        assert part in text
