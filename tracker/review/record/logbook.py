"""The log itself as lines of a record: one for each entry, void ones marked, and one for each correction."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

from tracker.core import events as ev
from tracker.core.case import Case
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S, Deviation
from tracker.core.entries import Entry, entry_of, shifted, struck
from tracker.core.wording import clock_time, fact_words, figure, span_words, value_words
from tracker.review.record.plain import (
    HOW_WORDS,
    back_stamped,
    choice_words,
    joined,
    labelled,
    stamp,
    thousandth,
)
from tracker.review.record.structure import AmendmentKind, AmendmentLine, EventLine, UnknownLine

CHOICE_CHANGED: Final[AmendmentKind] = "choice changed"
READING_REPLACED: Final[AmendmentKind] = "reading replaced"

# -- one line an entry


@dataclass(frozen=True, slots=True)
class _Book:
    """What the lines of a log refer to, looked up once."""

    case: Case
    standing: Mapping[int, Entry]
    void: frozenset[int]
    strikes: Mapping[int, int]
    nth: Mapping[int, int]
    odd: frozenset[int]
    deviations: Mapping[int, tuple[str, ...]]


def event_lines(
    case: Case, found: Sequence[Deviation], void: frozenset[int] | None = None
) -> Iterator[EventLine]:
    """Every entry in the order of the file, with the keys of the deviations that show at it.

    `void` are the entries that do not stand, where that is not for the log alone to say.
    """
    book = _book(case, found, struck(case.events) if void is None else void)
    for event in case.events:
        yield _event_line(book, event)


def _book(case: Case, found: Sequence[Deviation], void: frozenset[int]) -> _Book:
    odd = frozenset(e.seq for e in case.odd)
    keys: dict[int, tuple[str, ...]] = {}
    for deviation in found:
        keys[deviation.seq] = (*keys.get(deviation.seq, ()), deviation.key)
    ticks = list(chain.from_iterable(s.ticks for s in case.steps.values()))
    nth = {t.seq: t.nth for t in ticks} | {t.stop.seq: t.nth for t in ticks if t.stop}
    return _Book(
        case=case,
        standing={e.seq: e for e in case.log},
        void=void,
        strikes={e.ref: e.seq for e in case.events if isinstance(e, ev.Strike) and e.seq not in void | odd},
        nth=nth,
        odd=odd,
        deviations=keys,
    )


def _event_line(book: _Book, event: ev.Event) -> EventLine:
    case, protocol = book.case, book.case.protocol
    entry = book.standing.get(event.seq) or entry_of(event, case.bases)
    written, step = getattr(event, "step", None), entry.step
    reading = event.reading if isinstance(event, ev.Read) else None
    known = protocol.reading.get(reading or "")
    moved = written if written != step and not isinstance(event, ev.Move) else None
    return EventLine(
        seq=event.seq,
        run=event.run,
        at=stamp(entry.at),
        at_written=stamp(event.at),
        entered_at=stamp(event.entered_at),
        case_s=thousandth(entry.t),
        role=event.role,
        kind=event.kind,
        stage=protocol.stage_of.get(step or ""),
        step=step,
        label=labelled(case, step),
        nth=book.nth.get(event.seq),
        moved_from=moved,
        choice=entry.choice,
        reading=reading,
        value=event.value if isinstance(event, ev.Read) else None,
        unit=known.unit if known else "",
        ref=event.ref,
        detail=detail(case, event),
        late_s=thousandth(entry.late_s),
        late=entry.late_s > LATE_S,
        low_confidence=entry.late_s > LOW_CONFIDENCE_S,
        back_stamped=back_stamped(entry),
        spread=entry.spread,
        struck=event.seq in book.void,
        struck_by=book.strikes.get(event.seq, book.strikes.get(event.ref or 0))
        if event.seq in book.void
        else None,
        after_end=case.end is not None and event.seq > case.end.when.seq,
        unknown=event.seq in book.odd,
        deviations=book.deviations.get(event.seq, ()),
    )


def detail(case: Case, event: ev.Event) -> str:  # noqa: PLR0912 - one arm a kind
    """What an entry says, as written, in the words of the file."""
    protocol = case.protocol
    match event:
        case ev.Opened():
            return f"protocol {protocol.id} {protocol.version}"
        case ev.Resumed():
            torn = "; a torn last line was set aside" if event.torn else ""
            return f"opened again after {span_words(max(0, event.gap_ms) / 1000)}{torn}"
        case ev.Facts():
            pairs = (f"{protocol.label(k)}: {fact_words(protocol, k, v)}" for k, v in event.values.items())
            return "; ".join(pairs)
        case ev.Tick() if event.choice:
            return _choice(case, event.step, event.choice)
        case ev.Tick() | ev.Start() | ev.Stop() | ev.NotLogged():
            return protocol.label(event.step)
        case ev.Chosen():
            return _choice(case, _step_at(case, event.ref), event.choice)
        case ev.Read():
            known = protocol.reading.get(event.reading)
            said = value_words(known, event.value) if known else str(event.value)
            return f"{protocol.label(event.reading)} {said}"
        case ev.CountSaid():
            return "; ".join(f"{protocol.label(line)} {n}" for line, n in event.lines.items())
        case ev.CountChanged():
            return f"{protocol.label(event.line)} {event.delta:+d}"
        case ev.NotNeeded():
            return joined(protocol.label(event.step), protocol.label(event.reason))
        case ev.Strike():
            return joined(f"entry {event.ref} is void", protocol.label(event.reason))
        case ev.Move():
            return f"entry {event.ref} counts for {protocol.label(event.step)}"
        case ev.BackStamp():
            by = ", spread by the program" if event.spread else ""
            return f"entry {event.ref} was {figure(event.seconds)} s before its time{by}"
        case ev.ReasonGiven():
            how = HOW_WORDS[event.how] if event.how else ""
            return joined(event.deviation, protocol.label(event.reason), how, event.text)
        case ev.Complicated():
            return protocol.label(event.complication) if event.complication else "not yet named"
        case ev.ComplicationDetail():
            return joined(protocol.label(event.complication) if event.complication else "", event.text)
        case ev.Note() | ev.Bookmark():
            return event.text
        case ev.HandOver():
            counts = "counts confirmed" if event.counts_confirmed else "counts not confirmed"
            return f"{protocol.label(event.outgoing)} to {protocol.label(event.incoming)}; {counts}"
        case ev.Operator():
            return protocol.label(event.operator)
        case ev.Paused() | ev.StoppedEarly():
            return protocol.label(event.reason)
        case ev.StageClosed():
            return protocol.label(event.stage)
        case ev.Unknown():
            return content(event)
    return ""


def _choice(case: Case, ident: str, choice: str) -> str:
    step = case.protocol.step.get(ident)
    return joined(case.protocol.label(ident), choice_words(step, choice) if step else choice)


def _step_at(case: Case, seq: int) -> str:
    return next((str(getattr(e, "step", "")) for e in case.events if e.seq == seq), "")


def content(event: ev.Event) -> str:
    """An entry as one line of JSON, apart from the protocol text of a first line."""
    return json.dumps(event.model_dump(exclude={"protocol"}), sort_keys=True, default=stamp)


def unknown_lines(case: Case) -> Iterator[UnknownLine]:
    """Entries of a kind unknown here, and those that hang on nothing."""
    for entry in case.odd:
        yield UnknownLine(
            seq=entry.seq, at=stamp(entry.at), kind=entry.event.kind, content=content(entry.event)
        )


# -- corrections


def amendment_lines(case: Case) -> list[AmendmentLine]:
    """Every strike, move, back-stamp, second choice and second reading, with what was written first.

    Those that point at nothing they could correct are not here but among the unknown.
    """
    odd = {e.seq for e in case.odd}
    events = [e for e in case.events if e.seq not in odd]
    return sorted((*_corrections(case, events), *_replacements(case, events)), key=lambda a: a.seq)


def _corrections(case: Case, events: Sequence[ev.Event]) -> Iterator[AmendmentLine]:
    by_seq, void = {e.seq: e for e in events}, struck(case.events)
    shifted_s: dict[int, float] = {}
    for event in events:
        first, stands = by_seq.get(event.ref or 0), event.seq not in void
        if first is None:
            continue
        match event:
            case ev.Strike():
                yield _amendment(case, event, "strike", first, "void", stands)
            case ev.Move():
                yield _amendment(case, event, "move", first, case.protocol.label(event.step), stands)
            case ev.BackStamp():
                total_s = shifted_s.get(first.seq, 0.0) + event.seconds
                if stands:
                    shifted_s[first.seq] = total_s
                became = clock_time(shifted(first.at, -total_s))
                became += ", spread by the program" if event.spread else ""
                yield _amendment(case, event, "back-stamp", first, became, stands)


def _replacements(case: Case, events: Sequence[ev.Event]) -> Iterator[AmendmentLine]:
    void = struck(case.events)
    said: dict[tuple[str, int], ev.Event] = {}
    for event in events:
        stands = event.seq not in void
        match event:
            case ev.Tick() if event.choice is not None:
                slot, kind = ("", event.seq), CHOICE_CHANGED
            case ev.Chosen():
                slot, kind = ("", event.ref), CHOICE_CHANGED
            case ev.Read() if event.ref is not None:
                slot, kind = (event.reading, event.ref), READING_REPLACED
            case _:
                continue
        if slot in said:
            yield _amendment(case, event, kind, said[slot], detail(case, event), stands)
        if stands:
            said[slot] = event


def _amendment(
    case: Case, event: ev.Event, kind: AmendmentKind, first: ev.Event, became: str, stands: bool
) -> AmendmentLine:
    return AmendmentLine(
        seq=event.seq,
        at=stamp(event.entered_at),
        role=event.role,
        kind=kind,
        ref=first.seq,
        original=as_written(case, first),
        became=became,
        reason=case.protocol.label(getattr(event, "reason", "")),
        stands=stands,
    )


def as_written(case: Case, event: ev.Event) -> str:
    """An entry of the log as it was first written, in words."""
    kind = event.kind.replace("_", " ")
    return joined(f"entry {event.seq}", kind, detail(case, event), clock_time(event.at))
