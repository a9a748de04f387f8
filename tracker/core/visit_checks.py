"""What is wanting in a visit before it is entered, and what is questioned about it, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final

from tracker.core.acuity import read_acuity
from tracker.core.follow_up import day_of, days_after, days_words
from tracker.core.follow_up_events import Visit
from tracker.core.text import identifying, unshowable
from tracker.core.wording import figure

PRESSURES: Final = (0.0, 80.0)
"""Intra-ocular pressures that are not questioned, in mmHg; common practice, no source."""

FAR_BEFORE: Final = -365
"""A visit longer before the operation than so many days is questioned; common practice, no source."""

LONGEST: Final = {"acuity": 40, "role": 40, "text": 2000, "why": 400}
"""Characters that each text may have."""


def wanting(visit: Visit, surgery: date, today: date) -> Iterator[str]:
    """Why a visit cannot be entered; nothing if it can."""
    day = day_of(visit.day)
    if day is None:
        yield f"{visit.day} is no day: write it as 2026-03-31."
        return
    if day > today:
        yield f"{visit.day} has not come yet."
    yield from _texts(visit)
    said = (visit.attached, visit.acuity, visit.pressure, visit.oil, visit.oil_out, visit.operation)
    if not visit.text and all(each is None for each in said):
        yield "Nothing was said of that visit: give at least one finding or a note."
    if day < surgery and any(each is not None for each in (visit.attached, visit.oil_out, visit.operation)):
        yield (
            f"{visit.day} is before the operation ({surgery.isoformat()}): only acuity, pressure, oil and a note"
            " can be told of it."
        )
    if visit.pressure is not None and visit.pressure < 0:
        yield "A pressure is not below 0 mmHg."
    if visit.oil_out is not None:
        yield from _oil_out(visit, visit.oil_out, surgery)


def _texts(visit: Visit) -> Iterator[str]:
    for name, most in LONGEST.items():
        text = getattr(visit, name) or ""
        word = {"text": "note", "why": "reason"}.get(name, name)
        if odd := unshowable(text):
            yield f"The {word} holds what no terminal should be sent ({', '.join(odd)})."
        if len(text) > most:
            yield f"The {word} is longer than {most} characters."


def _oil_out(visit: Visit, text: str, surgery: date) -> Iterator[str]:
    out = day_of(text)
    if out is None:
        yield f"{text} is no day: write it as 2026-03-31."
    elif out < surgery:
        yield f"Oil taken out on {text} is before the operation ({surgery.isoformat()})."
    elif text > visit.day:
        yield f"Oil taken out on {text} is after the visit of {visit.day}."
    elif visit.oil == "in":
        yield "Oil cannot both be in the eye and have been taken out: say one of the two."


def questioned(visit: Visit, surgery: date) -> Iterator[str]:
    """What looks like a slip, to be asked about once; it may be right."""
    days = days_after(visit.day, surgery)
    if days < FAR_BEFORE:
        yield f"{visit.day} is {days_words(days)} the operation ({surgery.isoformat()})."
    low, high = PRESSURES
    if visit.pressure is not None and not low <= visit.pressure <= high:
        yield f"{figure(visit.pressure)} mmHg is outside {figure(low)} to {figure(high)}."
    for word, text in (
        ("note", visit.text),
        ("reason", visit.why),
        ("role", visit.role),
        ("acuity", visit.acuity),
    ):
        if found := identifying(text or ""):
            yield f"The {word} looks like {' and '.join(found)}: no patient identifiers."


def remarked(visit: Visit, surgery: date) -> Iterator[str]:
    """What is said of a visit that was entered."""
    days = days_after(visit.day, surgery)
    if days < 0:
        yield f"{visit.day} is {days_words(days)} the operation: it counts as before."
    if visit.acuity and not read_acuity(visit.acuity).readable:
        yield (
            f"The acuity {visit.acuity} is kept as written; it has no logMAR. Readable are 6/12, 20/40, logMAR 0.3,"
            " decimal 0.5, ETDRS 70, CF, HM, PL, NPL."
        )
