"""What a power cut or a bad medium may make of the bytes of a journal: cuts, sectors, single bits."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from itertools import permutations
from pathlib import Path

from faulty_disk import FaultyDisk
from journal_cases import case, lines_of
from torture.figures import Figure
from tracker.core.events import Event
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.journal.lines import START, Read, read_lines

HERE = Path("/archive")
CODE = "A-0001"
PATH = HERE / "A-0001.case.jsonl"
SECTOR = 512


class Story:
    """A case of so many entries, and its journal."""

    def __init__(self, entries: int) -> None:
        self.events: tuple[Event, ...] = case(entries)
        self.lines = lines_of(self.events)
        self.data = b"".join(self.lines)
        self.heads = (START, *read_lines(self.data).hashes)

    def believed(self, data: bytes) -> Read:
        """What is read of a changed copy: a beginning of the story, byte for byte, and word of the rest."""
        read = read_lines(data, PATH.name)
        kept = len(read.events)
        assert read.events == self.events[:kept]
        assert data[: read.size] == b"".join(self.lines[:kept])
        if read.size < len(data):
            assert (read.torn is None) != (read.broken is None)
            assert read.torn is None or read.torn == data[read.size :]
            assert read.broken is None or read.broken.line == kept + 1
        return read

    def untouched(self, data: bytes) -> int:
        """How many lines stand unchanged at the beginning."""
        count, at = 0, 0
        for line in self.lines:
            if data[at : at + len(line)] != line:
                break
            count, at = count + 1, at + len(line)
        return count


def crashes(folder: Path, seed: int, entries: int, positions: int) -> Iterator[Figure]:
    """Every cut, every order of the last sectors, sampled bits; and the way back from each kind."""
    story, chance = Story(entries), random.Random(seed)
    yield from _cuts(story)
    yield from _sectors(story)
    yield from _bits(story, chance, positions)
    yield from _ways_back(story, chance)


def _cuts(story: Story) -> Iterator[Figure]:
    """A cut file holds what was before; it is read from the line that was cut, since all before is equal."""
    head, at = START, 0
    for number, line in enumerate(story.lines):
        for cut in range(1, len(line)):
            read = read_lines(line[:cut], PATH.name, head, number)
            assert (read.events, read.torn, read.broken) == ((), line[:cut], None), (number, cut)
        for cut in (0, 1, len(line) // 2, len(line) - 1):
            assert len(story.believed(story.data[: at + cut]).events) == number
        head, at = read_lines(line, PATH.name, head, number).head, at + len(line)
    what = f"at every byte of a journal of {len(story.events)} entries"
    yield Figure("cut", what, len(story.data), "every whole line kept, the rest told as one torn line")


def _sectors(story: Story) -> Iterator[Figure]:
    tried: Counter[str] = Counter()
    for entries in range(len(story.events) // 2, len(story.events) + 1):
        data = b"".join(story.lines[:entries])
        for what, changed in _changed(data):
            if changed == data:
                continue
            read = story.believed(changed)
            assert len(read.events) == min(story.untouched(changed), entries), what
            # A file that ends exactly between two lines is a shorter one: only its last hash tells.
            assert read.size < len(changed) or data.startswith(changed), what
            tried[what.split(":")[0]] += 1
    for what, times in tried.items():
        yield Figure("sectors", what, times, "seen, every line before kept, nothing after believed")


def _changed(data: bytes) -> Iterator[tuple[str, bytes]]:
    last = (len(data) - 1) // SECTOR * SECTOR
    parts = [data[i : i + SECTOR] for i in range(max(0, last - 2 * SECTOR), len(data), SECTOR)]
    head = data[: len(data) - sum(map(len, parts))]
    for i, part in enumerate(parts):
        yield "zeroed", head + b"".join([*parts[:i], bytes(len(part)), *parts[i + 1 :]])
        yield "duplicated", head + b"".join([*parts[: i + 1], part, *parts[i + 1 :]])
        yield "left out", head + b"".join([*parts[:i], *parts[i + 1 :]])
    yield "zeros after the end", data + bytes(SECTOR)
    for order in permutations(range(len(parts))):
        yield "reordered", head + b"".join(parts[i] for i in order)


def _bits(story: Story, chance: random.Random, positions: int) -> Iterator[Figure]:
    torn = 0
    for at in chance.sample(range(len(story.data)), min(positions, len(story.data))):
        for bit in range(8):
            flipped = bytearray(story.data)
            flipped[at] ^= 1 << bit
            line = story.data[:at].count(b"\n")
            start = sum(map(len, story.lines[:line]))
            # Everything before the line is equal to what was read above: only the rest is read again.
            read = read_lines(bytes(flipped[start:]), PATH.name, story.heads[line], line)
            assert read.events == (), (at, bit)
            torn += read.torn is not None
            assert read.broken is None or read.broken.line == line + 1
            assert read.torn is None or line == len(story.lines) - 1
    last = f"{torn} of them in the last line and told as torn"
    came = f"every one seen and located by its line, {last}; no line after believed"
    yield Figure("bits", f"flipped one at a time, all 8 of {positions:,} sampled bytes", positions * 8, came)


def _ways_back(story: Story, chance: random.Random) -> Iterator[Figure]:
    """Cut or broken anywhere: opening or mending goes on with all that stood before, and loses no byte."""
    for _ in range(60):
        at = chance.randrange(len(story.lines[0]), len(story.data))
        _cut_and_opened(story, story.data[:at])
    for _ in range(60):
        flipped = bytearray(story.data)
        flipped[chance.randrange(len(story.lines[0]), len(story.data))] ^= 1 << chance.randrange(8)
        _broken_and_mended(story, bytes(flipped))
    came = "gone on with; the lines before and what was set aside are the whole file"
    yield Figure("ways back", "cut, then opened", 60, came)
    yield Figure("ways back", "one bit flipped, then mended (or opened, in the last line)", 60, came)


def _cut_and_opened(story: Story, data: bytes) -> None:
    disk = FaultyDisk()
    disk.put(PATH, data)
    with Journal.open(HERE, CODE, disk) as journal:
        kept = len(journal.events)
        aside = disk.text(HERE / "A-0001.torn-1.txt") if journal.torn else b""
        journal.append(story.events[kept])
    disk.crash("lost")
    assert b"".join(story.lines[:kept]) + aside == data
    assert disk.text(PATH) == b"".join(story.lines[: kept + 1])


def _broken_and_mended(story: Story, data: bytes) -> None:
    disk = FaultyDisk()
    disk.put(PATH, data)
    if read_lines(data).torn is not None:
        Journal.open(HERE, CODE, disk).close()
        aside = HERE / "A-0001.torn-1.txt"
    else:
        assert Archive(HERE, disk).mend(CODE) is not None
        aside = HERE / "A-0001.aside-1.txt"
        assert disk.text(HERE / "A-0001.damaged-1.jsonl") == data
    disk.crash("lost")
    assert disk.text(PATH) + disk.text(aside) == data
    with Journal.open(HERE, CODE, disk) as journal:
        journal.append(story.events[len(journal.events)])
