"""The follow-up visits of invented cases: drawn once, told as entries of a book or written straight to tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from tracker import __version__
from tracker.audit import parquet
from tracker.audit.invented.numbers import Floats, Whole
from tracker.audit.invented.truth import Truth
from tracker.core.acuity import read_acuity
from tracker.core.events import Event
from tracker.core.follow_up_events import Attached, Followed, Oil, Operation, Visit

Flags = NDArray[np.bool_]
ROLE: Final = "clinic"
PLANNED: Final = np.array([-7.0, 1, 14, 42, 91, 182, 365])
"""Days after the operation on which an eye is seen; the first is before it."""
SETTLED: Final = 3
"""From this visit on acuity and pressure are what they will be."""

ATTACHED: Final[tuple[Attached, ...]] = ("yes", "partly", "no")
OIL: Final[tuple[Oil, ...]] = ("in", "out")
AGAIN: Final[tuple[Operation, ...]] = ("detachment",)
BEFORE: Final = (("HM", 2.3), ("CF", 1.9), ("6/60", 1.0), ("logMAR 1.4", 1.4))
"""Acuities before the operation, and the logMAR that the truth counts for each."""
UNREAD: Final = "not taken"
BEST: Final = -0.1

_LOSES: Final = (20.0, 55.0)
_TEXTS: Final = (*(word for word, _ in BEFORE), UNREAD, *(f"logMAR {n / 10:.1f}" for n in range(-1, 31)))
_FIRST_STEP: Final = len(BEFORE) + 1


@dataclass(frozen=True, slots=True)
class Visits:
    """Case by planned visit: whether it came about, and what was found; -1, or not a number, where nothing was said.

    `attached`, `oil`, `again` and `acuity` are places in their lists of words, `days` and `oil_out` days.
    """

    came: Flags
    days: Whole
    attached: Whole
    acuity: Whole
    pressure: Floats
    oil: Whole
    oil_out: Whole
    again: Whole


def draw_visits(truth: Truth, oil: Flags, rng: np.random.Generator) -> Visits:
    """Draw the visits of as many cases as `oil` says of whether oil was put in."""
    n, shape = oil.size, (oil.size, PLANNED.size)
    before = np.arange(PLANNED.size) == 0
    jitter = rng.uniform(-0.1, 0.1, shape)
    days = np.rint(np.where(before, -rng.integers(1, 15, shape), PLANNED * (1 + jitter))).astype(np.int64)
    came = rng.random(shape) < truth.followed
    lost = np.where(rng.random(n) < truth.attached, np.inf, rng.uniform(*_LOSES, n))
    attached, again = _retina(truth, came & ~before, days, lost, rng)
    state, out = _oil(truth, came & ~before, days, oil, rng)
    return Visits(
        came, days, attached, _acuity(truth, shape, rng), _pressure(truth, shape, rng), state, out, again
    )


def _retina(
    truth: Truth, seen: Flags, days: Whole, lost: Floats, rng: np.random.Generator
) -> tuple[Whole, Whole]:
    """What is seen of the retina, and at which visit a further operation is told of: the one after it was found."""
    off = seen & (days >= lost[:, None])
    number = np.cumsum(off, axis=1) * off
    found = np.where(rng.random(lost.size) < 0.3, 1, 2)[:, None]
    later = np.where(rng.random(lost.size) < truth.attached_again, 0, 2)[:, None]
    attached = np.where(number == 0, 0, np.where(number == 1, found, later))
    return np.where(seen, attached, -1), np.where(number == 2, 0, -1)


def _oil(truth: Truth, seen: Flags, days: Whole, oil: Flags, rng: np.random.Generator) -> tuple[Whole, Whole]:
    """Whether oil is in the eye, and the day on which it came out, told once."""
    drawn = np.rint(rng.lognormal(np.log(truth.oil_days), truth.oil_sigma, oil.size))
    out = np.maximum(drawn, 1).astype(np.int64)[:, None]
    told = seen & oil[:, None]
    gone = told & (days >= out)
    first = gone & (np.cumsum(gone, axis=1) == 1)
    return np.where(told, np.where(gone, 1, 0), -1), np.where(first, out, -1)


def _acuity(truth: Truth, shape: tuple[int, int], rng: np.random.Generator) -> Whole:
    """Before the operation, soon after it (fingers or hand movements), and then better by the gain."""
    first = rng.integers(0, len(BEFORE), shape[0])
    gain = truth.gain + truth.gain_sigma * rng.standard_normal(shape[0])
    after = np.clip(np.array([value for _, value in BEFORE])[first] - gain, BEST, 3.0)
    step = _FIRST_STEP + 1 + np.rint(after * 10).astype(np.int64)
    soon = rng.integers(0, 2, shape)
    columns = np.arange(shape[1])
    drawn = np.where(columns == 0, first[:, None], np.where(columns < SETTLED, soon, step[:, None]))
    return np.where(rng.random(shape) < truth.unread, len(BEFORE), drawn)


def _pressure(truth: Truth, shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    """Usual, or from a while after the operation on low or high for good."""
    kind = rng.random(shape[0])[:, None]
    usual = np.clip(15 + 3 * rng.standard_normal(shape), 7, 24)
    low, high = rng.uniform(1, 5, shape), rng.uniform(26, 40, shape)
    settled = np.where(kind < truth.low_pressure, low, np.where(kind > 1 - truth.high_pressure, high, usual))
    return np.asarray(np.rint(np.where(np.arange(shape[1]) < SETTLED, usual, settled)), dtype=np.float64)


# -- told


def told_visits(visits: Visits, row: int, code: str, surgery: date, log: tuple[str, int]) -> Iterator[Event]:
    """The entries of the follow-up of the case in a row; `log` is its last hash and its number of entries."""
    columns = np.flatnonzero(visits.came[row]).tolist()
    for place, column in enumerate(columns):
        days = int(visits.days[row, column])
        seen = datetime.combine(surgery, time(12), UTC) + timedelta(days=max(days, 1))
        frame: dict[str, Any] = {
            "at": seen, "entered_at": seen, "elapsed_ms": 0, "run": place + 1, "role": ROLE,
        }  # fmt: skip
        if place == 0:
            hash_, entries = log
            yield Followed(
                **frame, seq=1, code=code, log_hash=hash_, log_entries=entries, program=__version__
            )
        out = int(visits.oil_out[row, column])
        yield Visit(
            **frame,
            seq=place + 2,
            day=_day(surgery, days),
            attached=_word(ATTACHED, visits.attached[row, column]),
            acuity=_TEXTS[visits.acuity[row, column]],
            pressure=float(visits.pressure[row, column]),
            oil=_word(OIL, visits.oil[row, column]),
            oil_out=None if out < 0 else _day(surgery, out),
            operation=_word(AGAIN, visits.again[row, column]),
        )


def _day(surgery: date, days: int) -> str:
    return (surgery + timedelta(days=days)).isoformat()


def _word(words: Sequence[Any], place: Any) -> Any:
    return words[place] if place >= 0 else None


# -- straight to tables


def weave_visits(visits: Visits, codes: Any, days: Sequence[date]) -> Any:
    """The rows of `visits`; `codes` and `days` are those of the cases."""
    came, n = visits.came, int(visits.came.sum())
    case = np.nonzero(came)[0]
    seq = np.cumsum(came, axis=1) + 1
    surgery = np.array(days, dtype="datetime64[D]")[case]
    read = [read_acuity(text) for text in _TEXTS]
    columns = {
        "code": codes.take(pa.array(case)),
        "seq": pa.array(seq[came]),
        "day": pa.array(surgery + visits.days[came].astype("timedelta64[D]")),
        "days": pa.array(visits.days[came]),
        "role": pa.array([ROLE] * n, pa.string()),
        "attached": _words(ATTACHED, visits.attached[came]),
        "acuity": _words(_TEXTS, visits.acuity[came]),
        "logmar": pa.array([each.logmar for each in read], pa.float64()).take(pa.array(visits.acuity[came])),
        "off_chart": _words([each.off_chart or None for each in read], visits.acuity[came]),
        "pressure": pa.array(visits.pressure[came]),
        "oil": _words(OIL, visits.oil[came]),
        "oil_out_days": pa.array(visits.oil_out[came], mask=visits.oil_out[came] < 0),
        "operation": _words(AGAIN, visits.again[came]),
    }
    return pa.Table.from_arrays(list(columns.values()), schema=parquet.schema("visits"))


def _words(words: Sequence[str | None], places: Whole) -> Any:
    return pa.array(words, pa.string()).take(pa.array(places, mask=places < 0))
