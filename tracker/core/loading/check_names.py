"""Cross-checks of names: ids given once, keys that do not clash, sources that are listed."""

from __future__ import annotations

import re
import typing
from collections.abc import Iterable, Iterator
from typing import Final

from tracker.core.loading.walk import Named, Remark, Rule, each_choices, each_step, named
from tracker.core.protocol import RESERVED_KEYS, Protocol

_SOURCE_LIST: Final = re.compile(r"[A-Z]{1,3}\d*[a-z]?(?:(?:,? and|[,;])? [A-Z]{1,3}\d*[a-z]?)*")
_SOURCE: Final = re.compile(r"[A-Z]{1,3}\d*[a-z]?")

Items = Iterable[tuple[str, Named]]


class _Sourced(Named, typing.Protocol):
    @property
    def source(self) -> str: ...


def _twice(kind: str, items: Items) -> Iterator[Remark]:
    seen: set[str] = set()
    for path, item in items:
        if item.id in seen:
            yield Remark(path, f"the id {item.id} is given to more than one {kind}", "Give each its own id")
        seen.add(item.id)


def ids_once(protocol: Protocol) -> Iterator[Remark]:
    """An id stands for one thing of its kind; steps share one set of ids across all stages."""
    yield from _twice("stage", named("stages", protocol.stages))
    yield from _twice("step", each_step(protocol))
    yield from _twice("fact", named("facts", protocol.facts))
    yield from _twice("role", named("roles", protocol.roles))
    yield from _twice("reading", named("readings", protocol.readings))
    yield from _twice("counted line", named("counted", protocol.counted))
    yield from _twice("loop", named("loops", protocol.loops))
    yield from _twice("clock", named("clocks", protocol.clocks))
    yield from _twice("pair", named("pairs", protocol.pairs))
    yield from _twice("reason", named("reasons", protocol.reasons))
    yield from _twice("complication", named("complications", protocol.complications))


def inner_ids_once(protocol: Protocol) -> Iterator[Remark]:
    """A choice stands once in its list, a reading once at a step."""
    for path, choices in each_choices(protocol):
        yield from _twice("choice", named(path, choices))
    for path, step in each_step(protocol):
        yield from _twice("reading of this step", named(f"{path}.readings", step.readings))


def _clashes(where: str, keyed: Iterable[tuple[str, str, str | None]]) -> Iterator[Remark]:
    first: dict[str, str] = {}
    for path, ident, key in keyed:
        if key is not None and first.setdefault(key, ident) != ident:
            yield Remark(
                f"{path}.key", f"the key {key} is already that of {first[key]} {where}", "Give another key"
            )


def step_keys(protocol: Protocol) -> Iterator[Remark]:
    """A key means one step within a stage, and steps of no stage share one set."""
    for path, stage in named("stages", protocol.stages):
        steps = named(f"{path}.steps", stage.steps)
        yield from _clashes("in the same stage", ((at, s.id, s.key) for at, s in steps))
    anytime = named("anytime", protocol.anytime)
    yield from _clashes("among the steps of no stage", ((at, s.id, s.key) for at, s in anytime))


def anytime_keys(protocol: Protocol) -> Iterator[Remark]:
    """Keys of steps of no stage are capitals, and no staged step takes one of them."""
    taken = {s.key: s.id for s in protocol.anytime if s.key}
    for path, step in named("anytime", protocol.anytime):
        if step.key and not step.key.isupper():
            yield Remark(
                f"{path}.key", f"the key {step.key} of a step of no stage is not a capital", "Give a capital"
            )
    for path, stage in named("stages", protocol.stages):
        for at, step in named(f"{path}.steps", stage.steps):
            if step.key in taken:
                what = f"the key {step.key} is already that of {taken[step.key]}, which belongs to no stage"
                yield Remark(f"{at}.key", what, "Give another key")


def reserved_keys(protocol: Protocol) -> Iterator[Remark]:
    """The live screen keeps a few keys for itself."""
    for path, step in each_step(protocol):
        if step.key in RESERVED_KEYS:
            yield Remark(
                f"{path}.key", f"the key {step.key} belongs to the live screen itself", "Give another key"
            )


def answer_keys(protocol: Protocol) -> Iterator[Remark]:
    """A key means one answer within a list of choices, reasons or complications."""
    for path, choices in each_choices(protocol):
        yield from _clashes("in the same list", ((at, c.id, c.key) for at, c in named(path, choices)))
    reasons = named("reasons", protocol.reasons)
    yield from _clashes("in the same list", ((at, r.id, r.key) for at, r in reasons))
    complications = named("complications", protocol.complications)
    yield from _clashes("in the same list", ((at, c.id, c.key) for at, c in complications))


def decision_keys(protocol: Protocol) -> Iterator[Remark]:
    """A decision's answers share no key with a step shown beside them: the next tick is never an answer."""
    shown = [
        (f"{path}.steps", stage.steps, (*protocol.anytime, *stage.steps))
        for path, stage in named("stages", protocol.stages)
    ]
    shown.append(("anytime", protocol.anytime, tuple(protocol.all_steps())))
    for path, steps, beside in shown:
        taken = {s.key: s.id for s in beside if s.key}
        for at, step in named(path, steps):
            for where, choice in named(f"{at}.choices", step.choices):
                if choice.key in taken or choice.key.isdigit():
                    owner = taken.get(choice.key, "a figure")
                    what = f"the key {choice.key} of an answer is also that of {owner}"
                    yield Remark(f"{where}.key", what, "Give the answer a letter that no step beside it has")


def _cited(protocol: Protocol) -> Iterator[tuple[str, str]]:
    parts: Iterable[tuple[str, _Sourced]] = (
        *each_step(protocol),
        *named("stages", protocol.stages),
        *named("facts", protocol.facts),
        *named("readings", protocol.readings),
        *named("clocks", protocol.clocks),
        *named("pairs", protocol.pairs),
        *named("complications", protocol.complications),
    )
    return ((path, part.source) for path, part in parts)


def sources_listed(protocol: Protocol) -> Iterator[Remark]:
    """Where `source` holds nothing but source names, as `S30, S31b`, each is listed under `sources`.

    A sentence is left alone: in it SF6 or UK is no source.
    """
    for path, text in _cited(protocol):
        for name in _SOURCE.findall(text) if _SOURCE_LIST.fullmatch(text) else ():
            if name not in protocol.sources:
                yield Remark(
                    f"{path}.source",
                    f"names the source {name}, which is not listed",
                    f"List {name} under sources, or write the source out",
                    (f"sources.{name}", "sources"),
                )


KEY_CHECKS: Final[tuple[Rule, ...]] = (step_keys, anytime_keys, reserved_keys, answer_keys, decision_keys)
"""Rules about keys: they matter while a case is logged."""
NAME_CHECKS: Final[tuple[Rule, ...]] = (ids_once, inner_ids_once, *KEY_CHECKS, sources_listed)
"""Every cross-check of names."""
