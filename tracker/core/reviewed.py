"""The reviewed case: the fold of the log with what its debrief amends, and the reasons of both.

Nothing in the log is edited. What the debrief amends and adds is laid behind the log as if it had been
entered there, folded by the same fold, and taken out of the list of entries again: `case.events` is the log.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct
from msgspec.structs import replace

from tracker.core import events as ev
from tracker.core.amendable import Saying, why_not
from tracker.core.amendments import debrief_seq, entries_behind
from tracker.core.case import Case, Given, Moment
from tracker.core.debrief import Bond, Debrief
from tracker.core.debrief_events import Added, Amended, Reasoned
from tracker.core.entries import struck
from tracker.core.fold import fold


class Reviewed(Struct, frozen=True, gc=False):
    """A case and its debrief. `logged` is what the log says alone, `case` with the debrief's amendments.

    `void` are the log's entries that do not stand, struck there or amended; `idle` the numbers of amendments
    and additions that cannot be made. A debrief of another log is kept, and changes nothing.
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
    both: list[Saying] = [*debrief.standing(Amended), *debrief.standing(Added)]
    said = sorted(both, key=lambda e: e.seq)
    good = [a for a in said if why_not(logged, a) is None]
    behind = tuple(entries_behind(logged, good))
    case, odd = _with(logged, behind)
    reasons = {**logged.reasons, **dict(_reasons(logged, debrief))}
    void = struck((*logged.events, *behind)) & {e.seq for e in logged.events}
    idle = frozenset(a.seq for a in said) - {a.seq for a in good} | odd
    return Reviewed(logged, replace(case, reasons=reasons), debrief, bond, void, idle)


def _with(logged: Case, behind: tuple[ev.Event, ...]) -> tuple[Case, frozenset[int]]:
    """The case with entries behind its log, and the entries of the debrief of which one meant nothing."""
    if not behind:
        return logged, frozenset()
    last = logged.events[-1].seq
    folded = fold(logged.protocol, (*logged.events, *behind))
    log, odd = ([e for e in entries if e.seq <= last] for entries in (folded.log, folded.odd))
    meant_nothing = frozenset(n for e in folded.odd if (n := debrief_seq(e.seq)))
    case = replace(folded, events=logged.events, bases=logged.bases, log=tuple(log), odd=tuple(odd))
    return case, meant_nothing


def _reasons(logged: Case, debrief: Debrief) -> Iterator[tuple[str, Given]]:
    """The last reason of each deviation; its moment is the log's last second and the time it was given."""
    for said in debrief.standing(Reasoned):
        yield said.deviation, Given(said.reason, said.how, said.text, Moment(logged.last_t, 0, said.at))
