"""In which order the steps really come: precedence over many cases, and inversions."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Precedence:
    """For each pair of steps, in how many of n cases the row's step came first and in how many both came.

    `first[i][j]` and `both[i][j]` follow the order of `steps`.
    """

    n: int
    refused: str
    steps: tuple[str, ...]
    first: tuple[tuple[int, ...], ...] = ()
    both: tuple[tuple[int, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Inversion:
    """A pair the file puts in order, and the cases with both in which it came the other way round."""

    sooner: str
    later: str
    n: int
    inverted: int
    refused: str
    share: float | None = None
