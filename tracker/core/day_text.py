"""The text of a new list, as a person could have typed it, and the reasons that it begins with."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from msgspec import Struct

from tracker.core.day_plan import PLAN_FORMAT
from tracker.core.events import Scalar
from tracker.core.wording import figure

REASONS: Final = (
    ("patient", "patient not ready", "p"),
    ("ward", "ward or transport", "w"),
    ("unfit", "not fit for the operation today", "u"),
    ("patients_choice", "patient's choice", "c"),
    ("ran_over", "case before ran over", "r"),
    ("emergency", "emergency came between", "e"),
    ("anaesthetic", "anaesthetic", "a"),
    ("staff", "staff not there", "s"),
    ("kit", "equipment or item not there", "k"),
    ("cleaning", "cleaning or setting up", "l"),
    ("order", "order changed for the list", "o"),
    ("time", "no time left", "t"),
    ("other", "other", "x"),
)
"""Why a list is late, a turnover long, a case moved, added or called off: ids, words, keys. Edit them in the file."""

_HEAD: Final = """\
# The list of a day. Case codes only: no name, no date of birth, no number of a person, not in a comment either.
# Once the day has begun the program goes by what stood here then. `clockhour list check` says what is to be mended.
"""


class NewPlace(Struct, frozen=True):
    """A place that goes on a new list; None where a thing is not planned or not known."""

    protocol: str
    minutes: float | None = None
    start: str | None = None
    code: str | None = None
    facts: Mapping[str, Scalar] = {}


def list_text(
    day: str, start: str, places: Iterable[NewPlace], session: float | None = None, station: str = ""
) -> str:
    """The text of the file of a new list."""
    return "\n".join(_lines(day, start, places, session, station))


def _lines(
    day: str, start: str, places: Iterable[NewPlace], session: float | None, station: str
) -> Iterator[str]:
    yield _HEAD
    yield f"format = {PLAN_FORMAT}"
    yield f"day = {_value(day)}"
    yield f"start = {_value(start)}  # planned start of the session"
    if session is not None:
        yield f"session = {_value(session)}  # minutes booked"
    if station:
        yield f"station = {_value(station)}"
    for place in places:
        yield ""
        yield from _place(place)
    yield ""
    yield "# Reasons for a late start, a turnover, a place moved, added or called off: one key each."
    for ident, label, key in REASONS:
        yield "[[reasons]]"
        yield f"id = {_value(ident)}"
        yield f"label = {_value(label)}"
        yield f"key = {_value(key)}"
    yield ""


def _place(place: NewPlace) -> Iterator[str]:
    yield "[[places]]"
    yield f"protocol = {_value(place.protocol)}"
    for key, value in (("code", place.code), ("start", place.start), ("minutes", place.minutes)):
        if value is not None:
            yield f"{key} = {_value(value)}"
    if place.facts:
        yield f"facts = {{ {', '.join(f'{fact} = {_value(value)}' for fact, value in place.facts.items())} }}"


def _value(value: Scalar) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return figure(value) if isinstance(value, int | float) else json.dumps(value, ensure_ascii=False)
