"""Deviations of the steps themselves: left out, out of order, ticked again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from tracker.core.case import (
    Case,
    Given,
    Moment,
    Tick,
    due_marks,
    in_case,
    lines_said,
    lines_unsaid,
    satisfied,
)
from tracker.core.deviations import causes
from tracker.core.deviations.found import Deviation, not_logged_at_the_time, stage_over, ticks
from tracker.core.protocol import Level, Need, Protocol, Step
from tracker.core.wording import clock_time

NO_TICK = "no tick"


# -- what was left out


def skipped(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Steps without a tick, once that can be told: never optional ones, unmet conditions, other choices.

    It can be told when a step that needs it is ticked, when its stage is closed, or when the case comes to
    its usual end; of a case that stopped early only what was passed over before it stopped.
    """
    passed = _passed(case)
    missing = [s for s in case.protocol.step.values() if _missing(case, s)]
    for step in missing:
        if step.group is None or case.state(step.id).done:
            yield from _skipped_step(case, step, passed)
    for group in dict.fromkeys(s.group for s in missing if s.group):
        others = [s for s in missing if s.group == group and not case.state(s.id).done]
        if others:
            yield from _skipped_group(case, group, others, passed)


def _missing(case: Case, step: Step) -> bool:
    return (
        not satisfied(case, step)
        and step.occurrence != "optional"
        and step.id in case.protocol.stage_of
        and in_case(case, step)
    )


def _passed(case: Case) -> Mapping[str, Sequence[Moment]]:
    """By step, when it was passed over: the ticks of what needs it, before the case was stopped."""
    stopped = case.end.stopped if case.end else None
    passed: dict[str, list[Moment]] = {}
    for _, tick in ticks(case):
        for need in tick.unmet if stopped is None or tick.start < stopped else ():
            for step in _wanting(case.protocol, need):
                passed.setdefault(step, []).append(tick.start)
    return passed


def _wanting(protocol: Protocol, need: Need) -> Sequence[str]:
    if need.step is not None:
        return (need.step,)
    # Of several steps that would do, none can be said to be the one left out, unless they are one choice.
    groups = {protocol.step[s].group for s in need.any_step}
    return need.any_step if len(groups) == 1 and None not in groups else ()


def _skipped_step(case: Case, step: Step, passed: Mapping[str, Sequence[Moment]]) -> Iterator[Deviation]:
    marks = due_marks(case, step)
    since = marks[0].since if marks else None
    needed = [m for m in passed.get(step.id, ()) if since is None or m > since]
    concluded = min(needed, default=None) or stage_over(case, step, since)
    if concluded is not None:
        key = f"skipped:{step.id}:{since.seq}" if since else f"skipped:{step.id}"
        expected = f"again: {marks[0].reason}" if marks else "a tick"
        last = case.state(step.id).last
        yield Deviation(
            key, "skipped", skip_level(case.protocol, step), step.id, concluded, expected, NO_TICK,
            causes=(causes.missed(case, step), *([causes.unconfirmed(since.seq)] if since else [])),
            unsure=since is not None and (since.spread or (last is not None and last.start.spread)),
        )  # fmt: skip


def _skipped_group(
    case: Case, group: str, others: Sequence[Step], passed: Mapping[str, Sequence[Moment]]
) -> Iterator[Deviation]:
    needed = [m for s in others for m in passed.get(s.id, ())]
    over = [stage_over(case, s) for s in others]
    known = [m for m in over if m is not None]
    concluded = min(needed, default=None) or (max(known) if len(known) == len(over) else None)
    if concluded is not None:
        level: Level = "safety" if "safety" in {skip_level(case.protocol, s) for s in others} else "order"
        labels = ", ".join(s.label for s in others)
        expected = f"one of: {labels}" if len(others) > 1 else "a tick"
        yield Deviation(
            f"skipped:one_of:{group}", "skipped", level, others[0].id, concluded, expected, NO_TICK,
            causes=(causes.missed(case, others[0]),),
        )  # fmt: skip


def skip_level(protocol: Protocol, step: Step) -> Level:
    """How serious the file takes a step's absence: as the strongest need that anything has of it."""
    strong = any(
        need.level == "safety" and step.id in (need.step, *need.any_step)
        for other in protocol.step.values()
        for need in other.needs
    )
    return "safety" if strong else "order"


# -- order


def needs(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Ticks that came before what the file says comes first; out of order once that has come after all.

    Where what was needed is said to have been done but not logged, that is the reason until another is given.
    """
    for step, tick in ticks(case):
        for need in tick.unmet:
            order = _order_found(case, need, tick)
            expected = f"{need_words(case.protocol, need)}: {need.reason}"
            key = f"need:{step.id}<{_about(need)}:{tick.seq}"
            # Where nothing came before or after there is no order to judge, whoever chose the time.
            unsure = bool(order.beside) and (tick.start.spread or any(m.spread for m in order.beside))
            yield Deviation(
                key, order.code, need.level, step.id, tick.start, expected, order.found, order.given,
                causes=order.causes, unsure=unsure,
            )  # fmt: skip


def _about(need: Need) -> str:
    named = need.step or need.pair_open or need.pair_closed or "+".join(need.any_step)
    return f"{named}.stop" if need.until == "stop" else named


def need_words(protocol: Protocol, need: Need) -> str:
    """What a need asks for, in words."""
    if need.pair_open is not None:
        pair = protocol.pair[need.pair_open]
        return f"{pair.label} {pair.open_word} first"
    if need.pair_closed is not None:
        pair = protocol.pair[need.pair_closed]
        return f"{pair.label} {pair.closed_word} first"
    named = " or ".join(protocol.label(s) for s in ([need.step] if need.step else need.any_step))
    return f"{named} {'finished' if need.until == 'stop' else 'done'} first"


class _Order(Struct, frozen=True, gc=False):
    """How a need was not met: the code and the words, what it came of, the moments it was compared with."""

    code: str
    found: str
    causes: tuple[str, ...]
    beside: tuple[Moment, ...] = ()
    given: Given | None = None


def _order_found(case: Case, need: Need, tick: Tick) -> _Order:
    if need.pair_open is not None or need.pair_closed is not None:
        return _pair_found(case, need, tick)
    steps = [case.protocol.step[s] for s in ([need.step] if need.step else need.any_step)]
    its = sorted(((t, s) for s in steps for t in case.state(s.id).ticks), key=lambda couple: couple[0].start)
    before = [(t, s) for t, s in its if t.start < tick.start]
    after = [t for t, _ in its if t.start > tick.start]
    still = [(t, s) for t, s in before if t.stop is None or t.stop > tick.start]
    if need.until == "stop" and still:
        stops = tuple(t.stop or t.start for t, _ in still)
        return _Order("out_of_order", "still running", (causes.running(still[-1][1], still[-1][0]),), stops)
    if before:
        last, step = before[-1]
        if order := _unsaid_by(case, step, last, tick):
            return order
    of = (causes.none_of(case, steps, tick.start),)
    if after:
        beside = (after[0].start, *(t.start for t, _ in before[-1:]))
        return _Order("out_of_order", f"came after, at {clock_time(after[0].start.at)}", of, beside)
    states = [case.state(s.id) for s in steps]
    unseen = [s.not_logged for s in states if s.not_logged and s.not_logged > tick.start]
    if unseen:
        given = not_logged_at_the_time(min(unseen))
        return _Order("prereq_missing", "done, not logged at the time", of, given=given)
    if before:
        beside = (last.start, *_due_since(case, step, last, tick))
        found = f"ticked at {clock_time(last.start.at)}, due again since"
        return _Order("prereq_missing", found, of, beside)
    return _Order("prereq_missing", "not ticked by then", of)


def _unsaid_by(case: Case, step: Step, last: Tick, tick: Tick) -> _Order | None:
    """That a count was ticked before and its figures were not said by then; None for any other step."""
    if step.count is None:
        return None
    state = case.state(step.id)
    asked = [t for t in state.ticks if t.expected and t.start <= last.start][-1:] or [last]
    its = [t for t in state.ticks if asked[0].start <= t.start < tick.start]
    lines = lines_unsaid(case, step, lines_said(its, by=tick.start), by=tick.start)
    if not lines:
        return None
    of, ticked = (causes.unsaid(step, asked[0]),), f"ticked at {clock_time(last.start.at)}"
    after = [
        when for t in state.ticks if t.start >= asked[0].start for _, when in t.counted if when > tick.start
    ]
    if after:
        given = f"{ticked}, figures given at {clock_time(min(after).at)}"
        return _Order("out_of_order", given, of, tuple(after))
    named = ", ".join(map(case.protocol.label, lines))
    missing = f"no figure for {named}" if lines_said(its, by=tick.start) else "figures not given"
    return _Order("prereq_missing", f"{ticked}, {missing}", of)


def _due_since(case: Case, step: Step, last: Tick, tick: Tick) -> Iterator[Moment]:
    """What may have made a step due again between its last tick and the tick that needed it."""
    for again in step.due_again:
        for other in case.state(again.step or "").ticks:
            yield from (m for m in (other.start, other.stop) if m and last.start < m < tick.start)


def _pair_found(case: Case, need: Need, tick: Tick) -> _Order:
    ident, sign = (need.pair_open, +1) if need.pair_open is not None else (need.pair_closed, -1)
    pair = case.protocol.pair[ident or ""]
    word, still = (pair.open_word, pair.closed_word) if sign > 0 else (pair.closed_word, pair.open_word)
    of = (causes.not_in if sign > 0 else causes.left_in)(case, pair, tick.start)
    moved = case.pairs[pair.id].movements
    after = [m for m in moved if m.sign == sign and m.when > tick.start]
    beside = tuple(m.when for m in (*[m for m in moved if m.when < tick.start][-1:], *after[:1]))
    if not after:
        return _Order("prereq_missing", f"{still} at that time", of, beside)
    if after[0].unsure:
        given = not_logged_at_the_time(after[0].when)
        return _Order("prereq_missing", f"{word}, not logged at the time", of, given=given)
    return _Order("out_of_order", f"{word} after, at {clock_time(after[0].when.at)}", of, beside)


def repeated(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Steps done once that were ticked again without being due again."""
    for step, tick in ticks(case):
        if not tick.expected:
            key = f"repeated:{step.id}:{tick.seq}"
            of = (causes.choice(tick.seq),) if tick.choice else ()
            found = f"tick {tick.nth}"
            yield Deviation(key, "repeated", "note", step.id, tick.start, "once", found, causes=of)
