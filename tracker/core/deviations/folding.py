"""One cause, one line: deviations that came of the same are folded into one, with the others beneath it.

The line that stays is the one of the highest level, of those the earliest, and of those what lacks itself
before what needed it. A reason given for any of them is the reason of all, also one given while a step was
still missing that has been ticked since.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from msgspec.structs import replace

from tracker.core.case import Case, Given
from tracker.core.deviations.causes import choice
from tracker.core.deviations.found import Deviation

ORDER: Final[dict[str, int]] = {"safety": 0, "order": 1, "note": 2}
_FIRST: Final = {"skipped": 0, "count_unsaid": 0, "unmatched": 1}
"""At one and the same moment what lacks itself stands before what needed it."""


def folded(case: Case, found: Iterable[Deviation]) -> list[Deviation]:
    """One line a cause, in no order yet, each with its reason if one was given."""
    return [_line(case, group) for group in _groups(found)]


def _groups(found: Iterable[Deviation]) -> list[list[Deviation]]:
    """The deviations parted so that any two which share a cause are together."""
    groups: dict[int, list[Deviation]] = {}
    where: dict[str, int] = {}
    for n, deviation in enumerate(found):
        known = {where[c] for c in deviation.causes if c in where}
        groups[n] = [*(d for k in sorted(known) for d in groups.pop(k)), deviation] if known else [deviation]
        for cause in {c for d in groups[n] for c in d.causes} if known else deviation.causes:
            where[cause] = n
    return list(groups.values())


def _line(case: Case, group: Sequence[Deviation]) -> Deviation:
    if len(group) == 1 and not case.reasons:
        return group[0]
    first, *rest = sorted(
        group, key=lambda d: (ORDER[d.level], d.when.t, d.when.seq, _FIRST.get(d.code, 2), d.key)
    )
    given = _reason(case, [first, *rest])
    return replace(first, given=given or first.given, beneath=tuple(rest)) if given or rest else first


def _reason(case: Case, group: Sequence[Deviation]) -> Given | None:
    if not case.reasons:
        return None
    given = next((case.reasons[d.key] for d in group if d.key in case.reasons), None)
    if given:
        return given
    told = _once_told(case)
    return next((told[c] for d in group for c in d.causes if c in told), None)


def _once_told(case: Case) -> Mapping[str, Given]:
    """Reasons given under a key that is no more, by their cause: a missing step may have been ticked since."""
    found: dict[str, Given] = {}
    at = {e.seq: e for e in case.log}
    for key, given in case.reasons.items():
        code, _, about = key.partition(":")
        ident, _, since = about.partition(":")
        if code == "plan_changed" and since.isdecimal():
            # Each change of a plan had a line of its own in earlier programs.
            found[choice(int(since))] = given
        if code != "skipped":
            continue
        if ident == "one_of":
            found[f"missed:{about}"] = given
        elif (step := case.protocol.step.get(ident)) is not None:
            mark = at.get(int(since)) if since.isdecimal() else None
            ticks = [
                t.seq for t in case.state(ident).ticks if mark and (t.start.t, t.seq) < (mark.t, mark.seq)
            ]
            found[f"missed:{step.id}:{ticks[-1] if ticks else ''}"] = given
    return found
