"""Two writers of one case: refused on one machine; on a share that lost its lock neither harms the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path

from faulty_disk import Fault, FaultyDisk
from journal_cases import case, entry
from torture.figures import Figure
from tracker.core.events import Event, Note
from tracker.journal.files import Disturbed, InUse, Journal, NotKept, case_path
from tracker.journal.lines import read_lines

HERE, FIRST, SECOND = Path("/archive"), Path("/first"), Path("/second")
CODE = "A-0001"
BEGUN = case(4)
EACH = 6


class Writer:
    """One of two programs on one case: what it says is kept, and where it went."""

    def __init__(self, disk: FaultyDisk, elsewhere: Path, name: str) -> None:
        self.journal = Journal.open(HERE, CODE, disk)
        self.elsewhere, self.name = elsewhere, name
        self.kept: list[Event] = []

    def append(self) -> None:
        """Say one thing more; a file that somebody else changed is left for the second folder."""
        seq = len(self.journal.events) + 1
        event = Note(**{**dict(entry(5)), "kind": "note", "seq": seq, "text": f"{self.name} {seq}"})
        try:
            self.journal.append(event)
        except Disturbed:
            self.journal.move_to(self.elsewhere)
            self.journal.append(event)
        self.kept.append(event)


def begun(disk: FaultyDisk) -> None:
    """A case that both know."""
    with Journal.create(HERE, CODE, disk) as journal:
        for event in BEGUN:
            journal.append(event)


def writers(_: Path, each: int = EACH) -> Iterator[Figure]:
    """All orders of six entries of each, with and without locks; and one inside each call of the other."""
    yield Figure(
        "two writers",
        "one machine, at every entry",
        _refused(),
        "the second is refused each time, and told who writes",
    )
    came = "every acknowledged entry in a file that verifies; none mixed, none overwritten"
    yield Figure("two writers", f"lock lost, all orders of {each} and {each} entries", _orders(each), came)
    yield Figure(
        "two writers", "lock lost, one whole append inside each call of the other's", _inside(), came
    )


def _refused() -> int:
    disk, times = FaultyDisk(), 0
    begun(disk)
    with Journal.open(HERE, CODE, disk) as first:
        for seq in range(len(BEGUN) + 1, 40):
            try:
                Journal.open(HERE, CODE, disk)
            except InUse as told:
                times += "process" in str(told)
            first.append(entry(seq))
    assert times == 40 - len(BEGUN) - 1
    return times


def _orders(each: int) -> int:
    orders = list(combinations(range(2 * each), each))
    for first in orders:
        disk = FaultyDisk(locks=False)
        begun(disk)
        one, two = Writer(disk, FIRST, "one"), Writer(disk, SECOND, "two")
        for turn in range(2 * each):
            (one if turn in first else two).append()
        _judge(disk, (one, two))
    return len(orders)


def _judge(disk: FaultyDisk, both: tuple[Writer, Writer]) -> None:
    for writer in both:
        writer.journal.close()
    disk.crash("lost")
    for writer in both:
        read = read_lines(disk.text(writer.journal.path))
        assert read.broken is None
        assert read.torn is None
        assert read.events == (*BEGUN, *writer.kept)


class Interrupted(FaultyDisk):
    """A disk on which, before the call of a number, somebody else does something."""

    def __init__(self) -> None:
        super().__init__(locks=False)
        self.at = -1
        self.does: Callable[[], None] = lambda: None

    def _called(self, name: str, *, part: bool = False) -> Fault | None:
        if self.at == 0:
            self.at = -1
            self.does()
        self.at -= self.at > 0
        return super()._called(name, part=part)


def _inside() -> int:
    for call in range(1, 40):
        disk = Interrupted()
        begun(disk)
        one, two = Writer(disk, FIRST, "one"), Writer(disk, SECOND, "two")
        disk.at, disk.does = call, two.append
        for _ in range(3):
            _pressed(one)
        if disk.at >= 0:  # the other has no such call
            return call - 1
        _pressed(two)
        _judge_inside(disk, (one, two))
    raise AssertionError("an append makes more calls than were tried")


def _pressed(writer: Writer) -> None:
    for _ in range(3):
        try:
            writer.append()
        except NotKept:
            continue
        return
    raise AssertionError("never kept")


def _judge_inside(disk: FaultyDisk, both: tuple[Writer, Writer]) -> None:
    for writer in both:
        writer.journal.close()
    disk.crash("lost")
    held = [
        read_lines(disk.text(path)).events
        for path in disk.files
        if path.name.startswith(f"{CODE}.") and path.suffix == ".jsonl"
    ]
    for writer in both:
        assert any(all(kept in events for kept in writer.kept) for events in held), writer.name
        assert read_lines(disk.text(case_path(writer.journal.path.parent, CODE))).broken is None
