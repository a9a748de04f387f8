"""What is open in a case: the hand-over sheet, as values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Final

from msgspec import Struct

from tracker.core.case import Case, CountLine, PairState, due_marks
from tracker.core.deviations import (
    Deviation,
    confirmed,
    deviations,
    hand_overs_of,
    open_counts,
    reading_of,
)
from tracker.core.protocol import Pair, Protocol, Step
from tracker.core.wording import CODE_WORDS, clock_time, hms, side_words
from tracker.theatre.entry_words import entry_words


class OpenItem(Struct, frozen=True, gc=False):
    """One thing that is open: a word for what kind, and the words for it."""

    word: str
    text: str


BESIDE: Final = frozenset({"side", "on", "operating", "not open", "entry"})
"""Words of the sheet for what is said with the rest and is not open itself."""
NOTHING_TYPED: Final[Mapping[str, str]] = MappingProxyType({})


def open_items(case: Case, now_t: float, typed: Mapping[str, str] = NOTHING_TYPED) -> tuple[OpenItem, ...]:
    """Everything open and what goes with it, in the order a hand-over says it.

    `typed` is what was typed on the screen and not kept, in words, each under a name of its own.
    """
    return (
        *_side(case), *_posts(case), *_hand_overs(case), *_running(case, now_t), *_pairs(case),
        *_closed_pairs(case), *_due(case), *_counts(case), *_unsaid(case),
        *(OpenItem("typed", words) for words in typed.values()), *_without_reason(case, now_t), *_last_five(case),
    )  # fmt: skip


def _side(case: Case) -> Iterator[OpenItem]:
    if side := side_words(case.protocol, case.facts):
        yield OpenItem("side", side.upper())


def _posts(case: Case) -> Iterator[OpenItem]:
    for word, post in (("on", case.post("circulating")), ("operating", case.post("operator"))):
        if post:
            yield OpenItem(word, case.protocol.label(post))


def _hand_overs(case: Case) -> Iterator[OpenItem]:
    """What was not acknowledged, until the next hand-over; counts not confirmed, until one is said."""
    handed = hand_overs_of(case)
    for last in handed[-1:]:
        if last.accepted is None:
            role = case.protocol.label(last.role)
            yield OpenItem("hand-over", f"{role} has not acknowledged the hand-over")
    first = next((p for p in handed if not confirmed(case, p)), None)
    if first is not None:
        yield OpenItem("hand-over", f"counts not confirmed since {clock_time(first.since.at)}")


def _running(case: Case, now_t: float) -> Iterator[OpenItem]:
    if case.pauses and case.pauses[-1][1] is None:
        yield OpenItem("paused", f"since {clock_time(case.pauses[-1][0].at)}")
    for trouble in case.troubles:
        if trouble.stop is None:
            named = case.protocol.label(trouble.complication) if trouble.complication else "not yet named"
            yield OpenItem("complication", f"{named}, since {clock_time(trouble.start.at)}")
    for step in case.protocol.all_steps():
        last = case.state(step.id).last
        if step.shape == "span" and last and last.stop is None:
            yield OpenItem("running", f"{step.label} {hms(now_t - last.start.t)}")
    for run in case.clocks:
        if run.stop is None:
            yield OpenItem("clock", f"{case.protocol.label(run.clock)} {hms(run.seconds(now_t))}")


def pair_words(pair: Pair, state: PairState) -> str:
    """How a pair stands: how many in and out where that is counted, else its own word."""
    if not pair.counted:
        return f"{pair.label}: {pair.open_word if state.open else pair.closed_word}"
    n_in, n_out = ("?" if n is None else str(n) for n in (state.total(1), state.total(-1)))
    return f"{pair.label}: {n_in} in, {n_out} out"


def _pairs(case: Case) -> Iterator[OpenItem]:
    for pair in case.protocol.pairs:
        if case.pairs[pair.id].open:
            yield OpenItem("in", pair_words(pair, case.pairs[pair.id]))


def _closed_pairs(case: Case) -> Iterator[OpenItem]:
    """One line, so that what is not in the eye is said as well."""
    if closed := [p.label for p in case.protocol.pairs if not case.pairs[p.id].open]:
        yield OpenItem("not open", ", ".join(closed))


def due_word(case: Case, step: Step) -> str:
    """What a step is that its trigger asks for: due again only where it was done before."""
    return "due again" if case.state(step.id).done else "due"


def _due(case: Case) -> Iterator[OpenItem]:
    for step in case.protocol.all_steps():
        for mark in due_marks(case, step)[-1:]:
            yield OpenItem(due_word(case, step), f"{step.label}: {mark.reason}")


def count_words(protocol: Protocol, line: str, said: CountLine) -> str:
    """How a counted line stands."""
    final = "" if said.final is None else f", said {said.final}"
    start = "?" if said.start is None else said.start
    return f"{protocol.label(line)}: {start} + {said.added} - {said.removed} = {said.expected}{final}"


def _counts(case: Case) -> Iterator[OpenItem]:
    for count in open_counts(case):
        yield OpenItem("count", count.words(case.protocol))
    for line, said in case.counts.items():
        if said.expected is not None and said.final != said.expected:
            yield OpenItem("count", count_words(case.protocol, line, said))


def _unsaid(case: Case) -> Iterator[OpenItem]:
    for step in case.protocol.all_steps():
        for tick in case.state(step.id).ticks:
            at = clock_time(tick.start.at)
            if step.shape == "decision" and tick.choice is None:
                yield OpenItem("choice", f"{step.label} {at}: not stated")
            missing = [w for w in step.readings if reading_of(case, tick, w.id) is None]
            # A step that is a reading and nothing else asked for a figure, whichever the file requires.
            none_given = step.shape == "reading" and len(missing) == len(step.readings)
            for wanted in missing:
                if wanted.required or none_given:
                    yield OpenItem(
                        "reading", f"{step.label} {at}: {case.protocol.label(wanted.id)} not given"
                    )


def deviation_words(protocol: Protocol, deviation: Deviation) -> str:
    """A deviation in one quiet line."""
    words = CODE_WORDS[deviation.code]
    found = "" if deviation.found == words else f" ({deviation.found})"
    if deviation.code == "reading_caution":
        # A reading may be usual and past a limit all the same: which limit it is has to be said.
        found = f" ({deviation.found}; {deviation.expected})"
    return f"{protocol.label(deviation.step)}: {words}{found}"


def _without_reason(case: Case, now_t: float) -> Iterator[OpenItem]:
    for deviation in deviations(case, now_t):
        told = deviation.code in ("late_entry", "complication") or _stands_above(case, deviation)
        if deviation.given is None and not told:
            yield OpenItem("deviation", deviation_words(case.protocol, deviation))


def _stands_above(case: Case, deviation: Deviation) -> bool:
    """Whether what a deviation is about is still open, and so told as that already."""
    handed = hand_overs_of(case)
    match deviation.code:
        case "reading_missing":
            return True
        case "count_unsaid":
            return any(c.step.id == deviation.step and c.lines for c in open_counts(case))
        case "handover_unconfirmed":
            return any(not confirmed(case, p) for p in handed)
        case "handover_unacknowledged":
            last = handed[-1]
            return last.accepted is None and deviation.key.endswith(f":{last.since.seq}")
    return False


def _last_five(case: Case) -> Iterator[OpenItem]:
    for entry in reversed(case.log[-5:]):
        yield OpenItem("entry", f"{clock_time(entry.at)} {' '.join(entry_words(case, entry)).rstrip()}")
