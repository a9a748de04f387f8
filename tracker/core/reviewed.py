"""The reviewed case: the fold of the log with what its debrief amends, and the reasons of both.

Nothing in the log is edited. The corrections of the debrief are laid behind the log as if they had been
entered there, folded by the same fold, and taken out of the list of entries again: `case.events` is the log.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from tracker.core import events as ev
from tracker.core.case import Case, Given, Moment
from tracker.core.debrief import Bond, Debrief
from tracker.core.debrief_events import Amended, Reasoned
from tracker.core.entries import MOST_BACK_S, Entry, shifted, struck
from tracker.core.fold import fold
from tracker.core.protocol import Protocol

_TIMELESS: Final = (ev.Opened, ev.Resumed, ev.Strike, ev.Move, ev.BackStamp, ev.Chosen)
_AT_STEPS: Final = (ev.Tick, ev.Start, ev.NotNeeded, ev.NotLogged)


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A case and its debrief. `logged` is what the log says alone, `case` with the debrief's amendments.

    `void` are the log's entries that do not stand, struck there or amended; `idle` the numbers of amendments
    that point at nothing they could amend. A debrief of another log is kept, and changes nothing.
    """

    logged: Case
    case: Case
    debrief: Debrief
    bond: Bond
    void: frozenset[int] = frozenset()
    idle: frozenset[int] = frozenset()


def reviewed(logged: Case, debrief: Debrief, bond: Bond) -> Reviewed:
    """The case as it stands after its debrief; the same log and debrief always make the same case."""
    if bond == "another log":
        return Reviewed(logged, logged, debrief, bond, struck(logged.events))
    said = debrief.standing(Amended)
    good = [a for a in said if why_not(logged, a) is None]
    idle = frozenset(a.seq for a in said) - {a.seq for a in good}
    corrections = tuple(_numbered(logged, _corrections(logged, good)))
    case = _with_corrections(logged, corrections)
    reasons = {**logged.reasons, **dict(_reasons(logged, debrief))}
    void = struck((*logged.events, *corrections)) & {e.seq for e in logged.events}
    return Reviewed(logged, replace(case, reasons=reasons), debrief, bond, void, idle)


def told_at(text: str) -> datetime | None:
    """The moment that an amendment tells; None if the text is none, or has no offset."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at if at.tzinfo else None


def why_not(logged: Case, amended: Amended) -> str | None:
    """Why an amendment cannot be made, in words for the screen; None if it can."""
    event = next((e for e in logged.events if e.seq == amended.entry), None)
    entry = next((e for e in logged.log if e.seq == amended.entry), None)
    if event is None:
        return f"the log has no entry {amended.entry}"
    if entry is None or isinstance(event, _TIMELESS):
        return "an entry that is void, a correction, or the log's own frame cannot be amended"
    if amended.told is None and amended.step is None and not amended.void:
        return "nothing is amended"
    if amended.told is not None and (why := _no_time(entry, amended.told)):
        return why
    return None if amended.step is None else _no_step(logged.protocol, entry, amended.step)


def _no_time(entry: Entry, told: str) -> str | None:
    at = told_at(told)
    if at is None:
        return "the time is not a time with its offset"
    far = abs((entry.at - at).total_seconds()) > MOST_BACK_S
    return "the time is more than a week from the entry's own" if far else None


def _no_step(protocol: Protocol, entry: Entry, ident: str) -> str | None:
    was, step = protocol.step.get(entry.step or ""), protocol.step.get(ident)
    if was is None or not isinstance(entry.event, _AT_STEPS):
        return "the entry stands at no step, so it belongs to no other"
    if step is None:
        return "the file has no such step"
    alike = (was.shape == "span") == (step.shape == "span")
    return None if alike else "a span belongs to a span, a moment to a moment"


# -- the debrief's amendments as corrections of the log


def _corrections(logged: Case, amendments: Iterable[Amended]) -> Iterator[tuple[Amended, Mapping[str, Any]]]:
    """What the last amendment of each entry says of its time, its step and whether it stands."""
    last: dict[tuple[int, str], Amended] = {}
    for amended in amendments:
        for what in ("told", "step", "void"):
            if getattr(amended, what):
                last[amended.entry, what] = amended
    for (entry, what), amended in sorted(last.items(), key=lambda item: (item[1].seq, item[0])):
        yield amended, {"ref": entry, **_correction(logged, what, amended)}


def _correction(logged: Case, what: str, amended: Amended) -> Mapping[str, Any]:
    if what == "void":
        return {"kind": "strike"}
    if what == "step":
        return {"kind": "move", "step": amended.step}
    told, own = told_at(amended.told or ""), _own_at(logged, amended.entry)
    return {"kind": "back_stamp", "seconds": round((own - told).total_seconds(), 3) if told else 0.0}


def _own_at(logged: Case, entry: int) -> datetime:
    """The time that the log tells for an entry, also for a stop that is held at its later start."""
    void = struck(logged.events)
    event = next(e for e in logged.events if e.seq == entry)
    back = (e for e in logged.events if isinstance(e, ev.BackStamp) and e.ref == entry and e.seq > entry)
    shifts = (e.seconds for e in back if e.seq not in void and abs(e.seconds) <= MOST_BACK_S)
    return shifted(event.at, -sum(shifts))


def _numbered(logged: Case, said: Iterable[tuple[Amended, Mapping[str, Any]]]) -> Iterator[ev.Event]:
    """The corrections as entries behind the log, in openings of the journal that it never had."""
    last = max((e.seq for e in logged.events), default=0)
    runs = max((e.run for e in logged.events), default=0)
    for seq, (amended, fields) in enumerate(said, start=last + 1):
        envelope = {"seq": seq, "at": amended.at, "entered_at": amended.entered_at, "role": amended.role}
        when = {"elapsed_ms": amended.elapsed_ms, "run": runs + amended.run}
        yield ev.event_from({**envelope, **when, **fields})


def _with_corrections(logged: Case, corrections: tuple[ev.Event, ...]) -> Case:
    if not corrections:
        return logged
    last = logged.events[-1].seq
    folded = fold(logged.protocol, (*logged.events, *corrections))
    log, odd = ([e for e in entries if e.seq <= last] for entries in (folded.log, folded.odd))
    return replace(folded, events=logged.events, bases=logged.bases, log=tuple(log), odd=tuple(odd))


def _reasons(logged: Case, debrief: Debrief) -> Iterator[tuple[str, Given]]:
    """The last reason of each deviation; its moment is the log's last second and the time it was given."""
    for said in debrief.standing(Reasoned):
        yield said.deviation, Given(said.reason, said.how, said.text, Moment(logged.last_t, 0, said.at))
