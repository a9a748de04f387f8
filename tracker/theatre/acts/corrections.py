"""Corrections: each is an entry that points at another; nothing is edited."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from functools import partial
from itertools import pairwise, takewhile
from typing import TYPE_CHECKING, Final

from tracker.core import events as ev
from tracker.core.completeness import is_told
from tracker.core.deviations import unjudged
from tracker.core.wording import clock_time, span_words
from tracker.theatre.acts.changes import say_changes
from tracker.theatre.forms import Missed

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk

BACK_STAMP_S: Final = 60.0
_TIMED: Final = (ev.Tick, ev.Start, ev.Stop)
_SHIFTS: Final = (ev.BackStamp, ev.Strike)
BURST: Final = 5
BURST_PAUSE: Final = timedelta(seconds=2.5)
"""Between two ticks of a burst: five in ten seconds."""
BURST_GAP: Final = timedelta(minutes=2)


def strike(desk: Desk) -> None:
    """Strike the last entry; again, the one before."""
    last = desk.session.last_entry()
    if last is None:
        desk.hint = "nothing to strike"
        return
    step, before = desk.session.standing_step(last), desk.case
    desk.session.strike(last.seq)
    say_changes(desk, before)
    if step is not None and step in desk.protocol.stage_of:
        desk.mark(step)


def back_stamp(desk: Desk) -> None:
    """Put the last entry a minute earlier; again, one more."""
    last = desk.session.last_timed()
    if last is None:
        desk.hint = "nothing to back-stamp"
    else:
        desk.say(ev.BackStamp, ref=last.seq, seconds=BACK_STAMP_S)


def ask_missed(desk: Desk) -> None:
    """Ask between which two entries something was missed, and what."""
    stages = [*((s.label, s.steps) for s in desk.protocol.stages), ("any time", desk.protocol.anytime)]
    desk.panel = Missed(_between(desk), partial(_missed, desk), stages, desk.stage)


def _between(desk: Desk) -> Sequence[tuple[float, str]]:
    """For each pair of neighbouring entries, in their order: the second between them, and its words."""
    entries = [e for e in desk.case.log if e.step][-20:]
    now_t = desk.session.now_t(desk.session.clock())
    words = [
        (
            (before.t + after.t) / 2,
            f"{desk.protocol.label(before.step or '')} {clock_time(before.at)} and"
            f" {desk.protocol.label(after.step or '')} {clock_time(after.at)}",
        )
        for before, after in pairwise(entries)
    ]
    if not entries:
        return words
    last = entries[-1]
    since = f"{desk.protocol.label(last.step or '')} {clock_time(last.at)} and now"
    return [*words, ((last.t + now_t) / 2, since)]


def _missed(desk: Desk, step: str, t: float) -> None:
    back_s = desk.session.now_t(desk.session.clock()) - t
    before = desk.case
    desk.session.natural(step, max(0.0, round(back_s, 3)))
    say_changes(desk, before)


def late_burst(desk: Desk) -> tuple[ev.Event, ...]:
    """The last ticks if they came late: five or more in one go, after two quiet minutes."""
    # From the end, and no further than the burst: this is asked after every tick.
    ticks = (e for e in reversed(desk.case.events) if isinstance(e, _TIMED))
    burst = [last] if (last := next(ticks, None)) else []
    for earlier in ticks:
        gap = burst[-1].entered_at - earlier.entered_at
        if gap > BURST_PAUSE:
            late = gap >= BURST_GAP and len(burst) >= BURST and not _shifted(desk, burst)
            return tuple(reversed(burst)) if late else ()
        burst.append(earlier)
    return ()


def _shifted(desk: Desk, burst: Sequence[ev.Event]) -> bool:
    """Whether one of them was back-stamped or struck already; `burst` is given last first."""
    since = takewhile(lambda e: e.seq > burst[-1].seq, reversed(desk.case.events))
    shifted = {e.ref for e in since if isinstance(e, _SHIFTS)}
    return any(e.seq in shifted for e in burst)


def spread(desk: Desk) -> None:
    """Spread the last burst of late ticks evenly over the quiet time before it, and say what hangs on them.

    Nothing is put before what was entered earlier, of whatever kind, so that no span ends before its start and
    no clock stops before the reading that started it. A tick whose time somebody told keeps that time.
    """
    burst = late_burst(desk)
    if not burst:
        desk.hint = "no burst of late ticks to spread"
        return
    at = {e.seq: e.t for e in desk.case.log}
    earlier = [e.t for e in desk.case.log if is_told(e.event) and e.seq < burst[0].seq]
    start, stop = max(earlier, default=0.0), at[burst[-1].seq]
    untimed = [e for e in burst if e.at == e.entered_at]
    for i, event in enumerate(untimed, 1):
        t = start + (stop - start) * i / (len(untimed) + 1)
        desk.say(ev.BackStamp, ref=event.seq, seconds=round(at[event.seq] - t, 3), spread=True)
    desk.hint = f"{len(untimed)} ticks over {span_words(stop - start)}, times spread by the program"
    now_t = desk.session.now_t(desk.session.clock())
    hanging = dict.fromkeys(
        d.step for d in unjudged(desk.case, now_t) if d.key.startswith(("clock:", "length:"))
    )
    if hanging:
        desk.hint += f"; not judged: {', '.join(map(desk.protocol.label, hanging))}"
