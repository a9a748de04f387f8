"""A case told in a few lines, for tests: the protocol in the user's own file format, the events as a story.

A line is `HH:MM:SS [+N] KIND ...`: the time the thing happened, and how many seconds later the key was
pressed. A line's place in the story, from 1, is its sequence number, which is how later lines point at it.

    09:00:00 open                     09:20:00 strike 3            09:40:00 complication [ID]
    09:00:00 facts lens=phakic        09:20:00 move 3 ports        09:41:00 detail 7 ID [words]
    09:01:00 tick sign_in             09:20:00 back 3 120          09:42:00 dealt_with 7
    09:01:00 tick dye blue            09:20:00 choose 3 oil        09:50:00 handover scrub counted
    09:02:00 start block              09:20:00 read mmHg=25 [3]    09:50:00 handover scrub uncounted
    09:04:00 stop block               09:20:00 count 3 swab=10     09:51:00 accept 9
    09:05:00 +60 tick ports           09:20:00 swab +5             09:52:00 operator fellow
    09:06:00 not_needed block [why]   09:20:00 close ID            09:53:00 pause / continue
    09:06:00 not_logged block         09:20:00 stop_early why      09:54:00 note words / bookmark
    09:07:00 reason KEY ID            09:20:00 resume              09:55:00 unheard_of words

`spread` is a `back` that the program chose. `stop` points at the step's latest start; `stop block @3` at another
line. A time earlier than the line before by more than twelve hours is the next day. Two directives stand alone:
`clock N` sets the station's clock N seconds forward (or back), `zone +01:00` changes the offset in which it tells
the time; the true time runs on.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Any

from tracker.core.case import Case
from tracker.core.deviations import ORDER, Deviation, deviations
from tracker.core.events import Event, event_from
from tracker.core.fold import fold
from tracker.core.protocol import Protocol

DAY = date(2026, 3, 2)
HEAD = {"format": 1, "id": "small", "version": "1", "title": "A small procedure"}


def protocol_of(text: str) -> Protocol:
    """The protocol that `text` holds, in the file format; the head of the file may be left out."""
    return Protocol.model_validate(HEAD | tomllib.loads(text))


def steps_of(*lines: str) -> Protocol:
    """A protocol of one stage, a step a line: its id, then what else the file says of it, as inline TOML."""
    told = (line.partition(" ") for line in lines)
    steps = "".join(
        f'[[stages.steps]]\nid = "{i}"\nlabel = "{i.capitalize()}"\n{rest}\n' for i, _, rest in told
    )
    return protocol_of(f'[[stages]]\nid = "stage"\nlabel = "Stage"\n{steps}')


def _value(text: str) -> bool | int | float | str:
    try:
        return json.loads(text)
    except ValueError:
        return text


def _pairs(words: Iterable[str]) -> dict[str, Any]:
    return {k: _value(v) for k, _, v in (word.partition("=") for word in words)}


@dataclass
class _Teller:
    """What is known while the lines are read."""

    day: date = DAY
    set_s: float = 0.0
    zone: timezone = UTC
    run: int = 1
    run_began: datetime | None = None
    last: datetime | None = None
    starts: dict[str, int] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)

    def directive(self, word: str, value: str) -> bool:
        """Obey a line that is no event."""
        if word == "clock":
            self.set_s += float(value)
        elif word == "zone":
            self.zone = datetime.fromisoformat(f"2026-01-01T00:00{value}").tzinfo  # type: ignore[assignment]
        elif word == "day":
            self.day = date.fromisoformat(value)
        else:
            return False
        return True

    def event(self, line: str) -> Event:
        """The event of a line."""
        clock, *words = line.split()
        late_s = float(words.pop(0)) if words[0].startswith("+") else 0.0
        at = self.at(clock)
        entered = at + timedelta(seconds=late_s)
        true = entered - timedelta(seconds=self.set_s)
        if words[0] == "resume":
            self.run, self.run_began = self.run + 1, true
        self.run_began = self.run_began or true
        self.last = at
        elapsed_ms = round((true - self.run_began).total_seconds() * 1000)
        envelope = {"at": at, "entered_at": entered, "elapsed_ms": max(0, elapsed_ms), "run": self.run}
        return self.told(words, envelope)

    def at(self, clock: str) -> datetime:
        """The time told at the start of a line."""
        at = datetime.combine(self.day, time.fromisoformat(clock), self.zone)
        if self.last is not None and self.last - at > timedelta(hours=12):
            self.day += timedelta(days=1)
            at += timedelta(days=1)
        return at

    def told(self, words: list[str], envelope: Mapping[str, Any]) -> Event:
        """The event that the words behind the time make."""
        seq = len(self.events) + 1
        kind, *rest = words
        data = _KINDS.get(kind, _other)(self, kind, rest)
        if data["kind"] in ("start", "tick"):
            self.starts[data["step"]] = seq
        return event_from({**envelope, "seq": seq, "role": "runner", "kind": kind, **data})


Told = dict[str, Any]


def _open(_teller: _Teller, _kind: str, rest: list[str]) -> Told:
    return {"kind": "opened", "code": "A1", "protocol": "", "digest": "d", "program": "0", **_pairs(rest)}


def _tick(_teller: _Teller, kind: str, rest: list[str]) -> Told:
    return {"kind": kind, "step": rest[0], "choice": rest[1] if len(rest) > 1 else None}


def _step(_teller: _Teller, kind: str, rest: list[str]) -> Told:
    return {"kind": kind, "step": rest[0]} | ({"reason": " ".join(rest[1:])} if rest[1:] else {})


def _stop(teller: _Teller, _kind: str, rest: list[str]) -> Told:
    ref = int(rest[1].removeprefix("@")) if len(rest) > 1 else teller.starts.get(rest[0])
    return {"kind": "stop", "step": rest[0], "ref": ref}


def _read(_teller: _Teller, _kind: str, rest: list[str]) -> Told:
    (reading, value), ref = next(iter(_pairs(rest[:1]).items())), rest[1:]
    return {"kind": "reading", "reading": reading, "value": value, "ref": int(ref[0]) if ref else None}


def _pointing(kind: str, *names: str) -> Callable[[_Teller, str, list[str]], Told]:
    def told(_teller: _Teller, _kind: str, rest: list[str]) -> Told:
        ref, *more = rest
        values = [*more[: len(names) - 1], " ".join(more[len(names) - 1 :])] if names else []
        return {"kind": kind, "ref": int(ref)} | {n: v for n, v in zip(names, values, strict=False) if v}

    return told


def _detail(_teller: _Teller, _kind: str, rest: list[str]) -> Told:
    named = rest[1] if len(rest) > 1 and rest[1] != "-" else None
    return {
        "kind": "complication_detail",
        "ref": int(rest[0]),
        "complication": named,
        "text": " ".join(rest[2:]),
    }


def _handover(_teller: _Teller, kind: str, rest: list[str]) -> Told:
    return {"kind": kind, "outgoing": "runner", "incoming": rest[0], "counts_confirmed": rest[1] == "counted"}


def _reason(_teller: _Teller, kind: str, rest: list[str]) -> Told:
    return {"kind": kind, "deviation": rest[0], "reason": rest[1]}


def _words(kind: str, name: str) -> Callable[[_Teller, str, list[str]], Told]:
    return lambda _teller, _kind, rest: {"kind": kind, name: " ".join(rest)}


def _other(_teller: _Teller, kind: str, rest: list[str]) -> Told:
    if len(rest) == 1 and rest[0][0] in "+-":
        return {"kind": "count_change", "line": kind, "delta": int(rest[0])}
    return {"kind": kind, "words": " ".join(rest)}


_KINDS: Mapping[str, Callable[[_Teller, str, list[str]], Told]] = {
    "open": _open,
    "facts": lambda _t, kind, rest: {"kind": kind, "values": _pairs(rest)},
    "resume": lambda _t, _k, _r: {"kind": "resumed", "gap_ms": 0},
    "tick": _tick,
    "start": _step,
    "stop": _stop,
    "not_needed": _step,
    "not_logged": _step,
    "read": _read,
    "count": lambda _t, kind, rest: {"kind": kind, "ref": int(rest[0]), "lines": _pairs(rest[1:])},
    "strike": _pointing("strike"),
    "move": _pointing("move", "step"),
    "back": _pointing("back_stamp", "seconds"),
    "spread": lambda t, k, rest: {**_pointing("back_stamp", "seconds")(t, k, rest), "spread": True},
    "choose": _pointing("choice", "choice"),
    "complication": lambda _t, kind, rest: {"kind": kind, "complication": rest[0] if rest else None},
    "detail": _detail,
    "dealt_with": _pointing("complication_closed"),
    "handover": _handover,
    "accept": _pointing("handover_accepted"),
    "operator": _words("operator", "operator"),
    "pause": _words("paused", "reason"),
    "continue": lambda _t, _k, _r: {"kind": "continued"},
    "close": _words("stage_closed", "stage"),
    "stop_early": _words("stopped_early", "reason"),
    "note": _words("note", "text"),
    "bookmark": _words("bookmark", "text"),
    "reason": _reason,
}


def events_of(story: str) -> tuple[Event, ...]:
    """The events of a story, in the order told."""
    teller = _Teller()
    for line in filter(None, map(str.strip, story.splitlines())):
        word, _, rest = line.partition(" ")
        if not teller.directive(word, rest.strip()):
            teller.events.append(teller.event(line))
    return tuple(teller.events)


def case_of(protocol: Protocol, story: str) -> Case:
    """The case that a story makes of a protocol."""
    return fold(protocol, events_of(story))


def found_in(case: Case, code: str = "", now_t: float | None = None) -> tuple[Deviation, ...]:
    """What the rules find in a case, of one code if given, as of its last entry if no time is.

    Each is told for itself, whatever line it stands beneath.
    """
    told = [d for line in lines_of(case, now_t) for d in line.all]
    told.sort(key=lambda d: (ORDER[d.level], d.when.t, d.when.seq, d.key))
    return tuple(d for d in told if code in ("", d.code))


def lines_of(case: Case, now_t: float | None = None) -> tuple[Deviation, ...]:
    """The deviations of a case as they are told, one line a cause."""
    return deviations(case, case.last_t if now_t is None else now_t)


def codes_in(case: Case, now_t: float | None = None) -> list[tuple[str, str]]:
    """The code and the step of each deviation of a case."""
    return [(d.code, d.step) for d in found_in(case, now_t=now_t)]


def only(case: Case, code: str, now_t: float | None = None) -> Deviation:
    """The one deviation of a code."""
    [found] = found_in(case, code, now_t)
    return found
