"""What an entry says, as facts that can be compared with what was meant, and whether a screen shows it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from bench.intentions import Intention

Fact = tuple[Any, ...]

FRAME = frozenset({"opened", "resumed"})
"""Written by the program itself, not by a key."""

NOT_STRUCK = frozenset({"opened", "resumed", "facts", "strike", "move", "back_stamp", "reason"})
"""What the strike key passes over."""

_ENVELOPE = frozenset({"seq", "at", "entered_at", "elapsed_ms", "run", "role", "kind", "ref"})


def facts_of(event: Any, by_seq: Mapping[int, Any]) -> tuple[Fact, ...]:
    """What an entry says. `by_seq` finds the entry that it points at."""
    target = by_seq.get(event.ref) if event.ref is not None else None
    match event.kind:
        case "tick":
            told: list[Fact] = [("tick", event.step)]
            return tuple([*told, ("choice", event.step, event.choice)] if event.choice else told)
        case "start" | "stop" | "not_logged":
            return ((event.kind, event.step),)
        case "choice":
            return (("choice", getattr(target, "step", ""), event.choice),)
        case "reading":
            return (("reading", event.reading, event.value),)
        case "count":
            return (("count", getattr(target, "step", ""), tuple(sorted(event.lines.items()))),)
        case "not_needed":
            why: list[Fact] = [("reason", event.step, event.reason)] if event.reason else []
            return (("not_needed", event.step), *why)
        case "reason":
            parts = event.deviation.split(":")
            return (("reason", parts[1] if parts[0] == "not_needed" else event.deviation, event.reason),)
        case "handover":
            return (("handover", event.incoming, event.counts_confirmed),)
        case "note":
            return (("note",),)
        case "strike":
            return (("strike", event.ref),)
    said = {k: v for k, v in event.model_dump().items() if k not in _ENVELOPE and v not in ("", None)}
    return ((event.kind, *(str(v) for v in said.values())),)


def meant_by(intention: Intention) -> tuple[Fact, ...]:
    """What an intention wants in the journal."""
    step, value = intention.step, intention.value
    match intention.kind:
        case "tick" | "start" | "stop":
            return ((intention.kind, step),)
        case "decide":
            return (("tick", step), ("choice", step, value))
        case "read":
            return (("reading", intention.about, value),)
        case "read_now":
            return (("tick", step), ("reading", intention.about, value))
        case "count":
            return (("tick", step), ("count", step, tuple(sorted(intention.figures))))
        case "not_needed":
            return (("not_needed", step), ("reason", step, value))
        case "hand_over":
            return (("handover", value, True), ("handover_accepted",))
    return {
        "operator": (("operator", value),),
        "note": (("note",),),
        "bookmark": (("bookmark",),),
        "pause": (("paused",),),
        "go_on": (("continued",),),
        "complication": (("complication",),),
        "name": (("complication_detail", value),),
        "dealt": (("complication_closed",),),
        "opened": (("count_change", intention.about, str(value)),),
    }.get(intention.kind, ())


def subject(fact: Fact) -> Fact:
    """What a fact with a value is about: another value of the same is an answer, though not the one meant."""
    if fact[0] in ("choice", "reading", "count", "reason"):
        return fact[:2]
    return fact[:1] if fact[0] in ("handover", "operator", "complication_detail") else ()


# -- the screen


def shown(event: Any, case: Any, text: str) -> bool:
    """Whether the drawn `text` tells of an entry: by the line of the last one, or by its step's own word."""
    by_seq = {e.seq: e for e in case.events}
    target = by_seq.get(event.ref) if event.ref is not None else None
    of_target = event.kind in ("choice", "strike", "move", "back_stamp")
    at = (target if of_target and target is not None else event).at
    told = re.escape(f"{at:%H:%M:%S},")
    for label, words in _words(event, target, case):
        if re.search(f"{told}[^:]*: .{{0,3}}{re.escape(label)} ?{words}", text):
            return True
    return _by_state(event, case, text)


def _words(event: Any, target: Any, case: Any) -> Sequence[tuple[str, str]]:
    """The label and the word (a pattern) by which the line of the last entry tells of it."""
    label = case.protocol.label
    match event.kind:
        case "tick":
            return ((label(event.step), "ticked"),)
        case "start":
            return ((label(event.step), "started"),)
        case "stop":
            return ((label(event.step), "stopped"),)
        case "not_needed" | "not_logged":
            return ((label(event.step), event.kind.replace("_", " ")),)
        case "choice":
            return ((label(target.step), "ticked: "),)
        case "reading":
            return ((label(event.reading), ""),)
        case "operator":
            return ((label(event.operator), "operating"),)
        case "count_change":
            return ((label(event.line), f"[+-]{abs(event.delta)}"),)
        case "complication_detail" if event.complication:
            return ((label(event.complication), "complication"),)
        case "stage_closed":
            return ((label(event.stage), "closed"),)
        case "strike":
            step = getattr(target, "step", None)
            return ((label(step) if step else "", ".{0,30}struck"),)
    words = {
        "paused": "paused", "continued": "goes on", "count": "count said", "reason": "reason kept",
        "facts": "case facts", "note": "note kept", "complication_closed": "complication dealt with",
        "complication": "complication", "handover": "hand-over", "bookmark": "bookmark",
        "handover_accepted": "hand-over acknowledged", "stopped_early": "stopped early",
    }  # fmt: skip
    return (("", words.get(event.kind, event.kind.replace("_", " "))),)


def _by_state(event: Any, case: Any, text: str) -> bool:
    """Whether the list of steps, or the line of what runs, tells of an entry that is not the last one."""
    if event.kind == "complication":
        return "Complication" in text and "not yet named" in text
    if event.kind == "paused":
        return "Paused" in text
    if event.kind == "complication_detail" and event.complication:
        label = re.escape(case.protocol.label(event.complication))
        return re.search(label + ".{0,12}complication", text) is not None
    step = getattr(event, "step", None)
    if step is None or event.kind == "move":
        return False
    near = re.escape(case.protocol.label(step)) + ".{0,6}? "
    if event.kind in ("not_needed", "not_logged"):
        return re.search(near + "(done, not logged|not needed)", text) is not None
    if event.kind == "start":
        return re.search(near + r"(running|\d:\d\d)", text) is not None
    ticks = len(case.state(step).ticks)
    # One tick is known by its time, one too many by how many there are.
    told = rf"\d\d:\d\d x{ticks}\b" if ticks > 1 else f"{event.at:%H:%M}"
    return re.search(f"{near}ticked {told}", text) is not None
