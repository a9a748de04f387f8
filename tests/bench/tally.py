"""What a run of the typist counted, and its shares with intervals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from math import exp, log, sqrt
from typing import Any

KINDS = ("blind", "double", "neighbour", "figure", "answer")
WORDS = {
    "blind": "types for the stage as last seen",
    "double": "doubles a key",
    "neighbour": "hits a neighbouring key",
    "figure": "types a figure nobody asked",
    "answer": "answers a list that is not open",
}
Z = 1.959964
"""Of an interval of 95 %."""


@dataclass
class Slips:
    """The slips of one kind: how many, and what became of them.

    `wrote` are those that made at least one entry nobody meant, `asked` those of them that only gave another
    answer or figure than was meant where one was asked for.
    """

    slips: int = 0
    wrote: int = 0
    asked: int = 0
    entries: int = 0
    shown: int = 0
    mended: int = 0


@dataclass
class Tally:
    """All that was counted."""

    kinds: dict[str, Slips] = field(default_factory=lambda: {kind: Slips() for kind in KINDS})
    cases: int = 0
    keys: int = 0
    intentions: int = 0
    meant: int = 0
    lost: int = 0
    left: int = 0
    later: int = 0
    strikes: int = 0
    looks: int = 0
    blind_apart: int = 0
    textbook_ticks: int = 0
    textbook_beside: int = 0
    textbook_steps: int = 0
    rule: str = ""
    seconds: float = 0.0

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return asdict(self)


def total(kinds: Mapping[str, Mapping[str, int]]) -> dict[str, int]:
    """All kinds of slip together."""
    return {name: sum(kind[name] for kind in kinds.values()) for name in kinds[KINDS[0]]}


def wilson(hits: int, n: int) -> tuple[float, float]:
    """Wilson's interval of 95 % for a share (Wilson 1927)."""
    if n == 0:
        return 0.0, 1.0
    p, z2 = hits / n, Z * Z
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = Z / (1 + z2 / n) * sqrt(p * (1 - p) / n + z2 / (4 * n * n))
    return max(0.0, middle - half), min(1.0, middle + half)


def ratio(hits: int, n: int, hits_before: int, n_before: int) -> tuple[float, float, float]:
    """A share as a part of another, with an interval of 95 % by the logarithm (Katz 1978)."""
    if not (hits and hits_before):
        return (hits / n) / (hits_before / n_before) if hits_before else float("nan"), 0.0, float("nan")
    part = (hits / n) / (hits_before / n_before)
    spread = Z * sqrt(1 / hits - 1 / n + 1 / hits_before - 1 / n_before)
    return part, exp(log(part) - spread), exp(log(part) + spread)


def share(hits: int, n: int) -> str:
    """A share as the table prints it."""
    if n == 0:
        return "none"
    low, high = wilson(hits, n)
    return f"{100 * hits / n:.1f} % ({100 * low:.1f} to {100 * high:.1f})"
