"""Deviations of the steps themselves: left out, out of order, ticked again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from tracker.core.case import Case, Given, Moment, Tick, due_marks, in_case, satisfied
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
        level = skip_level(case.protocol, step)
        yield Deviation(key, "skipped", level, step.id, concluded, expected, NO_TICK)


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
            f"skipped:one_of:{group}", "skipped", level, others[0].id, concluded, expected, NO_TICK
        )


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
            code, found, given = _order_found(case, need, tick)
            expected = f"{need_words(case.protocol, need)}: {need.reason}"
            key = f"need:{step.id}<{_about(need)}:{tick.seq}"
            yield Deviation(key, code, need.level, step.id, tick.start, expected, found, given)


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


def _order_found(case: Case, need: Need, tick: Tick) -> tuple[str, str, Given | None]:
    if need.pair_open is not None or need.pair_closed is not None:
        return _pair_found(case, need, tick)
    states = [case.state(s) for s in ([need.step] if need.step else need.any_step)]
    its = sorted((t for state in states for t in state.ticks), key=lambda t: t.start)
    before, after = [t for t in its if t.start < tick.start], [t for t in its if t.start > tick.start]
    if need.until == "stop" and any(t.stop is None or t.stop > tick.start for t in before):
        return "out_of_order", "still running", None
    if after:
        return "out_of_order", f"came after, at {clock_time(after[0].start.at)}", None
    unseen = [s.not_logged for s in states if s.not_logged and s.not_logged > tick.start]
    if unseen:
        return "prereq_missing", "done, not logged at the time", not_logged_at_the_time(min(unseen))
    if before:
        return "prereq_missing", f"ticked at {clock_time(before[-1].start.at)}, due again since", None
    return "prereq_missing", "not ticked by then", None


def _pair_found(case: Case, need: Need, tick: Tick) -> tuple[str, str, Given | None]:
    ident, sign = (need.pair_open, +1) if need.pair_open is not None else (need.pair_closed, -1)
    pair = case.protocol.pair[ident or ""]
    word, still = (pair.open_word, pair.closed_word) if sign > 0 else (pair.closed_word, pair.open_word)
    after = [m for m in case.pairs[pair.id].movements if m.sign == sign and m.when > tick.start]
    if not after:
        return "prereq_missing", f"{still} at that time", None
    if after[0].unsure:
        return "prereq_missing", f"{word}, not logged at the time", not_logged_at_the_time(after[0].when)
    return "out_of_order", f"{word} after, at {clock_time(after[0].when.at)}", None


def repeated(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Steps done once that were ticked again without being due again."""
    for step, tick in ticks(case):
        if not tick.expected:
            key = f"repeated:{step.id}:{tick.seq}"
            yield Deviation(key, "repeated", "note", step.id, tick.start, "once", f"tick {tick.nth}")
