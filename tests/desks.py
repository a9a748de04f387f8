"""A desk from the text of a protocol file, with its events kept in memory and a clock that stands still.

`press` takes a script as a finger would follow it: words parted by blanks, each a key (`space`, `enter`, a
step's own letter), `<reading>`, the key of that command, `"quoted words"` typed letter by letter, or `+60`, which lets
sixty seconds pass. `+0` parts two presses of one key at once.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from weakref import WeakKeyDictionary

from large_letters import written
from tracker.core import events as ev
from tracker.core.case import status
from tracker.core.deviations import deviations
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.journal.trouble import NotKept
from tracker.screen.lines import Line, Size
from tracker.screen.station import Now
from tracker.screen.touch import ONE_PRESS_MS
from tracker.theatre.desk import Desk
from tracker.theatre.session import Keeper, Session

ROOT = Path(__file__).resolve().parent.parent
START = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)

SMALL = """
format = 1
id = "small-repair"
version = "1.0"
title = "Small repair"

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
id = "fill_plan"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [
  { id = "gas", label = "gas", key = "g" },
  { id = "oil", label = "oil", key = "o" },
]

[[facts]]
id = "length"
label = "Axial length"
kind = "number"
unit = "mm"
default = 24
plausible = [18, 36]

[[facts]]
id = "grade"
label = "PVR grade"
kind = "grade"
default = "CP3"

[[facts]]
id = "video"
label = "Consent for video"
kind = "flag"
default = false

[[facts]]
id = "operator"
label = "Operator at the start"
kind = "choice"
default = "consultant"
choices = [
  { id = "consultant", label = "consultant", key = "c" },
  { id = "fellow", label = "fellow", key = "f" },
]

[[roles]]
id = "runner"
label = "Circulating practitioner"
post = "circulating"
[[roles]]
id = "relief"
label = "Relief circulating practitioner"
post = "circulating"
[[roles]]
id = "consultant"
label = "Consultant"
post = "operator"
[[roles]]
id = "fellow"
label = "Fellow"
post = "operator"

[[readings]]
id = "pressure"
label = "Infusion pressure"
unit = "mmHg"
plausible = [0, 120]
usual = [20, 30]
caution_above = 40
[[readings]]
id = "tip"
label = "Infusion tip"
kind = "choice"
choices = [
  { id = "seen", label = "seen", key = "s" },
  { id = "not_seen", label = "not seen", key = "n" },
]
[[readings]]
id = "told"
label = "Anaesthetist told air now"
kind = "flag"
[[readings]]
id = "rows"
label = "Laser rows"
plausible = [0, 6]

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
  { id = "in_theatre", label = "Into theatre", key = "i", starts_case = true },
  { id = "count_in", label = "First count", key = "c", shape = "count", count = "opening" },
  { id = "time_out", label = "Time-out", key = "t" },
]

[[stages]]
id = "work"
label = "Peel and cut"
steps = [
  { id = "core", label = "Core vitrectomy", key = "v", shape = "span", minutes = [2, 8] },
  { id = "peel", label = "Membrane peel", key = "p", shape = "span", occurrence = "repeat" },
  { id = "liquid_in", label = "Heavy liquid in", key = "h", repeats = true },
  { id = "cut_decide", label = "Cut decision", key = "d", shape = "decision", choices = [
    { id = "none", label = "none", key = "n" }, { id = "cut", label = "cut", key = "z" },
  ], repeats = true },
  { id = "cut", label = "Retina cut", key = "k", shape = "span", occurrence = "repeat", needs = [
    { step = "peel", level = "safety", reason = "traction goes before the cut" },
  ], when = { all = [{ decision = "cut_decide", choice = ["cut"] }] } },
  { id = "laser", label = "Edge laser", key = "l", shape = "span", occurrence = "repeat", readings = [
    { id = "rows", required = true },
  ], due_again = [{ step = "cut", reason = "a further cut was made" }] },
  { id = "liquid_out", label = "Heavy liquid out", key = "u", occurrence = "optional" },
]

[[stages]]
id = "finish"
label = "Fill and close"
steps = [
  { id = "fill", label = "Tamponade", key = "d", shape = "decision", plan_fact = "fill_plan", choices = [
    { id = "gas", label = "gas", key = "g" }, { id = "oil", label = "oil", key = "o" },
  ] },
  { id = "iridotomy", label = "Iridotomy", key = "y", when = { all = [
    { fact = "lens", choice = ["aphakic"] }, { decision = "fill", choice = ["oil"] },
  ] } },
  { id = "closing", label = "Ports closed", key = "z", shape = "span" },
  { id = "count_out", label = "Closing count", key = "n", shape = "count", count = "closing", due_again = [
    { event = "handover_unconfirmed", reason = "counts were not confirmed at the hand-over" },
    { event = "count_changed", reason = "items were opened or handed off" },
  ] },
  { id = "out_theatre", label = "Out of theatre", key = "x", ends_case = true },
]

[[anytime]]
id = "noted"
label = "Pressure noted"
key = "P"
shape = "reading"
occurrence = "repeat"
readings = [{ id = "pressure" }]

[[clocks]]
id = "raised"
label = "Raised pressure"
start = [{ reading = "pressure", above = 40 }]
stop = [{ reading = "pressure", at_most = 40 }]
amber_s = 120
red_s = 300

[[clocks]]
id = "contact"
label = "Settling"
start = [{ step = "time_out" }]
stop = [{ step = "core" }]
min_s = 180

[[pairs]]
id = "liquid"
label = "Heavy liquid"
opens = [{ step = "liquid_in" }]
closes = [{ step = "liquid_out" }]
by = "closing"
open_word = "in the eye"
closed_word = "out"

[[reasons]]
id = "forced"
label = "forced by the finding"
key = "f"
[[reasons]]
id = "oversight"
label = "oversight"
key = "o"

[[complications]]
id = "bleed"
label = "Bleeding"
key = "b"
[[complications]]
id = "tear"
label = "New tear"
"""
"""A file of three stages with every shape of step, a plan, a clock of each kind and a pair."""


class Memory:
    """A keeper in memory. It refuses as long as `refusals` says, then keeps what it is given."""

    def __init__(self, events: Sequence[ev.Event] = (), refusals: int = 0) -> None:
        self.events = list(events)
        self.refusals = refusals
        self.closed = False
        self.folder = Path("/first")
        self.before_each: Callable[[ev.Event], None] = lambda event: None

    def append(self, event: ev.Event) -> None:
        """Keep one event, in order and only once."""
        if self.refusals:
            self.refusals -= 1
            raise NotKept("Entry is not kept: the disk is full.")
        assert event.seq == len(self.events) + 1
        self.events.append(event)
        self.before_each(event)

    def move_to(self, folder: Path, *, now: str = "") -> None:
        """Go on elsewhere, where there is room."""
        self.folder, self.refusals = folder, 0

    def close(self) -> None:
        """Let go."""
        self.closed = True


class Hand:
    """A clock that stands where it is put."""

    def __init__(self, start: datetime = START) -> None:
        self.start = start
        self.now = start

    def __call__(self) -> Now:
        """Where it stands, and how long since the start."""
        return Now(self.now, round((self.now - self.start) / timedelta(milliseconds=1)))

    def on(self, seconds: float) -> None:
        """Let time pass."""
        self.now += timedelta(seconds=seconds)


@cache
def protocol_of(text: str) -> Protocol:
    """The protocol that a sound text holds."""
    loaded = load_protocol(text, "test.toml")
    assert loaded.protocol is not None, "\n".join(map(str, loaded.findings))
    return loaded.protocol


@cache
def shipped(name: str = "complex-pvr") -> str:
    """The text of a protocol that comes with the program."""
    return (ROOT / "protocols" / f"{name}.toml").read_text("utf-8")


AT_WORK = "i c escape t"
"""Through the first stage, the count's numbers left open: events 4 to 6."""


def desk_of(
    text: str = SMALL,
    keys: str = "",
    *,
    facts: Mapping[str, ev.Scalar] | None = None,
    keeper: Keeper | None = None,
    clock: Hand | None = None,
) -> Desk:
    """The desk of a new case of a protocol, after `keys`."""
    protocol = protocol_of(text)
    values = protocol.defaults | dict(facts or {})
    session = Session.begin(
        keeper if keeper is not None else Memory(), protocol, text, "T-0001", values, clock or Hand()
    )
    desk = Desk(session)
    press(desk, keys)
    return desk


def press(desk: Desk, script: str) -> None:
    """Press what a script says; a hand takes a moment before it presses the same key again."""
    for word in re.findall(r'"[^"]*"|\S+', script):
        if re.fullmatch(r"\+[\d.]+", word):
            clock_of(desk).on(float(word))
            _LAST.pop(desk, None)
        elif len(word) > 1 and word.startswith('"'):
            for letter in shlex.split(word)[0]:
                desk.press("space" if letter == " " else letter)
            _LAST.pop(desk, None)
        else:
            key = desk.keys_of(word[1:-1])[0] if word.startswith("<") and len(word) > 2 else word
            if key == _LAST.get(desk) and isinstance(desk, Desk):
                clock_of(desk).on(ONE_PRESS_MS / 1000)
            desk.press(key)
            _LAST[desk] = key


_LAST: WeakKeyDictionary[Desk, str] = WeakKeyDictionary()
"""The key that was pressed last at each desk, unless time has passed since."""


def clock_of(desk: Desk) -> Hand:
    """The clock of a desk that stands still."""
    clock = desk.session.clock
    assert isinstance(clock, Hand)
    return clock


def keeper_of(desk: Desk) -> Memory:
    """Where the events of a desk are."""
    keeper = desk.session.journal
    assert isinstance(keeper, Memory)
    return keeper


_FRAME = ("seq", "at", "entered_at", "elapsed_ms", "run", "role", "kind", "ref")


def said(event: ev.Event) -> str:
    """An event in short: its kind, what it says, and `@` the event that it points at."""
    more = [v for k, v in event.model_dump().items() if k not in _FRAME and v not in ("", None)]
    words = [",".join(f"{k}={n}" for k, n in v.items()) if isinstance(v, dict) else f"{v}" for v in more]
    return " ".join([event.kind, *words, *([f"@{event.ref}"] if event.ref else [])])


def told(desk: Desk) -> list[str]:
    """What was entered since the case was begun, in short; the first of them is event 4."""
    return [said(event) for event in desk.case.events[3:]]


def lines(board: Sequence[Line]) -> list[str]:
    """The board as text, a string a line."""
    return ["".join(text for text, _ in line) for line in board]


def board(desk: Desk, width: int = 80, height: int = 24) -> str:
    """The board of a desk as text, blanks at the ends of lines taken off."""
    return "\n".join(line.rstrip() for line in lines(desk.draw(Size(width, height))))


def read(desk: Desk, width: int = 80, height: int = 24) -> str:
    """Everything on the board in small letters, what stands in large ones read back, blanks as one."""
    rows = lines(desk.draw(Size(width, height)))
    told: dict[int, list[str]] = {}
    for scale in (1, 2):
        for large in written(rows, scale):
            told.setdefault(large.row, []).append(large.text)
    plain = (re.sub("[█▀▄]", " ", row) for row in rows)
    words = (" ".join([*told.get(i, ()), row]) for i, row in enumerate(plain))
    return " ".join(" ".join(words).lower().split())


def panel(desk: Desk) -> str:
    """The title of what lies over the foot of the board, empty if nothing does."""
    return desk.panel.title if desk.panel else ""


def how(desk: Desk, step: str) -> str:
    """The one word that tells how a step stands."""
    return status(desk.case, desk.protocol.step[step])


def codes(desk: Desk) -> list[str]:
    """The deviations so far, each with what it is about."""
    return [f"{d.code} {d.step}" for d in deviations(desk.case, desk.case.last_t)]
