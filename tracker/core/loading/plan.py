"""The list of a day from text to values: what is the matter with it is findings, nothing raises."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from msgspec import Struct
from pydantic import ValidationError

from tracker.core.day_plan import PLAN_FORMAT, Plan, PlannedPlace, clock_minutes, day_of
from tracker.core.findings import Finding
from tracker.core.grading import parse_grade
from tracker.core.loading import toml_table
from tracker.core.loading.lines import Path, key_lines, line_of
from tracker.core.loading.mismatch import Said, problems_of, sayings
from tracker.core.loading.places import Raw, spoken
from tracker.core.loading.sentences import quoted
from tracker.core.protocol import Fact, Protocol
from tracker.core.text import identifying, shown
from tracker.core.wording import figure

Remark = tuple[Path, str, str]
"""Where in the file, what, and how to mend it."""


class Files(Struct, frozen=True):
    """What a list is held against: the protocol of an id, which ids there are, and why a text is no case code.

    `protocol` gives None for one that is not there or has findings of its own.
    """

    protocol: Callable[[str], Protocol | None]
    known: tuple[str, ...]
    no_code: Callable[[str], str | None]


class LoadedPlan(Struct, frozen=True):
    """What came of a list: the plan, or at least one finding, never both."""

    plan: Plan | None
    findings: tuple[Finding, ...]


def load_plan(text: str, name: str, files: Files) -> LoadedPlan:
    """The list `name` that a text holds, or everything that is the matter with it; raises nothing."""
    try:
        plan, said = _load(text, name, files)
    except RecursionError:
        plan, said = None, ((0, "", "nests brackets too deeply", "Write it flatter"),)
    return LoadedPlan(plan, tuple(sorted({Finding(f"{shown(name)}.toml", *each) for each in said})))


def kept_plan(text: str) -> Plan | None:
    """The plan that the first line of a list's book holds; None where this program cannot read it."""
    try:
        raw, said = toml_table(text)
        return None if said or _newer(raw) else Plan.model_validate(raw)
    except (ValidationError, RecursionError):
        return None


def _newer(raw: Raw) -> bool:
    made_for = raw.get("format")
    return isinstance(made_for, int) and made_for > PLAN_FORMAT


def _load(text: str, name: str, files: Files) -> tuple[Plan | None, tuple[Said, ...]]:
    raw, said = toml_table(text)
    persons = tuple(_persons(text))
    if said:
        return None, (*said, *persons)
    lines = key_lines(text)
    if _newer(raw):
        what = f"is made for a newer Clockhour: this one reads lists up to format {PLAN_FORMAT}"
        return None, ((line_of(lines, ("format",)), "format", what, "Update the program"),)
    plan, reason = _validated(raw)
    problems = problems_of(raw, reason) if reason else ()
    found = [*_remarks(raw, {p.path for p in problems}, name, files)]
    # A line that names a person has one finding for it, whatever else the model says of the same text.
    named = {line for line, *_ in persons}
    told = [
        s
        for s in sayings(Plan, raw, problems, lines)
        if not (s[0] in named and "take it out" in s[3].lower())
    ]
    told += [(line_of(lines, path), spoken(raw, path), what, mend) for path, what, mend in found]
    return (None if told or persons else plan), (*told, *persons)


def _validated(raw: Raw) -> tuple[Plan | None, ValidationError | None]:
    try:
        return Plan.model_validate(raw), None
    except ValidationError as reason:
        return None, reason


def _persons(text: str) -> Iterator[Said]:
    """Every line that seems to tell of a person, a comment too: the whole text goes into the book of the day."""
    for number, line in enumerate(text.splitlines(), 1):
        key, equals, rest = line.partition("=")
        told = rest.partition("#")[2] if equals and key.strip() == "day" else line
        if found := identifying(told):
            yield number, "", f"holds {' and '.join(found)}", "Take it out: a list holds case codes only"


# -- what the parts of a list are to each other and to the protocol files


def _remarks(raw: Raw, amiss: set[Path], name: str, files: Files) -> Iterator[Remark]:
    if ("day",) not in amiss and "day" in raw and (day := day_of(name)) and _day(raw) != day.isoformat():
        yield (
            ("day",),
            f"is not the day that the file is named for, {day.isoformat()}",
            "Make the two the same",
        )
    places = [*_items(raw, "places", amiss)]
    if not raw.get("places"):
        yield (), "has no place on it", "Add a table [[places]] with a protocol for each case"
    yield from _twice(((*at, "code"), p.get("code")) for at, p in places)
    reasons = [*_items(raw, "reasons", amiss)]
    for key in ("id", "key"):
        yield from _twice(((*at, key), r.get(key)) for at, r in reasons)
    yield from _order(raw, places, amiss)
    for at, place in places:
        yield from _of_place(at, place, amiss, files)


def _day(raw: Raw) -> str:
    value = raw["day"]
    return value if isinstance(value, str) else str(value.isoformat())


def _items(raw: Raw, key: str, amiss: set[Path]) -> Iterator[tuple[Path, Mapping[str, Any]]]:
    items = raw.get(key)
    for n, item in enumerate(items if isinstance(items, list) else ()):
        if isinstance(item, dict) and (key, n) not in amiss:
            yield (key, n), item


def _twice(found: Iterable[tuple[Path, Any]]) -> Iterator[Remark]:
    named = [(path, value) for path, value in found if isinstance(value, str)]
    for value, n in Counter(value for _, value in named).items():
        if n > 1:
            later = [path for path, its in named if its == value][1:]
            yield from ((path, f"{quoted(value)} is there {n} times", "Keep it once") for path in later)


def _order(raw: Raw, places: Iterable[tuple[Path, Mapping[str, Any]]], amiss: set[Path]) -> Iterator[Remark]:
    """Planned starts go on in the order of the list, none of them before the session."""
    before = _minute(raw, ("start",), amiss)
    for at, place in places:
        minute = _minute(place, (*at, "start"), amiss)
        if minute is not None and before is not None and minute < before:
            yield (
                (*at, "start"),
                "is before the start of what comes before it",
                "Write the planned starts in order",
            )
        before = before if minute is None else minute


def _minute(table: Mapping[str, Any], path: Path, amiss: set[Path]) -> int | None:
    told = table.get("start")
    if told is None or path in amiss:
        return None
    return clock_minutes(told if isinstance(told, str) else f"{told:%H:%M}")


def _of_place(at: Path, place: Mapping[str, Any], amiss: set[Path], files: Files) -> Iterator[Remark]:
    code, ident = place.get("code"), place.get("protocol")
    if isinstance(code, str) and (*at, "code") not in amiss and (why := files.no_code(code)):
        yield (*at, "code"), f"{quoted(code)} cannot be a case code", why.rstrip(".")
    if not isinstance(ident, str) or (*at, "protocol") in amiss:
        return
    protocol = files.protocol(ident)
    if protocol is None and ident in files.known:
        yield (
            (*at, "protocol"),
            "this protocol file has findings",
            f"Mend what clockhour protocol check {ident} says",
        )
    elif protocol is None:
        near = get_close_matches(ident, files.known, n=1)
        mend = (
            f"Write {near[0]}"
            if near
            else f"Write one of {', '.join(files.known) or 'the protocols there are'}"
        )
        yield (*at, "protocol"), f"there is no protocol {quoted(ident)}", mend
    else:
        facts = place.get("facts")
        known = facts.items() if isinstance(facts, dict) else ()
        yield from _of_facts((*at, "facts"), known, amiss, protocol)
        asked, minutes = protocol.fact.get(protocol.planned_minutes_fact or ""), place.get("minutes")
        if (
            asked
            and minutes is not None
            and (*at, "minutes") not in amiss
            and (wanted := unfit(asked, minutes))
        ):
            yield (
                (*at, "minutes"),
                f"{quoted(minutes)} is not what the file of {ident} takes",
                f"Write {wanted}",
            )


def _of_facts(
    at: Path, facts: Iterable[tuple[str, Any]], amiss: set[Path], protocol: Protocol
) -> Iterator[Remark]:
    told = {
        protocol.planned_minutes_fact: "minutes of the place",
        protocol.list_position_fact: "order of the list",
    }
    for ident, value in facts:
        path, fact = (*at, ident), protocol.fact.get(ident)
        if path in amiss:
            continue
        if fact is None:
            near = get_close_matches(ident, protocol.fact, n=1)
            mend = (
                f"Write {near[0]}"
                if near
                else f"Write one of {', '.join(protocol.fact) or 'its facts, of which it has none'}"
            )
            yield path, f"{protocol.id} has no such case fact", mend
        elif ident in told:
            yield path, f"comes from the {told[ident]}", "Take it out here"
        elif (wanted := unfit(fact, value)) is not None:
            yield path, f"{fact.label} cannot be {quoted(value)}", f"Write {wanted}"


def unfit(fact: Fact, value: Any) -> str | None:
    """What a fact wants, where `value` is not that; None where it fits."""
    match fact.kind:
        case "choice":
            ids = [choice.id for choice in fact.choices]
            return None if isinstance(value, str) and value in ids else " or ".join(f'"{i}"' for i in ids)
        case "flag":
            return None if isinstance(value, bool) else "true or false"
        case "grade":
            return None if isinstance(value, str) and parse_grade(value) else 'a grade, as "B" or "CP3-CA2"'
        case "number":
            return _unfit_number(fact, value)


def _unfit_number(fact: Fact, value: Any) -> str | None:
    low, high = fact.plausible or (-1e9, 1e9)
    if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
        return None
    within = f" from {figure(low)} to {figure(high)}" if fact.plausible else ""
    return f"a number{within} {fact.unit}".rstrip()


def given(place: PlannedPlace, position: int, protocol: Protocol) -> dict[str, bool | int | float | str]:
    """The facts that a list gives a case: those it states, its minutes and its place. What no longer fits is not."""
    stated = {
        f: str(v).upper() if protocol.fact[f].kind == "grade" else v
        for f, v in place.facts.items()
        if f in protocol.fact
    }
    if protocol.planned_minutes_fact and place.minutes is not None:
        stated[protocol.planned_minutes_fact] = place.minutes
    if protocol.list_position_fact:
        stated[protocol.list_position_fact] = position
    fitting = {f: v for f, v in stated.items() if f in protocol.fact and unfit(protocol.fact[f], v) is None}
    return {f: int(v) if isinstance(v, float) and v.is_integer() else v for f, v in fitting.items()}
