"""The record as one Markdown page, in the order in which a surgeon reads it.

Whatever was typed stands in table cells with every letter that a renderer might obey taken out of its hands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from tracker.core.text import shown
from tracker.core.timeline_text import text_timeline
from tracker.review.record.debrief_tables import FIRST, debrief_tables
from tracker.review.record.structure import (
    ClockLine,
    DeviationLine,
    EventLine,
    MovementLine,
    PairLine,
    Record,
    Share,
    StepLine,
    TickLine,
)
from tracker.review.record.tables import Table
from tracker.review.record.words import COMPLETENESS_WORDS, percent

PICTURE_WIDTH: Final = 100

_ENTITIES: Final = {"&": "&amp;", "<": "&lt;", ">": "&gt;", "|": "&#124;"}
# The last two would let a renderer make a link of a bare address.
_OBEYED: Final = re.compile(r"[&<>|]|[\\`*_\[\]{}#~@$^]|/(?=/)|(?<=\w)\.(?=[^\W\d_])")

Rows = Iterable[tuple[str, ...]]


def inert(text: str) -> str:
    """`text` for a place inside a line: no markup, HTML, table pipe, link or control code of its own.

    HTML letters and the pipe become entities, which every dialect knows; the rest a backslash (CommonMark
    0.31, 2.4: any ASCII punctuation may be escaped so).
    """
    return _OBEYED.sub(lambda found: _ENTITIES.get(found[0], f"\\{found[0]}"), shown(text))


def table(headings: tuple[str, ...], rows: Rows) -> Iterator[str]:
    """The lines of a table; the cells are raw text and made inert here."""
    yield _row(headings)
    yield _row(("---",) * len(headings))
    for cells in rows:
        yield _row(tuple(map(inert, cells)))


def _row(cells: tuple[str, ...]) -> str:
    return f"| {' | '.join(cells)} |"


def fenced(lines: Iterable[str]) -> Iterator[str]:
    """Lines as they are, between fences longer than any run of backticks among them."""
    held = list(lines)
    longest = max((len(run) for line in held for run in re.findall("`+", line)), default=0)
    fence = "`" * max(3, longest + 1)
    yield from (f"{fence}text", *held, fence)


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.md`."""
    text = "".join(f"{line}\n" for line in _page(record))
    return {f"{record.header.case}.md": text.encode()}


def _page(record: Record) -> Iterator[str]:
    header = record.header
    invented = " (an invented case)" if header.invented else ""
    yield f"# Case {inert(header.case)}: {inert(header.title)}{invented}"
    yield ""
    yield from (f"- {inert(caution)}" for caution in record.cautions)
    said = debrief_tables(record)
    for title, headings, rows in _SECTIONS:
        yield from _section(title, headings, rows(record))
        if rows is _completeness:
            yield from ("", "## Timeline", "", *fenced(text_timeline(record.timeline, PICTURE_WIDTH)))
            yield from _debriefed(table for ident, table in said.items() if ident in FIRST)
    yield from _debriefed(table for ident, table in said.items() if ident not in FIRST)


def _section(title: str, headings: tuple[str, ...], rows: Rows) -> Iterator[str]:
    held = list(rows)
    yield from ("", f"## {title}", "", *(table(headings, held) if held else ["None."]))


def _debriefed(parts: Iterable[Table]) -> Iterator[str]:
    for part in parts:
        yield from _section(part.title, part.headings, part.rows)


# -- how a cell says things


@dataclass(frozen=True, slots=True)
class _Clock:
    """Times of day as a reader wants them: with date or offset only where these are not the first entry's."""

    first: datetime | None

    def __call__(self, stamp: str | None) -> str:
        if stamp is None or self.first is None:
            return ""
        at = datetime.fromisoformat(stamp)
        date = "" if at.date() == self.first.date() else f"{at:%Y-%m-%d} "
        offset = "" if at.utcoffset() == self.first.utcoffset() else f" (UTC{stamp[-6:]})"
        return f"{date}{at:%H:%M:%S}{offset}"


def _clock(record: Record) -> _Clock:
    opened = record.header.opened
    return _Clock(datetime.fromisoformat(opened) if opened else None)


def number(value: float | None) -> str:
    """A number to a thousandth without a needless fraction; blank for None."""
    return "" if value is None else f"{value:.3f}".rstrip("0").rstrip(".")


def _lasted(minutes: float | None, is_open: bool) -> str:
    return "no stop" if is_open else number(minutes)


def _yes(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


def _and(*parts: str) -> str:
    return "; ".join(p for p in parts if p)


# -- sections


def _header(record: Record) -> Rows:
    h = record.header
    yield "Case", h.case
    yield "Protocol", f"{h.title} ({h.protocol}, version {h.version})"
    yield "Reviewed by", h.reviewed_by
    if h.opened:
        day, offset = h.opened[:10], h.opened[-6:]
        yield "Times below", f"of {day} at UTC{offset}, unless another date or offset stands beside them"
    yield "Opened", h.opened or "not logged"
    yield "Started", h.started or "not logged"
    if h.stopped:
        yield "Stopped early", h.stopped
    yield "Ended", _and(h.ended or "not logged", h.ending, h.ending_reason)
    yield "Planned minutes", number(h.planned_minutes) or "not known"
    yield "Actual minutes", number(h.actual_minutes) or "not known"
    yield "Written by", f"clockhour {h.program}"
    yield "Digest of the protocol text", h.digest
    yield "Entries in the log", str(record.entries)
    yield "Hash of the last entry", record.last_hash


def _completeness(record: Record) -> Rows:
    for name, value in record.completeness:
        yield COMPLETENESS_WORDS[name], percent(value) if isinstance(value, Share) else number(value)


def _facts(record: Record) -> Rows:
    for f in record.facts:
        yield f.label, f.asked_words or "not asked", f.now_words if f.changed else ""


def _stages(record: Record) -> Rows:
    clock = _clock(record)
    for s in record.stages:
        yield s.label, clock(s.first_start), clock(s.last_stop), _lasted(s.minutes, s.open), str(s.ticks)


def _deviations(record: Record) -> Rows:
    clock = _clock(record)
    for d in record.deviations:
        yield d.level, d.words, d.label, clock(d.at), d.expected, d.found, _reason(d)


def _reason(d: DeviationLine) -> str:
    how = "" if d.how == d.reason_words else d.how or ""
    return _and(d.reason_words, how, d.text)


def _readings(record: Record) -> Rows:
    clock, labels = _clock(record), {s.step: s.label for s in record.steps}
    for r in record.readings:
        yield clock(r.at), r.label, r.words, labels.get(r.step or "", ""), r.limit


def _clocks(record: Record) -> Rows:
    clock = _clock(record)
    for c in record.clocks:
        yield c.label, clock(c.start), clock(c.stop), _ran(c), _figures(c), _reached(c)


def _ran(c: ClockLine) -> str:
    return "not known, stop not logged" if c.unsure else _lasted(c.minutes, c.open)


def _figures(c: ClockLine) -> str:
    named = (("at least", c.minimum), ("amber", c.amber), ("red", c.red))
    return ", ".join(f"{word} {number(figure)}" for word, figure in named if figure is not None)


def _reached(c: ClockLine) -> str:
    return "stopped before" if c.under_minimum else c.reached


def _pairs(record: Record) -> Rows:
    clock = _clock(record)
    for p in record.pairs:
        yield p.label, p.state, _numbers(p), p.by, ", ".join(_move(clock, p, m) for m in p.movements)


def _move(clock: _Clock, p: PairLine, m: MovementLine) -> str:
    amount = f" ({number(m.amount) or 'number not said'})" if p.counted else ""
    return f"{m.way} {'by ' if m.unsure else ''}{clock(m.at)}{amount}"


def _numbers(p: PairLine) -> str:
    said = ("?" if n is None else str(n) for n in (p.number_in, p.number_out))
    return "{} in, {} out".format(*said) if p.counted else ""


def _counts(record: Record) -> Rows:
    for c in record.counts:
        figures = (c.start, c.added, c.removed, c.expected, c.final)
        yield c.label, *(number(n) for n in figures), _yes(c.agrees)


def _complications(record: Record) -> Rows:
    clock = _clock(record)
    for c in record.complications:
        yield clock(c.start), c.label, c.text, clock(c.stop), _lasted(c.minutes, c.open)


def _staff(record: Record) -> Rows:
    clock = _clock(record)
    for s in record.staff:
        yield s.post, s.label, clock(s.start), clock(s.stop), number(s.minutes), _yes(s.counts_confirmed)


def _operated(record: Record) -> Rows:
    for o in record.operated:
        yield o.label, str(o.nth), o.role_label or "nobody named", number(o.minutes) or "no stop"


def _changes(record: Record) -> Rows:
    clock = _clock(record)
    for c in record.changes:
        yield clock(c.at), c.label, c.was + (", as planned" if c.planned else ""), c.now


def _said(record: Record) -> Rows:
    clock = _clock(record)
    for s in record.said:
        yield clock(s.at), s.kind, s.text


def _interruptions(record: Record) -> Rows:
    clock = _clock(record)
    for p in record.pauses:
        yield "operation paused", clock(p.start), clock(p.stop), number(p.minutes), p.reason
    for g in record.gaps:
        torn = "a torn last line was set aside" if g.torn else ""
        yield "log not open", clock(g.start), clock(g.stop), number(g.minutes), torn


def _steps(record: Record) -> Rows:
    clock, labels = _clock(record), {s.stage: s.label for s in record.stages}
    for stage, steps in groupby(record.steps, key=lambda s: s.stage):
        for step in steps:
            yield (
                labels.get(stage or "", "at any time"),
                step.label,
                _and(step.status, step.not_needed or "", *step.due_again),
                ", ".join(_tick(clock, t) for t in step.ticks),
                _lasted(step.minutes, step.open),
                _range(step),
            )


def _tick(clock: _Clock, tick: TickLine) -> str:
    to = f" to {clock(tick.stop)}" if tick.stop else ""
    marks = (tick.choice_words, _late(tick))
    return f"{clock(tick.start)}{to}" + "".join(f" ({m})" for m in marks if m)


def _late(line: TickLine | EventLine) -> str:
    if line.low_confidence:
        return "late, low confidence"
    return "late" if line.late else "back-stamped" if line.back_stamped else ""


def _range(step: StepLine) -> str:
    return "" if step.file_high is None else f"{number(step.file_low)} to {number(step.file_high)}"


def _spans(record: Record) -> Rows:
    clock = _clock(record)
    for s in record.spans:
        times = (clock(s.start), clock(s.stop), _lasted(s.minutes, s.open), number(s.paused_minutes))
        yield s.stage_label, s.label, str(s.nth), *times, ", ".join(s.operators), _late(s)


def _intervals(record: Record) -> Rows:
    clock = _clock(record)
    for i in record.intervals:
        yield clock(i.at), i.label, number(i.minutes)


def _amendments(record: Record) -> Rows:
    clock = _clock(record)
    for a in record.amendments:
        stands = "" if a.stands else "struck itself"
        yield str(a.seq), clock(a.at), a.kind, a.original, a.became, a.reason, stands


def _unknown(record: Record) -> Rows:
    clock = _clock(record)
    for u in record.unknown:
        yield str(u.seq), clock(u.at), u.kind, u.content


def _events(record: Record) -> Rows:
    clock = _clock(record)
    for e in record.events:
        kind = e.kind.replace("_", " ")
        yield str(e.seq), clock(e.at), clock(e.entered_at), e.role, kind, e.detail, _marks(e)


def _marks(e: EventLine) -> str:
    struck = f"struck by entry {e.struck_by}" if e.struck_by else "struck" if e.struck else ""
    moved = f"counts for {e.label}" if e.moved_from else ""
    late, after = _late(e), "after the end of the case" if e.after_end else ""
    return _and(struck, moved, late, after, "not used" if e.unknown else "")


_SECTIONS: Final[tuple[tuple[str, tuple[str, ...], Callable[[Record], Rows]], ...]] = (
    ("The case", ("What", "As logged"), _header),
    ("How far the log can be trusted", ("What", "Figure"), _completeness),
    ("Case facts", ("Fact", "As asked", "Changed to"), _facts),
    ("Stages", ("Stage", "First start", "Last stop", "Minutes, pauses out", "Ticks"), _stages),
    ("Deviations", ("Level", "What", "Step", "At", "Expected", "Found", "Reason"), _deviations),
    ("Readings", ("At", "Reading", "Value", "Step", "Outside the file's range"), _readings),
    ("Clocks", ("Clock", "Start", "Stop", "Minutes", "In the file, minutes", "Reached"), _clocks),
    ("Matched pairs", ("Pair", "State", "Number", "Matched by", "Movements"), _pairs),
    ("Counts as said", ("Line", "First", "Added", "Handed off", "Expected", "Final", "Agrees"), _counts),
    ("Complications", ("At", "Complication", "Words", "Dealt with", "Minutes"), _complications),
    ("Staff by role", ("Post", "Role", "From", "To", "Minutes", "Counts confirmed"), _staff),
    ("Operators by span", ("Step", "Nth", "Operator", "Minutes"), _operated),
    ("Changes of plan", ("At", "What", "Was", "Became"), _changes),
    ("Notes and bookmarks", ("At", "Kind", "Words"), _said),
    ("Pauses and gaps", ("What", "From", "To", "Minutes", "Reason"), _interruptions),
    ("Steps", ("Stage", "Step", "Status", "Ticks", "Minutes", "In the file, minutes"), _steps),
    (
        "Spans",
        ("Stage", "Step", "Nth", "Start", "Stop", "Minutes", "Paused, minutes", "Operator", "Marked"),
        _spans,
    ),
    ("Intervals", ("At", "Step", "Interval since previous tick, minutes"), _intervals),
    ("Amendments", ("Entry", "At", "Kind", "Original", "Became", "Reason", "Marked"), _amendments),
    ("Entries this program could not use", ("Entry", "At", "Kind", "Content"), _unknown),
    ("Every entry", ("Entry", "At", "Entered at", "Role", "Kind", "As written", "Marked"), _events),
)
