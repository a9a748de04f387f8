"""The live case without a screen: decide, append, fold.

A verb decides on an event, the journal appends and syncs it, and only then does the fold make a new frozen
`Case`. Nothing is ever refused because of the protocol. If the disk refuses, the entry waits in memory, is
said to wait, and is tried again before the next one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from hashlib import sha256
from itertools import dropwhile
from pathlib import Path
from typing import Any, Protocol, TypeVar

from tracker import __version__
from tracker.core import events as ev
from tracker.core.case import Case, Tick, blank
from tracker.core.entries import struck
from tracker.core.fold import extend, fold
from tracker.core.protocol import Protocol as ProtocolFile
from tracker.core.wording import clock_time
from tracker.journal.files import NotKept
from tracker.journal.trouble import Trouble
from tracker.screen.station import Clock, Now

E = TypeVar("E", bound=ev.Event)
_OPENING = (ev.Opened, ev.Facts, ev.Operator)
SAID_OF_ANOTHER = (ev.Chosen, ev.CountSaid, ev.ComplicationDetail, ev.HandOverAccepted)
"""What is said of an entry afterwards: its time is that of the other."""


class Keeper(Protocol):
    """Where events are kept. `append` returns only once the event is on disk, else raises `NotKept`."""

    def append(self, event: ev.Event) -> None:
        """Keep one event."""

    def move_to(self, folder: Path, *, now: str = "") -> None:
        """Go on in another folder, with everything kept so far."""

    def close(self) -> None:
        """Let go of the file."""


class Session:
    """One opening of one case. `case` is the folded state, `waiting` what the disk has not taken yet."""

    def __init__(self, case: Case, journal: Keeper, clock: Clock, run: int, role: str) -> None:
        self.case = case
        self.journal = journal
        self.clock = clock
        self.run = run
        self.role = role
        self.waiting: tuple[ev.Event, ...] = ()
        self.trouble = ""

    @classmethod
    def begin(
        cls,
        journal: Keeper,
        protocol: ProtocolFile,
        text: str,
        code: str,
        facts: Mapping[str, ev.Scalar],
        clock: Clock,
        *,
        station: str = "",
        invented: bool = False,
        seat: tuple[str, int] | None = None,
    ) -> Session:
        """Start a case: the first line holds the whole protocol text and its digest, the second the facts.

        `seat` is the list of the day and the place on it, of a case that is begun from one.
        """
        role = next((r.id for r in protocol.roles if r.post == "circulating"), "circulating")
        session = cls(blank(protocol), journal, clock, 1, role)
        digest = sha256(text.encode()).hexdigest()
        session.record(
            ev.Opened, code=code, protocol=text, digest=digest, program=__version__,
            station=station, invented=invented, day_list=seat and seat[0], place=seat and seat[1],
        )  # fmt: skip
        session.record(ev.Facts, values=dict(facts))
        operator = facts.get("operator")
        if isinstance(operator, str):
            session.record(ev.Operator, operator=operator)
        return session

    @classmethod
    def resume(
        cls,
        journal: Keeper,
        protocol: ProtocolFile,
        events: Sequence[ev.Event],
        clock: Clock,
        *,
        torn: bool = False,
        station: str = "",
    ) -> Session:
        """Go on with a case: its clocks recomputed, the time the journal was not open written as a gap."""
        case, last = fold(protocol, events), events[-1]
        run = max(e.run for e in events) + 1
        session = cls(case, journal, clock, run, case.post("circulating") or last.role)
        gap_ms = round((clock().at - last.entered_at).total_seconds() * 1000)
        session.record(ev.Resumed, gap_ms=gap_ms, torn=torn, station=station)
        return session

    def record(self, kind: type[E], back_s: float = 0.0, **fields: Any) -> E:
        """Decide on an event of `kind` that happened `back_s` seconds ago, keep it, fold it."""
        now = self.clock()
        event = kind(
            seq=len(self.case.events) + 1,
            at=now.at - timedelta(seconds=back_s),
            entered_at=now.at,
            elapsed_ms=now.elapsed_ms,
            run=self.run,
            role=self.role,
            **fields,
        )
        self.waiting = (*self.waiting, event)
        self.keep_waiting()
        self.case = extend(self.case, event)
        return event

    def keep_waiting(self) -> bool:
        """Try to put what waits on disk, in order; whether all of it is."""
        while self.waiting:
            try:
                self.journal.append(self.waiting[0])
            except NotKept as refusal:
                self.trouble = str(refusal)
                return False
            self.waiting = self.waiting[1:]
        self.trouble = ""
        return True

    def move_to(self, folder: Path) -> None:
        """Go on in another folder, and put there what waits.

        Raises:
            Trouble: that folder does not take it either; everything stays as it was.
        """
        self.journal.move_to(folder, now=clock_time(self.clock().at))
        self.keep_waiting()

    def close(self, second: Path) -> str:
        """Let go of the journal; what the disk does not take goes to a second folder by itself, and that is said."""
        said = "" if self.keep_waiting() else self._put_elsewhere(second)
        self.journal.close()
        return said

    def _put_elsewhere(self, second: Path) -> str:
        why, many, code = self.trouble, len(self.waiting), self.case.code
        entries = "1 entry" if many == 1 else f"{many} entries"
        try:
            self.move_to(second)
        except Trouble as refusal:
            return f"{entries} of case {code} could be kept nowhere. {why} {refusal}"
        if self.waiting:
            return (
                f"{len(self.waiting)} of {entries} of case {code} could be kept nowhere. {why} {self.trouble}"
            )
        return f"{why} Case {code} went on in {second}: all its entries are there, the last {many} too."

    def now_t(self, now: Now) -> float:
        """The case second that the station's clocks say it is."""
        base = self.case.bases.base_s.get(self.run)
        return 0.0 if base is None else base + now.elapsed_ms / 1000

    # -- steps

    def running(self, step: str) -> Tick | None:
        """The running span of a step."""
        if self.case.protocol.step[step].shape != "span":
            return None
        return next((t for t in reversed(self.case.state(step).ticks) if t.stop is None), None)

    def natural(self, step: str, back_s: float = 0.0) -> ev.Event:
        """Do the natural next thing to a step: tick a point, start a span, stop a running one."""
        if self.case.protocol.step[step].shape != "span":
            return self.record(ev.Tick, back_s, step=step)
        running = self.running(step)
        if running is None:
            return self.record(ev.Start, back_s, step=step)
        return self.record(ev.Stop, back_s, step=step, ref=running.seq)

    def strike(self, ref: int) -> ev.Event:
        """Strike an entry; it stays legible."""
        return self.record(ev.Strike, ref=ref)

    def entered(self) -> Sequence[ev.Event]:
        """What was entered since the case was begun; its opening was no slip of a finger."""
        return list(dropwhile(lambda e: isinstance(e, _OPENING), self.case.events))

    def last_entry(self) -> ev.Event | None:
        """The last entry that a strike would act on: corrections and the opening are passed over."""
        passed = (ev.Strike, ev.Move, ev.BackStamp, ev.Resumed, ev.Facts, ev.ReasonGiven)
        return self._last(lambda e: not isinstance(e, passed))

    def last_timed(self) -> ev.Event | None:
        """The last entry with a time of its own: what was said of it afterwards is passed over."""
        last = self.last_entry()
        while isinstance(last, SAID_OF_ANOTHER):
            ref, seq = last.ref, last.seq
            last = next((e for e in self.case.events if e.seq == ref and e.seq < seq), None)
        return last

    def last_tick(self) -> ev.Event | None:
        """The last entry that stands at a step."""
        at_steps = {e.seq for e in self.case.log if e.step}
        return self._last(lambda e: e.seq in at_steps)

    def _last(self, fits: Callable[[ev.Event], bool]) -> ev.Event | None:
        void = struck(self.case.events)
        return next((e for e in reversed(self.entered()) if e.seq not in void and fits(e)), None)

    def standing_step(self, event: ev.Event) -> str | None:
        """The step an event counts for now, moves included."""
        return next((e.step for e in reversed(self.case.log) if e.seq == event.seq), None)
