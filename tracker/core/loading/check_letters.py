"""Letters that could mean two things to a tired hand. A file with such letters works; `protocol check` says them.

They are no findings of a file that cannot be used: the live screen asks for a letter once more where its step is
not on the screen. But the fewer such letters a file has, the less is asked.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from tracker.core.loading.walk import Remark, Rule, each_choices, named
from tracker.core.protocol import Protocol

NEIGHBOURS: Final = 3
"""So many stages in a row share one set of letters: the one shown, the one before, the one after."""


def letters_of_neighbours(protocol: Protocol) -> Iterator[Remark]:
    """Within any three neighbouring stages a letter means one step."""
    found = [
        (path, step.id, step.key, n)
        for n, (at, stage) in enumerate(named("stages", protocol.stages))
        for path, step in named(f"{at}.steps", stage.steps)
        if step.key
    ]
    last: dict[str, tuple[str, int]] = {}
    for path, ident, key, n in found:
        before, stage = last.get(key, ("", -NEIGHBOURS))
        if 0 < n - stage < NEIGHBOURS:
            other = protocol.stages[stage].label
            what = (
                f"the key {key} is also that of {before}, in the stage {other}, {n - stage} before this one"
            )
            yield Remark(
                f"{path}.key", what, "Give another key: three neighbouring stages share their letters"
            )
        last[key] = ident, n


def letters_of_loops(protocol: Protocol) -> Iterator[Remark]:
    """The steps of a loop share no letter with the steps of the stages they stay in."""
    for path, loop in named("loops", protocol.loops):
        for stage in loop.stages:
            beside = protocol.stages[protocol.stage_index[stage]].steps
            taken = {s.key: s.id for s in beside if s.key}
            for ident in loop.steps:
                owner = taken.get(protocol.step[ident].key or "")
                if owner not in (None, ident):
                    what = f"{ident} and {owner} have the same key and are shown together in {stage}"
                    yield Remark(f"{path}.steps", what, "Give one of them another key")


def letters_of_choices(protocol: Protocol) -> Iterator[Remark]:
    """A choice has one letter in the whole file, and a letter it is: digits are figures everywhere."""
    places = [(at, c) for path, choices in each_choices(protocol) for at, c in named(path, choices)]
    for at, choice in places:
        if choice.key.isdigit():
            yield Remark(
                f"{at}.key", f"the answer {choice.id} has the digit {choice.key}", "Give it a letter"
            )
    by_id = sorted(places, key=lambda each: each[1].id)
    for (first, one), (second, other) in pairwise(by_id):
        if one.id == other.id and one.key != other.key:
            what = f"the answer {other.id} has the key {other.key} here and {one.key} at {first}"
            yield Remark(f"{second}.key", what, "Give one choice one letter in the whole file")


LETTER_CHECKS: Final[tuple[Rule, ...]] = (letters_of_neighbours, letters_of_loops, letters_of_choices)
"""Every remark on letters."""
