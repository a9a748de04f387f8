"""The end-of-case sheet of a record, as lines, and what stands in them."""

from __future__ import annotations

from tracker.review.record.as_sheet import render
from tracker.review.record.structure import Record


def sheet(record: Record) -> list[str]:
    """The lines of the one file."""
    ((name, data),) = render(record).items()
    assert name == f"{record.header.case}-sheet.txt"
    return data.decode().splitlines()


def section(lines: list[str], title: str) -> str:
    """What stands beside a title, its further lines joined."""
    start = next(i for i, line in enumerate(lines) if line.startswith(title.ljust(16)))
    more = []
    for line in lines[start + 1 :]:
        if not line.startswith(" " * 16):
            break
        more.append(line.strip())
    return " ".join([lines[start][16:], *more])
