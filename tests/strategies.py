"""Hypothesis strategies for sound protocols: whatever they draw passes every check."""

from __future__ import annotations

import string
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from hypothesis import strategies as st

from tracker.core.protocol import (
    Choice,
    Clock,
    Complication,
    Condition,
    Counted,
    DueAgain,
    Fact,
    Need,
    Pair,
    Protocol,
    Range,
    Reading,
    Reason,
    Role,
    Sets,
    Stage,
    Step,
    Test,
    Trigger,
    Value,
    Wanted,
)
from tracker.core.text import looks_like_markup

Draw = st.DrawFn

_LETTERS = st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
_LISTED = {"S1": "Journal of the Eye 1991;1:1", "CP": "common practice, no source"}
_EVENTS = ("handover_unconfirmed", "count_changed", "operator")


def texts(longest: int, shortest: int = 0) -> st.SearchStrategy[str]:
    """Text that a protocol may hold: showable, no markup, no blank at either end."""
    drawn = st.text(_LETTERS, min_size=shortest, max_size=longest).map(str.strip)
    return drawn.filter(lambda text: len(text) >= shortest and not looks_like_markup(text))


LABELS = texts(72, 1)
PROSE = texts(60) | st.just("first line\nsecond line") | texts(1200)
SOURCES = st.sampled_from(["", "S1", "S1, CP", "CP"]) | texts(40).map(lambda text: f"see {text}".strip())
NUMBERS = st.integers(-1000, 1000).map(float) | st.floats(-1e9, 1e9)
SECONDS = st.integers(1, 172_800).map(float) | st.floats(0.001, 172_800)


@dataclass
class Cast:
    """What has been drawn so far and may be referred to."""

    numbers: count[int] = field(default_factory=count)
    facts: list[Fact] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    complications: list[Complication] = field(default_factory=list)
    pairs: list[str] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)

    def ident(self, draw: Draw, kind: str) -> str:
        """An id that nothing else has."""
        return f"{kind}{draw(st.text('abc_0', max_size=20))}_{next(self.numbers)}"


def _some(draw: Draw, items: tuple[Any, ...] | list[Any], shortest: int = 0) -> tuple[Any, ...]:
    longest = min(3, len(items))
    if longest == 0:
        return ()
    return tuple(draw(st.lists(st.sampled_from(items), min_size=shortest, max_size=longest, unique_by=id)))


def _range(draw: Draw, low: float = -1e9) -> Range:
    first, second = draw(st.lists(NUMBERS.filter(lambda n: n >= low), min_size=2, max_size=2))
    return min(first, second), max(first, second)


def _choices(
    draw: Draw, cast: Cast, free: str = string.ascii_lowercase + string.digits
) -> tuple[Choice, ...]:
    keys = draw(st.lists(st.sampled_from(free), min_size=1, max_size=4, unique=True))
    return tuple(Choice(id=cast.ident(draw, "c"), label=draw(LABELS), key=key) for key in keys)


GRADES = st.sampled_from(["A", "B", "CP1", "CP12 type 1,3", "CA4", "CP3-CA2", "CP3 type 2-CA2 type 4,5"])


def _value(draw: Draw, kind: str, choices: tuple[Choice, ...], plausible: Range | None) -> Value:
    if kind == "choice":
        return draw(st.sampled_from(choices)).id
    if kind == "number":
        return draw(st.floats(*plausible) if plausible else NUMBERS)
    if kind == "flag":
        return draw(st.booleans())
    return draw(GRADES)


def _fact(draw: Draw, cast: Cast, kind: str, choices: tuple[Choice, ...]) -> Fact:
    plausible = _range(draw) if kind == "number" and draw(st.booleans()) else None
    return Fact(
        id=cast.ident(draw, "f"),
        label=draw(LABELS),
        kind=kind,
        choices=choices,
        default=_value(draw, kind, choices, plausible),
        unit=draw(texts(16)),
        plausible=plausible,
        source=draw(SOURCES),
        remark=draw(PROSE),
    )


def _any_fact(draw: Draw, cast: Cast) -> Fact:
    kind = draw(st.sampled_from(["choice", "number", "flag", "grade"]))
    return _fact(draw, cast, kind, _choices(draw, cast) if kind == "choice" else ())


def _limits(draw: Draw) -> dict[str, Any]:
    low, below, first, second, above, high = sorted(draw(st.lists(NUMBERS, min_size=6, max_size=6)))
    given = {
        "plausible": (low, high),
        "usual": (first, second),
        "caution_below": below,
        "caution_above": above,
        "caution_total_above": draw(NUMBERS),
    }
    return {key: value for key, value in given.items() if draw(st.booleans())}


def _reading(draw: Draw, cast: Cast) -> Reading:
    kind = draw(st.sampled_from(["number", "choice", "flag"]))
    extra: dict[str, Any] = {}
    if kind == "number":
        extra = _limits(draw)
    if kind == "choice":
        choices = _choices(draw, cast)
        extra = {"choices": choices, "caution_choices": tuple(c.id for c in _some(draw, choices))}
    ident, label = cast.ident(draw, "r"), draw(LABELS)
    return Reading(id=ident, label=label, kind=kind, unit=draw(texts(16)), source=draw(SOURCES), **extra)


def _step_trigger(draw: Draw, step: Step) -> dict[str, Any]:
    edge = draw(st.sampled_from(["start", "stop"])) if step.shape == "span" else "start"
    return {"step": step.id, "edge": edge, "choice": tuple(c.id for c in _some(draw, step.choices))}


def _reading_trigger(draw: Draw, reading: Reading) -> dict[str, Any]:
    given: dict[str, Any] = {"reading": reading.id}
    given["choice"] = tuple(c.id for c in _some(draw, reading.choices))
    if reading.kind == "number" and draw(st.booleans()):
        given["above"] = draw(NUMBERS)
    elif reading.kind == "number" and draw(st.booleans()):
        given["at_most"] = draw(NUMBERS)
    return given


def _amount(draw: Draw, cast: Cast) -> dict[str, Any]:
    numbers = [r.id for r in cast.readings if r.kind == "number"]
    if draw(st.booleans()) and numbers:
        return {"amount_from": draw(st.sampled_from(numbers))}
    return {"amount": draw(st.none() | st.integers(0, 1_000_000))}


def _trigger(draw: Draw, cast: Cast, counted: bool = False) -> dict[str, Any]:
    extra = _amount(draw, cast) if counted else {}
    kind = draw(st.sampled_from(["step", "reading", "event", "complication"]))
    if kind == "step" and cast.steps:
        return _step_trigger(draw, draw(st.sampled_from(cast.steps))) | extra
    if kind == "reading" and cast.readings:
        return _reading_trigger(draw, draw(st.sampled_from(cast.readings))) | extra
    if kind == "complication" and cast.complications:
        return {"complication": draw(st.sampled_from(cast.complications)).id} | extra
    return {"event": draw(st.sampled_from(_EVENTS))} | extra


def _triggers(draw: Draw, cast: Cast, counted: bool = False) -> tuple[Trigger, ...]:
    return tuple(Trigger(**_trigger(draw, cast, counted)) for _ in range(draw(st.integers(1, 2))))


def _fact_test(draw: Draw, fact: Fact) -> dict[str, Any]:
    if fact.kind == "number" and draw(st.booleans()):
        return {"fact": fact.id, "at_least": draw(NUMBERS)}
    drawn = [_value(draw, fact.kind, fact.choices, None) for _ in range(draw(st.integers(1, 2)))]
    return {"fact": fact.id, "choice": tuple(drawn)}


def _test(draw: Draw, cast: Cast) -> Test:
    kind, negate = draw(st.sampled_from(["fact", "decision", "pair", "step"])), draw(st.booleans())
    decisions = [step for step in cast.steps if step.shape == "decision"]
    if kind == "decision" and decisions:
        step = draw(st.sampled_from(decisions))
        chosen = tuple(c.id for c in _some(draw, step.choices, 1))
        return Test(decision=step.id, choice=chosen, negate=negate)
    if kind == "pair" and cast.pairs:
        state = draw(st.sampled_from(["open", "ever_open"]))
        return Test(pair=draw(st.sampled_from(cast.pairs)), state=state, negate=negate)
    if kind == "step" and cast.steps:
        return Test(step=draw(st.sampled_from(cast.steps)).id, state="ticked", negate=negate)
    return Test(**_fact_test(draw, draw(st.sampled_from(cast.facts))), negate=negate)


def _condition(draw: Draw, cast: Cast) -> Condition:
    every = tuple(_test(draw, cast) for _ in range(draw(st.integers(0, 2))))
    either = tuple(_test(draw, cast) for _ in range(draw(st.integers(0 if every else 1, 2))))
    return Condition(all=every, any=either)


def _need(draw: Draw, cast: Cast) -> Need:
    level, reason = draw(st.sampled_from(["safety", "order"])), draw(PROSE)
    kind = draw(st.sampled_from(["step", "any_step", "pair_open", "pair_closed"]))
    if kind in ("pair_open", "pair_closed") and cast.pairs:
        return Need(**{kind: draw(st.sampled_from(cast.pairs))}, level=level, reason=reason)
    asked = _some(draw, cast.steps, 1)
    spans = any(step.shape == "span" for step in asked)
    until = draw(st.sampled_from(["start", "stop"])) if spans else "start"
    if len(asked) > 1:
        return Need(any_step=tuple(s.id for s in asked), until=until, level=level, reason=reason)
    return Need(step=asked[0].id, until=until, level=level, reason=reason)


def _of_shape(draw: Draw, cast: Cast, beside: str) -> dict[str, Any]:
    shape = draw(st.sampled_from(["point", "span", "decision", "reading", "count"]))
    readings = _some(draw, cast.readings, int(shape == "reading"))
    given: dict[str, Any] = {"shape": shape}
    given["readings"] = tuple(Wanted(id=r.id, required=draw(st.booleans())) for r in readings)
    if shape == "span" and draw(st.booleans()):
        given["minutes"] = _range(draw, 0)
    if shape == "count":
        given["count"] = draw(st.sampled_from(["opening", "closing", "check"]))
    if shape == "decision":
        free = "".join(key for key in string.ascii_lowercase if key not in beside)
        given["choices"] = _choices(draw, cast, free)
        if draw(st.booleans()):
            cast.facts.append(_fact(draw, cast, "choice", given["choices"]))
            given["plan_fact"] = cast.facts[-1].id
    return given


def _sets(draw: Draw, cast: Cast) -> tuple[Sets, ...]:
    facts = _some(draw, cast.facts)
    return tuple(Sets(fact=f.id, to=_value(draw, f.kind, f.choices, f.plausible)) for f in facts)


def _step(draw: Draw, cast: Cast, key: str | None, group: str | None, beside: str) -> Step:
    ordinary = st.sampled_from(["once", "repeat", "optional"])
    needs = tuple(_need(draw, cast) for _ in range(draw(st.integers(0, 2)) if cast.steps else 0))
    again = range(draw(st.integers(0, 1)))
    step = Step(
        id=cast.ident(draw, "s"),
        label=draw(LABELS),
        key=key,
        occurrence="one_of" if group else draw(ordinary),
        group=group,
        repeats=draw(st.booleans()),
        when=_condition(draw, cast) if draw(st.booleans()) else None,
        needs=needs,
        due_again=tuple(DueAgain(**_trigger(draw, cast), reason=draw(PROSE)) for _ in again),
        sets=_sets(draw, cast),
        source=draw(SOURCES),
        remark=draw(PROSE),
        **_of_shape(draw, cast, beside),
    )
    cast.steps.append(step)
    return step


def _steps(draw: Draw, cast: Cast, keys: str, beside: str = "") -> tuple[Step, ...]:
    """Steps with keys of their own; no answer has one of them, nor one of the keys `beside`."""
    drawn = draw(st.lists(st.sampled_from(keys), min_size=1, max_size=4, unique=True))
    group = cast.ident(draw, "g") if len(drawn) > 1 and draw(st.booleans()) else None
    beside += "".join(drawn)
    return tuple(_step(draw, cast, draw(st.sampled_from([key, None])), group, beside) for key in drawn)


def _clock(draw: Draw, cast: Cast) -> Clock:
    amber, red = sorted(draw(st.lists(SECONDS, min_size=2, max_size=2, unique=True)))
    limits = draw(st.sampled_from([{}, {"min_s": amber}, {"amber_s": amber, "red_s": red}, {"red_s": red}]))
    return Clock(
        id=cast.ident(draw, "k"),
        label=draw(LABELS),
        start=_triggers(draw, cast),
        stop=_triggers(draw, cast),
        level=draw(st.sampled_from(["safety", "order", "note"])),
        source=draw(SOURCES),
        **limits,
    )


def _pair(draw: Draw, cast: Cast, ident: str) -> Pair:
    counted = draw(st.booleans())
    return Pair(
        id=ident,
        label=draw(LABELS),
        opens=_triggers(draw, cast, counted),
        closes=_triggers(draw, cast, counted),
        by=draw(st.sampled_from(cast.steps)).id,
        counted=counted,
        open_word=draw(LABELS),
        source=draw(SOURCES),
    )


def _keyed(draw: Draw, cast: Cast, model: type[Any], **more: Any) -> tuple[Any, ...]:
    keys = draw(st.lists(st.sampled_from(string.ascii_lowercase), max_size=3, unique=True))
    return tuple(model(id=cast.ident(draw, "n"), label=draw(LABELS), key=key, **more) for key in keys)


def _unkeyed(draw: Draw, cast: Cast, model: type[Any], **more: Any) -> tuple[Any, ...]:
    return tuple(
        model(id=cast.ident(draw, "n"), label=draw(LABELS), **more) for _ in range(draw(st.integers(0, 2)))
    )


@st.composite
def protocols(draw: Draw) -> Protocol:
    """A sound protocol with any of the parts of the format."""
    cast = Cast()
    cast.facts = [_any_fact(draw, cast) for _ in range(draw(st.integers(1, 3)))]
    cast.readings = [_reading(draw, cast) for _ in range(draw(st.integers(1, 3)))]
    cast.complications = list(_keyed(draw, cast, Complication, source=draw(SOURCES)))
    cast.pairs = [cast.ident(draw, "p") for _ in range(draw(st.integers(0, 2)))]
    stages = tuple(
        Stage(id=cast.ident(draw, "t"), label=draw(LABELS), steps=_steps(draw, cast, string.ascii_lowercase))
        for _ in range(draw(st.integers(1, 2)))
    )
    staged = "".join(step.key or "" for stage in stages for step in stage.steps)
    anytime = _steps(draw, cast, "ABCXYZ", staged) if draw(st.booleans()) else ()
    minutes = [f.id for f in cast.facts if f.kind == "number"]
    flags = [f.id for f in cast.facts if f.kind == "flag"]
    sides = [f.id for f in cast.facts if f.kind == "choice"]
    return Protocol(
        format=1,
        id=draw(st.from_regex(r"[a-z][a-z0-9\-]{0,39}", fullmatch=True)),
        version=draw(st.from_regex(r"[0-9A-Za-z][0-9A-Za-z.\-]{0,19}", fullmatch=True)),
        title=draw(LABELS),
        reviewed_by=draw(texts(120)),
        summary=draw(PROSE),
        sources=_LISTED,
        planned_minutes_fact=draw(st.sampled_from([None, *minutes])),
        consent_fact=draw(st.sampled_from([None, *flags])),
        side_fact=draw(st.sampled_from([None, *sides])),
        facts=tuple(cast.facts),
        roles=_unkeyed(draw, cast, Role, post=draw(st.sampled_from(["circulating", "operator", "other"]))),
        readings=tuple(cast.readings),
        counted=_unkeyed(draw, cast, Counted),
        stages=stages,
        anytime=anytime,
        clocks=tuple(_clock(draw, cast) for _ in range(draw(st.integers(0, 2)))),
        pairs=tuple(_pair(draw, cast, ident) for ident in cast.pairs),
        reasons=_keyed(draw, cast, Reason),
        complications=tuple(cast.complications),
    )
