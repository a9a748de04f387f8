"""The list of a day as a person types it: a TOML file as frozen values. Places by case code, nobody by name.

The file is the plan. What becomes of it, moved, added or called off, stands in a book beside it, and the first line
of that book holds this text, so that a day never depends on a file that changed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints

from tracker.core.protocol import Flag, Id, Label, Number, Part, Reason, Slug
from tracker.core.text import identifying, looks_like_markup, unshowable

PLAN_FORMAT: Final = 1
"""The newest format of a list that this program reads."""

_NAME: Final = re.compile(r"(\d{4}-\d{2}-\d{2})(?:-[a-z0-9]{1,20})?")


def _as_day(value: Any) -> Any:
    """A date that TOML reads as one, as text: people write it with quotes and without."""
    plain = isinstance(value, date) and not isinstance(value, datetime)
    return value.isoformat() if plain else value


def _as_clock(value: Any) -> Any:
    return f"{value:%H:%M}" if isinstance(value, time) and not value.second else value


def _real_day(text: str) -> str:
    if day_of(text) is None:
        raise ValueError("is no day of the calendar; write it as 2026-12-01")
    return text


def _of_nobody(text: str) -> str:
    if found := identifying(text):
        raise ValueError(f"holds {' and '.join(found)}; take it out: a list holds case codes only")
    return text


def _value(text: str) -> str:
    if unshowable(text) or looks_like_markup(text):
        raise ValueError("holds characters that cannot be shown, or markup; write plain words")
    return _of_nobody(text)


Day = Annotated[
    str,
    StringConstraints(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"),
    BeforeValidator(_as_day),
    AfterValidator(_real_day),
]
ClockTime = Annotated[
    str, StringConstraints(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$"), BeforeValidator(_as_clock)
]
CaseCode = Annotated[str, StringConstraints(pattern=r"^[A-Z]{1,4}-[0-9]{4,9}$")]
Minutes = Annotated[float, Field(strict=True, ge=1, le=1440, allow_inf_nan=False)]
Told = Annotated[Label, AfterValidator(_of_nobody)]
FactValue = Flag | Number | Annotated[str, StringConstraints(max_length=80), AfterValidator(_value)]


class PlannedPlace(Part):
    """A place on the list. `code` is the case code that it is to have, else it gets the next free one.

    `start` and `minutes` are as planned, `facts` what is known of the case by the ids of its protocol file.
    """

    protocol: Slug
    code: CaseCode | None = None
    start: ClockTime | None = None
    minutes: Minutes | None = None
    facts: Mapping[Id, FactValue] = Field(default_factory=dict)


class ListReason(Reason):
    """Why a list began late, a turnover was long, a place was moved, added or called off; one key each."""

    label: Told


class Plan(Part):
    """A whole list: `start` is the planned start of the session, `session` the minutes booked, if known."""

    format: Annotated[int, Field(strict=True, ge=1)]
    day: Day
    start: ClockTime
    session: Minutes | None = None
    station: Annotated[str, StringConstraints(max_length=40), AfterValidator(_value)] = ""
    reasons: tuple[ListReason, ...] = ()
    places: Annotated[tuple[PlannedPlace, ...], Field(max_length=60)] = ()


def day_of(name: str) -> date | None:
    """The day that the name of a list begins with, as of 2026-12-01 or 2026-12-01-pm; None for any other text."""
    form = _NAME.fullmatch(name)
    try:
        return date.fromisoformat(form[1]) if form else None
    except ValueError:
        return None


def clock_minutes(told: str) -> int:
    """The minutes after midnight of a time as 08:30."""
    return int(told[:2]) * 60 + int(told[3:5])
