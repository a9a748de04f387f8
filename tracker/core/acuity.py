"""Visual acuity as written, turned into logMAR; the written entry is what is kept.

logMAR is -log10 of the decimal acuity; a line is 0.1, a letter 0.02 (Bach, michaelbach.de/sci/acuity.html). For what
no chart measures there is no formula but only conventions, which differ: a table of them is named and printed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final

from msgspec import Struct

LETTER: Final = 0.02
LETTERS_AT_NOUGHT: Final = 85
"""Letters of an ETDRS score at logMAR 0.

Gregori, Retina 2010;30:1046: 85 + 50 log (Snellen fraction), which is a letter for each 0.02.
"""

OFF_CHART: Final = ("CF", "HM", "PL", "NPL")
"""Counting fingers, hand movements, perception of light, no perception of light."""

FORMULAS: Final = (
    ("6/12, 20/40, 6/9-2", "log10 (12 / 6); each letter after + or - is 0.02", "definition"),
    ("decimal 0.5", "-log10 0.5", "definition"),
    ("logMAR 0.3", "as written", "definition"),
    ("ETDRS 70, 70 letters", "(85 - 70) x 0.02", "Gregori, Retina 2010;30:1046"),
)
"""How a chart's notation is read: as written, how it becomes logMAR, and the source."""

_ALIASES: Final = {"LP": "PL", "NLP": "NPL"}
_FRACTION: Final = re.compile(r"(\d+(?:\.\d+)?)\s*/\s*(\d+(?:\.\d+)?)\s*(?:([+-])\s*(\d))?")
_NAMED: Final = re.compile(
    r"(?:(logmar|decimal|etdrs)\s*(-?\d+(?:\.\d+)?)(?:\s*letters)?"
    r"|(-?\d+(?:\.\d+)?)\s*(logmar|decimal|etdrs|letters))",
    re.IGNORECASE,
)
_PLAUSIBLE: Final = (-0.5, 3.0)
"""No chart and no convention goes beyond these; common practice, no source."""


class Convention(Struct, frozen=True, gc=False):
    """A table of logMAR values for what no chart measures; a department may write its own.

    Raises ValueError unless it names CF, HM, PL and NPL and no others.
    """

    name: str
    source: str
    table: Mapping[str, float]

    def __post_init__(self) -> None:
        if set(self.table) != set(OFF_CHART):
            raise ValueError(f"a table of {', '.join(OFF_CHART)} is needed")

    def logmar(self, read: Acuity) -> float | None:
        """The logMAR of an entry: that of a chart, or the one that this table has for its word."""
        return self.table[read.off_chart] if read.off_chart else read.logmar


class Acuity(Struct, frozen=True, gc=False):
    """One entry as written: the logMAR of a chart, or the off-chart word that it used, or neither."""

    entry: str
    logmar: float | None = None
    off_chart: str = ""

    @property
    def readable(self) -> bool:
        """Whether it can become logMAR."""
        return bool(self.off_chart) or self.logmar is not None


def from_decimal(decimal: float) -> float:
    """Turn decimal acuity into logMAR. Raises ValueError unless it is above 0."""
    if decimal <= 0:
        raise ValueError("decimal acuity is above 0; use an off-chart word for less")
    return -math.log10(decimal) + 0.0


def from_snellen(distance: float, size: float) -> float:
    """Turn a Snellen fraction (test distance over letter size, feet or metres) into logMAR."""
    if distance <= 0 or size <= 0:
        raise ValueError("both parts of a Snellen fraction are above 0")
    return from_decimal(distance / size)


def from_letters(letters: float) -> float:
    """Turn the letters of an ETDRS score into logMAR."""
    return (LETTERS_AT_NOUGHT - letters) * LETTER


def read_acuity(entry: str) -> Acuity:
    """Read `6/60`, `20/40`, `6/9-2`, `decimal 0.5`, `logMAR 0.3`, `ETDRS 70`, `CF`, `CF 30 cm`, `HM`, `PL`, `NPL`.

    A bare number is not read: nobody can say whether 0.3 is decimal or logMAR. The distance at which
    fingers were counted is kept in the entry and not used.
    """
    text = entry.strip()
    words = text.upper().split()
    word = _ALIASES.get(words[0], words[0]) if words else ""
    if word in OFF_CHART:
        return Acuity(entry, None, word)
    value = None
    if found := _FRACTION.fullmatch(text):
        value = _fraction(found)
    elif found := _NAMED.fullmatch(text):
        value = _named(found)
    return Acuity(entry, value if value is not None and _PLAUSIBLE[0] <= value <= _PLAUSIBLE[1] else None)


def _fraction(found: re.Match[str]) -> float | None:
    distance, size, sign, letters = found.groups()
    if not (float(distance) and float(size)):
        return None
    extra = LETTER * int(letters or 0)
    return from_snellen(float(distance), float(size)) + (extra if sign == "-" else -extra)


def _named(found: re.Match[str]) -> float | None:
    kind = (found[1] or found[4]).lower()
    value = float(found[2] or found[3])
    if kind == "logmar":
        return value
    if kind == "decimal":
        return from_decimal(value) if value > 0 else None
    return from_letters(value) if 0 <= value <= 100 else None
