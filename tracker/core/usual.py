"""The usual range of a stage here: what past cases took, said with how many they were."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

LEAST: Final = 20
"""From so many comparable cases on a range is usual here; below, only the protocol file's figures are told."""


@dataclass(frozen=True, slots=True)
class Usual:
    """The 10th and the 90th percentile of a stage's minutes in `n` comparable cases."""

    low: float
    high: float
    n: int


UsualRanges = Mapping[str, Usual]
"""By stage id; a stage of too few cases is absent."""
