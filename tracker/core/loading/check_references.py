"""Cross-checks of references: whatever is named somewhere is there, and values fit what they are for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Final

from tracker.core.grading import parse_grade
from tracker.core.loading.sentences import quoted
from tracker.core.loading.walk import (
    Remark,
    Rule,
    each_need,
    each_step,
    each_test,
    each_trigger,
    named,
    numbered,
)
from tracker.core.protocol import Fact, Protocol, Reading, Step, Value

_HOMES: Final = {
    "step": ("stages", "anytime"),
    "fact": ("facts",),
    "reading": ("readings",),
    "pair": ("pairs",),
    "complication": ("complications",),
    "stage": ("stages",),
}
_GUESSES: Final = 20
_GUESSABLE: Final = 500
_NAMED: Final = 20

Link = tuple[str, str, str | None]
"""Where something is named, what kind of thing, and its id."""


def _of_needs(protocol: Protocol) -> Iterator[Link]:
    for path, _, need in each_need(protocol):
        yield f"{path}.step", "step", need.step
        yield from ((f"{path}.any_step", "step", ident) for ident in dict.fromkeys(need.any_step))
        yield f"{path}.pair_open", "pair", need.pair_open
        yield f"{path}.pair_closed", "pair", need.pair_closed


def _of_triggers(protocol: Protocol) -> Iterator[Link]:
    for path, _, trigger in each_trigger(protocol):
        yield f"{path}.step", "step", trigger.step
        yield f"{path}.reading", "reading", trigger.reading
        yield f"{path}.complication", "complication", trigger.complication
        yield f"{path}.amount_from", "reading", trigger.amount_from


def _of_tests(protocol: Protocol) -> Iterator[Link]:
    for path, test in each_test(protocol):
        yield f"{path}.fact", "fact", test.fact
        yield f"{path}.decision", "step", test.decision
        yield f"{path}.pair", "pair", test.pair
        yield f"{path}.step", "step", test.step


def _of_steps(protocol: Protocol) -> Iterator[Link]:
    for path, step in each_step(protocol):
        yield f"{path}.plan_fact", "fact", step.plan_fact
        yield from ((f"{at}.id", "reading", w.id) for at, w in named(f"{path}.readings", step.readings))
        yield from ((f"{at}.fact", "fact", s.fact) for at, s in numbered(f"{path}.sets", step.sets))


def _of_loops(protocol: Protocol) -> Iterator[Link]:
    for path, loop in named("loops", protocol.loops):
        yield from ((f"{path}.steps", "step", ident) for ident in dict.fromkeys(loop.steps))
        yield from ((f"{path}.stages", "stage", ident) for ident in dict.fromkeys(loop.stages))


def _links(protocol: Protocol) -> Iterator[Link]:
    yield "planned_minutes_fact", "fact", protocol.planned_minutes_fact
    yield "list_position_fact", "fact", protocol.list_position_fact
    yield "consent_fact", "fact", protocol.consent_fact
    yield "side_fact", "fact", protocol.side_fact
    yield from ((f"{path}.by", "step", pair.by) for path, pair in named("pairs", protocol.pairs))
    yield from _of_steps(protocol)
    yield from _of_needs(protocol)
    yield from _of_triggers(protocol)
    yield from _of_tests(protocol)
    yield from _of_loops(protocol)


def _mend(kind: str, ident: str, known: list[str]) -> str:
    near = get_close_matches(ident, known, n=1)
    return f"Use the id of a {kind} of this file" + (f"; {near[0]} is the nearest" if near else "")


def nothing_dangles(protocol: Protocol) -> Iterator[Remark]:
    """Every id that is named belongs to something in the file."""
    homes: Mapping[str, Iterable[str]] = {
        "step": protocol.step.keys(),
        "fact": protocol.fact.keys(),
        "reading": protocol.reading.keys(),
        "pair": protocol.pair.keys(),
        "complication": frozenset(c.id for c in protocol.complications),
        "stage": protocol.stage_index.keys(),
    }
    loose = [(p, kind, ident) for p, kind, ident in _links(protocol) if ident and ident not in homes[kind]]
    for n, (path, kind, ident) in enumerate(loose):
        known = sorted(homes[kind])[:_GUESSABLE] if n < _GUESSES else []
        what = f"names the {kind} {ident}, which the file does not have"
        yield Remark(path, what, _mend(kind, ident, known), (ident, *_HOMES[kind]))


def _strays(path: str, values: Iterable[str], owner: Step | Fact | Reading) -> Iterator[Remark]:
    known = {choice.id: None for choice in owner.choices}
    for value in dict.fromkeys(values):
        if value not in known:
            what = f"names the choice {quoted(value)}, which {owner.id} does not have"
            mend = f"Use one of {', '.join(list(known)[:_NAMED])}"
            yield Remark(path, what, mend, (value,))


def choices_of_triggers(protocol: Protocol) -> Iterator[Remark]:
    """A trigger narrowed to choices names those of its decision or its reading."""
    for path, _, trigger in each_trigger(protocol):
        owner = protocol.step.get(trigger.step or "") or protocol.reading.get(trigger.reading or "")
        if owner and owner.choices:
            yield from _strays(f"{path}.choice", trigger.choice, owner)


def choices_of_cautions(protocol: Protocol) -> Iterator[Remark]:
    """The choices of a reading that are marked are among its choices."""
    for path, reading in named("readings", protocol.readings):
        if reading.choices:
            yield from _strays(f"{path}.caution_choices", reading.caution_choices, reading)


def _misfit(path: str, fact: Fact, value: Value) -> Iterator[Remark]:
    """Why `value` is none that `fact` can have."""
    flag = isinstance(value, bool)
    if fact.kind == "flag" and not flag:
        yield Remark(path, f"gives {quoted(value)} for {fact.id}, a yes or no", "Write true or false")
    if fact.kind == "number" and (flag or isinstance(value, str)):
        yield Remark(path, f"gives {quoted(value)} for {fact.id}, a number", "Write a number, without quotes")
    if fact.kind == "grade" and not (isinstance(value, str) and parse_grade(value)):
        what = f"gives {quoted(value)} for {fact.id}, which is no grade"
        yield Remark(path, what, "Write A, B, CP and CA with clock hours 1 to 12, as CP3, CA2 or CP3-CA2")
    if fact.kind == "choice" and not isinstance(value, str):
        yield Remark(path, f"gives {quoted(value)} for {fact.id}, a choice", "Write the id of a choice")
    if fact.kind == "choice" and isinstance(value, str) and fact.choices:
        yield from _strays(path, [value], fact)


def values_of_facts(protocol: Protocol) -> Iterator[Remark]:
    """Defaults, values set by a step and values tested for are ones the fact can have."""
    for path, fact in named("facts", protocol.facts):
        if fact.default is not None:
            yield from _misfit(f"{path}.default", fact, fact.default)
    for path, step in each_step(protocol):
        for at, change in numbered(f"{path}.sets", step.sets):
            if change.fact in protocol.fact:
                yield from _misfit(f"{at}.to", protocol.fact[change.fact], change.to)
    for path, test in each_test(protocol):
        if tested := protocol.fact.get(test.fact or ""):
            for value in {(type(v), v): v for v in test.choice}.values():  # true equals 1
                yield from _misfit(f"{path}.choice", tested, value)


def choices_of_decisions(protocol: Protocol) -> Iterator[Remark]:
    """A test of a decision names its choices."""
    for path, test in each_test(protocol):
        step = protocol.step.get(test.decision or "")
        if step and step.choices:
            yield from _strays(f"{path}.choice", (str(value) for value in test.choice), step)


def plans(protocol: Protocol) -> Iterator[Remark]:
    """The fact that holds the plan of a decision offers the choices of the decision."""
    for path, step in each_step(protocol):
        fact = protocol.fact.get(step.plan_fact or "")
        if fact is None or step.shape != "decision":
            continue
        offered, asked = {c.id for c in fact.choices}, {c.id for c in step.choices}
        if fact.kind != "choice" or offered != asked:
            yield Remark(
                f"{path}.plan_fact",
                f"the choices of {fact.id} are not those of {step.id}",
                f"Give both the same choices; they differ in {', '.join(sorted(offered ^ asked)) or 'kind'}",
                tuple(sorted(offered ^ asked)),
            )


def facts_with_a_part(protocol: Protocol) -> Iterator[Remark]:
    """Planned minutes and the place on the list are numbers, consent is a yes or no, the side is a choice."""
    wanted = (
        ("planned_minutes_fact", "number"), ("list_position_fact", "number"),
        ("consent_fact", "flag"), ("side_fact", "choice"),
    )  # fmt: skip
    for key, kind in wanted:
        fact = protocol.fact.get(getattr(protocol, key) or "")
        if fact and fact.kind != kind:
            yield Remark(key, f"{fact.id} is of kind {fact.kind}", f"Name a fact of kind {kind}")


REFERENCE_CHECKS: Final[tuple[Rule, ...]] = (
    nothing_dangles,
    choices_of_triggers,
    choices_of_cautions,
    values_of_facts,
    choices_of_decisions,
    plans,
    facts_with_a_part,
)
"""Every cross-check of references and of the values given for facts."""
