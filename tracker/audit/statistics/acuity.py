"""How acuity changed, from entries as written and a stated table for what no chart measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from tracker.audit.statistics.enough import FEWEST, Floats, too_few
from tracker.core.acuity import Acuity, Convention, read_acuity

GAIN: Final = 0.3
"""Three lines: a halving of the smallest angle seen."""


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


def acuity_change(
    before: Sequence[str | None],
    after: Sequence[str | None],
    convention: Convention,
    *,
    counts: Sequence[int] | None = None,
    fewest: int = FEWEST,
) -> AcuityChange:
    """Summarise the change of acuity over eyes; refuses below `fewest`.

    `counts` is how many eyes have each pair of entries, one unless told. Raises ValueError if they differ in length.
    """
    counts = [1] * len(before) if counts is None else counts
    pairs = [
        (read_acuity(old or ""), read_acuity(new or ""), eyes)
        for old, new, eyes in zip(before, after, counts, strict=True)
    ]
    read = [(old, new, eyes) for old, new, eyes in pairs if old.readable and new.readable]
    n = sum(eyes for *_, eyes in read)
    missing = sum(counts) - n
    off_chart = sum(eyes for old, new, eyes in read if old.off_chart or new.off_chart)
    if refused := too_few(n, fewest, "eyes"):
        return AcuityChange(n, missing, off_chart, convention, refused)
    first = _logmar([(old, eyes) for old, _, eyes in read], convention)
    last = _logmar([(new, eyes) for _, new, eyes in read], convention)
    # A difference of chart values such as 0.7 - 0.4 is a hair off 0.3 in binary; a letter is 0.02.
    change = (last - first).round(6)
    median, p25, p75 = np.quantile(change, [0.5, 0.25, 0.75]).tolist()
    return AcuityChange(
        n, missing, off_chart, convention, "", median, p25, p75,
        float((change <= -GAIN).mean()), float((change >= GAIN).mean()), float((last.round(6) <= GAIN).mean()),
    )  # fmt: skip


def _logmar(read: Sequence[tuple[Acuity, int]], convention: Convention) -> Floats:
    values = np.array([convention.logmar(each) for each, _ in read], dtype=np.float64)
    return np.repeat(values, [n for _, n in read])
