"""Where a case differs from its file: a tuple of small rules, each a pure function of the case.

A deviation is a difference, not a fault, and blocks nothing. Its key stays the same while the case goes on,
so that a reason given once stays with it. The same rules serve the live screen and the record; `now_t` only
matters for what is still running.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from tracker.core import events as ev
from tracker.core.case import Case, Given, Moment, PairState, Tick, Value, in_case
from tracker.core.durations import step_seconds
from tracker.core.entries import Entry
from tracker.core.protocol import Clock, Level, Need, Pair, Protocol, Reading, Step
from tracker.core.wording import clock_time, fact_words, figure, span_words, value_words

LATE_S: Final = 60.0
"""An entry later than this is marked late (time-stamp study, J Med Syst 2026, PMC12883500)."""
LOW_CONFIDENCE_S: Final = 1200.0
"""An entry later than this is of low confidence (same study: 38 % of entries over 20 min late were wrong)."""

ORDER: Final[dict[str, int]] = {"safety": 0, "order": 1, "note": 2}


@dataclass(frozen=True, slots=True)
class Deviation:
    """One difference between the case and its file.

    `step` is the id of a step, clock, pair, reading, counted line, fact or complication; `seq` the event it
    shows at; `level` is the file's; `given` the reason, once there is one.
    """

    key: str
    code: str
    level: Level
    step: str
    when: Moment
    expected: str
    found: str
    given: Given | None = None

    @property
    def seq(self) -> int:
        """The sequence number of the event it shows at."""
        return self.when.seq


Rule = Callable[[Case, float], Iterator[Deviation]]


def deviations(case: Case, now_t: float) -> tuple[Deviation, ...]:
    """All deviations as of `now_t`, safety first, then by time; each with its reason if one was given."""
    found = (d for rule in RULES for d in rule(case, now_t))
    reasoned = (replace(d, given=case.reasons.get(d.key)) for d in found)
    return tuple(sorted(reasoned, key=lambda d: (ORDER[d.level], d.when, d.key)))


def stage_over(case: Case, step: Step) -> Moment | None:
    """When nothing more was to be expected of a step: its stage closed, or the case at its usual end."""
    if closed := case.closed.get(case.protocol.stage_of.get(step.id, "")):
        return closed
    return case.end.when if case.end and case.end.how == "normal" else None


def _ticks(case: Case) -> Iterator[tuple[Step, Tick]]:
    for step in case.protocol.all_steps():
        for tick in case.state(step.id).ticks:
            yield step, tick


# -- what was left out


def _missing(case: Case, step: Step) -> bool:
    state = case.state(step.id)
    if state.satisfied or not in_case(case, step) or step.id not in case.protocol.stage_of:
        return False
    return bool(state.due_again) or step.occurrence != "optional"


def _needed_by(case: Case, step: Step) -> Moment | None:
    since = case.state(step.id).due_again
    ticks = [
        t.start
        for other in case.protocol.all_steps()
        for t in case.state(other.id).ticks
        if any(n.step == step.id for n in t.unmet) and (not since or t.start.t >= since[0].since.t)
    ]
    return min(ticks, default=None)


def skip_level(protocol: Protocol, step: Step) -> Level:
    """How serious the file takes a step's absence: as the strongest need that anything has of it."""
    levels = {n.level for s in protocol.all_steps() for n in s.needs if step.id in (n.step, *n.any_step)}
    return "safety" if "safety" in levels else "order"


def skipped(case: Case, now_t: float) -> Iterator[Deviation]:
    """Steps without a tick, once that can be told: never optional ones, unmet conditions, other choices."""
    seen: set[str] = set()
    for step in case.protocol.all_steps():
        if not _missing(case, step) or (step.group and step.group in seen):
            continue
        concluded = _needed_by(case, step) or stage_over(case, step)
        if concluded is None:
            continue
        seen.add(step.group or "")
        marks = case.state(step.id).due_again
        again = f":{marks[0].since.seq}" if marks else ""
        expected = f"again: {marks[0].reason}" if marks else _one_of(case, step)
        level = skip_level(case.protocol, step)
        yield Deviation(
            f"skipped:{step.id}{again}", "skipped", level, step.id, concluded, expected, "no tick"
        )


def _one_of(case: Case, step: Step) -> str:
    others = [
        s for s in case.protocol.groups.get(step.group or "", ()) if in_case(case, case.protocol.step[s])
    ]
    return "one of: " + ", ".join(map(case.protocol.label, others)) if len(others) > 1 else "a tick"


# -- order


def needs(case: Case, now_t: float) -> Iterator[Deviation]:
    """Ticks that came before what the file says comes first; out of order once that has come after all."""
    for step, tick in _ticks(case):
        for need in tick.unmet:
            about = need.step or need.pair_open or need.pair_closed or "+".join(need.any_step)
            code, found = _order_found(case, need, tick)
            expected = f"{_need_words(case.protocol, need)}: {need.reason}"
            key = f"need:{step.id}<{about}:{tick.seq}"
            yield Deviation(key, code, need.level, step.id, tick.start, expected, found)


def _need_words(protocol: Protocol, need: Need) -> str:
    if need.pair_open is not None:
        pair = protocol.pair[need.pair_open]
        return f"{pair.label} {pair.open_word} first"
    if need.pair_closed is not None:
        pair = protocol.pair[need.pair_closed]
        return f"{pair.label} {pair.closed_word} first"
    named = " or ".join(protocol.label(s) for s in ([need.step] if need.step else need.any_step))
    return f"{named} {'finished' if need.until == 'stop' else 'done'} first"


def _order_found(case: Case, need: Need, tick: Tick) -> tuple[str, str]:
    steps = [need.step] if need.step else list(need.any_step)
    ticks = [t for s in steps for t in case.state(s).ticks]
    running = [t for t in ticks if t.start.t <= tick.start.t and (t.stop is None or t.stop.t > tick.start.t)]
    if running and need.until == "stop":
        return "out_of_order", "still running"
    after = [t for t in ticks if t.start > tick.start]
    if after:
        return "out_of_order", f"came after, at {clock_time(min(t.start for t in after).at)}"
    return "prereq_missing", "not ticked by then"


def repeated(case: Case, now_t: float) -> Iterator[Deviation]:
    """Steps done once that were ticked again without being due again."""
    for step, tick in _ticks(case):
        if not tick.expected:
            key = f"repeated:{step.id}:{tick.seq}"
            yield Deviation(key, "repeated", "note", step.id, tick.start, "once", f"tick {tick.nth}")


# -- time


def span_times(case: Case, now_t: float) -> Iterator[Deviation]:
    """Span steps longer than the file's range, and shorter once nothing more is to be expected."""
    for step in case.protocol.all_steps():
        seconds = step_seconds(case, step, now_t) if step.minutes else None
        if seconds is None or step.minutes is None:
            continue
        low, high = step.minutes
        last = case.state(step.id).ticks[-1]
        expected, found = f"{figure(low)} to {figure(high)} min", span_words(seconds)
        when = last.stop or last.start
        if seconds > high * 60:
            yield Deviation(f"over_time:{step.id}", "over_time", "note", step.id, when, expected, found)
        elif seconds < low * 60 and last.stop and stage_over(case, step):
            yield Deviation(f"under_time:{step.id}", "under_time", "note", step.id, when, expected, found)


def clocks(case: Case, now_t: float) -> Iterator[Deviation]:
    """Clocks that reached the file's figure, or were stopped before it."""
    for run in case.clocks:
        clock, seconds = case.protocol.clock[run.clock], run.seconds(now_t)
        tail, found = f"{clock.id}:{run.start.seq}", span_words(seconds)
        if clock.min_s is not None and run.stop and seconds < clock.min_s:
            expected = f"at least {span_words(clock.min_s)}"
            yield Deviation(
                f"clock_under:{tail}", "clock_under", clock.level, clock.id, run.stop, expected, found
            )
        reached = [f for f in (clock.amber_s, clock.red_s) if f is not None and seconds >= f]
        if reached:
            when = run.stop or run.start
            yield Deviation(
                f"clock_over:{tail}", "clock_over", clock.level, clock.id, when, _limits(clock), found
            )


def _limits(clock: Clock) -> str:
    parts = [
        f"{word} from {span_words(s)}" for word, s in (("amber", clock.amber_s), ("red", clock.red_s)) if s
    ]
    return ", ".join(parts)


# -- readings


def in_caution(reading: Reading, value: ev.Scalar) -> str | None:
    """What the file says of a value outside its caution limits, as words; None inside them."""
    if isinstance(value, str):
        return "none of the choices marked in your file" if value in reading.caution_choices else None
    if isinstance(value, bool):
        word = "yes" if value else "no"
        return "the other answer" if word in reading.caution_choices else None
    if reading.caution_above is not None and value > reading.caution_above:
        return f"at most {figure(reading.caution_above)} {reading.unit}".rstrip()
    if reading.caution_below is not None and value < reading.caution_below:
        return f"at least {figure(reading.caution_below)} {reading.unit}".rstrip()
    return None


def readings_outside(case: Case, now_t: float) -> Iterator[Deviation]:
    """Readings outside the file's caution limits, each and in total."""
    for value in case.readings:
        reading = case.protocol.reading.get(value.reading)
        if reading and (expected := in_caution(reading, value.value)):
            yield _caution(reading, value, expected, value_words(reading, value.value))
    for reading in case.protocol.readings:
        if reading.caution_total_above is not None:
            yield from _total(case, reading, reading.caution_total_above)


def _caution(reading: Reading, value: Value, expected: str, found: str, kind: str = "reading") -> Deviation:
    key = f"{kind}:{reading.id}:{value.when.seq}"
    return Deviation(key, "reading_caution", "note", reading.id, value.when, expected, found)


def _total(case: Case, reading: Reading, limit: float) -> Iterator[Deviation]:
    total = 0.0
    for value in case.readings:
        if value.reading == reading.id and isinstance(value.value, int | float):
            total += value.value
            if total > limit:
                expected = f"in all at most {figure(limit)} {reading.unit}".rstrip()
                yield _caution(reading, value, expected, f"{figure(total)} {reading.unit} in all", "total")
                return


def reading_of(case: Case, tick: Tick, reading: str) -> Value | None:
    """The value of a reading that belongs to a tick: entered for it, or on its own during or after it."""
    own = [v for v in case.readings if v.reading == reading and v.tick == tick.seq]
    loose = [v for v in case.readings if v.reading == reading and v.tick is None and v.when.t >= tick.start.t]
    return next(iter([*own, *loose]), None)


def readings_missing(case: Case, now_t: float) -> Iterator[Deviation]:
    """Readings the file asks for that were not entered, once their stage is closed or the case has ended."""
    for step, tick in _ticks(case):
        over = stage_over(case, step) or (case.end.when if case.end else None)
        for wanted in step.readings if over else ():
            if wanted.required and reading_of(case, tick, wanted.id) is None:
                key = f"reading_missing:{wanted.id}:{tick.seq}"
                found = f"not entered for {step.label}"
                yield Deviation(key, "reading_missing", "note", wanted.id, tick.start, "a value", found)


# -- what goes in comes out


def unmatched(case: Case, now_t: float) -> Iterator[Deviation]:
    """Pairs still open when the file says they are closed by, or when the case ended."""
    for pair in case.protocol.pairs:
        state = case.pairs[pair.id]
        checks = [t.start for t in case.state(pair.by).ticks] or ([case.end.when] if case.end else [])
        for check in checks:
            before = PairState(tuple(m for m in state.movements if m.when < check))
            if before.open:
                key = f"unmatched:{pair.id}:{check.seq}"
                expected = f"{pair.closed_word} by {case.protocol.label(pair.by)}"
                yield Deviation(
                    key, "unmatched", pair.level, pair.id, check, expected, _pair_words(pair, before, state)
                )


def _pair_words(pair: Pair, before: PairState, after: PairState) -> str:
    n_in, n_out = before.total(+1), before.total(-1)
    found = f"{n_in} in, {n_out} out" if pair.counted and None not in (n_in, n_out) else pair.open_word
    later = [m for m in after.movements if m not in before.movements]
    return (
        f"{found}; {pair.closed_word} at {clock_time(later[-1].when.at)}"
        if later and not after.open
        else found
    )


def counts(case: Case, now_t: float) -> Iterator[Deviation]:
    """Counted lines whose final number is not what the first count and the changes make."""
    for line, said in case.counts.items():
        if said.final is None or said.expected is None or said.final == said.expected:
            continue
        when = max((e for e in case.log if _says(e, line)), key=lambda e: (e.t, e.seq))
        expected = f"{said.expected} ({said.start} + {said.added} - {said.removed})"
        key = f"count_discrepancy:{line}"
        moment = Moment(when.t, when.seq, when.at)
        yield Deviation(key, "count_discrepancy", "safety", line, moment, expected, str(said.final))


def _says(entry: Entry, line: str) -> bool:
    return isinstance(entry.event, ev.CountSaid) and line in entry.event.lines


# -- the record itself


def late_entries(case: Case, now_t: float) -> Iterator[Deviation]:
    """Entries made more than a minute after what they tell."""
    for entry in case.log:
        if entry.late_s > LATE_S:
            moment = Moment(entry.t, entry.seq, entry.at)
            found = f"{span_words(entry.late_s)} after"
            if entry.late_s > LOW_CONFIDENCE_S:
                found += ", low confidence"
            about = entry.step or entry.event.kind
            yield Deviation(
                f"late_entry:{entry.seq}", "late_entry", "note", about, moment, "at the time", found
            )


def plans_changed(case: Case, now_t: float) -> Iterator[Deviation]:
    """Case facts and decisions that became something else."""
    for change in case.changes:
        was, now = (fact_words(case.protocol, change.what, v) for v in (change.was, change.now))
        key = f"plan_changed:{change.what}:{change.when.seq}"
        expected = f"{was}, as planned" if change.planned else was
        yield Deviation(key, "plan_changed", "note", change.what, change.when, expected, now)


def complications(case: Case, now_t: float) -> Iterator[Deviation]:
    """Complications, named or not yet."""
    for trouble in case.troubles:
        about = trouble.complication or "complication"
        named = case.protocol.label(trouble.complication) if trouble.complication else "not yet named"
        found = f"{named}: {trouble.text}" if trouble.text else named
        key = f"complication:{trouble.start.seq}"
        yield Deviation(key, "complication", "note", about, trouble.start, "none", found)


RULES: Final[tuple[Rule, ...]] = (
    skipped,
    needs,
    repeated,
    span_times,
    clocks,
    readings_outside,
    readings_missing,
    unmatched,
    counts,
    late_entries,
    plans_changed,
    complications,
)
