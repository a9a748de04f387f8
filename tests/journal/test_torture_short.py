"""Nothing lost, nothing invented: a short run over cuts, sectors, bits, faults and power cuts. Seeded."""

from __future__ import annotations

import errno
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar

import pytest

from faulty_disk import CRASHES, Crash, Fault, FaultyDisk, PowerCut
from journal_cases import case, lines_of
from tracker.core.events import Event
from tracker.journal.files import Damaged, Journal, NotKept, Trouble
from tracker.journal.lines import START, Read, read_lines

HERE = Path("/archive")
CODE = "A-0001"
PATH = HERE / "A-0001.case.jsonl"
SECTOR = 512

STORY = case(60)
LINES = lines_of(STORY)
WHOLE = b"".join(LINES)
SHORT = case(12)

Result = TypeVar("Result")


def believed(data: bytes) -> Read:
    """What is read of `data`, a changed copy: a beginning of the story, and word of the rest."""
    read = read_lines(data)
    kept = len(read.events)
    assert read.events == STORY[:kept]
    assert data.startswith(b"".join(LINES[:kept]))
    assert read.size == len(data) or (read.torn is None) != (read.broken is None)
    assert read.torn is None or read.torn == data[read.size :]
    assert read.broken is None or read.broken.line == kept + 1
    return read


def untouched(data: bytes) -> int:
    """How many lines of the journal stand unchanged at the beginning of `data`."""
    count, at = 0, 0
    for line in LINES:
        if data[at : at + len(line)] != line:
            break
        count, at = count + 1, at + len(line)
    return count


# -- the bytes of the file -----------------------------------------------------------------------------


def test_cut_at_every_byte() -> None:
    """Cut anywhere, every whole line is kept and the rest is told as torn."""
    head, at = START, 0
    for number, line in enumerate(LINES):
        for cut in range(1, len(line)):
            read = read_lines(line[:cut], "journal", head, number)
            assert (read.events, read.torn, read.broken) == ((), line[:cut], None)
        for cut in (0, 1, len(line) - 1):
            assert len(believed(WHOLE[: at + cut]).events) == number
        read = read_lines(line, "journal", head, number)
        head, at = read.head, at + len(line)
    assert believed(WHOLE).events == STORY


def test_a_cut_case_is_opened_and_gone_on_with() -> None:
    """Opened after a cut in its last two lines, a case keeps the lines before, and the rest aside."""
    for cut in range(len(WHOLE) - len(LINES[-1]) - len(LINES[-2]), len(WHOLE), 3):
        disk = FaultyDisk()
        disk.put(PATH, WHOLE[:cut])
        with Journal.open(HERE, CODE, disk) as journal:
            kept = len(journal.events)
            aside = disk.text(HERE / "A-0001.torn-1.txt") if journal.torn else b""
            journal.append(STORY[kept])
        disk.crash("lost")
        assert b"".join(LINES[:kept]) + aside == WHOLE[:cut]
        assert disk.text(PATH) == b"".join(LINES[: kept + 1])


def sectors(data: bytes) -> Iterator[tuple[str, bytes]]:
    """`data` with its last sector, or the one before, zeroed, twice, gone or in another's place."""
    last = (len(data) - 1) // SECTOR * SECTOR
    before = last - SECTOR
    head, one, two = data[:before], data[before:last], data[last:]
    yield "last zeroed", head + one + bytes(len(two))
    yield "last zeroed to its end", head + one + bytes(SECTOR)
    yield "padded with zeros", data + bytes(SECTOR - len(two))
    yield "last twice", data + two
    yield "last in place of the one before", head + two.ljust(SECTOR, b"\0") + two
    yield "the one before in place of the last", head + one + one
    yield "changed places", head + two + one
    yield "the one before zeroed", head + bytes(SECTOR) + two
    yield "the one before gone", head + two


def test_sectors_lost_and_reordered() -> None:
    """Whatever happened to the last sectors: every line before them is kept, and the change is told."""
    for entries in range(30, 61):
        data = b"".join(LINES[:entries])
        for what, changed in sectors(data):
            if changed == data:
                continue
            read = believed(changed)
            assert len(read.events) == min(untouched(changed), entries), what
            assert read.size < len(changed), what


def test_flipped_bits() -> None:
    """500 bits flipped one at a time: seen, located, all lines before kept, no line after believed."""
    chance = random.Random(8785)
    for at in chance.sample(range(len(WHOLE)), 500):
        flipped = bytearray(WHOLE)
        flipped[at] ^= 1 << chance.randrange(8)

        read = believed(bytes(flipped))

        assert len(read.events) == WHOLE[:at].count(b"\n")
        assert read.size < len(WHOLE)


# -- the calls of the disk -----------------------------------------------------------------------------


def tried_again(act: Callable[[], Result]) -> Result:
    """What somebody in theatre does: press again."""
    try:
        return act()
    except Trouble:
        return act()


def live(disk: FaultyDisk, kept: list[Event], keep: Callable[[Callable[[], object]], object]) -> None:
    """A case of 12 entries, closed and opened again in the middle; `kept` gets what was acknowledged."""

    def append(journal: Journal, event: Event) -> None:
        keep(lambda: journal.append(event))
        kept.append(event)

    journal = tried_again(lambda: Journal.create(HERE, CODE, disk))
    for event in SHORT[:7]:
        append(journal, event)
    journal.close()
    journal = tried_again(lambda: Journal.open(HERE, CODE, disk))
    for event in SHORT[7:]:
        append(journal, event)
    journal.close()


def calls() -> dict[str, int]:
    """How often the case above calls each operation when all is well."""
    disk = FaultyDisk()
    live(disk, [], tried_again)
    return dict(disk.calls)


def every_fault() -> Iterator[tuple[tuple[str, int], Fault]]:
    """One fault at every call of the case."""
    for name, times in calls().items():
        kinds = [Fault(errno.EIO), Fault(errno.ENOSPC), Fault(errno.EIO, done=True)]
        if name == "write":
            kinds += [Fault(errno.ENOSPC, part=25), Fault(errno.EIO, part=10_000), Fault(0, part=25)]
        for number in range(1, times + 1):
            for fault in kinds:
                yield (name, number), fault


def on_the_medium(disk: FaultyDisk) -> tuple[Event, ...]:
    """What opening the case finds."""
    if PATH not in disk.files:
        return ()
    with Journal.open(HERE, CODE, disk) as journal:
        return journal.events


@pytest.mark.parametrize("how", ["lost", "reordered"])  # in the others nothing is left to lose
def test_one_fault_anywhere_and_pressed_again(how: Crash) -> None:
    """One fault at any call, tried again: the file holds the story, and does after a crash."""
    for call, fault in every_fault():
        disk, kept = FaultyDisk({call: fault}), list[Event]()

        live(disk, kept, tried_again)
        assert disk.text(PATH) == b"".join(lines_of(SHORT)), (call, fault)
        disk.crash(how)

        assert on_the_medium(disk) == tuple(kept) == SHORT, (call, fault)


@pytest.mark.parametrize("how", CRASHES)
def test_one_fault_anywhere_and_then_the_power_goes(how: Crash) -> None:
    """A crash right after a fault: all that was acknowledged is there, and at most the entry being tried."""

    def once(act: Callable[[], object]) -> object:
        return act()

    for call, fault in every_fault():
        disk, kept = FaultyDisk({call: fault}), list[Event]()
        try:
            live(disk, kept, once)
        except NotKept:
            disk.crash(how)
            found = on_the_medium(disk)
            assert found in (tuple(kept), SHORT[: len(kept) + 1]), (call, fault)


@pytest.mark.parametrize("how", CRASHES)
def test_the_power_goes_before_any_call(how: Crash) -> None:
    """At whatever call the power goes, the acknowledged entries are found, at most the next one besides."""
    for number in range(1, sum(calls().values()) + 1):
        disk, kept = FaultyDisk(), list[Event]()
        disk.dies_at = number

        with pytest.raises(PowerCut):
            live(disk, kept, tried_again)
        disk.crash(how)

        found = on_the_medium(disk)
        assert found in (tuple(kept), SHORT[: len(kept) + 1]), number


def test_damage_is_never_opened_as_sound() -> None:
    """A line changed in the middle of a case stops its opening, at whatever line it is."""
    for number in range(len(SHORT) - 1):
        lines = lines_of(SHORT)
        lines[number] = lines[number].replace(b'"run":1', b'"run":2')
        disk = FaultyDisk()
        disk.put(PATH, b"".join(lines))

        with pytest.raises(Damaged) as told:
            Journal.open(HERE, CODE, disk)

        assert told.value.finding.line == number + 1
