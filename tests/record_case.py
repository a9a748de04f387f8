"""A small protocol file and a few words of story, from which the timeline and record tests make cases.

A line of story is `HH:MM[:SS] KIND WORD=VALUE ...`, its time the moment the key was pressed; `at=` gives an
earlier time told, `run=` a later opening of the journal, `zone=` the offset from there on. A time earlier
than the line before is the next day. Values are JSON where they read as JSON.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from hashlib import sha256

from tracker.core.case import Case
from tracker.core.events import Event, event_from
from tracker.core.fold import fold
from tracker.core.protocol import Protocol

PROTOCOL = """
format = 1
id = "small-repair"
version = "1.2.0"
title = "Small repair | an invented file"
planned_minutes_fact = "planned_minutes"

[[facts]]
id = "eye"
label = "Eye"
kind = "choice"
default = "right"
choices = [{id = "right", label = "right", key = "r"}, {id = "left", label = "left", key = "l"}]
[[facts]]
id = "planned_minutes"
label = "Planned minutes"
kind = "number"
unit = "min"
default = 60
[[facts]]
id = "only_eye"
label = "Only seeing eye"
kind = "flag"
default = false
[[facts]]
id = "fill"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [{id = "gas", label = "gas", key = "g"}, {id = "oil", label = "silicone oil", key = "o"}]

[[roles]]
id = "runner"
label = "circulating practitioner"
post = "circulating"
[[roles]]
id = "runner_two"
label = "second circulating practitioner"
post = "circulating"
[[roles]]
id = "consultant"
label = "consultant"
post = "operator"
[[roles]]
id = "fellow"
label = "fellow"
post = "operator"

[[readings]]
id = "pressure"
label = "Infusion pressure"
unit = "mmHg"
plausible = [0, 120]
caution_above = 40
caution_below = 10
[[readings]]
id = "rows"
label = "Laser rows"
plausible = [0, 6]
caution_below = 2

[[counted]]
id = "swabs"
label = "Swabs"
[[counted]]
id = "blades"
label = "Blades"

[[stages]]
id = "ready"
label = "Ready"
steps = [
  {id = "in_theatre", label = "Into theatre", key = "i", starts_case = true},
  {id = "count_in", label = "First count", key = "c", shape = "count", count = "opening"},
  {id = "time_out", label = "Time-out", key = "t"},
]
[[stages]]
id = "peel"
label = "Peel and cut"
steps = [
  {id = "core", label = "Core vitrectomy", key = "v", shape = "span", minutes = [2, 8]},
  {id = "membranes", label = "Membrane peel", key = "p", shape = "span", occurrence = "repeat"},
  {id = "liquid_in", label = "Heavy liquid in", key = "h", repeats = true},
  {id = "cut", label = "Retina cut", shape = "span", occurrence = "optional", repeats = true, needs = [
    {step = "membranes", level = "safety", reason = "traction goes before the cut"},
  ]},
  {id = "laser", label = "Edge laser", key = "l", shape = "span", occurrence = "repeat", readings = [
    {id = "rows", required = true},
  ], due_again = [{step = "cut", edge = "stop", reason = "a further cut was made"}]},
  {id = "liquid_out", label = "Heavy liquid out", key = "u", occurrence = "optional"},
]
[[stages]]
id = "fill_close"
label = "Fill and close"
steps = [
  {id = "tamponade", label = "Tamponade chosen", shape = "decision", plan_fact = "fill", choices = [
    {id = "gas", label = "gas", key = "g"}, {id = "oil", label = "silicone oil", key = "o"},
  ]},
  {id = "close", label = "Ports closed", key = "z", shape = "span"},
  {id = "count_out", label = "Closing count", key = "n", shape = "count", count = "closing"},
  {id = "out_theatre", label = "Out of theatre", key = "x", ends_case = true},
]

[[clocks]]
id = "raised"
label = "Pressure raised"
start = [{reading = "pressure", above = 40}]
stop = [{reading = "pressure", at_most = 30}]
amber_s = 120
red_s = 300
level = "note"
[[clocks]]
id = "liquid_time"
label = "Heavy liquid in the eye"
start = [{step = "liquid_in"}]
stop = [{step = "liquid_out"}]

[[pairs]]
id = "liquid"
label = "Heavy liquid"
opens = [{step = "liquid_in"}]
closes = [{step = "liquid_out"}]
by = "count_out"
open_word = "in the eye"
closed_word = "out"

[[reasons]]
id = "forced"
label = "finding forced it"
key = "f"

[[complications]]
id = "bleed"
label = "Bleeding from the cut edge"
key = "b"
"""

WHOLE = """
08:55:00 opened
08:55:10 facts values={"eye":"left","planned_minutes":45,"only_eye":false,"fill":"gas"}
08:55:11 operator operator=consultant
09:00:00 tick step=in_theatre
09:03:00 tick step=count_in
09:03:20 count ref=5 lines={"swabs":10,"blades":2}
09:05:30 tick step=time_out at=09:04:00
09:06:00 start step=core
09:16:30 stop step=core ref=8
09:17:00 tick step=liquid_in
09:18:00 operator operator=fellow
09:18:10 start step=cut
09:20:00 complication
09:20:30 reading reading=pressure value=50
09:21:00 complication_detail ref=13 complication=bleed text="one vessel"
09:23:10 reading reading=pressure value=25
09:23:30 complication_closed ref=13
09:24:10 stop step=cut ref=12
09:25:00 start step=membranes
09:31:00 stop step=membranes ref=19
09:31:30 bookmark text="good bit"
09:32:00 start step=laser
09:40:00 stop step=laser ref=22
09:40:20 reading reading=rows value=1 ref=22
09:41:00 paused reason="view lost"
09:44:00 continued
09:44:30 count_change line=swabs delta=5
09:45:00 tick step=liquid_in
09:45:30 strike ref=28 reason="wrong key"
09:46:00 tick step=time_out
09:46:20 move ref=30 step=liquid_out
09:47:00 handover outgoing=runner incoming=runner_two counts_confirmed=true
09:47:30 handover_accepted ref=32
09:48:00 tick step=tamponade choice=oil
09:49:00 start step=close
09:54:00 stop step=close ref=35
09:54:10 back_stamp ref=36 seconds=60
09:55:00 tick step=count_out
09:55:20 count ref=38 lines={"swabs":15,"blades":1}
09:56:00 note text="lens clear"
09:56:30 reason deviation=need:cut<membranes:12 reason=forced how=finding_forced text="edge was folded"
10:00:30 resumed gap_ms=240000 run=2
10:02:00 from_the_future colour=7
10:05:00 tick step=out_theatre run=2
"""
"""One of everything, forty-four entries."""


_WORD = re.compile(r'(\w+)=("(?:[^"\\]|\\.)*"|\{[^}]*\}|\S+)')


def protocol() -> Protocol:
    """The small protocol."""
    return Protocol.model_validate(tomllib.loads(PROTOCOL))


def story(text: str, **changes: str) -> Case:
    """The case that a few lines of story make; `changes` replaces `{word}` in it."""
    for word, value in changes.items():
        text = text.replace("{" + word + "}", json.dumps(value))
    return fold(protocol(), tuple(_events(text)))


def _events(text: str) -> Iterator[Event]:
    day, last, zone, run = date(2026, 10, 24), time(0), "+01:00", 1
    opened: datetime | None = None
    for seq, line in enumerate((row for row in text.splitlines() if row.strip()), start=1):
        pressed, kind, rest = [*line.strip().split(maxsplit=2), ""][:3]
        words = dict(_words(rest))
        zone = str(words.pop("zone", zone))
        if time.fromisoformat(pressed) < last and "zone=" not in rest:
            day += timedelta(days=1)
        last = time.fromisoformat(pressed)
        entered = _moment(day, pressed, zone)
        told = _moment(day, str(words.pop("at", pressed)), zone)
        if opened is None or int(str(words.get("run", run))) != run:
            opened = entered
        run = int(str(words.pop("run", run)))
        elapsed = round((entered - opened) / timedelta(milliseconds=1))
        yield event_from(
            {
                "seq": seq, "at": told, "entered_at": entered, "elapsed_ms": elapsed, "run": run,
                "role": "runner", "kind": kind, **(_opening() if kind == "opened" else {}), **words,
            }
        )  # fmt: skip


def _opening() -> dict[str, object]:
    digest = sha256(PROTOCOL.encode()).hexdigest()
    return {"code": "A-0007", "protocol": PROTOCOL, "digest": digest, "program": "0.1.0", "invented": True}


def _moment(day: date, clock: str, zone: str) -> datetime:
    return datetime.fromisoformat(f"{day}T{clock}{zone}")


def _words(rest: str) -> Iterator[tuple[str, object]]:
    for name, value in _WORD.findall(rest):
        try:
            yield name, json.loads(value)
        except json.JSONDecodeError:
            yield name, value
