"""The case facts that a list is planned with: as tables hold them, or refused where no case can have them."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from tracker.core.grading import parse_grade
from tracker.core.protocol import Fact, Protocol
from tracker.core.wording import figure
from tracker.journal.trouble import Trouble

Facts = Mapping[str, Sequence[str]]
"""Values as text by fact, any of which will do."""


class NotPlanned(Trouble):
    """No list can be planned so; the text says what no file and no past case knows."""


def as_recorded(ident: str, file: Protocol | None, facts: Facts, met: Mapping[str, Collection[str]]) -> Facts:
    """The facts as past cases have them in text; `met` are the values that such cases have, by fact.

    Raises:
        NotPlanned: neither the protocol file nor a past case knows the fact, or the value of it.
    """
    asked = file.fact if file else {}
    return {
        fact: tuple(_value(ident, fact, asked.get(fact), value, met[fact]) for value in values)
        for fact, values in facts.items()
    }


def _value(ident: str, fact: str, asked: Fact | None, value: str, met: Collection[str]) -> str:
    if value in met:
        return value
    if asked is None and not met:
        raise NotPlanned(f"Neither the file of {ident} nor a past case of it has a case fact {fact}.")
    told = _text(asked, value) if asked else None
    if told is None:
        known = _help(asked) if asked else ", ".join(sorted(met)[:12])
        raise NotPlanned(f"The case fact {fact} of {ident} cannot be {value}: it is {known}.")
    return told


def _text(fact: Fact, value: str) -> str | None:
    """A value that a fact may have, in the text of the tables; None where it may not."""
    match fact.kind:
        case "choice":
            return value if any(value == choice.id for choice in fact.choices) else None
        case "flag":
            return value if value in ("yes", "no") else None
        case "grade":
            return value.upper() if parse_grade(value) else None
        case "number":
            return _number(fact, value)


def _number(fact: Fact, value: str) -> str | None:
    try:
        number = float(value)
    except ValueError:
        return None
    low, high = fact.plausible or (-math.inf, math.inf)
    return figure(number) if math.isfinite(number) and low <= number <= high else None


def _help(fact: Fact) -> str:
    match fact.kind:
        case "choice":
            return " or ".join(choice.id for choice in fact.choices)
        case "flag":
            return "yes or no"
        case "grade":
            return "a grade as A, B or CP3-CA2"
        case "number":
            within = (
                f" from {figure(fact.plausible[0])} to {figure(fact.plausible[1])}" if fact.plausible else ""
            )
            return f"a number{within}" + (f" {fact.unit}" if fact.unit else "")
