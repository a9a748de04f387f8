"""Cross-checks of shape: which keys belong together, and which part must not be empty."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tracker.core.loading.walk import Remark, Rule, each_need, each_step, each_test, each_trigger, named
from tracker.core.protocol import Clock, Need, Pair, Part, Protocol, Test

_TRIGGER: Final = ("step", "reading", "event", "complication")
_TEST: Final = ("fact", "decision", "pair", "step")
_NEED: Final = ("step", "any_step", "pair_open", "pair_closed")


def _exactly_one(path: str, part: Part, keys: tuple[str, ...]) -> Iterator[Remark]:
    given = [key for key in keys if getattr(part, key)]
    if len(given) != 1:
        what = f"has {' and '.join(given)} together" if given else f"has none of {', '.join(keys)}"
        mend = f"Give exactly one of {', '.join(keys)}"
        yield Remark(path, what, mend, () if given else (f"{path}.*",))


def one_subject(protocol: Protocol) -> Iterator[Remark]:
    """A trigger, a test and a need each speak of exactly one thing."""
    for path, _, trigger in each_trigger(protocol):
        yield from _exactly_one(path, trigger, _TRIGGER)
    for path, test in each_test(protocol):
        yield from _exactly_one(path, test, _TEST)
    for path, _, need in each_need(protocol):
        yield from _exactly_one(path, need, _NEED)


def _only(path: str, holds: bool, given: bool, key: str, where: str) -> Iterator[Remark]:
    """`key` stands only where it has a meaning."""
    if given and not holds:
        yield Remark(f"{path}.{key}", f"belongs only {where}", "Take it out")


def _and_only(path: str, holds: bool, given: bool, key: str, where: str) -> Iterator[Remark]:
    """`key` stands where it has a meaning, and only there."""
    yield from _only(path, holds, given, key, where)
    if holds and not given:
        what = f"has no {key}, which belongs {where}"
        yield Remark(path, what, f"Add {key}", (f"{path}.*", f"{path}.{key}.*"))


def trigger_words(protocol: Protocol) -> Iterator[Remark]:
    """`edge`, `choice`, `above` and `at_most` narrow only what they can narrow."""
    for path, _, trigger in each_trigger(protocol):
        step, reading = protocol.step.get(trigger.step or ""), protocol.reading.get(trigger.reading or "")
        if not (step or reading or trigger.event or trigger.complication):
            continue
        span = step is not None and step.shape == "span"
        number = reading is not None and reading.kind == "number"
        closed = (reading is not None and reading.kind == "choice") or (
            step is not None and step.shape == "decision"
        )
        yield from _only(path, span, trigger.edge == "stop", "edge", "to the stop of a span")
        yield from _only(path, closed, bool(trigger.choice), "choice", "to a decision or a choice reading")
        yield from _only(path, number, trigger.above is not None, "above", "to a number reading")
        yield from _only(path, number, trigger.at_most is not None, "at_most", "to a number reading")


def amounts(protocol: Protocol) -> Iterator[Remark]:
    """Amounts belong to counted pairs, come from number readings, and are said once."""
    for path, owner, trigger in each_trigger(protocol):
        counted = isinstance(owner, Pair) and owner.counted
        yield from _only(path, counted, trigger.amount is not None, "amount", "to a counted pair")
        yield from _only(path, counted, bool(trigger.amount_from), "amount_from", "to a counted pair")
        if trigger.amount is not None and trigger.amount_from:
            yield Remark(path, "has amount and amount_from together", "Give one of them")
        reading = protocol.reading.get(trigger.amount_from or "")
        if reading and reading.kind != "number":
            what = f"takes its amount from {reading.id}, which is no number"
            yield Remark(f"{path}.amount_from", what, "Name a reading of kind number")


def condition_words(protocol: Protocol) -> Iterator[Remark]:
    """`choice`, `at_least` and `state` stand in a test of the things they speak of."""
    for path, test in each_test(protocol):
        fact = protocol.fact.get(test.fact or "")
        decision = protocol.step.get(test.decision or "")
        number = fact is not None and fact.kind == "number"
        if fact or decision:
            yield from _only(path, number, test.at_least is not None, "at_least", "to a number fact")
            if not test.choice and test.at_least is None:
                yield Remark(path, "does not say which values satisfy it", "Add choice", (f"{path}.*",))
        if decision and decision.shape != "decision":
            yield Remark(f"{path}.decision", f"{decision.id} is no decision", "Name a decision step")
        yield from _states(path, test)


def _states(path: str, test: Test) -> Iterator[Remark]:
    if not (test.pair or test.step):
        yield from _only(path, False, test.state is not None, "state", "to a pair or a step")
        return
    yield from _only(path, False, bool(test.choice), "choice", "to a fact or a decision")
    yield from _only(path, False, test.at_least is not None, "at_least", "to a number fact")
    if test.pair and test.state not in ("open", "ever_open"):
        what = "does not say which state is meant"
        yield Remark(path, what, "Give the state open or ever_open", (f"{path}.*",))
    if test.step and test.state not in (None, "ticked"):
        yield Remark(f"{path}.state", "a step has no such state", "Give the state ticked")


def _spans_asked(protocol: Protocol, need: Need) -> bool:
    steps = [protocol.step.get(ident) for ident in (need.step, *need.any_step) if ident]
    return any(step is None or step.shape == "span" for step in steps)


def need_words(protocol: Protocol) -> Iterator[Remark]:
    """A need that waits for a stop asks for spans."""
    for path, _, need in each_need(protocol):
        spans = _spans_asked(protocol, need)
        yield from _only(path, spans, need.until == "stop", "until", "to needs of spans")


def step_words(protocol: Protocol) -> Iterator[Remark]:
    """Each shape and occurrence of a step has the keys that go with it, and no others."""
    for path, step in each_step(protocol):
        yield from _only(path, step.shape == "span", step.minutes is not None, "minutes", "to spans")
        decision = step.shape == "decision"
        yield from _and_only(path, decision, bool(step.choices), "choices", "to decisions")
        yield from _only(path, decision, bool(step.plan_fact), "plan_fact", "to decisions")
        yield from _and_only(path, step.shape == "count", bool(step.count), "count", "to counts")
        yield from _and_only(path, step.occurrence == "one_of", bool(step.group), "group", "to one_of steps")
        if step.shape == "reading" and not step.readings:
            what = "has no readings, although it is of shape reading"
            yield Remark(path, what, "Add the readings to take", (f"{path}.*", f"{path}.readings.*"))


def kinds(protocol: Protocol) -> Iterator[Remark]:
    """Facts and readings have choices where they are choices, and numbers where they are numbers."""
    for path, fact in named("facts", protocol.facts):
        yield from _and_only(path, fact.kind == "choice", bool(fact.choices), "choices", "to choice facts")
        yield from _only(path, fact.kind == "number", fact.plausible is not None, "plausible", "to numbers")
    for path, reading in named("readings", protocol.readings):
        choice = reading.kind == "choice"
        yield from _and_only(path, choice, bool(reading.choices), "choices", "to choice readings")
        yield from _only(path, choice, bool(reading.caution_choices), "caution_choices", "to choice readings")
        for key in ("plausible", "usual", "caution_below", "caution_above", "caution_total_above"):
            given = getattr(reading, key) is not None
            yield from _only(path, reading.kind == "number", given, key, "to number readings")


def groups(protocol: Protocol) -> Iterator[Remark]:
    """A group of which one is done holds at least two steps."""
    for path, step in each_step(protocol):
        if step.group and len(protocol.groups[step.group]) < 2:
            what = f"the group {step.group} holds this step alone"
            yield Remark(f"{path}.group", what, "Give a second step the same group", (step.group,))


def case_ends(protocol: Protocol) -> Iterator[Remark]:
    """At most one step starts the case, and at most one ends it."""
    for key in ("starts_case", "ends_case"):
        for path, step in [(p, s) for p, s in each_step(protocol) if getattr(s, key)][1:]:
            yield Remark(f"{path}.{key}", f"{step.id} is not the first with {key}", "Leave it with one step")


def _empty(path: str, part: Clock | Pair, keys: tuple[str, str]) -> Iterator[Remark]:
    for key in keys:
        if not getattr(part, key):
            yield Remark(f"{path}.{key}", "is empty", "Give at least one trigger", (f"{path}.{key}.*",))


def nothing_empty(protocol: Protocol) -> Iterator[Remark]:
    """A protocol has stages, a stage steps, a clock and a pair two ends, and a condition tests."""
    if not protocol.stages:
        yield Remark("stages", "the protocol has no stages", "Add a stage with steps", ("stages", "stages.*"))
    for path, stage in named("stages", protocol.stages):
        if not stage.steps:
            yield Remark(path, f"the stage {stage.id} has no steps", "Add a step", (f"{path}.steps.*",))
    for path, clock in named("clocks", protocol.clocks):
        yield from _empty(path, clock, ("start", "stop"))
    for path, pair in named("pairs", protocol.pairs):
        yield from _empty(path, pair, ("opens", "closes"))
    for path, step in each_step(protocol):
        if step.when and not (step.when.all or step.when.any):
            hinges = (f"{path}.when.all.*", f"{path}.when.any.*")
            yield Remark(f"{path}.when", "holds no tests", "Add a test, or take it out", hinges)


SHAPE_CHECKS: Final[tuple[Rule, ...]] = (
    one_subject,
    trigger_words,
    amounts,
    condition_words,
    need_words,
    step_words,
    kinds,
    groups,
    case_ends,
    nothing_empty,
)
"""Every cross-check of what belongs together."""
