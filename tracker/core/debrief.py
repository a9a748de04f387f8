"""What a debrief says, made of its entries by one pure fold: what stands, what is void, how it is signed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, TypeVar

from msgspec import Struct

from tracker.core.beside import begun_on
from tracker.core.debrief_events import (
    DEBRIEF_KINDS,
    Attended,
    Debriefed,
    DebriefEvent,
    ExportRefused,
    Recorded,
    RecordedPart,
    Signed,
    VideoMarked,
    Withdrawn,
)
from tracker.core.events import Event

State = Literal["not begun", "not signed off", "signed off", "changed since the sign-off"]
Bond = Literal["as debriefed", "the log has gone on", "another log"]
E = TypeVar("E", bound=DebriefEvent)

_FRAME: Final = (Debriefed, ExportRefused)
"""What cannot be taken back: which log it is of, and that an export was refused."""
_BESIDE: Final = (Attended, Recorded, RecordedPart, VideoMarked)
"""What changes nothing that was signed: who took part, and where the recordings lie."""


class Debrief(Struct, frozen=True, gc=False):
    """A debrief: `events` is every line as written, `void` the numbers of those taken back."""

    events: tuple[Event, ...] = ()
    void: frozenset[int] = frozenset()

    @property
    def opened(self) -> Debriefed | None:
        """The first line."""
        first = self.events[0] if self.events else None
        return first if isinstance(first, Debriefed) else None

    def standing(self, kind: type[E]) -> tuple[E, ...]:
        """The entries of a kind that have not been taken back, in order."""
        return tuple(e for e in self.events if isinstance(e, kind) and e.seq not in self.void)

    @property
    def signed_seq(self) -> int | None:
        """The number of the first sign-off that stands."""
        return next((e.seq for e in self.standing(Signed)), None)

    @property
    def after_sign_off(self) -> tuple[DebriefEvent, ...]:
        """The entries since the first sign-off that change what was signed."""
        since, known = self.signed_seq, {e.seq: e for e in self.events}
        later = (e for e in self.events if since is not None and e.seq > since)
        said = (e for e in later if isinstance(e, DebriefEvent))
        return tuple(e for e in said if needs_why(e, known.get(e.ref or 0)))

    @property
    def state(self) -> State:
        """Whether it is signed off, and whether it was changed since."""
        if self.opened is None:
            return "not begun"
        if self.signed_seq is None:
            return "not signed off"
        return "changed since the sign-off" if self.after_sign_off else "signed off"

    @property
    def odd(self) -> tuple[Event, ...]:
        """Entries that this program cannot use: kinds it does not know, and what points at nothing."""
        known = {e.seq: e for e in self.events}
        return tuple(e for n, e in enumerate(self.events) if _odd(e, n, known.get(e.ref or 0)))


NO_DEBRIEF: Final = Debrief()


def fold_debrief(events: Sequence[Event]) -> Debrief:
    """What `events`, in the order of the file, say; a withdrawal itself withdrawn takes nothing back."""
    by_seq: dict[int, Event] = {}
    void: set[int] = set()
    pointing: list[Withdrawn] = []
    for event in events:
        if isinstance(event, Withdrawn) and may_withdraw(by_seq.get(event.ref)):
            pointing.append(event)
        by_seq[event.seq] = event
    for event in reversed(pointing):
        if event.seq not in void:
            void.add(event.ref)
    return Debrief(tuple(events), frozenset(void))


def may_withdraw(target: Event | None) -> bool:
    """Whether an entry of a debrief can be taken back."""
    return isinstance(target, DebriefEvent) and not isinstance(target, _FRAME)


def needs_why(event: Event, target: Event | None = None) -> bool:
    """Whether an entry changes what was signed, and so asks for a reason after the sign-off.

    `target` is the entry that a withdrawal takes back.
    """
    if isinstance(event, Withdrawn):
        return not isinstance(target, _BESIDE)
    return not isinstance(event, (*_FRAME, *_BESIDE, Signed))


def bond(opened: Debriefed, hashes: Sequence[str]) -> Bond:
    """How the log, given by the hash of each of its lines, stands to the one that was debriefed."""
    if not begun_on(opened, hashes):
        return "another log"
    return "as debriefed" if opened.log_entries == len(hashes) else "the log has gone on"


def _odd(event: Event, place: int, target: Event | None) -> bool:
    if not isinstance(event, DEBRIEF_KINDS):
        return True
    if isinstance(event, Debriefed):
        return place > 0
    return isinstance(event, Withdrawn) and not (target and target.seq < event.seq and may_withdraw(target))
