"""One and two faults, in every order, within a case of forty steps: nothing acknowledged is lost or invented.

The case is begun, ticked, killed with half a line written, opened again, moved to the second folder, closed
and opened once more. A fault is of a kind and at a step; the disk is the one injectable layer, the clock the
one argument. After every case with its faults the power goes, and what the medium holds is read.
"""

from __future__ import annotations

import errno
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cache
from pathlib import Path

from desks import Hand, protocol_of
from faulty_disk import Fault, FaultyDisk
from torture.figures import Figure
from torture.kills import PROTOCOL
from tracker.core.case import Case
from tracker.core.durations import step_seconds
from tracker.core.events import Event
from tracker.core.fold import fold
from tracker.journal.files import Journal, case_path
from tracker.journal.trouble import Trouble
from tracker.screen.station import Now
from tracker.theatre.session import Session

HERE, SECOND, THIRD, FOURTH = (Path(f"/{name}") for name in ("archive", "second", "third", "fourth"))
CODE = "A-0001"
STEPS = 40
KILLED, MOVED = 15, 28
"""The steps at which the program is killed with half a line written, and at which the case moves."""
BEAT_S = 7.0


IO_ERROR = Fault(errno.EIO)


@dataclass(frozen=True)
class Kind:
    """What goes amiss: at the first call of one of `calls`, or at all of them for `steps` steps."""

    name: str
    calls: tuple[str, ...] = ()
    fault: Fault = IO_ERROR
    steps: int = 0
    clock: str = ""
    gone: bool = False


_PATHS = (
    "create",
    "append_to",
    "write",
    "stamp_of",
    "read",
    "rename",
    "lock",
    "kind",
    "sync_folder",
    "remove",
)
KINDS = (
    Kind("disk full on write", ("write",), Fault(errno.ENOSPC)),
    Kind("disk full in the middle of a write", ("write",), Fault(errno.ENOSPC, part=25)),
    Kind("a write that takes a part", ("write",), Fault(0, part=25)),
    Kind("I/O error on write", ("write",), Fault(errno.EIO)),
    Kind("I/O error on sync", ("sync",), Fault(errno.EIO)),
    Kind("I/O error on sync, told after it was done", ("sync",), Fault(errno.EIO, done=True)),
    Kind("I/O error on cut", ("cut",), Fault(errno.EIO)),
    Kind("I/O error on close", ("close",), Fault(errno.EIO)),
    Kind("I/O error on rename", ("rename",), Fault(errno.EIO)),
    Kind("I/O error on directory sync", ("sync_folder",), Fault(errno.EIO)),
    Kind("quota used up for five steps", ("write", "create"), Fault(errno.EDQUOT), steps=5),
    Kind(
        "read-only for five steps",
        ("write", "create", "cut", "rename", "remove", "append_to"),
        Fault(errno.EROFS),
        steps=5,
    ),
    Kind("folder gone for five steps", _PATHS, Fault(errno.ENOENT), steps=5),
    Kind("folder removed for good", gone=True),
    Kind("clock back 1 h", clock="back"),
    Kind("clock forward 1 day", clock="forward"),
    Kind("clock frozen for ten steps", clock="frozen"),
)


class BentClock(Hand):
    """A wall clock that somebody sets, or that stands; the monotonic one goes on."""

    def __init__(self) -> None:
        super().__init__()
        self.off = timedelta()
        self.frozen_until: int = -1
        self.step = 0
        self.wall = self.now

    def beat(self, step: int) -> None:
        """A step has passed."""
        self.step = step
        self.on(BEAT_S)
        if step >= self.frozen_until:
            self.wall = self.now

    def __call__(self) -> Now:
        """The bent wall clock, and the true monotonic one."""
        return Now(self.wall + self.off, super().__call__().elapsed_ms)

    def bend(self, how: str) -> None:
        """Set it, or stop it for ten steps."""
        self.off += {"back": -timedelta(hours=1), "forward": timedelta(days=1), "frozen": timedelta()}[how]
        if how == "frozen":
            self.frozen_until = self.step + 10


class TroubledDisk(FaultyDisk):
    """A disk whose faults begin at a step: `once` at the next such call, `lasting` at all for some steps."""

    def __init__(self) -> None:
        super().__init__()
        self.once: list[Kind] = []
        self.lasting: list[tuple[int, Kind]] = []
        self.seen: set[str] = set()

    def begin(self, kind: Kind, step: int) -> None:
        """Let trouble begin."""
        if kind.gone:
            for path in [p for p in self.files if p.parent == HERE]:
                del self.files[path]
            self.folders.discard(HERE)
        elif kind.steps:
            self.lasting.append((step + kind.steps, kind))
        else:
            self.once.append(kind)

    def step(self, number: int) -> None:
        """A step begins: what was to hit the last one and met no call is over."""
        self.once, self.seen = [], set()
        self.lasting = [(until, kind) for until, kind in self.lasting if until > number]

    def _called(self, name: str, *, part: bool = False) -> Fault | None:
        self.seen.add(name)
        kind = next((k for k in self.once if name in k.calls), None)
        if kind is not None:
            self.once.remove(kind)
        kind = kind or next((k for _, k in self.lasting if name in k.calls), None)
        if kind is not None:
            self.faults[name, self.calls[name] + 1] = kind.fault
        return super()._called(name, part=part)


@dataclass
class Played:
    """A case with its faults: the session while the program runs, where it lies, what was acknowledged."""

    disk: TroubledDisk = field(default_factory=TroubledDisk)
    clock: BentClock = field(default_factory=BentClock)
    session: Session | None = None
    folder: Path = HERE
    acknowledged: list[Event] = field(default_factory=list)
    tried: tuple[Event, ...] = ()


Faults = tuple[tuple[Kind, int], ...]


def play(faults: Faults, watch: Callable[[int, set[str]], object] = lambda _s, _c: None) -> None:
    """Play the case; everything that was acknowledged is there after a power cut, and nothing else."""
    played = Played()
    for step in range(STEPS):
        _play_step(played, step, [kind for kind, at in faults if at == step])
        watch(step, set(played.disk.seen))
    _settle(played)


def _play_step(played: Played, step: int, kinds: Sequence[Kind]) -> None:
    played.disk.step(step)
    played.clock.beat(step)
    for kind in kinds:
        _begin(played, kind, step)
    _step(played, step)
    _note(played)


def play_with_each(first: tuple[Kind, int], seconds: Mapping[int, Sequence[Kind]]) -> int:
    """Play the case with a first fault, and from there with each second one, after it or in the same step.

    In the same step both orders are played. The number of cases played.
    """
    played, times = Played(), 0
    for step in range(STEPS):
        before = [first[0]] if step == first[1] else []
        for second in seconds.get(step, ()) if step >= first[1] else ():
            for order in ([*before, second], [second, *before])[: 1 + bool(before)]:
                _from_here(_copied(played), step, order)
                times += 1
        _play_step(played, step, before)
    return times


def _from_here(played: Played, step: int, order: Sequence[Kind]) -> None:
    _play_step(played, step, order)
    for later in range(step + 1, STEPS):
        _play_step(played, later, ())
    _settle(played)


def _copied(played: Played) -> Played:
    """A copy that goes its own way; what is frozen is shared."""
    case = played.session.case if played.session else None
    shared = [*played.acknowledged, *played.tried, *KINDS]
    if case is not None:
        shared += [case, *case.events]
    return deepcopy(played, {id(each): each for each in shared})


def _begin(played: Played, kind: Kind, step: int) -> None:
    if kind.clock:
        played.clock.bend(kind.clock)
    else:
        played.disk.begin(kind, step)


def _step(played: Played, step: int) -> None:
    if step == KILLED:
        _kill(played)
    if played.session is None:
        with suppress(Trouble):  # somebody tries again at the next step
            played.session = _opened(played)
    elif step == MOVED:
        _move(played, played.session)
    elif step % 9 == 4:
        played.session.natural("shave")
    else:
        played.session.natural(f"look_{'abcdefgh'[step % 8]}")


def _kill(played: Played) -> None:
    """The program dies with half a line on the disk; what waited in memory is gone, and was said to wait."""
    if played.session is None:
        return
    played.tried = played.session.waiting[:1]
    played.session = None
    played.disk.locked.clear()
    path = case_path(played.folder, CODE)
    if path in played.disk.files and not played.tried:
        file = played.disk.files[path]
        file.seen += b'{"at":"2026-03-'
        file.synced()


def _opened(played: Played) -> Session:
    protocol, path = protocol_of(PROTOCOL), case_path(played.folder, CODE)
    if path not in played.disk.files:
        # Begun for the first time, or the folder was removed with all that was in it under a killed program.
        played.acknowledged = []
        journal = Journal.create(played.folder, CODE, played.disk)
    else:
        journal = Journal.open(played.folder, CODE, played.disk)
    found, known = list(journal.events), played.acknowledged
    assert found[: len(known)] == known
    assert tuple(found[len(known) :]) in ((), played.tried)
    played.acknowledged = found
    if not found:
        return Session.begin(journal, protocol, PROTOCOL, CODE, {}, played.clock)
    return Session.resume(journal, protocol, found, played.clock, torn=journal.torn is not None)


def _move(played: Played, session: Session) -> None:
    with suppress(Trouble):
        to = {HERE: SECOND, SECOND: THIRD, THIRD: FOURTH}[played.folder]
        session.move_to(to)
        played.folder = to


def _note(played: Played) -> None:
    if played.session is not None:
        events = played.session.case.events
        played.acknowledged = list(events[: len(events) - len(played.session.waiting)])


def _settle(played: Played) -> None:
    """The trouble is over: what still waits is tried again, elsewhere if it must be; then the power goes."""
    played.disk.step(2 * STEPS)
    session = played.session or _opened(played)
    for _ in range(3):
        if session.keep_waiting():
            break
        _move(played, session)
    assert not session.waiting, session.trouble
    session.journal.close()
    played.disk.crash("lost")
    with Journal.open(played.folder, CODE, played.disk) as journal:
        found = journal.events
    assert found == session.case.events, (len(found), len(session.case.events))
    assert list(found[: len(played.acknowledged)]) == played.acknowledged
    case = fold(session.case.protocol, found)
    assert case == session.case
    _durations(case)


def _durations(case: Case) -> None:
    """No clock that was set or stood has moved a span: each is whole steps long."""
    whole = step_seconds(case, case.protocol.step["shave"], case.last_t)
    assert whole is None or whole >= 0
    for tick in case.state("shave").ticks:
        if tick.stop and all(not (tick.seq < gap.stop.seq < tick.stop.seq) for gap in case.gaps):
            beats = (tick.stop.t - tick.start.t) / BEAT_S
            assert abs(beats - 9 * round(beats / 9)) < 1e-6, beats


@cache
def calls_at() -> dict[int, frozenset[str]]:
    """Which calls the disk gets at each step when all is well."""
    seen: dict[int, frozenset[str]] = {}
    play((), lambda step, calls: seen.__setitem__(step, frozenset(calls)))
    return seen


def sites() -> list[tuple[Kind, int]]:
    """Every kind at every step at which it can hit something; a cut comes only after another fault."""
    return [
        (kind, step)
        for step in range(STEPS)
        for kind in KINDS
        if not kind.calls
        or kind.steps
        or kind.calls == ("cut",)
        or not calls_at()[step].isdisjoint(kind.calls)
    ]


def faults(_: Path, every: int = 1, half: int | None = None) -> Iterator[Figure]:
    """Every single fault, and the pairs that begin with each `every`-th; `half` does every second one."""
    every_site = sites()
    if not half:
        for site in every_site:
            play((site,))
        came = (
            "all acknowledged entries kept after a power cut, in order, none invented; the case is their fold"
        )
        yield Figure(
            "faults", f"one fault, {len(KINDS)} kinds, in a case of {STEPS} steps", len(every_site), came
        )
    seconds = {step: [kind for kind, at in every_site if at == step] for step in range(STEPS)}
    chosen = every_site[::every] if half is None else every_site[::every][half::2]
    times = sum(play_with_each(first, seconds) for first in chosen)
    yield Figure("faults", "two faults, in every order", times, "the same")
