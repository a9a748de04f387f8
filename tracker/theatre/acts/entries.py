"""One of the last entries, picked: struck, moved to another step, or put earlier. What is picked stays legible."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from string import ascii_lowercase
from typing import TYPE_CHECKING, Final

from tracker.core import events as ev
from tracker.core.entries import Entry
from tracker.core.protocol import Reading, Step
from tracker.core.wording import clock_time
from tracker.screen.asking import Option, Question, reading_question
from tracker.theatre.acts.changes import say_changes
from tracker.theatre.scene import entry_words
from tracker.theatre.session import SAID_OF_ANOTHER

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk

MOST: Final = 20
"""So many of the last entries can be picked."""
_PASSED: Final = (ev.Resumed, ev.Facts, ev.ReasonGiven)
_EARLIER: Final = Reading(id="earlier", label="Minutes earlier", unit="min", plausible=(0, 240))


def ask_entry(desk: Desk) -> None:
    """Ask which of the last entries is meant, the latest first."""
    begun = next((e.seq for e in desk.session.entered()), len(desk.case.events) + 1)
    entered = (e for e in reversed(desk.case.log) if e.seq >= begun)
    last = [e for e in entered if not isinstance(e.event, _PASSED)][:MOST]
    if not last:
        desk.hint = "nothing was entered yet"
        return
    by_seq = {e.seq: e for e in last}
    options = tuple(
        Option(key, f"{clock_time(e.at)} {_words(desk, e)}", e.seq)
        for key, e in zip(ascii_lowercase, last, strict=False)
    )
    title = "One of the last entries, the latest first: which"
    desk.ask([Question("entry", title, lambda seq: _ask_what(desk, by_seq[int(seq)]), options)])


def _words(desk: Desk, entry: Entry) -> str:
    what, how = entry_words(desk.case, entry)
    return f"{what} {how}".rstrip()


def _ask_what(desk: Desk, entry: Entry) -> None:
    """Ask what is to become of an entry."""
    options = [Option("s", "strike it: it was not so", "strike")]
    if entry.step:
        options.append(Option("m", "move it: it belongs to another step", "move"))
    if not isinstance(entry.event, SAID_OF_ANOTHER):
        options.append(Option("e", "earlier: it was so many minutes before", "earlier"))
    title = f"{clock_time(entry.at)} {_words(desk, entry)}"
    desk.ask([Question("entry_what", title, partial(_do, desk, entry), tuple(options))])


def _do(desk: Desk, entry: Entry, what: ev.Scalar) -> None:
    if what == "strike":
        before = desk.case
        desk.session.strike(entry.seq)
        say_changes(desk, before)
    elif what == "move":
        _ask_step(desk, entry)
    else:
        title = f"{clock_time(entry.at)} {_words(desk, entry)}: how many minutes earlier it was"
        desk.ask([reading_question(_EARLIER, title, partial(_earlier, desk, entry), f"earlier:{entry.seq}")])


def _earlier(desk: Desk, entry: Entry, minutes: ev.Scalar) -> None:
    desk.say(ev.BackStamp, ref=entry.seq, seconds=float(minutes) * 60)


def _ask_step(desk: Desk, entry: Entry) -> None:
    """Ask to which step an entry belongs: first those of its own stage, then of its neighbours, then of any time."""
    step = desk.protocol.step[entry.step or ""]
    fitting = [
        s for s in _near(desk, step) if s.id != step.id and (s.shape == "span") == (step.shape == "span")
    ]
    if not fitting:
        desk.hint = f"no step near {step.label} that the entry could belong to"
        return
    event = entry.event
    ref = event.ref if isinstance(event, ev.Stop) and event.ref is not None else entry.seq
    taken: set[str] = set()
    options = [Option(_own_key(s, taken), s.label, s.id) for s in fitting]
    title = f"{step.label} {clock_time(entry.at)} belongs to"
    desk.ask([Question("move", title, lambda v: _moved(desk, ref, str(v)), tuple(options))])


def _near(desk: Desk, step: Step) -> Iterator[Step]:
    stages, own = desk.protocol.stages, desk.protocol.stage_of.get(step.id)
    at = desk.protocol.stage_index[own] if own else desk.stage
    for n in (at, at - 1, at + 1):
        if 0 <= n < len(stages):
            yield from stages[n].steps
    yield from desk.protocol.anytime


def _own_key(step: Step, taken: set[str]) -> str:
    """A step's key, unless one named before it has the same: that one is reached with Up and Down."""
    key = step.key if step.key and step.key not in taken else ""
    taken.add(key)
    return key


def _moved(desk: Desk, ref: int, step: str) -> None:
    before = desk.case
    desk.say(ev.Move, ref=ref, step=step)
    say_changes(desk, before)
    if step in desk.protocol.stage_of:
        desk.mark_after(step)
