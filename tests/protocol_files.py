"""A sound protocol file as text, and a way to see what is found once it is changed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tracker.core.findings import Finding
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol

SOUND = """\
format = 1
id = "small-repair"
version = "1.0"
title = "Small repair"
planned_minutes_fact = "planned"
consent_fact = "consent"
side_fact = "eye"

[sources]
S1 = "Journal of the Eye 1991;1:1"

[[facts]]
id = "lens"
label = "Lens now"
kind = "choice"
default = "phakic"
choices = [
  { id = "phakic", label = "own lens", key = "p" },
  { id = "aphakic", label = "none", key = "a" },
]

[[facts]]
id = "eye"
label = "Eye"
kind = "choice"
default = "right"
choices = [
  { id = "right", label = "right", key = "r" },
  { id = "left", label = "left", key = "l" },
]

[[facts]]
id = "planned"
label = "Planned minutes"
kind = "number"
default = 120
plausible = [10, 480]

[[facts]]
id = "consent"
label = "Consent for video"
kind = "flag"
default = false

[[facts]]
id = "grade"
label = "Grade"
kind = "grade"
default = "CP3-CA2"

[[facts]]
id = "plan"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [
  { id = "gas", label = "gas", key = "g" },
  { id = "oil", label = "oil", key = "o" },
]

[[readings]]
id = "pressure"
label = "Infusion pressure"
unit = "mmHg"
plausible = [0, 120]
usual = [20, 30]
caution_below = 10
caution_above = 40
source = "S1"

[[readings]]
id = "view"
label = "View"
kind = "choice"
choices = [
  { id = "clear", label = "clear", key = "c" },
  { id = "hazy", label = "hazy", key = "h" },
]
caution_choices = ["hazy"]

[[stages]]
id = "access"
label = "Access"

  [[stages.steps]]
  id = "time_out"
  label = "Time-out"
  key = "t"
  starts_case = true

  [[stages.steps]]
  id = "ports"
  label = "Ports in"
  key = "p"
  shape = "span"
  minutes = [1, 5]
  readings = [{ id = "pressure", required = true }]
  needs = [{ step = "time_out", level = "safety", reason = "the right eye" }]

  [[stages.steps]]
  id = "core"
  label = "Core vitrectomy"
  key = "c"
  occurrence = "one_of"
  group = "clearing"
  needs = [{ step = "ports", until = "stop", level = "order", reason = "usual order" }]

  [[stages.steps]]
  id = "already"
  label = "Vitreous already out"
  key = "v"
  occurrence = "one_of"
  group = "clearing"

[[stages]]
id = "finish"
label = "Finish"

  [[stages.steps]]
  id = "tamponade"
  label = "Tamponade decision"
  key = "p"
  shape = "decision"
  plan_fact = "plan"
  choices = [
    { id = "gas", label = "gas", key = "g" },
    { id = "oil", label = "oil", key = "q" },
  ]
  needs = [{ any_step = ["core", "already"], level = "order", reason = "usual order" }]

  [[stages.steps]]
  id = "iridotomy"
  label = "Iridotomy"
  key = "i"
  sets = [{ fact = "lens", to = "aphakic" }]
    [stages.steps.when]
    all = [
      { fact = "lens", choice = ["aphakic"] },
      { decision = "tamponade", choice = ["oil"] },
    ]
    any = [{ pair = "liquid", state = "ever_open" }, { fact = "planned", at_least = 60 }]

  [[stages.steps]]
  id = "close"
  label = "Ports out"
  key = "o"
  needs = [{ pair_closed = "liquid", level = "safety", reason = "it must come out" }]
  due_again = [{ step = "ports", edge = "stop", reason = "ports were added" }]

  [[stages.steps]]
  id = "count"
  label = "Closing count"
  key = "n"
  shape = "count"
  count = "closing"
  ends_case = true

[[anytime]]
id = "check"
label = "Pressure noted"
key = "P"
shape = "reading"
occurrence = "repeat"
readings = [{ id = "pressure" }, { id = "view" }]

[[clocks]]
id = "raised"
label = "Raised pressure"
start = [{ reading = "pressure", above = 40 }]
stop = [{ reading = "pressure", at_most = 40 }, { step = "close" }]
amber_s = 120
red_s = 300

[[pairs]]
id = "liquid"
label = "Heavy liquid"
opens = [{ step = "ports", amount_from = "pressure" }]
closes = [{ complication = "bleed" }, { reading = "view", choice = ["clear"] }]
by = "close"
counted = true

[[reasons]]
id = "forced"
label = "forced by the finding"
key = "f"

[[complications]]
id = "bleed"
label = "Bleeding"
key = "b"
"""
"""A file with nothing against it, and at least one of most parts of the format."""


def changed(*edits: tuple[str, str]) -> str:
    """The sound file after replacements; what is to be replaced must be there."""
    text = SOUND
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def findings(text: str) -> tuple[Finding, ...]:
    """What is found in a text."""
    return load_protocol(text, "small.toml").findings


def seen(*edits: tuple[str, str]) -> list[tuple[str, str]]:
    """Path and wording of each finding in the sound file after replacements."""
    return [(finding.path, finding.what) for finding in findings(changed(*edits))]


def protocol_table(protocol: Protocol) -> dict[str, object]:
    """A protocol as plain TOML types, without what the format supplies by itself; whole numbers as such."""
    table: dict[str, object] = _plain(protocol.model_dump(exclude_defaults=True))
    return {key: value for key, value in table.items() if value != {}}


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(inner) for inner in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
