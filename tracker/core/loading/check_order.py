"""The cross-check that the needs of steps can all be met in some order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Final

from tracker.core.loading.walk import Remark, Rule, each_need, each_step
from tracker.core.protocol import Need, Protocol

_NAMED: Final = 8

Wants = Mapping[str, tuple[frozenset[str], ...]]
"""For each step the sets of steps of which at least one each must come first."""


def _asked(need: Need) -> frozenset[str]:
    return frozenset((need.step, *need.any_step) if need.step else need.any_step)


def wants(protocol: Protocol) -> Wants:
    """What each step wants first; a need that names a step not there, or no step, is left out."""
    found: dict[str, tuple[frozenset[str], ...]] = {step.id: () for _, step in each_step(protocol)}
    for _, step, need in each_need(protocol):
        asked = _asked(need)
        if asked and asked <= found.keys():
            found[step.id] += (asked,)
    return found


def stuck(wanted: Wants) -> frozenset[str]:
    """The steps that no order can reach without a need unmet."""
    waiting = {step: len(sets) for step, sets in wanted.items()}
    served: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for step, sets in wanted.items():
        for n, asked in enumerate(sets):
            for other in asked:
                served[other].append((step, n))
    ready = [step for step, count in waiting.items() if not count]
    met: set[tuple[str, int]] = set()
    for step in ready:  # grows while it is walked
        for want in set(served[step]) - met:
            met.add(want)
            waiting[want[0]] -= 1
            if not waiting[want[0]]:
                ready.append(want[0])
    return frozenset(wanted) - frozenset(ready)


def circles(wanted: Wants) -> Iterator[tuple[str, ...]]:
    """Circles of needs, each from the step of it that stands first in the file."""
    left = stuck(wanted)
    towards = {s: min(next(a for a in wanted[s] if a <= left)) for s in wanted if s in left}
    place = {step: n for n, step in enumerate(towards)}
    walked: dict[str, str] = {}
    for start in towards:
        trail, step = [], start
        while step not in walked:
            walked[step] = start
            trail.append(step)
            step = towards[step]
        if walked[step] == start:
            circle = trail[trail.index(step) :]
            first = circle.index(min(circle, key=place.__getitem__))
            yield (*circle[first:], *circle[:first])


def no_circles(protocol: Protocol) -> Iterator[Remark]:
    """Needs do not go round in a circle, and no step needs itself."""
    at = {step.id: path for path, step in each_step(protocol)}
    for circle in circles(wants(protocol)):
        shown = circle if len(circle) <= _NAMED else (*circle[: _NAMED - 1], "...", circle[-1])
        what = f"the needs go round in a circle: {' needs '.join((*shown, circle[0]))}"
        yield Remark(
            f"{at[circle[0]]}.needs",
            what if len(circle) > 1 else f"{circle[0]} needs itself",
            "Take out one of these needs",
        )


ORDER_CHECKS: Final[tuple[Rule, ...]] = (no_circles,)
"""Every cross-check of the order of steps."""
