"""The small-cell rule: what is said of 1 to 4 cases, and of what would tell their number by subtraction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from tracker.audit.report.sheet import FEW, UNKNOWN, Bar, few, percent
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.statistics.rates import Rate

MOST: Final = f"all but {FEW}"
"""What stands for a number that all but 1 to 4 are."""

SOME: Final = f"{FEWEST}+"
"""What stands for a number that would tell another one by subtraction."""


def is_few(n: int) -> bool:
    """Whether a number is kept back."""
    return 0 < n < FEWEST


def count(part: int, whole: int) -> str:
    """How many of a whole; kept back where they, or the rest, are 1 to 4."""
    if is_few(part):
        return FEW
    return MOST if is_few(whole - part) else few(part)


def share(value: float | None, whole: int) -> str:
    """A share of so many cases in per cent; kept back where they, or the rest, are 1 to 4."""
    if value is None:
        return UNKNOWN
    told = count(round(value * whole), whole)
    return told if told in (FEW, MOST) else percent(value)


def within(inner: float | None, outer: float | None, whole: int) -> str:
    """A share of cases that are all among another share of them: kept back too where 1 to 4 lie between."""
    between = round(((outer or 0.0) - (inner or 0.0)) * whole)
    return UNKNOWN if inner and is_few(between) else share(inner, whole)


def events(rate: Rate) -> tuple[str, str, str]:
    """Events, their share and its interval; the last two only of events that are told."""
    if not rate.n:
        return (UNKNOWN,) * 3
    told = count(rate.events, rate.n) if rate.n >= FEWEST else FEW
    if rate.refused or told in (FEW, MOST):
        return told, UNKNOWN, UNKNOWN
    return told, percent(rate.share), f"{percent(rate.low)} to {percent(rate.high)}"


def share_of(rate: Rate | None, without: str) -> str:
    """Events and their share in one cell; `without` where there is nothing to count."""
    if rate is None:
        return without
    told, part, _ = events(rate)
    return told if part == UNKNOWN else f"{told} ({part})"


def rate_bar(label: str, rate: Rate) -> Bar | None:
    """The bar of a share; None where it is not told."""
    told, part, _ = events(rate)
    if part == UNKNOWN or rate.share is None:
        return None
    low, high = (None if v is None else 100 * v for v in (rate.low, rate.high))
    return Bar(label, 100 * rate.share, f"{told} of {few(rate.n)}", low, high)


def safe(hidden: Sequence[int]) -> bool:
    """Whether numbers from 1 to 4 stay unknown to who knows what they come to together."""
    return not hidden or FEWEST <= sum(hidden) < (FEWEST - 1) * len(hidden)


def apart(sizes: Sequence[int]) -> tuple[str, ...]:
    """What is said in place of the sizes of groups that make up a whole; empty where the size may be told.

    Where the groups kept back could be told by subtraction, the smallest of the others is kept back too.
    """
    shown = [n for n in sizes if n >= FEWEST]
    also = min(shown) if shown and not safe([n for n in sizes if is_few(n)]) else None
    place = sizes.index(also) if also is not None else -1
    return tuple(SOME if i == place else FEW if is_few(n) else "" for i, n in enumerate(sizes))


def unsaid(sizes: Sequence[int]) -> str:
    """What is said where groups were too small."""
    hidden = sum(map(is_few, sizes))
    return f"{hidden} with fewer than {FEWEST}: nothing more is given of them." if hidden else ""
