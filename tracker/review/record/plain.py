"""How moments, lengths and words of a case are written down: the same in every section of a record."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, overload

from tracker.core.case import Case
from tracker.core.durations import Interval, intersection, measure, pauses
from tracker.core.entries import Entry
from tracker.core.protocol import Step

HOW_WORDS: Final[Mapping[str, str]] = {
    "intended": "intended",
    "finding_forced": "finding forced it",
    "oversight": "oversight",
    "not_logged": "not logged at the time",
}
_TENTH: Final = Decimal("0.1")


@overload
def stamp(at: datetime) -> str: ...
@overload
def stamp(at: None) -> None: ...
@overload
def stamp(at: datetime | None) -> str | None: ...
def stamp(at: datetime | None) -> str | None:
    """A time told, as RFC 3339 text with milliseconds and the offset it was told in."""
    return None if at is None else at.isoformat(timespec="milliseconds")


def minutes(seconds: float) -> float:
    """Seconds as minutes, to a thousandth."""
    return round(seconds / 60, 3)


def tenths(value: float | None) -> str:
    """A number to a tenth, halves up, so that columns line up; blank for None."""
    return "" if value is None else str(Decimal(str(value)).quantize(_TENTH, ROUND_HALF_UP))


def thousandth(seconds: float) -> float:
    """Seconds to a thousandth."""
    return round(seconds, 3)


def back_stamped(entry: Entry) -> bool:
    """Whether an entry tells another time than that at which its key was pressed."""
    return thousandth(entry.late_s) != 0


def net_minutes(case: Case, start_t: float, stop_t: float | None) -> tuple[float | None, float | None]:
    """Minutes from `start_t` to `stop_t`, pauses out, and minutes paused between; None without a stop."""
    if stop_t is None:
        return None, None
    whole = Interval(start_t, stop_t)
    paused_s = measure(intersection([whole], pauses(case, stop_t)))
    return minutes(whole.seconds - paused_s), minutes(paused_s)


def choice_words(step: Step, choice: str | None) -> str:
    """The label of a decision's choice."""
    return next((c.label for c in step.choices if c.id == choice), choice or "")


def labelled(case: Case, ident: str | None) -> str:
    """The file's label of an id; nothing for none."""
    return "" if ident is None else case.protocol.label(ident)


def joined(*parts: str) -> str:
    """Words that belong to one thing, each once, what is blank left out."""
    return "; ".join(dict.fromkeys(p for p in parts if p))
