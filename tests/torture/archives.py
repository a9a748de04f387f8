"""A whole archive: verified with known damage in it, and cases that travel to another machine."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from pathlib import Path

from journal_cases import case, written
from torture.figures import Figure
from tracker.journal.archive import Archive, NotSound
from tracker.journal.files import SUFFIX

ENTRIES = 120


def archives(folder: Path, seed: int, journals: int) -> Iterator[Figure]:
    """Verify so many journals, a twentieth of them damaged at a known line; let some travel."""
    chance, cases = random.Random(seed), folder / "cases"
    cases.mkdir()
    damaged = set(chance.sample(range(1, journals + 1), journals // 20))
    lines = {
        number: _put(cases, number, chance if number in damaged else None)
        for number in range(1, journals + 1)
    }
    began = time.perf_counter()
    found = {finding.source: finding.line for finding in Archive(cases).verify_all()}
    took = time.perf_counter() - began
    assert found == {f"A-{n:04}{SUFFIX}": line for n, line in lines.items() if line}, found
    speed = f"{journals / took:.0f} journals a second"
    came = f"{len(damaged)} damaged ones found, each at its line, no other; {speed}"
    yield Figure("archive", f"verify of journals of {ENTRIES} entries", journals, came)
    sound = [n for n, line in lines.items() if not line]
    yield from _travels(folder, [f"A-{n:04}" for n in chance.sample(sound, min(50, len(sound)))], chance)


def _put(cases: Path, number: int, chance: random.Random | None) -> int:
    """Write a journal; with a flipped bit in the line that is returned, 0 for none."""
    data = bytearray(written(case(ENTRIES, f"A-{number:04}")))
    line = 0
    if chance is not None:
        at = chance.randrange(len(data) * 9 // 10)
        line = data[:at].count(b"\n") + 1
        data[at] ^= 1 << chance.randrange(8)
    (cases / f"A-{number:04}{SUFFIX}").write_bytes(data)
    return line


def _travels(folder: Path, codes: list[str], chance: random.Random) -> Iterator[Figure]:
    here, stick, there = Archive(folder / "cases"), folder / "stick", Archive(folder / "there")
    refused = 0
    for code in codes:
        copy = here.export_case(code, stick)
        whole = copy.read_bytes()
        changed = bytearray(whole)
        changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
        copy.write_bytes(changed)
        try:
            there.import_case(copy)
        except NotSound:
            refused += 1
        copy.write_bytes(whole)
        assert there.import_case(copy) == code
        assert there.verify(code) == ()
        assert there.read(code).head == here.read(code).head
    assert refused == len(codes)
    came = "digest and every line agree there; the same copies with one bit flipped were all refused"
    yield Figure("archive", "export and import on another machine", len(codes), came)
