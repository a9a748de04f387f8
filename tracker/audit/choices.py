"""The filters of the audit's screen: each a list of values that a key goes through."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from tracker.audit.population import Filters
from tracker.audit.worker import Offered

ANY: Final = "any"
AS_GIVEN: Final = "as given"


@dataclass(frozen=True, slots=True)
class Choice:
    """One filter: what it is called, and its values in words; the first is the one it begins with."""

    id: str
    label: str
    values: tuple[str, ...]


def choices(offered: Offered, given: Filters) -> tuple[Choice, ...]:
    """The filters there are, each beginning with what the command line gave."""
    facts = offered.facts or {}
    return (
        Choice("protocol", "protocol", _begin(given.protocol, offered.protocols)),
        Choice("version", "version", (ANY, *offered.versions)),
        Choice("days", "days", _days(offered, given)),
        Choice("ended", "ended", ("in the usual way", "open or stopped too")),
        *(
            Choice(f"fact:{fact}", fact.replace("_", " "), _begin(_given(given, fact), values))
            for fact, values in facts.items()
        ),
    )


def _given(given: Filters, fact: str) -> str | None:
    return " or ".join(given.facts[fact]) if fact in given.facts else None


def _begin(given: str | None, values: Sequence[str]) -> tuple[str, ...]:
    if given is None:
        return (ANY, *values)
    return (given, ANY, *(value for value in values if value != given))


def _days(offered: Offered, given: Filters) -> tuple[str, ...]:
    quarters = tuple(_quarters(offered.first_day, offered.last_day))
    if given.first_day is None and given.last_day is None:
        return (ANY, *quarters)
    return (AS_GIVEN, ANY, *quarters)


def _quarters(first: date | None, last: date | None) -> Iterator[str]:
    if first is None or last is None:
        return
    number = last.year * 4 + (last.month - 1) // 3
    while number >= first.year * 4 + (first.month - 1) // 3:
        yield f"{number // 4} Q{number % 4 + 1}"
        number -= 1


def quarter(words: str) -> tuple[date, date]:
    """The first and the last day of a quarter such as `2026 Q1`."""
    year, _, number = words.partition(" Q")
    month = 3 * int(number) - 2
    first = date(int(year), month, 1)
    after = date(first.year + month // 10, (month + 2) % 12 + 1, 1)
    return first, after - timedelta(days=1)


def filters(given: Filters, chosen: Mapping[str, str]) -> Filters:
    """The filters that the chosen values are."""
    version = None if chosen["version"] == ANY else chosen["version"]
    first, last = _between(given, chosen["days"])
    facts = {
        ident.partition(":")[2]: tuple(value.split(" or "))
        for ident, value in chosen.items()
        if ident.startswith("fact:") and value != ANY
    }
    kept = {fact: tuple(values) for fact, values in given.facts.items() if f"fact:{fact}" not in chosen}
    return replace(
        given,
        protocol=None if chosen["protocol"] == ANY else chosen["protocol"],
        first_version=version, last_version=version, first_day=first, last_day=last,
        completed=chosen["ended"] == "in the usual way", facts={**kept, **facts},
    )  # fmt: skip


def _between(given: Filters, words: str) -> tuple[date | None, date | None]:
    if words == AS_GIVEN:
        return given.first_day, given.last_day
    return (None, None) if words == ANY else quarter(words)
