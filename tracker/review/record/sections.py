"""Sections of a record that are read straight off the case: one function each, one line at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tracker.core import events as ev
from tracker.core.case import Case, ClockRun, Moment, PairState
from tracker.core.completeness import required
from tracker.core.deviations import Deviation, in_caution, open_counts
from tracker.core.durations import since_previous_tick
from tracker.core.protocol import Clock, Pair
from tracker.core.wording import CODE_WORDS, fact_words, value_words
from tracker.review.record import structure as st
from tracker.review.record.plain import HOW_WORDS, labelled, minutes, stamp


def facts(case: Case) -> Iterator[st.FactLine]:
    """Case facts as first asked and as they stand, those of the file first."""
    for ident, now in case.facts.items():
        known, asked = case.protocol.fact.get(ident), case.asked.get(ident)
        yield st.FactLine(
            fact=ident,
            label=case.protocol.label(ident),
            unit=known.unit if known else "",
            asked=asked,
            now=now,
            asked_words="" if asked is None else fact_words(case.protocol, ident, asked),
            now_words=fact_words(case.protocol, ident, now),
            changed=asked is not None and asked != now,
        )


def deviations(case: Case, found: Sequence[Deviation]) -> Iterator[st.DeviationLine]:
    """Deviations in their own order, with the reason given."""
    for d in found:
        given = d.given
        how = given.how if given else None
        yield st.DeviationLine(
            key=d.key,
            code=d.code,
            words=CODE_WORDS[d.code],
            level=d.level,
            about=d.step,
            label=case.protocol.label(d.step),
            seq=d.seq,
            at=stamp(d.when.at),
            expected=d.expected,
            found=d.found,
            reason=given.reason if given else None,
            reason_words=labelled(case, given.reason) if given else "",
            how=HOW_WORDS[how] if how else None,
            text=given.text if given else "",
            beneath=tuple(_beneath(case, other) for other in d.beneath),
        )


def _beneath(case: Case, d: Deviation) -> str:
    return f"{case.protocol.label(d.step)}: {CODE_WORDS[d.code]} ({d.level}), {d.found}"


def unjudged(case: Case, found: Sequence[Deviation]) -> Iterator[st.UnjudgedLine]:
    """What hangs on a time that the program chose, in order of time."""
    for d in found:
        yield st.UnjudgedLine(
            about=d.step,
            label=case.protocol.label(d.step),
            seq=d.seq,
            at=stamp(d.when.at),
            expected=d.expected,
            words=d.found,
        )


def readings(case: Case) -> Iterator[st.ReadingLine]:
    """Readings as they stand, in order of time."""
    owner = {e.seq: e.step for e in case.log}
    for value in sorted(case.readings, key=lambda v: v.when):
        known = case.protocol.reading.get(value.reading)
        limit = in_caution(known, value.value) if known else None
        yield st.ReadingLine(
            seq=value.when.seq,
            at=stamp(value.when.at),
            reading=value.reading,
            label=case.protocol.label(value.reading),
            value=value.value,
            unit=known.unit if known else "",
            words=value_words(known, value.value) if known else str(value.value),
            step=owner.get(value.tick or 0),
            outside_caution=limit is not None,
            limit=limit or "",
        )


def clocks(case: Case, now_t: float) -> Iterator[st.ClockLine]:
    """Every run of every clock, in order of time."""
    for run in sorted(case.clocks, key=lambda r: r.start):
        yield _clock(case.protocol.clock[run.clock], run, run.seconds(now_t))


def _clock(clock: Clock, run: ClockRun, seconds: float) -> st.ClockLine:
    judged = not run.spread
    red = judged and clock.red_s is not None and seconds >= clock.red_s
    amber = judged and clock.amber_s is not None and seconds >= clock.amber_s
    short = judged and clock.min_s is not None and run.stop is not None and seconds < clock.min_s
    return st.ClockLine(
        seq=run.start.seq,
        clock=clock.id,
        label=clock.label,
        level=clock.level,
        start=stamp(run.start.at),
        stop=stamp(run.stop.at) if run.stop else None,
        minutes=minutes(seconds) if run.stop and not run.unsure else None,
        open=run.stop is None,
        unsure=run.unsure,
        spread=run.spread,
        minimum=_figure(clock.min_s),
        amber=_figure(clock.amber_s),
        red=_figure(clock.red_s),
        reached="red" if red else "amber" if amber else "",
        under_minimum=short,
    )


def _figure(seconds: float | None) -> float | None:
    return None if seconds is None else minutes(seconds)


def pairs(case: Case) -> Iterator[st.PairLine]:
    """Matched pairs in file order, those that never moved too."""
    for pair in case.protocol.pairs:
        yield _pair(case, pair, case.pairs[pair.id])


def _pair(case: Case, pair: Pair, state: PairState) -> st.PairLine:
    moved = tuple(
        st.MovementLine(
            seq=m.when.seq,
            at=stamp(m.when.at),
            way="in" if m.sign > 0 else "out",
            amount=m.amount,
            unsure=m.unsure,
        )
        for m in state.movements
    )
    words = (pair.open_word if state.open else pair.closed_word) if state.ever_open else "not used"
    return st.PairLine(
        pair=pair.id,
        label=pair.label,
        level=pair.level,
        state=words,
        open=state.open,
        ever_open=state.ever_open,
        counted=pair.counted,
        number_in=state.total(+1) if pair.counted else None,
        number_out=state.total(-1) if pair.counted else None,
        by=case.protocol.label(pair.by),
        movements=moved,
    )


def counts(case: Case) -> Iterator[st.CountLine]:
    """Counted lines in file order."""
    for ident, line in case.counts.items():
        agrees = None if None in (line.final, line.expected) else line.final == line.expected
        yield st.CountLine(
            line=ident,
            label=case.protocol.label(ident),
            start=line.start,
            added=line.added,
            removed=line.removed,
            expected=line.expected,
            final=line.final,
            agrees=agrees,
        )


def counts_open(case: Case) -> Iterator[st.OpenCountLine]:
    """Counts ticked without all their figures, then those the file asks for that have no tick."""
    for count in open_counts(case):
        if count.lines:
            words = count.words(case.protocol, idle=False)
            yield st.OpenCountLine(step=count.step.id, seq=count.tick.seq, words=words)
    for step in case.protocol.all_steps() if case.protocol.counted else ():
        if step.count and required(case, step) and not (state := case.state(step.id)).ticks:
            said = "not needed" if state.not_needed else "no figures" if state.not_logged else "no tick"
            yield st.OpenCountLine(step=step.id, seq=None, words=f"{step.label}: {said}")


def complications(case: Case) -> Iterator[st.ComplicationLine]:
    """Complications in order of time."""
    for trouble in sorted(case.troubles, key=lambda t: t.start):
        yield st.ComplicationLine(
            seq=trouble.start.seq,
            complication=trouble.complication,
            label=labelled(case, trouble.complication) or "not named",
            text=trouble.text,
            start=stamp(trouble.start.at),
            stop=stamp(trouble.stop.at) if trouble.stop else None,
            minutes=_whole(trouble.start, trouble.stop),
            open=trouble.stop is None,
        )


def _whole(start: Moment, stop: Moment | None) -> float | None:
    return None if stop is None else minutes(stop.t - start.t)


def staff(case: Case) -> Iterator[st.StaffLine]:
    """Who held each post, by role: from taking it to the next in that post, or to the end of the case."""
    for post in ("circulating", "operator"):
        held = [p for p in case.posts if p.post == post]
        stops = [*(after.since for after in held[1:]), case.end.when if case.end else None]
        for p, stop in zip(held, stops, strict=False):
            yield st.StaffLine(
                seq=p.since.seq,
                post=p.post,
                role=p.role,
                label=case.protocol.label(p.role),
                start=stamp(p.since.at),
                stop=stamp(stop.at) if stop else None,
                minutes=_whole(p.since, stop),
                accepted=stamp(p.accepted.at) if p.accepted else None,
                counts_confirmed=p.counts_confirmed,
            )


def changes(case: Case) -> Iterator[st.ChangeLine]:
    """Facts and decisions that became something else."""
    for change in case.changes:
        was, now = (fact_words(case.protocol, change.what, v) for v in (change.was, change.now))
        yield st.ChangeLine(
            seq=change.when.seq,
            at=stamp(change.when.at),
            what=change.what,
            label=case.protocol.label(change.what),
            was=was,
            now=now,
            planned=change.planned,
        )


def said(case: Case) -> Iterator[st.SaidLine]:
    """Notes and bookmarks."""
    for words in case.said:
        yield st.SaidLine(seq=words.when.seq, at=stamp(words.when.at), kind=words.kind, text=words.text)


def pauses(case: Case) -> Iterator[st.PauseLine]:
    """When the operation stood still, and why."""
    reasons = {e.seq: e.event.reason for e in case.log if isinstance(e.event, ev.Paused)}
    for start, stop in case.pauses:
        yield st.PauseLine(
            seq=start.seq,
            start=stamp(start.at),
            stop=stamp(stop.at) if stop else None,
            minutes=_whole(start, stop),
            reason=case.protocol.label(reasons.get(start.seq, "")),
        )


def gaps(case: Case) -> Iterator[st.GapLine]:
    """When the journal was not open."""
    for gap in case.gaps:
        yield st.GapLine(
            seq=gap.stop.seq,
            start=stamp(gap.start.at),
            stop=stamp(gap.stop.at),
            minutes=minutes(gap.stop.t - gap.start.t),
            torn=gap.torn,
        )


def intervals(case: Case) -> Iterator[st.IntervalLine]:
    """The time from each tick to the next."""
    for entry, seconds in since_previous_tick(case):
        yield st.IntervalLine(
            seq=entry.seq,
            step=entry.step,
            label=labelled(case, entry.step),
            at=stamp(entry.at),
            minutes=minutes(seconds),
        )
