"""Hypothesis strategies for raw sequences of events: any kind, in any order, sensible or not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from tracker.core import events as ev
from tracker.core.protocol import Protocol

START = datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
ZONES = (UTC, timezone(timedelta(hours=1)), timezone(timedelta(hours=-9, minutes=-30)))
STRANGE = "never_heard_of"

ODD_NUMBERS = st.sampled_from([float("inf"), float("-inf"), float("nan"), 1e300, -1.0, 2.0**53, 0.1])
VALUES = st.integers(-3, 70) | st.booleans() | st.sampled_from(["on", "three", ""]) | ODD_NUMBERS

Fields = Mapping[str, Any]
FORWARD = (
    "facts", "tick", "start", "stop", "reading", "count", "count_change", "not_needed", "note", "bookmark",
    "complication", "complication_detail", "complication_closed", "handover", "handover_accepted",
    "operator", "reason", "resumed",
)  # fmt: skip
"""Kinds that add to what is known and take nothing back."""


OFTEN = ("tick", "tick", "tick", "start", "stop", "reading", "strike", "back_stamp")
BACK = st.sampled_from([1, 1, 1, 2, 2, 3, 4, 7, 40, -1])
"""How many lines back an event points: mostly at one of the last few, sometimes at none or forward."""


def _of(*known: str) -> st.SearchStrategy[str]:
    return st.sampled_from([*known, STRANGE])


def _fields(protocol: Protocol) -> dict[str, st.SearchStrategy[Fields]]:
    """For each kind, what an event of it may hold; `ref` counts lines back."""
    ref = BACK
    steps = _of(*protocol.step)
    choices = _of(*(c.id for s in protocol.all_steps() for c in s.choices))
    facts = st.dictionaries(_of(*protocol.fact), choices | VALUES, max_size=2)
    complications = st.none() | _of(*(c.id for c in protocol.complications))
    lines = _of(*(c.id for c in protocol.counted))
    text = st.sampled_from(["", "words"])
    step = st.fixed_dictionaries({"step": steps})
    on = st.fixed_dictionaries({"ref": ref})
    return {
        "opened": st.just({"code": "A1", "protocol": "", "digest": "d", "program": "0"}),
        "resumed": st.fixed_dictionaries({"gap_ms": st.integers(-5000, 5000), "torn": st.booleans()}),
        "facts": st.fixed_dictionaries({"values": facts}),
        "tick": st.fixed_dictionaries({"step": steps, "choice": st.none() | choices}),
        "start": step,
        "stop": st.fixed_dictionaries({"step": steps, "ref": st.none() | ref}),
        "choice": st.fixed_dictionaries({"ref": ref, "choice": choices}),
        "reading": st.fixed_dictionaries(
            {"reading": _of(*protocol.reading), "value": VALUES, "ref": st.none() | ref}
        ),
        "count": st.fixed_dictionaries(
            {"ref": ref, "lines": st.dictionaries(lines, st.integers(-2, 12), max_size=2)}
        ),
        "count_change": st.fixed_dictionaries({"line": lines, "delta": st.integers(-3, 3)}),
        "not_needed": st.fixed_dictionaries({"step": steps, "reason": text}),
        "not_logged": step,
        "strike": on,
        "move": st.fixed_dictionaries({"ref": ref, "step": steps}),
        "back_stamp": st.fixed_dictionaries({"ref": ref, "seconds": st.integers(-90, 900) | ODD_NUMBERS}),
        "reason": st.just({"deviation": "repeated:a:1", "reason": "teaching"}),
        "complication": st.fixed_dictionaries({"complication": complications}),
        "complication_detail": st.fixed_dictionaries(
            {"ref": ref, "complication": complications, "text": text}
        ),
        "complication_closed": on,
        "note": st.fixed_dictionaries({"text": text, "ref": st.none() | ref}),
        "bookmark": st.just({}),
        "handover": st.fixed_dictionaries(
            {"outgoing": text, "incoming": text, "counts_confirmed": st.booleans()}
        ),
        "handover_accepted": on,
        "operator": st.fixed_dictionaries({"operator": st.sampled_from(["consultant", "fellow"])}),
        "paused": st.just({}),
        "continued": st.just({}),
        "stage_closed": st.fixed_dictionaries({"stage": _of(*protocol.stage_index)}),
        "stopped_early": st.just({"reason": "collapse"}),
        "holographic": st.fixed_dictionaries({"step": st.lists(steps, max_size=1), "ref": st.none() | ref}),
    }


def _kinds(kinds: Sequence[str], longest: int) -> st.SearchStrategy[list[str]]:
    weighted = [*kinds, *(k for k in OFTEN if k in kinds)]
    lengths = st.integers(0, longest)
    return lengths.flatmap(lambda n: st.lists(st.sampled_from(weighted), min_size=n, max_size=n))


def _made(kind: str, seq: int, fields: Fields, **envelope: Any) -> ev.Event:
    back = fields.get("ref")
    ref = {} if back is None else {"ref": seq - back}
    return ev.event_from({**envelope, "seq": seq, "role": "runner", "kind": kind, **fields, **ref})


@st.composite
def event_lists(draw: st.DrawFn, protocol: Protocol, longest: int = 25) -> tuple[ev.Event, ...]:
    """Raw events of any kind: wild clocks, several runs, references to anything."""
    fields = _fields(protocol)
    wall, elapsed_ms, run, made = START, 0, 1, []
    for seq, kind in enumerate(draw(_kinds(sorted(fields), longest)), start=1):
        wall += timedelta(seconds=draw(st.sampled_from([0, 0.001, 5, 61, 2000, -3600, 86_400])))
        elapsed_ms = max(0, elapsed_ms + draw(st.sampled_from([0, 1, 999, 61_000, 2_000_000, -500])))
        if draw(st.integers(0, 9)) == 0:
            run, elapsed_ms = draw(st.integers(1, 3)), draw(st.sampled_from([0, 10**15]))
        late_s = draw(st.sampled_from([0, 0, 0, 0, 1, 60, 61, 1201, 90_000, -30]))
        entered_at = wall.astimezone(draw(st.sampled_from(ZONES)))
        at = entered_at - timedelta(seconds=late_s)
        made.append(
            _made(kind, seq, draw(fields[kind]), at=at, entered_at=entered_at, elapsed_ms=elapsed_ms, run=run)
        )
    return tuple(made)


@st.composite
def forward_lists(
    draw: st.DrawFn, protocol: Protocol, kinds: Sequence[str] = FORWARD, longest: int = 25
) -> tuple[ev.Event, ...]:
    """Events that take nothing back, each told as it happened, on one good clock, in one run."""
    fields = _fields(protocol)
    wall, made = START, []
    for seq, kind in enumerate(draw(_kinds(kinds, longest)), start=1):
        wall += timedelta(seconds=draw(st.sampled_from([0, 1, 20, 61, 500])))
        elapsed_ms = round((wall - START).total_seconds() * 1000)
        made.append(
            _made(kind, seq, draw(fields[kind]), at=wall, entered_at=wall, elapsed_ms=elapsed_ms, run=1)
        )
    return tuple(made)
