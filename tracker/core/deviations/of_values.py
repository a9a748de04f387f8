"""Deviations of what was said: readings, pairs, plans, complications."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tracker.core import events as ev
from tracker.core.case import Case, Change, Moment, PairState, Tick, Value, standing_choice
from tracker.core.deviations import causes
from tracker.core.deviations.found import Deviation, due_by, not_logged_at_the_time, ticks
from tracker.core.protocol import Pair, Reading
from tracker.core.wording import clock_time, fact_words, figure, value_words

# -- readings


def in_caution(reading: Reading, value: ev.Scalar) -> str | None:
    """What the file says of a value outside its caution limits, as words; None inside them."""
    if isinstance(value, str):
        return "none of the choices marked in your file" if value in reading.caution_choices else None
    if isinstance(value, bool):
        return None
    if reading.caution_above is not None and value > reading.caution_above:
        return f"at most {figure(reading.caution_above)} {reading.unit}".rstrip()
    if reading.caution_below is not None and value < reading.caution_below:
        return f"at least {figure(reading.caution_below)} {reading.unit}".rstrip()
    if reading.plausible and not reading.plausible[0] <= value <= reading.plausible[1]:
        low, high = map(figure, reading.plausible)
        return f"{low} to {high} {reading.unit}".rstrip()
    return None


def readings_outside(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Readings outside the file's caution limits, each and in total."""
    for value in case.readings:
        reading = case.protocol.reading[value.reading]
        if expected := in_caution(reading, value.value):
            key, found = f"reading:{reading.id}:{value.when.seq}", value_words(reading, value.value)
            of = (causes.reading(value.when.seq),)
            yield Deviation(
                key, "reading_caution", "note", reading.id, value.when, expected, found, causes=of
            )
    for reading in case.protocol.readings:
        if reading.caution_total_above is not None:
            yield from _total(case, reading, reading.caution_total_above)


def _total(case: Case, reading: Reading, limit: float) -> Iterator[Deviation]:
    said = [v for v in case.readings if v.reading == reading.id and not isinstance(v.value, bool | str)]
    total, reached = 0.0, None
    for value in sorted(said, key=lambda v: v.when):
        total += float(value.value)
        reached = reached or (value.when if total > limit else None)
    if reached:
        expected = f"in all at most {figure(limit)} {reading.unit}".rstrip()
        found, key = f"{value_words(reading, total)} in all", f"total:{reading.id}"
        of = (causes.reading(reached.seq),)
        yield Deviation(key, "reading_caution", "note", reading.id, reached, expected, found, causes=of)


def reading_of(case: Case, tick: Tick, reading: str) -> Value | None:
    """The value of a reading that belongs to a tick.

    That is one entered for it, or else on its own after it and before the next tick of the same step.
    """
    its = [v for v in case.readings if v.reading == reading]
    own = [v for v in its if v.tick == tick.seq]
    loose = [v for v in its if v.tick is None and v.when > tick.start]
    if own or not loose:
        return own[0] if own else None
    following = _next_start(case, tick)
    return loose[0] if following is None or loose[0].when < following else None


def _next_start(case: Case, tick: Tick) -> Moment | None:
    same = next((s.ticks for s in case.steps.values() if any(t.seq == tick.seq for t in s.ticks)), ())
    return min((t.start for t in same if t.start > tick.start), default=None)


def readings_missing(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Readings and choices the file asks for that were not entered by when they were due.

    That is when a step that needs theirs is ticked, when their stage is closed, or when the case ends.
    """
    for step, tick in ticks(case):
        required = [w for w in step.readings if w.required]
        if not (step.choices or required) or not due_by(case, step, tick):
            continue
        for wanted in required:
            if reading_of(case, tick, wanted.id) is None:
                key, found = f"reading_missing:{wanted.id}:{tick.seq}", f"not entered for {step.label}"
                yield Deviation(key, "reading_missing", "note", wanted.id, tick.start, "a value", found)
        # A decision that nobody stated is one, however often it was ticked.
        if step.choices and tick.nth == 1 and standing_choice(case, step) is None:
            key = f"reading_missing:{step.id}:{tick.seq}"
            yield Deviation(key, "reading_missing", "note", step.id, tick.start, "a choice", "not entered")


# -- what goes in comes out


def unmatched(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Pairs still open when the file says they are closed by, or else when the case ended."""
    for pair in case.protocol.pairs:
        checks = [t.start for t in case.state(pair.by).ticks]
        found = [d for check in checks if (d := _open_at(case, pair, check))]
        if not found and case.end:
            last = _open_at(case, pair, case.end.when)
            found = [last] if last and (case.end.left or case.pairs[pair.id].open) else []
        yield from found


def _open_at(case: Case, pair: Pair, check: Moment) -> Deviation | None:
    state = case.pairs[pair.id]
    before = PairState(tuple(m for m in state.movements if m.when <= check))
    if not before.open:
        return None
    unseen = [m.when for m in state.movements if m.when > check and m.sign < 0 and m.unsure]
    key = f"unmatched:{pair.id}:{check.seq}"
    expected = f"{pair.closed_word} by {case.protocol.label(pair.by)}"
    found = _pair_words(pair, before, state)
    given = not_logged_at_the_time(unseen[0]) if unseen else None
    came_out = [m.when for m in state.movements if m.when > check and m.sign < 0]
    return Deviation(
        key, "unmatched", pair.level, pair.id, check, expected, found, given,
        causes=causes.left_in(case, pair, check),
        unsure=bool(came_out) and (check.spread or came_out[0].spread),
    )  # fmt: skip


def _pair_words(pair: Pair, before: PairState, after: PairState) -> str:
    n_in, n_out = before.total(+1), before.total(-1)
    found = f"{n_in} in, {n_out} out" if pair.counted and None not in (n_in, n_out) else pair.open_word
    later = after.movements[len(before.movements) :]
    if not later or after.open:
        return found
    if later[-1].unsure:
        return f"{found}; {pair.closed_word}, not logged at the time"
    return f"{found}; {pair.closed_word} at {clock_time(later[-1].when.at)}"


# -- minds changed, things that happened


def plans_changed(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Decisions, and the case facts that plan or switch steps, that became something else.

    What was planned and what was decided of it are one, and so is all that it went through.
    """
    changed: dict[str, list[Change]] = {}
    for change in case.changes:
        decision = case.protocol.step.get(change.what)
        about = (decision.plan_fact if decision else None) or change.what
        if about in case.wires.planned or about not in case.protocol.fact:
            changed.setdefault(about, []).append(change)
    for changes in changed.values():
        yield _went_through(case, changes)


def _went_through(case: Case, changes: Sequence[Change]) -> Deviation:
    first = changes[0]
    was = fact_words(case.protocol, first.what, first.was)
    through = [first]
    for change in changes[1:]:
        if change.now != through[-1].now:
            through.append(change)
    return Deviation(
        f"plan_changed:{first.what}:{first.when.seq}", "plan_changed", "note", first.what, first.when,
        f"{was}, as planned" if first.planned else was,
        ", then ".join(fact_words(case.protocol, c.what, c.now) for c in through),
        causes=tuple(causes.choice(c.when.seq) for c in changes),
    )  # fmt: skip


def complications(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Complications, named or not yet."""
    for trouble in case.troubles:
        about = trouble.complication or "complication"
        named = case.protocol.label(trouble.complication) if trouble.complication else "not yet named"
        found = f"{named}: {trouble.text}" if trouble.text else named
        key = f"complication:{trouble.start.seq}"
        yield Deviation(key, "complication", "note", about, trouble.start, "none", found)
