"""A case on a disk in memory and its review: sayings, a desk, and any entries that a debrief may hold.

`press` takes a script as a finger would follow it: words parted by blanks, each a key, or `"quoted words"`
typed letter by letter.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, get_args
from weakref import WeakKeyDictionary

from hypothesis import strategies as st

from desks import Hand
from faulty_disk import FaultyDisk
from record_case import PROTOCOL, WHOLE, story
from tracker.core.debrief_events import DEBRIEF_BY_KIND, Missed
from tracker.core.events import Event, Facts, Opened, Unknown
from tracker.journal.archive import Archive
from tracker.journal.books import DEBRIEF
from tracker.journal.files import case_path
from tracker.journal.lines import START, encode
from tracker.review.debriefing import Debriefing
from tracker.review.screen.desk import ReviewDesk
from tracker.screen.lines import Line, Size
from tracker.screen.touch import ONE_PRESS_MS

HERE = Path("/archive")
CODE = "A-0007"
AFTERWARDS = datetime(2026, 10, 26, 16, 30, tzinfo=UTC)

_FACT = """
[[facts]]
id = "video_consent"
label = "Consent for video"
kind = "flag"
default = false
"""
ASKING = (
    PROTOCOL.replace("planned_minutes_fact", 'consent_fact = "video_consent"\nplanned_minutes_fact') + _FACT
)
"""The small file, asking for consent to the recording."""


def events_of(text: str = WHOLE, consent: object = True) -> tuple[Event, ...]:
    """The entries of a story, its first line holding the file that asks for consent."""
    return tuple(_asking(event, consent) for event in story(text).events)


def _asking(event: Event, consent: object) -> Event:
    if isinstance(event, Opened):
        digest = sha256(ASKING.encode()).hexdigest()
        return event.model_copy(update={"protocol": ASKING, "digest": digest})
    if isinstance(event, Facts):
        return event.model_copy(update={"values": {**event.values, "video_consent": consent}})
    return event


def archive_of(text: str = WHOLE, *, consent: object = True) -> Archive:
    """An archive with the case of a story."""
    disk = FaultyDisk()
    disk.put(case_path(HERE, CODE), _journal(text, consent))
    return Archive(HERE, disk)  # type: ignore[arg-type]


@cache
def _journal(text: str, consent: object) -> bytes:
    data, head = b"", START
    for event in events_of(text, consent):
        line, head = encode(event, head)
        data += line
    return data


def disk_of(archive: Archive) -> FaultyDisk:
    """The disk under an archive."""
    disk = archive._disk
    assert isinstance(disk, FaultyDisk)
    return disk


def log_bytes(archive: Archive) -> bytes:
    """The journal of the case, byte for byte."""
    return disk_of(archive).text(case_path(HERE, CODE))


def debriefing_of(archive: Archive | None = None) -> Debriefing:
    """The debrief of the case, the day after."""
    return Debriefing(archive or archive_of(), CODE, Hand(AFTERWARDS))


def desk_of(keys: str = "", archive: Archive | None = None, **how: Any) -> ReviewDesk:
    """The review screen's desk, after `keys`."""
    desk = ReviewDesk(debriefing_of(archive), **how)
    press(desk, keys)
    return desk


def press(desk: ReviewDesk, script: str) -> None:
    """Press what a script says; a hand takes a moment before it presses the same key again."""
    for word in re.findall(r'"[^"]*"|\S+', script):
        if len(word) > 1 and word.startswith('"'):
            for letter in shlex.split(word)[0]:
                desk.press("space" if letter == " " else letter)
            _LAST.pop(desk, None)
        else:
            if word == _LAST.get(desk):
                pause(desk)
            desk.press(word)
            _LAST[desk] = word


_LAST: WeakKeyDictionary[ReviewDesk, str] = WeakKeyDictionary()
"""The key that was pressed last at each desk."""


def pause(desk: ReviewDesk, ms: int = ONE_PRESS_MS) -> None:
    """Let a moment pass: after that the same key is another press."""
    clock = desk.debriefing.clock
    assert isinstance(clock, Hand)
    clock.on(ms / 1000)


def lines(drawn: Sequence[Line]) -> list[str]:
    """A drawing as text, a string a line."""
    return ["".join(text for text, _ in line) for line in drawn]


def screen(desk: ReviewDesk, width: int = 80, height: int = 24) -> str:
    """The screen as text, blanks at the ends of lines taken off."""
    return "\n".join(line.rstrip() for line in lines(desk.draw(Size(width, height))))


_FRAME = ("seq", "at", "entered_at", "elapsed_ms", "run", "role", "kind", "ref")


def told(desk: ReviewDesk) -> list[str]:
    """What was said, in short: the kind and what it holds; the first line is left out."""
    return [said(event) for event in desk.debrief.events[1:]]


def said(event: Event) -> str:
    """An entry in short."""
    more = [f"{v}" for k, v in event.model_dump().items() if k not in _FRAME and v not in ("", None, False)]
    return " ".join([event.kind, *more, *([f"@{event.ref}"] if event.ref else [])])


# -- any debrief


def entry(seq: int, kind: str, run: int = 1, **fields: Any) -> Event:
    """An entry of a debrief, a minute after the one before."""
    at = AFTERWARDS + timedelta(minutes=seq)
    envelope = {"seq": seq, "at": at, "entered_at": at, "elapsed_ms": 60_000 * seq, "run": run}
    said = {**envelope, "role": "consultant", "kind": kind, **fields}
    return DEBRIEF_BY_KIND.get(kind, Unknown).model_validate(said)


def debrief(*said: dict[str, Any]) -> tuple[Event, ...]:
    """The entries of a debrief of the case: its first line, then what is said."""
    first = entry(1, "debriefed", code=CODE, log_hash="0" * 64, log_entries=44, program="0.1.0")
    return (first, *(entry(n, **fields) for n, fields in enumerate(said, start=2)))


WORDS = st.sampled_from(["", "kit", "words", "مرحبا", "<b>x</b>", "👁 \x1b[31m", "[red]x", "x" * 3000])
STEPS = st.sampled_from(["core", "membranes", "liquid_in", "time_out", "close", "nothing", ""])
TOLD = st.sampled_from(
    ["2026-10-24T09:00:00.000+01:00", "2026-10-24T09:16:00+01:00", "2026-10-24T09:16:00", "never", "",
     "2027-01-01T00:00:00+00:00", "0001-01-01T00:00:00+23:59"]
)  # fmt: skip
CHOICES = st.sampled_from(["gas", "oil", "neither", ""])
VALUES = st.sampled_from([3, 0.5, -1, 1e300, True, "three"])
KEYS = st.sampled_from(["need:cut<membranes:12", "over_time:core", "complication:13", "nothing", ""])
ROLES = st.sampled_from(["consultant", "fellow", "runner", "nobody", ""])
HOW = st.sampled_from([None, "intended", "finding_forced", "oversight", "not_logged"])
SECONDS = st.none() | st.floats(-10, 20_000, allow_nan=False)
FILES = st.sampled_from(["rec1.mp4", "rec 2.mp4", "", "../x", "Mr Smith.mp4", "\x07.mp4"])
NUMBERS = st.floats(-100, 20_000, allow_nan=False)
REFS = st.integers(0, 50)

SAYINGS = st.one_of(
    st.fixed_dictionaries(
        {"kind": st.just("deviation_reason"), "deviation": KEYS, "reason": WORDS, "how": HOW, "text": WORDS}
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("amended"), "entry": REFS, "told": st.none() | TOLD, "step": st.none() | STEPS,
            "choice": st.none() | CHOICES, "value": st.none() | VALUES, "stopped": st.none() | TOLD,
            "void": st.booleans(), "reason": WORDS, "text": WORDS,
        }
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("added"), "adds": st.sampled_from(get_args(Missed)), "told": TOLD,
            "until": st.none() | TOLD, "ident": STEPS | ROLES | st.sampled_from(["rows", "bleed"]),
            "value": st.none() | VALUES | CHOICES, "words": WORDS, "reason": WORDS, "text": WORDS,
        }
    ),
    st.fixed_dictionaries({"kind": st.just("went_well"), "text": WORDS}),
    st.fixed_dictionaries(
        {
            "kind": st.just("to_change"), "action": WORDS, "owner": ROLES, "due": WORDS,
            "tag": st.sampled_from([None, "kit", "drill", "teaching", "protocol_file"]),
        }
    ),
    st.fixed_dictionaries({"kind": st.just("attended"), "who": ROLES}),
    st.fixed_dictionaries({"kind": st.just("signed"), "who": ROLES}),
    st.fixed_dictionaries({"kind": st.just("withdrawn"), "ref": REFS}),
    st.fixed_dictionaries({"kind": st.just("recording"), "file": FILES, "length_s": SECONDS}),
    st.fixed_dictionaries(
        {"kind": st.just("recording_part"), "file": FILES, "from_t": SECONDS, "to_t": SECONDS}
    ),
    st.fixed_dictionaries(
        {"kind": st.just("video_mark"), "file": FILES, "log_t": NUMBERS, "video_t": NUMBERS}
    ),
    st.fixed_dictionaries({"kind": st.just("export_refused"), "reason": WORDS, "formats": WORDS}),
    st.fixed_dictionaries({"kind": st.just("debriefed"), "code": WORDS, "log_hash": WORDS,
                           "log_entries": REFS, "program": WORDS}),
    st.fixed_dictionaries({"kind": st.just("from_the_future"), "words": WORDS}),
)  # fmt: skip
"""What may be said at a debrief, sense or nonsense."""

DEBRIEFS = st.lists(SAYINGS, max_size=25).map(lambda said: debrief(*said))


def with_debrief(archive: Archive, said: Sequence[dict[str, Any]]) -> None:
    """Lay a debrief of the case's own log beside it."""
    log = archive.read(CODE)
    opened = {"code": CODE, "log_hash": log.head, "log_entries": len(log.events), "program": "0.1.0"}
    events = [
        entry(1, "debriefed", **opened),
        *(entry(n, **fields) for n, fields in enumerate(said, start=2)),
    ]
    data, head = b"", START
    for event in events:
        line, head = encode(event, head)
        data += line
    disk_of(archive).put(case_path(HERE, CODE, DEBRIEF), data)
