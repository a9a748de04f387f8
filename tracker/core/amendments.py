"""What a debrief amends and adds, as entries of the log that were never in it: the log itself stays.

Each becomes entries behind the log, folded by the same fold. Corrections are consumed by it. What stands
beside the log's own entries (a stop, a missed entry, another value) has a number that says which entry of the
debrief it came of, so that it stays the same whatever else is said or withdrawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any, Final

from tracker.core import events as ev
from tracker.core.amendable import WAYS, Saying, beside, says, told_at
from tracker.core.case import Case
from tracker.core.debrief_events import Added, Amended
from tracker.core.entries import MOST_BACK_S, shifted, struck
from tracker.core.protocol import Protocol

ADDED: Final = 1_000_000
"""Entry n of the debrief stands as entry `ADDED + n`, and a stop that it tells as `2 * ADDED + n`."""


def debrief_seq(seq: int) -> int | None:
    """The entry of the debrief that an entry came of; None for one of the log."""
    return seq % ADDED if seq > ADDED else None


# -- as entries behind the log


def entries_behind(logged: Case, sayings: Iterable[Saying]) -> Iterator[ev.Event]:
    """What amendments and additions that can be made say, as entries behind the log.

    Corrections are of openings of the journal that it never had. Of several amendments of one entry the last
    word on its time, step, choice, value, stop, and whether it stands counts.
    """
    said = list(sayings)
    last = max((e.seq for e in logged.events), default=0)
    runs = max((e.run for e in logged.events), default=0)
    standing = list(_standing(logged, said))
    for seq, (saying, fields) in enumerate(_corrections(logged, said), start=last + 1):
        envelope = {"seq": seq, "at": saying.at, "entered_at": saying.entered_at, "role": saying.role}
        when = {"elapsed_ms": saying.elapsed_ms, "run": runs + saying.run}
        yield ev.event_from({**envelope, **when, **fields})
    yield from standing


def _last_words(said: Iterable[Saying]) -> list[tuple[int, str, Amended]]:
    last: dict[tuple[int, str], Amended] = {}
    for amended in said:
        if isinstance(amended, Amended):
            last |= {(amended.entry, what): amended for what in WAYS if says(amended, what)}
    ordered = sorted(last.items(), key=lambda item: (item[1].seq, item[0]))
    return [(entry, what, amended) for (entry, what), amended in ordered]


def _corrections(logged: Case, said: Iterable[Saying]) -> Iterator[tuple[Amended, Mapping[str, Any]]]:
    for entry, what, amended in _last_words(said):
        if what != "stopped":
            yield amended, {"ref": entry, **_correction(logged, what, amended)}


def _correction(logged: Case, what: str, amended: Amended) -> Mapping[str, Any]:
    if what in ("void", "value"):  # another value stands beside the entry, which itself is void
        return {"kind": "strike"}
    if what == "step":
        return {"kind": "move", "step": amended.step}
    if what == "choice":
        return {"kind": "choice", "choice": amended.choice}
    told, own = told_at(amended.told or ""), _own_at(logged, amended.entry)
    # A time told at the debrief is somebody's, also where the program had spread it.
    seconds = round((own - told).total_seconds(), 3) if told else 0.0
    return {"kind": "back_stamp", "seconds": seconds, "spread": False}


def _own_at(logged: Case, entry: int) -> datetime:
    """The time that the log tells for an entry, also for a stop that is held at its later start."""
    void = struck(logged.events)
    event = next(e for e in logged.events if e.seq == entry)
    back = (e for e in logged.events if isinstance(e, ev.BackStamp) and e.ref == entry and e.seq > entry)
    shifts = (e.seconds for e in back if e.seq not in void and abs(e.seconds) <= MOST_BACK_S)
    return shifted(event.at, -sum(shifts))


# -- what stands beside the log's own entries


def _standing(logged: Case, said: Iterable[Saying]) -> Iterator[ev.Event]:
    words = _last_words(said)
    told = {entry: told_at(a.told or "") for entry, what, a in words if what == "told"}
    void = {entry for entry, what, _ in words if what == "void"}
    for entry, what, amended in words:
        at = told_at(amended.stopped or "") if what == "stopped" else told.get(entry)
        if what == "stopped" and at is not None:
            step = next(e.step for e in logged.log if e.seq == entry)
            yield _placed(logged, amended, 2 * ADDED, at, {"kind": "stop", "step": step, "ref": entry})
        elif what == "value" and entry not in void:
            read = next(e.event for e in logged.log if e.seq == entry)
            fields = {**read.model_dump(include={"kind", "reading", "ref"}), "value": amended.value}
            yield _placed(logged, amended, ADDED, at or _own_at(logged, entry), fields)
    for saying in said:
        if isinstance(saying, Added):
            yield from _added(logged, saying)


def _added(logged: Case, said: Added) -> Iterator[ev.Event]:
    at, until = told_at(said.told), told_at(said.until or "")
    if at is not None:
        yield _placed(logged, said, ADDED, at, _fields(logged.protocol, said))
    if until is not None:
        ref = ADDED + said.seq
        end = {"kind": "stop", "step": said.ident} if said.adds == "step" else _DEALT_WITH
        yield _placed(logged, said, 2 * ADDED, until, {**end, "ref": ref})


_DEALT_WITH: Final = {"kind": "complication_closed"}


def _fields(protocol: Protocol, said: Added) -> Mapping[str, Any]:
    match said.adds:
        case "step":
            span = protocol.step[said.ident].shape == "span"
            kind = {"kind": "start"} if span else {"kind": "tick", "choice": said.value}
            return {**kind, "step": said.ident}
        case "reading":
            return {"kind": "reading", "reading": said.ident, "value": said.value}
        case "complication":
            return {"kind": "complication", "complication": said.ident or None}
        case "operator":
            return {"kind": "operator", "operator": said.ident}
    return {"kind": "bookmark", "text": said.words}


def _placed(logged: Case, said: Saying, number: int, at: datetime, fields: Mapping[str, Any]) -> ev.Event:
    """An entry at a time told, on the case clock as the entry nearest to it is, entered when it was said.

    It is given to the log's first opening: the wall time between then and the debrief says nothing of where
    on the case clock it belongs, since the station's clock may have been set in between.
    """
    near, run = beside(logged, at), logged.events[0].run
    t = near.t + (at - near.at).total_seconds()
    back_s = max(0.0, (said.entered_at - at).total_seconds())
    elapsed_ms = max(0, round((t + back_s - logged.bases.base_s[run]) * 1000))
    entered = shifted(at, back_s)
    envelope = {"seq": number + said.seq, "at": at, "entered_at": entered, "role": said.role}
    return ev.event_from({**envelope, "elapsed_ms": elapsed_ms, "run": run, **fields})
