"""Invented events for tests: one case in order, and Hypothesis strategies for every kind there is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from hashlib import sha256
from typing import Any

from hypothesis import strategies as st

from tracker.core.events import (
    KINDS,
    BackStamp,
    CountSaid,
    Event,
    How,
    Note,
    Opened,
    Read,
    Scalar,
    Start,
    Stop,
    Tick,
    Unknown,
)
from tracker.journal.lines import START, encode

PROTOCOL = 'title = "An invented repair"\nversion = 1\n'
SUMMER = timezone(timedelta(hours=1))
BEGAN = datetime(2026, 3, 30, 9, 0, 0, 250_000, SUMMER)

_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
_WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
_NUMBER = st.floats(allow_nan=False, allow_infinity=False)
_SCALAR = st.booleans() | _WHOLE | _NUMBER | _TEXT
_BY_TYPE: dict[Any, st.SearchStrategy[Any]] = {
    str: _TEXT,
    str | None: st.none() | _TEXT,
    int: _WHOLE,
    int | None: st.none() | _WHOLE,
    float: _NUMBER,
    bool: st.booleans(),
    bool | None: st.none() | st.booleans(),
    Scalar: _SCALAR,
    How | None: st.sampled_from([None, "intended", "finding_forced", "oversight", "not_logged"]),
    Mapping[str, Scalar]: st.dictionaries(_TEXT, _SCALAR, max_size=4),
    Mapping[str, int]: st.dictionaries(_TEXT, _WHOLE, max_size=4),
}
_ENVELOPE = {"seq", "at", "entered_at", "elapsed_ms", "run", "role", "kind", "ref"}

offsets = st.integers(-23 * 60 - 59, 23 * 60 + 59).map(lambda minutes: timezone(timedelta(minutes=minutes)))
moments = st.datetimes(
    datetime(1, 1, 2),  # noqa: DTZ001 - the zone is drawn beside it
    datetime(9999, 12, 30),  # noqa: DTZ001
    timezones=offsets,
).map(lambda at: at.replace(microsecond=at.microsecond // 1000 * 1000))
json_values = st.recursive(
    st.none() | _SCALAR,
    lambda part: st.lists(part, max_size=3) | st.dictionaries(_TEXT, part, max_size=3),
    max_leaves=8,
)


@st.composite
def events(draw: st.DrawFn, seq: int = 1) -> Event:
    """An event of any kind, also an unknown one, with up to two keys of a newer program."""
    every: list[type[Event]] = [*KINDS, Unknown]
    kind = draw(st.sampled_from(every))
    extra = draw(st.dictionaries(_TEXT, json_values, max_size=2))
    own = {
        name: draw(_BY_TYPE[info.annotation])
        for name, info in kind.model_fields.items()
        if name not in _ENVELOPE or (name == "ref" and kind is not Unknown)
    }
    envelope = {
        "seq": seq,
        "at": draw(moments),
        "entered_at": draw(moments),
        "elapsed_ms": draw(st.integers(0, 2**53 - 1)),
        "run": draw(st.integers(1, 2**31)),
        "role": draw(_TEXT),
    }
    if kind is Unknown:
        envelope["kind"] = draw(_TEXT.map(lambda text: f"new {text}"))
    free = {key: value for key, value in extra.items() if key not in {*kind.model_fields, "prev", "hash"}}
    return kind.model_validate({**free, **own, **envelope})


def opened(code: str = "A-0001") -> Opened:
    """Line 1 of an invented case."""
    digest = sha256(PROTOCOL.encode()).hexdigest()
    return Opened(**_envelope(1), code=code, protocol=PROTOCOL, digest=digest, program="0.1.0", invented=True)


def case(entries: int, code: str = "A-0001") -> tuple[Event, ...]:
    """An invented case of so many entries, one every 20 seconds."""
    return (opened(code), *(entry(seq) for seq in range(2, entries + 1)))


def entry(seq: int) -> Event:
    """The entry with that number, of a kind that its number decides."""
    base = _envelope(seq)
    kinds: tuple[Event, ...] = (
        Tick(**base, step="cannula_seen"),
        Start(**base, step="membrane_peel"),
        Stop(**base, step="membrane_peel", ref=seq - 1),
        Read(**base, reading="infusion_mmhg", value=25.5),
        Note(**base, text="Bändchen unter der Netzhaut — « strand », 縫合"),
        CountSaid(**base, ref=seq - 1, lines={"swabs": 10, "needles": 3}),
        BackStamp(**base, ref=seq - 1, seconds=60),
    )
    return kinds[seq % len(kinds)]


def written(case: tuple[Event, ...]) -> bytes:
    """The journal of a case."""
    return b"".join(lines_of(case))


def lines_of(case: tuple[Event, ...]) -> list[bytes]:
    """The lines of a case."""
    lines, head = [], START
    for event in case:
        line, head = encode(event, head)
        lines.append(line)
    return lines


def _envelope(seq: int) -> dict[str, Any]:
    at = BEGAN + timedelta(seconds=20 * (seq - 1))
    return {
        "seq": seq,
        "at": at,
        "entered_at": at,
        "elapsed_ms": 20_000 * (seq - 1),
        "run": 1,
        "role": "circulating",
    }
