"""The fold over any sequence of events at all: one by one or at once, and never an exception."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from any_events import FORWARD, event_lists, forward_lists
from story import protocol_of
from strategies import protocols
from tracker.core import events as ev
from tracker.core.case import Case, blank, status
from tracker.core.deviations import Deviation, deviations
from tracker.core.durations import (
    case_seconds,
    operators,
    pauses,
    since_previous_tick,
    stage_seconds,
    step_intervals,
    step_seconds,
    tick_interval,
)
from tracker.core.entries import standing
from tracker.core.fold import extend, fold
from tracker.core.protocol import Protocol

FILE = protocol_of("""
[[facts]]
id = "plan"
label = "Plan"
kind = "choice"
default = "x"
choices = [{ id = "x", label = "X", key = "x" }, { id = "y", label = "Y", key = "y" }]

[[readings]]
id = "n"
label = "Number"
plausible = [0, 60]
caution_above = 40
caution_total_above = 100

[[counted]]
id = "swab"
label = "Swabs"

[[complications]]
id = "bleed"
label = "Bleeding"

[[stages]]
id = "one"
label = "One"
[[stages.steps]]
id = "a"
label = "A"
starts_case = true
readings = [{ id = "n", required = true }]
due_again = [
  { step = "b", edge = "stop", reason = "b was done" },
  { event = "operator", reason = "new hands" },
]
[[stages.steps]]
id = "b"
label = "B"
shape = "span"
occurrence = "repeat"
minutes = [1, 10]
needs = [
  { step = "a", level = "safety", reason = "first" },
  { pair_open = "pair", level = "order", reason = "in" },
]
[[stages.steps]]
id = "c"
label = "C"
shape = "decision"
plan_fact = "plan"
choices = [{ id = "x", label = "X", key = "x" }, { id = "y", label = "Y", key = "y" }]
needs = [{ step = "b", until = "stop", level = "order", reason = "finished" }]
[[stages.steps]]
id = "count_1"
label = "First count"
shape = "count"
count = "opening"

[[stages]]
id = "two"
label = "Two"
[[stages.steps]]
id = "d"
label = "D"
occurrence = "one_of"
group = "g"
needs = [{ pair_closed = "pair", level = "safety", reason = "out" }]
[[stages.steps]]
id = "e"
label = "E"
shape = "span"
occurrence = "one_of"
group = "g"
when = { any = [{ decision = "c", choice = ["y"] }, { pair = "pair", state = "ever_open" }] }
[[stages.steps]]
id = "f"
label = "F"
needs = [{ any_step = ["d", "e"], until = "stop", level = "order", reason = "one of them" }]
sets = [{ fact = "plan", to = "y" }]
[[stages.steps]]
id = "count_2"
label = "Last count"
shape = "count"
count = "closing"
due_again = [{ event = "count_changed", reason = "items" }]
[[stages.steps]]
id = "z"
label = "Z"
ends_case = true
[[stages.steps]]
id = "zz"
label = "Debrief"

[[clocks]]
id = "clock"
label = "Clock"
start = [{ step = "b" }, { reading = "n", above = 40 }]
stop = [{ step = "a" }, { complication = "bleed" }]
amber_s = 60
[[clocks]]
id = "least"
label = "Least"
start = [{ step = "a" }]
stop = [{ step = "c" }]
min_s = 60

[[pairs]]
id = "pair"
label = "Pair"
counted = true
opens = [{ step = "b", edge = "stop", amount_from = "n" }, { step = "a", amount = 1 }]
closes = [{ step = "f", amount_from = "n" }, { step = "e", edge = "stop" }]
by = "count_2"
""")

ANY = event_lists(FILE)
SLOW_TO_DRAW = settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def _grown(protocol: Protocol, events: tuple[ev.Event, ...]) -> list[Case]:
    """The case after each event, by `extend` alone."""
    cases = [blank(protocol)]
    for event in events:
        cases.append(extend(cases[-1], event))
    return cases


def _same(one: Case, other: Case) -> bool:
    """Equality of whole cases; two values that are no number are the same where they are written the same."""
    return one == other or repr(one) == repr(other)


@settings(SLOW_TO_DRAW, max_examples=200)
@given(ANY)
def test_one_by_one_is_all_at_once(events: tuple[ev.Event, ...]) -> None:
    """Extending a case event by event gives at each of them the very case that folding them all gives."""
    for n, case in enumerate(_grown(FILE, events)):
        assert _same(case, fold(FILE, events[:n]))


@settings(SLOW_TO_DRAW, max_examples=40)
@given(st.data())
def test_one_by_one_is_all_at_once_for_any_file(data: st.DataObject) -> None:
    """The same holds for any sound protocol, and the rules answer for it."""
    protocol = data.draw(protocols())
    events = data.draw(event_lists(protocol, longest=15))
    for n, case in enumerate(_grown(protocol, events)):
        assert _same(case, fold(protocol, events[:n]))
        deviations(case, case.last_t)


@settings(SLOW_TO_DRAW, max_examples=200)
@given(ANY, st.floats(-1e6, 1e9))
def test_nothing_raises_and_nothing_is_negative(events: tuple[ev.Event, ...], now_t: float) -> None:
    """Whatever happened, every question has an answer at any time, and no duration is below nought."""
    case = fold(FILE, events)
    deviations(case, now_t)
    lengths = [run.seconds(now_t) for run in case.clocks]
    lengths += [gap.stop.t - gap.start.t for gap in case.gaps]
    lengths += [i.seconds for i in pauses(case, now_t)]
    lengths += [seconds for _, seconds in since_previous_tick(case)]
    lengths += [case_seconds(case, now_t) or 0.0]
    lengths += [stage_seconds(case, stage, now_t) or 0.0 for stage in FILE.stages]
    for step in FILE.all_steps():
        assert status(case, step)
        lengths += [step_seconds(case, step, now_t) or 0.0]
        lengths += [i.seconds for i in step_intervals(case, step, now_t)]
        for tick in case.state(step.id).ticks:
            lengths += [tick_interval(tick, now_t).seconds]
            lengths += [i.seconds for _, i in operators(case, tick, now_t)]
    assert min(lengths) >= 0


@settings(SLOW_TO_DRAW)
@given(ANY, st.lists(st.integers(1, 5), max_size=25))
def test_damaged_numbering_raises_nothing(events: tuple[ev.Event, ...], seqs: list[int]) -> None:
    """Sequence numbers that repeat or run backwards, as in a damaged file, are survived."""
    damaged = [e.model_copy(update={"seq": n}) for e, n in zip(events, seqs, strict=False)]
    case = fold(FILE, damaged)

    deviations(case, case.last_t)


@settings(SLOW_TO_DRAW)
@given(ANY)
def test_nothing_is_dropped(events: tuple[ev.Event, ...]) -> None:
    """Every line is kept as written, every line that stands is in the log, in order of time and number."""
    case = fold(FILE, events)

    assert case.events == events
    assert case.log == standing(events)
    assert all((a.t, a.seq) < (b.t, b.seq) for a, b in pairwise(case.log))
    assert {e.event.kind for e in case.log} & {"holographic"} <= {e.event.kind for e in case.odd}


@settings(SLOW_TO_DRAW)
@given(ANY)
def test_fold_is_a_function(events: tuple[ev.Event, ...]) -> None:
    """The same events give the same case and the same deviations, and asking changes nothing."""
    case, again = fold(FILE, events), fold(FILE, list(events))
    first = deviations(case, case.last_t)
    keys = [d.key for line in first for d in line.all]

    assert _same(case, again)
    assert deviations(again, again.last_t) == first
    assert len(set(keys)) == len(keys)


def _by_key(case: Case) -> dict[str, Deviation]:
    """Everything that was found, also what stands beneath another line."""
    return {d.key: d for line in deviations(case, case.last_t) for d in line.all}


@settings(SLOW_TO_DRAW)
@given(ANY)
def test_key_keeps_its_meaning(events: tuple[ev.Event, ...]) -> None:
    """Whatever follows, a key means the same; only a need missing may become one out of order."""
    final = _by_key(fold(FILE, events))
    for case in _grown(FILE, events):
        for key, live in _by_key(case).items():
            if key in final:
                needs = {"prereq_missing", "out_of_order"}
                assert {live.code, final[key].code} <= needs or live.code == final[key].code
                assert live.level == final[key].level


@settings(SLOW_TO_DRAW)
@given(forward_lists(FILE))
def test_what_was_one_line_stays_one_line(events: tuple[ev.Event, ...]) -> None:
    """Deviations that were told in one line while the case went on are not parted later."""
    final = deviations(case := fold(FILE, events), case.last_t)
    where = {d.key: line.key for line in final for d in line.all}
    for grown in _grown(FILE, events):
        for line in deviations(grown, grown.last_t):
            assert len({where[d.key] for d in line.all if d.key in where}) <= 1


LASTING = ("repeated", "out_of_order", "clock_under", "clock_over", "over_time", "plan_changed",
           "count_discrepancy", "count_unsaid", "handover_unacknowledged", "handover_unconfirmed",
           "late_entry", "complication", "prereq_missing")  # fmt: skip


@settings(SLOW_TO_DRAW, max_examples=200)
@given(forward_lists(FILE, [k for k in FORWARD if k != "reading"]))
def test_live_never_contradicts_the_record(events: tuple[ev.Event, ...]) -> None:
    """Without corrections, what the live screen said is in the record: same key, level, place and time."""
    final = _by_key(fold(FILE, events))
    for case in _grown(FILE, events):
        for key, live in _by_key(case).items():
            if live.code not in LASTING or (
                live.code == "over_time" and f"unmatched:{live.step}" in str(final)
            ):
                continue
            later = final[key]
            assert (later.level, later.when) == (live.level, live.when)
            assert later.step == live.step or live.code == "complication"
            assert later.code == live.code or live.code == "prereq_missing"
