"""The sections of a record as a reader sees them: a heading, and rows of words under column headings.

Cells are raw text: every format that writes them makes them inert in its own way.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from tracker.review.record.plain import tenths
from tracker.review.record.structure import (
    ClockLine,
    DeviationLine,
    EventLine,
    MovementLine,
    PairLine,
    Record,
    Share,
    StageLine,
    TickLine,
)
from tracker.review.record.words import COMPLETENESS_WORDS, percent

Rows = Iterable[tuple[str, ...]]

_NUMBER: Final = re.compile(r"-?\d[\d.]*|no stop|")


@dataclass(frozen=True, slots=True)
class Table:
    """One section: its id, its heading, the headings of its columns and its rows, none wider or narrower."""

    ident: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class _Pen:
    """How times and lengths are told: times of day beside the first entry's, None as blank."""

    first: datetime | None
    minutes: Callable[[float | None], str]

    def clock(self, stamp: str | None) -> str:
        """A time of day, with its date or offset only where these are not the first entry's."""
        if stamp is None or self.first is None:
            return ""
        at = datetime.fromisoformat(stamp)
        date = "" if at.date() == self.first.date() else f"{at:%Y-%m-%d} "
        offset = "" if at.utcoffset() == self.first.utcoffset() else f" (UTC{stamp[-6:]})"
        return f"{date}{at:%H:%M:%S}{offset}"

    def lasted(self, value: float | None, is_open: bool, spread: bool = False) -> str:
        """A length in minutes, or that it has no stop; one that the program chose a time of is not certain."""
        if is_open:
            return "no stop"
        return f"{self.minutes(value)} (uncertain)" if spread and value is not None else self.minutes(value)


def number(value: float | None) -> str:
    """A number to a thousandth without a needless fraction; blank for None."""
    return "" if value is None else f"{value:.3f}".rstrip("0").rstrip(".")


def tables(
    record: Record,
    *,
    minutes: Callable[[float | None], str] = tenths,
) -> Mapping[str, Table]:
    """Every section by its id, in the order in which a surgeon reads.

    `minutes` says how a measured length is told; figures of the protocol file stand as they are there.
    """
    opened = record.header.opened
    pen = _Pen(datetime.fromisoformat(opened) if opened else None, minutes)
    return {
        ident: Table(ident, title, headings, tuple(rows(record, pen)))
        for ident, title, headings, rows in _SECTIONS
    }


def numeric(table: Table) -> frozenset[int]:
    """The columns of a table that hold numbers, from 0."""
    columns = enumerate(zip(*table.rows, strict=True))
    return frozenset(n for n, column in columns if any(column) and all(map(_NUMBER.fullmatch, column)))


def _yes(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


def _and(*parts: str) -> str:
    return "; ".join(p for p in parts if p)


# -- what the record is


def _case(record: Record, pen: _Pen) -> Rows:
    h = record.header
    yield "Case", h.case + (" (invented)" if h.invented else "")
    yield "Protocol", f"{h.title} ({h.protocol}, version {h.version})"
    yield "Protocol reviewed by", h.reviewed_by
    if h.opened:
        day, offset = h.opened[:10], h.opened[-6:]
        yield "Times below", f"of {day} at UTC{offset}, unless another date or offset stands beside them"
    yield "Opened", pen.clock(h.opened) or "not logged"
    yield "Started", pen.clock(h.started) or "not logged"
    if h.stopped:
        yield "Stopped early", pen.clock(h.stopped)
    yield "Ended", _and(pen.clock(h.ended) or "not logged", h.ending, h.ending_reason)
    yield "Planned minutes", number(h.planned_minutes) or "not known"
    yield "Actual minutes", pen.minutes(h.actual_minutes) or "not known"


def _completeness(record: Record, pen: _Pen) -> Rows:
    for name, value in record.completeness:
        yield COMPLETENESS_WORDS[name], _share(value, pen)


def _share(value: Share | float, pen: _Pen) -> str:
    if isinstance(value, Share):
        return percent(value)
    return str(value) if isinstance(value, int) else pen.minutes(value)


def _facts(record: Record, _: _Pen) -> Rows:
    for f in record.facts:
        yield f.label, f.asked_words or "not asked", f.now_words if f.changed else ""


def _provenance(record: Record, _: _Pen) -> Rows:
    h = record.header
    yield "Written by", f"clockhour {h.program}, record format {h.record_format}"
    yield "Protocol", f"{h.protocol}, version {h.version}"
    yield "Digest of the protocol text (SHA-256)", h.digest
    yield "Entries in the journal", str(record.entries)
    yield "Hash of the last entry", record.last_hash
    yield "As of", h.measured_to or "not known"


# -- what happened


def _stages(record: Record, pen: _Pen) -> Rows:
    for s in record.stages:
        times = pen.clock(s.first_start), pen.clock(s.last_stop), pen.lasted(s.minutes, s.open, s.spread)
        yield s.label, *times, _usual(s, pen), str(s.ticks)


def _usual(stage: StageLine, pen: _Pen) -> str:
    found = stage.usual
    if found is None:
        return "n too small"
    return f"{pen.minutes(found.low)} to {pen.minutes(found.high)} (n = {found.n})"


def _deviations(record: Record, pen: _Pen) -> Rows:
    for d in record.deviations:
        found = _and(d.found, *(f"with it {words}" for words in d.beneath))
        yield d.level, d.words, d.label, pen.clock(d.at), d.expected, found, _reason(d)


def _reason(d: DeviationLine) -> str:
    how = "" if d.how == d.reason_words else d.how or ""
    return _and(d.reason_words, how, d.text)


def _unjudged(record: Record, pen: _Pen) -> Rows:
    for u in record.unjudged:
        yield u.label, pen.clock(u.at), u.expected, u.words


def _readings(record: Record, pen: _Pen) -> Rows:
    labels = {s.step: s.label for s in record.steps}
    for r in record.readings:
        yield pen.clock(r.at), r.label, r.words, labels.get(r.step or "", ""), r.limit


def _clocks(record: Record, pen: _Pen) -> Rows:
    for c in record.clocks:
        ran = "not known, stop not logged" if c.unsure else pen.lasted(c.minutes, c.open, c.spread)
        reached = "not judged" if c.spread else "stopped before" if c.under_minimum else c.reached
        yield c.label, pen.clock(c.start), pen.clock(c.stop), ran, _figures(c), reached


def _figures(c: ClockLine) -> str:
    named = (("at least", c.minimum), ("amber", c.amber), ("red", c.red))
    return ", ".join(f"{word} {number(figure)}" for word, figure in named if figure is not None)


def _pairs(record: Record, pen: _Pen) -> Rows:
    for p in record.pairs:
        yield p.label, p.state, _numbers(p), p.by, ", ".join(_move(pen, p, m) for m in p.movements)


def _move(pen: _Pen, p: PairLine, m: MovementLine) -> str:
    amount = f" ({number(m.amount) or 'number not said'})" if p.counted else ""
    return f"{m.way} {'by ' if m.unsure else ''}{pen.clock(m.at)}{amount}"


def _numbers(p: PairLine) -> str:
    said = ("?" if n is None else str(n) for n in (p.number_in, p.number_out))
    return "{} in, {} out".format(*said) if p.counted else ""


def _counts(record: Record, _: _Pen) -> Rows:
    for c in record.counts:
        figures = (c.start, c.added, c.removed, c.expected, c.final)
        yield c.label, *(number(n) for n in figures), _yes(c.agrees)


def _counts_open(record: Record, _: _Pen) -> Rows:
    for c in record.counts_open:
        yield (c.words,)


def _complications(record: Record, pen: _Pen) -> Rows:
    for c in record.complications:
        yield pen.clock(c.start), c.label, c.text, pen.clock(c.stop), pen.lasted(c.minutes, c.open)


def _staff(record: Record, pen: _Pen) -> Rows:
    for s in record.staff:
        times = pen.clock(s.start), pen.clock(s.stop), pen.minutes(s.minutes)
        read = "" if s.counts_confirmed is None else pen.clock(s.accepted) or "no"
        yield s.post, s.label, *times, _yes(s.counts_confirmed), read


def _operated(record: Record, pen: _Pen) -> Rows:
    for o in record.operated:
        yield o.label, str(o.nth), o.role_label or "nobody named", pen.minutes(o.minutes) or "no stop"


def _changes(record: Record, pen: _Pen) -> Rows:
    for c in record.changes:
        yield pen.clock(c.at), c.label, c.was + (", as planned" if c.planned else ""), c.now


def _said(record: Record, pen: _Pen) -> Rows:
    for s in record.said:
        yield pen.clock(s.at), s.kind, s.text


def _interruptions(record: Record, pen: _Pen) -> Rows:
    for p in record.pauses:
        yield "operation paused", pen.clock(p.start), pen.clock(p.stop), pen.minutes(p.minutes), p.reason
    for g in record.gaps:
        torn = "a torn last line was set aside" if g.torn else ""
        yield "log not open", pen.clock(g.start), pen.clock(g.stop), pen.minutes(g.minutes), torn


# -- step by step


def _steps(record: Record, pen: _Pen) -> Rows:
    labels = {s.stage: s.label for s in record.stages}
    for stage, steps in groupby(record.steps, key=lambda s: s.stage):
        for s in steps:
            status = _and(s.status, s.not_needed or "", *s.due_again)
            ticks = ", ".join(_tick(pen, t) for t in s.ticks)
            in_file = "" if s.file_high is None else f"{number(s.file_low)} to {number(s.file_high)}"
            where = labels.get(stage or "", "at any time")
            yield where, s.label, status, ticks, pen.lasted(s.minutes, s.open, s.spread), in_file


def _tick(pen: _Pen, tick: TickLine) -> str:
    to = f" to {pen.clock(tick.stop)}" if tick.stop else ""
    marks = (tick.choice_words, _late(tick))
    return f"{pen.clock(tick.start)}{to}" + "".join(f" ({m})" for m in marks if m)


def _late(line: TickLine | EventLine) -> str:
    if line.spread:
        return "time spread by the program"
    if line.low_confidence:
        return "late, low confidence"
    return "late" if line.late else "back-stamped" if line.back_stamped else ""


def _spans(record: Record, pen: _Pen) -> Rows:
    for s in record.spans:
        lengths = pen.lasted(s.minutes, s.open, s.spread), pen.minutes(s.paused_minutes)
        times = pen.clock(s.start), pen.clock(s.stop), *lengths
        yield s.stage_label, s.label, str(s.nth), *times, ", ".join(s.operators), _late(s)


def _intervals(record: Record, pen: _Pen) -> Rows:
    for i in record.intervals:
        yield pen.clock(i.at), i.label, pen.minutes(i.minutes)


# -- the log itself


def _amendments(record: Record, pen: _Pen) -> Rows:
    for a in record.amendments:
        stands = "" if a.stands else "struck itself"
        yield str(a.seq), pen.clock(a.at), a.kind, a.original, a.became, a.reason, stands


def _unknown(record: Record, pen: _Pen) -> Rows:
    for u in record.unknown:
        yield str(u.seq), pen.clock(u.at), u.kind, u.content


def _events(record: Record, pen: _Pen) -> Rows:
    for e in record.events:
        kind, times = e.kind.replace("_", " "), (pen.clock(e.at), pen.clock(e.entered_at))
        yield str(e.seq), *times, e.role, kind, e.detail, _marks(e)


def _marks(e: EventLine) -> str:
    struck = f"struck by entry {e.struck_by}" if e.struck_by else "struck" if e.struck else ""
    moved = f"counts for {e.label}" if e.moved_from else ""
    late, after = _late(e), "after the end of the case" if e.after_end else ""
    return _and(struck, moved, late, after, "not used" if e.unknown else "")


_SECTIONS: Final[tuple[tuple[str, str, tuple[str, ...], Callable[[Record, _Pen], Rows]], ...]] = (
    ("case", "The case", ("What", "As logged"), _case),
    ("completeness", "How far the log can be trusted", ("What", "Figure"), _completeness),
    ("facts", "Case facts", ("Fact", "As asked", "Changed to"), _facts),
    (
        "stages",
        "Stages",
        ("Stage", "First start", "Last stop", "Minutes, pauses out", "Usual range here, minutes", "Ticks"),
        _stages,
    ),
    (
        "deviations",
        "Deviations",
        ("Level", "What", "Step", "At", "Expected", "Found", "Reason"),
        _deviations,
    ),
    ("unjudged", "Not judged", ("About", "At", "In the file", "Why"), _unjudged),
    ("readings", "Readings", ("At", "Reading", "Value", "Step", "Outside the file's range"), _readings),
    ("clocks", "Clocks", ("Clock", "Start", "Stop", "Minutes", "In the file, minutes", "Reached"), _clocks),
    ("pairs", "Matched pairs", ("Pair", "State", "Number", "Matched by", "Movements"), _pairs),
    (
        "counts",
        "Counts as said",
        ("Line", "First", "Added", "Handed off", "Expected", "Final", "Agrees"),
        _counts,
    ),
    ("counts_open", "Counts without figures", ("Count",), _counts_open),
    (
        "complications",
        "Complications",
        ("At", "Complication", "Words", "Dealt with", "Minutes"),
        _complications,
    ),
    ("staff", "Staff by role", ("Post", "Role", "From", "To", "Minutes", "Counts confirmed", "Read"), _staff),
    ("operated", "Operators by span", ("Step", "Nth", "Operator", "Minutes"), _operated),
    ("changes", "Changes of plan", ("At", "What", "Was", "Became"), _changes),
    ("said", "Notes and bookmarks", ("At", "Kind", "Words"), _said),
    ("interruptions", "Pauses and gaps", ("What", "From", "To", "Minutes", "Reason"), _interruptions),
    ("steps", "Steps", ("Stage", "Step", "Status", "Ticks", "Minutes", "In the file, minutes"), _steps),
    (
        "spans",
        "Spans",
        ("Stage", "Step", "Nth", "Start", "Stop", "Minutes", "Paused, minutes", "Operator", "Marked"),
        _spans,
    ),
    ("intervals", "Intervals", ("At", "Step", "Interval since previous tick, minutes"), _intervals),
    (
        "amendments",
        "Amendments",
        ("Entry", "At", "Kind", "Original", "Became", "Reason", "Marked"),
        _amendments,
    ),
    ("unknown", "Entries this program could not use", ("Entry", "At", "Kind", "Content"), _unknown),
    (
        "events",
        "Every entry",
        ("Entry", "At", "Entered at", "Role", "Kind", "As written", "Marked"),
        _events,
    ),
    ("provenance", "Where this record comes from", ("What", "Figure"), _provenance),
)
