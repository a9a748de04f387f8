"""What a follow-up says of an eye, made of its entries by one pure fold: the visits that stand, and those that do not.

Days count from the day on which the case was opened; a visit before it has a number below nought.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Final

from msgspec import Struct, field

from tracker.core.acuity import read_acuity
from tracker.core.events import Event
from tracker.core.follow_up_events import FOLLOW_UP_KINDS, Followed, Visit, VisitStruck
from tracker.core.wording import figure

ATTACHED_WORDS: Final[Mapping[str, str]] = {
    "yes": "retina attached", "partly": "retina partly attached", "no": "retina detached",
    "unknown": "retina not seen",
}  # fmt: skip
OPERATION_WORDS: Final[Mapping[str, str]] = {
    "detachment": "operated on again for a detachment", "other": "operated on again, not for a detachment",
}  # fmt: skip
NOT_READABLE: Final = "not readable as acuity"


class FollowUp(Struct, frozen=True, gc=False):
    """A follow-up: `events` is every line as written, `gone` says of an entry which one replaced or struck it."""

    events: tuple[Event, ...] = ()
    gone: Mapping[int, Event] = field(default_factory=dict)

    @property
    def opened(self) -> Followed | None:
        """The first line."""
        first = self.events[0] if self.events else None
        return first if isinstance(first, Followed) else None

    @property
    def visits(self) -> tuple[Visit, ...]:
        """The visits that stand, by their day, and within a day in the order in which they were entered."""
        standing = (e for e in self.events if isinstance(e, Visit) and e.seq not in self.gone)
        return tuple(sorted((v for v in standing if day_of(v.day)), key=lambda v: (v.day, v.seq)))

    @property
    def odd(self) -> tuple[Event, ...]:
        """Entries that this program cannot use: other kinds, no day, and what points at no visit."""
        pointing = {event.seq for event in self.gone.values()}
        return tuple(e for n, e in enumerate(self.events) if _odd(e, n, e.seq in pointing))


NO_FOLLOW_UP: Final = FollowUp()


def fold_follow_up(events: Sequence[Event]) -> FollowUp:
    """What `events`, in the order of the file, say."""
    visits: set[int] = set()
    gone: dict[int, Event] = {}
    for event in events:
        if isinstance(event, Visit | VisitStruck) and event.ref in visits - gone.keys():
            gone[event.ref] = event
        if isinstance(event, Visit):
            visits.add(event.seq)
    return FollowUp(tuple(events), gone)


def _odd(event: Event, place: int, used: bool) -> bool:
    if isinstance(event, Visit):
        return day_of(event.day) is None or (event.ref is not None and not used)
    if isinstance(event, VisitStruck):
        return not used
    return place > 0 or not isinstance(event, FOLLOW_UP_KINDS)


def day_of(text: str) -> date | None:
    """The day that `YYYY-MM-DD` names; None for any other text."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if day.isoformat() == text else None


def days_after(day: str, surgery: date) -> int:
    """Days from the operation to `day`, below nought before it.

    Raises ValueError if `day` is no date.
    """
    return (date.fromisoformat(day) - surgery).days


# -- in words


def visit_words(visit: Visit) -> str:
    """What was found at a visit, in one line without its day."""
    return "; ".join(_said(visit)) or "nothing was said"


def _said(visit: Visit) -> Iterator[str]:
    if visit.attached:
        yield ATTACHED_WORDS[visit.attached]
    if visit.acuity:
        yield f"acuity {visit.acuity}" + ("" if read_acuity(visit.acuity).readable else f" ({NOT_READABLE})")
    if visit.pressure is not None:
        yield f"{figure(visit.pressure)} mmHg"
    if visit.oil:
        yield {"in": "oil in the eye", "out": "no oil in the eye"}[visit.oil]
    if visit.oil_out:
        yield f"oil taken out {visit.oil_out}"
    if visit.operation:
        yield OPERATION_WORDS[visit.operation]
    if visit.text:
        yield f"note: {visit.text}"


def days_words(days: int) -> str:
    """A day as it lies to the operation: `day 91`, `10 days before`."""
    if days >= 0:
        return f"day {days}"
    return f"{-days} day{'s' if days < -1 else ''} before"


def follow_up_lines(follow_up: FollowUp, surgery: date) -> Iterator[str]:
    """Every visit on a line, those that no longer stand too, with what became of them."""
    for visit in follow_up.visits:
        yield _line(visit, surgery)
    known = (e for e in follow_up.events if isinstance(e, Visit) and e.seq in follow_up.gone)
    for visit in (v for v in known if day_of(v.day)):
        by = follow_up.gone[visit.seq]
        why = f": {by.why}" if isinstance(by, Visit | VisitStruck) and by.why else ""
        word = "replaced by entry" if isinstance(by, Visit) else "struck by entry"
        yield f"{_line(visit, surgery)}  [{word} {by.seq}{why}]"
    for event in follow_up.odd:
        yield f"{event.seq:>5}  an entry that this program cannot use ({event.kind})"


def _line(visit: Visit, surgery: date) -> str:
    days = days_words(days_after(visit.day, surgery))
    return f"{visit.seq:>5}  {visit.day}  {days:<14}  {visit_words(visit)}  ({visit.role})"
