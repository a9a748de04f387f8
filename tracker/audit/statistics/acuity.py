"""Visual acuity as written, turned into logMAR by a stated table; the written entry is what is kept.

logMAR is -log10 of the decimal acuity; a line is 0.1, a letter 0.02 (Bach, michaelbach.de/sci/acuity.html).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import FEWEST, too_few

LINE: Final = 0.1
LETTER: Final = 0.02
GAIN: Final = 0.3
"""Three lines: a halving of the smallest angle seen."""

OFF_CHART: Final = ("CF", "HM", "PL", "NPL")
"""Counting fingers, hand movements, perception of light, no perception of light."""


@dataclass(frozen=True, slots=True)
class Convention:
    """A table of logMAR values for what no chart measures; a department may write its own.

    Raises ValueError unless it names CF, HM, PL and NPL and no others.
    """

    name: str
    source: str
    table: Mapping[str, float]

    def __post_init__(self) -> None:
        if set(self.table) != set(OFF_CHART):
            raise ValueError(f"a table of {', '.join(OFF_CHART)} is needed")


BACH: Final = Convention(
    "Bach",
    "michaelbach.de/sci/acuity.html; values for PL and NPL are imputed there",
    MappingProxyType({"CF": 1.9, "HM": 2.3, "PL": 2.7, "NPL": 3.0}),
)
HIGHER: Final = Convention(
    "2.1 / 2.4 / 2.7 / 3.0",
    "common practice, no source",
    MappingProxyType({"CF": 2.1, "HM": 2.4, "PL": 2.7, "NPL": 3.0}),
)
CONVENTIONS: Final[Mapping[str, Convention]] = MappingProxyType({each.name: each for each in (BACH, HIGHER)})

_ALIASES: Final = {"LP": "PL", "NLP": "NPL"}
_FRACTION: Final = re.compile(r"(\d+(?:\.\d+)?)\s*/\s*(\d+(?:\.\d+)?)\s*(?:([+-])\s*(\d))?")
_NAMED: Final = re.compile(
    r"(?:(logmar|decimal)\s*(-?\d+(?:\.\d+)?)|(-?\d+(?:\.\d+)?)\s*(logmar|decimal))", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Acuity:
    """One entry as written, its logMAR, and the off-chart word it used; logMAR is None if unreadable."""

    entry: str
    logmar: float | None
    off_chart: str = ""


@dataclass(frozen=True, slots=True)
class AcuityChange:
    """Change of logMAR (after - before, below 0 is better) in n eyes with both entries readable.

    `gained` is the share better by 0.3 or more, `lost` worse by as much, `reading` the share at 0.3 or
    better afterwards. `off_chart` counts the eyes whose change rests on the printed convention.
    """

    n: int
    missing: int
    off_chart: int
    convention: Convention
    refused: str
    median: float | None = None
    p25: float | None = None
    p75: float | None = None
    gained: float | None = None
    lost: float | None = None
    reading: float | None = None


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


def to_decimal(logmar: float) -> float:
    """Turn logMAR into decimal acuity."""
    return math.pow(10.0, -logmar)


def to_snellen(logmar: float, distance: float = 6.0) -> float:
    """Give the letter size of the Snellen fraction at this distance: 60 for logMAR 1 at 6 metres."""
    return distance * math.pow(10.0, logmar)


def read_acuity(entry: str, convention: Convention = BACH) -> Acuity:
    """Read `6/60`, `20/40`, `6/9-2`, `decimal 0.5`, `logMAR 0.3`, `CF`, `CF 30 cm`, `HM`, `PL` or `NPL`.

    A bare number is not read: nobody can say whether 0.3 is decimal or logMAR. The distance at which
    fingers were counted is kept in the entry and not used.
    """
    text = entry.strip()
    words = text.upper().split()
    word = _ALIASES.get(words[0], words[0]) if words else ""
    if word in OFF_CHART:
        return Acuity(entry, convention.table[word], word)
    if found := _FRACTION.fullmatch(text):
        return Acuity(entry, _fraction(found))
    if found := _NAMED.fullmatch(text):
        return Acuity(entry, _named(found))
    return Acuity(entry, None)


def acuity_change(
    before: Sequence[str | None],
    after: Sequence[str | None],
    convention: Convention = BACH,
    *,
    fewest: int = FEWEST,
) -> AcuityChange:
    """Summarise the change of acuity over eyes; refuses below `fewest`.

    Raises ValueError if the two differ in length.
    """
    eyes = [
        (read_acuity(old or "", convention), read_acuity(new or "", convention))
        for old, new in zip(before, after, strict=True)
    ]
    read = [(old, new) for old, new in eyes if old.logmar is not None and new.logmar is not None]
    n, missing = len(read), len(eyes) - len(read)
    off_chart = sum(bool(old.off_chart or new.off_chart) for old, new in read)
    if refused := too_few(n, fewest, "eyes"):
        return AcuityChange(n, missing, off_chart, convention, refused)
    ends = np.array([(old.logmar, new.logmar) for old, new in read], dtype=float)
    # A difference of chart values such as 0.7 - 0.4 is a hair off 0.3 in binary; a letter is 0.02.
    change = (ends[:, 1] - ends[:, 0]).round(6)
    median, p25, p75 = np.quantile(change, [0.5, 0.25, 0.75]).tolist()
    return AcuityChange(
        n, missing, off_chart, convention, "", median, p25, p75,
        float((change <= -GAIN).mean()), float((change >= GAIN).mean()),
        float((ends[:, 1].round(6) <= GAIN).mean()),
    )  # fmt: skip


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
    return from_decimal(value) if value > 0 else None
