"""The end-of-case sheet: one screen of plain text, 80 by 40 at most, to copy into the theatre register.

What does not fit is counted and stands in the other formats. The times are those that theatre registers ask
for; which step tells them is said beside each, and a file without such a step says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Final

from tracker.core.timeline_text import cells, fitted
from tracker.review.record.debrief_structure import DebriefSection
from tracker.review.record.debrief_tables import STATE_WORDS
from tracker.review.record.structure import Record, Share, StaffLine

WIDTH: Final = 80
HEIGHT: Final = 40

_TOLD: Final = 15
# Anaesthetic, operation start and operation end as the shipped files name them: T1, T2, T3 of theatre audit
# (F1000Research 2014;3:197, table 4), an operation beginning with the first of buckle or ports.
_TIMES: Final = (
    ("Anaesthetic", ("block", "ga_start")),
    ("Operation start", ("peritomy_buckle", "ports")),
    ("Operation end", ("drugs_end",)),
)


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE-sheet.txt`."""
    text = "".join(f"{line}\n" for line in sheet_lines(record))
    return {f"{record.header.case}-sheet.txt": text.encode()}


def sheet_lines(record: Record) -> Iterator[str]:
    """The lines of the sheet."""
    before = [*_head(record), "", *_times(record), *_what_was_used(record)]
    after = [*_what_happened(record), "", *_origin(record), "", *wrapped(" ".join(record.cautions), WIDTH)]
    yield from before
    yield from _told("Last readings", _readings(record), max(1, HEIGHT - len(before) - len(after)))
    yield from after


def _what_was_used(record: Record) -> Iterator[str]:
    yield from _told("Staff by role", _staff(record), 4)
    yield from _told("Counts as said", _counts(record), 4)
    yield from _told("Decisions", _decisions(record), 3)


def _what_happened(record: Record) -> Iterator[str]:
    yield from _told("Not matched", _not_matched(record), 3, none="none open")
    yield from _told("Complications", _complications(record), 2)
    yield from _told("Deviations", _deviations(record), 1)
    if record.debrief is not None:
        yield from _told("Debrief", _debrief(record.debrief), 1)


def _origin(record: Record) -> Iterator[str]:
    yield from _told("The log", _trust(record), 4)
    yield f"{'Protocol digest':<{_TOLD}} {record.header.digest}"
    yield f"{'Last hash':<{_TOLD}} {record.last_hash}"


# -- lines


def wrapped(text: str, width: int) -> Iterator[str]:
    """`text` in lines of at most `width` cells, broken at blanks, and inside a word that is wider than one."""
    line, used = "", 0
    for word in text.split():
        for n, piece in enumerate(_pieces(word, width)):
            taken = cells(piece)
            if line and (n or used + 1 + taken > width):
                yield line
                line, used = "", 0
            line, used = (f"{line} {piece}", used + 1 + taken) if line else (piece, taken)
    if line:
        yield line


def _pieces(word: str, width: int) -> Iterator[str]:
    start, used = 0, 0
    for n, letter in enumerate(word):
        wide = cells(letter)
        if used + wide > width:
            yield word[start:n]
            start, used = n, 0
        used += wide
    yield word[start:]


def _told(title: str, parts: Iterator[str], most: int, none: str = "none logged") -> Iterator[str]:
    """A title and its parts in at most so many lines; parts left out are counted."""
    held = list(parts) or [none]
    kept = len(held)
    lines = _lines(held, kept)
    while len(lines) > most:
        kept -= 1
        lines = _lines(held, kept)
    for n, line in enumerate(lines):
        yield f"{title if n == 0 else '':<{_TOLD}} {line}"


def _lines(parts: list[str], kept: int) -> list[str]:
    more = [f"and {len(parts) - kept} more in the record"] if kept < len(parts) else []
    return list(wrapped("; ".join([*parts[:kept], *more]), WIDTH - _TOLD - 1))


def _clock(stamp: str | None) -> str:
    return "not logged" if stamp is None else f"{datetime.fromisoformat(stamp):%H:%M}"


# -- what is told


def _head(record: Record) -> Iterator[str]:
    h = record.header
    invented = "   an invented case" if h.invented else ""
    opened = f"   {h.opened[:10]}, UTC{h.opened[-6:]}" if h.opened else ""
    yield f"End-of-case sheet   {h.case}{opened}{invented}"
    if h.side:
        side = fitted(h.side.upper(), WIDTH - _TOLD - 1, "…").rstrip()
        yield f"{'Side':<{_TOLD}} {side}"
    yield from wrapped(f"{h.title} ({h.protocol}, version {h.version}, {h.reviewed_by})", WIDTH)


def _times(record: Record) -> Iterator[str]:
    h = record.header
    # A case that stopped early ends where it was said to; the patient's way out is told only if it was ticked.
    out = None if h.ended == h.stopped else h.ended
    early = f", stopped early {_clock(h.stopped)}" if h.stopped else ""
    yield f"{'In theatre':<{_TOLD}} {_clock(h.started)} to {_clock(out)}{early}"
    for title, steps in _TIMES:
        told = fitted(_time_of(record, steps), WIDTH - _TOLD - 1, "…").rstrip()
        yield f"{title:<{_TOLD}} {told}"


def _time_of(record: Record, steps: tuple[str, ...]) -> str:
    asked = [s for s in record.steps if s.step in steps]
    ticks = [(t.start, s.label) for s in asked for t in s.ticks]
    if not ticks:
        return "not logged" if asked else "no such step in this file"
    at, label = min(ticks, key=lambda told: datetime.fromisoformat(told[0]))
    return f"{_clock(at)} ({label})"


def _staff(record: Record) -> Iterator[str]:
    for s in record.staff:
        yield f"{s.label} {_clock(s.start)} to {_clock(s.stop)}{_confirmed(s)}"


def _confirmed(s: StaffLine) -> str:
    if s.counts_confirmed is None:
        return ""
    said = "counts confirmed" if s.counts_confirmed else "counts not confirmed"
    return f" ({said})" if s.accepted else f" ({said}, not acknowledged)"


def _counts(record: Record) -> Iterator[str]:
    for c in record.counts:
        expected, final = ("?" if n is None else str(n) for n in (c.expected, c.final))
        differs = ", differs" if c.agrees is False else ""
        yield f"{c.label} {final} of {expected}{differs}"


def _not_matched(record: Record) -> Iterator[str]:
    """Pairs that are open, then counts: without figures, or other than expected."""
    yield from (p.label for p in record.pairs if p.open)
    yield from (c.words for c in record.counts_open)
    yield from (f"{c.label} {c.final} of {c.expected}" for c in record.counts if c.agrees is False)


def _decisions(record: Record) -> Iterator[str]:
    for s in record.steps:
        if s.shape == "decision" and s.ticks:
            yield f"{s.label}: {s.ticks[-1].choice_words or 'not said'}"


def _readings(record: Record) -> Iterator[str]:
    last = {r.reading: r for r in record.readings}
    for r in sorted(last.values(), key=lambda r: r.seq, reverse=True):
        yield f"{r.label} {r.words}"


def _complications(record: Record) -> Iterator[str]:
    for c in record.complications:
        said = f" ({c.text})" if c.text else ""
        dealt = "still open" if c.open else f"dealt with {_clock(c.stop)}"
        yield f"{_clock(c.start)} {c.label}{said}, {dealt}"


def _deviations(record: Record) -> Iterator[str]:
    for level in ("safety", "order", "note"):
        if n := sum(d.level == level for d in record.deviations):
            yield f"{level} {n}"


def _debrief(said: DebriefSection) -> Iterator[str]:
    yield STATE_WORDS[said.state]
    standing = sum(a.stands for a in said.amendments)
    yield f"{standing} amended or added"


def _trust(record: Record) -> Iterator[str]:
    yield f"entries {record.entries}"
    for name, value in record.completeness:
        figure = f"{value.n} of {value.of}" if isinstance(value, Share) else f"{value:g}"
        yield f"{name.replace('_', ' ')} {figure}"
