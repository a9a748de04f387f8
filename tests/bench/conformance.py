"""Order rules over 1,000 traces: as the program keeps them, beside pm4py's declarative check and its alignment.

Ours is the rule of every case, over cases that were folded, and beside it what folding them takes. pm4py has its
log made beforehand.
"""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from pm4py.algo.conformance.alignments.petri_net import algorithm as alignments
from pm4py.algo.conformance.declare import algorithm as declare
from pm4py.objects.log.obj import Event, EventLog, Trace
from pm4py.objects.petri_net.obj import Marking, PetriNet
from pm4py.objects.petri_net.utils.petri_utils import add_arc_from_to

from story import DAY, steps_of
from tracker.core import events as ev
from tracker.core.deviations.of_steps import needs
from tracker.core.fold import fold
from tracker.core.protocol import Protocol

STEPS = tuple("abcdefghij")
TRACES = 1000


def traces(seed: int = 7) -> list[tuple[str, ...]]:
    """A thousand traces of ten steps in order, some steps left out, some exchanged."""
    chance = random.Random(seed)
    made = []
    for _ in range(TRACES):
        steps = [s for s in STEPS if chance.random() > 0.1]
        for _ in range(chance.randint(0, 3)):
            i, j = chance.randrange(len(steps)), chance.randrange(len(steps))
            steps[i], steps[j] = steps[j], steps[i]
        made.append(tuple(steps))
    return made


def protocol() -> Protocol:
    """A file of the ten steps, each in need of the one before."""
    wants = 'needs = [{{ step = "{}", level = "order", reason = "so" }}]'
    later = (f"{b} {wants.format(a)}" for a, b in itertools.pairwise(STEPS))
    return steps_of(STEPS[0], *later)


def as_events(trace: tuple[str, ...]) -> list[ev.Event]:
    """A trace as a journal has it, a tick a minute."""
    start = datetime.combine(DAY, datetime.min.time(), UTC)
    return [
        ev.Tick(seq=n, at=at, entered_at=at, elapsed_ms=n * 60_000, run=1, role="circulating", step=step)
        for n, step in enumerate(trace, 1)
        if (at := start + timedelta(minutes=n))
    ]


def as_log(found: list[tuple[str, ...]]) -> EventLog:
    """The traces as pm4py has them."""
    return EventLog([Trace([Event({"concept:name": step}) for step in trace]) for trace in found])


def linear_net() -> tuple[PetriNet, Marking, Marking]:
    """The steps one after the other, as a net."""
    net = PetriNet("in order")
    places = [PetriNet.Place(f"p{i}") for i in range(len(STEPS) + 1)]
    net.places.update(places)
    for i, step in enumerate(STEPS):
        done = PetriNet.Transition(step, step)
        net.transitions.add(done)
        add_arc_from_to(places[i], done, net)
        add_arc_from_to(done, places[i + 1], net)
    return net, Marking({places[0]: 1}), Marking({places[-1]: 1})


def took_ms(run: Callable[[], object]) -> float:
    """How long one run takes."""
    start = time.perf_counter()
    run()
    return (time.perf_counter() - start) * 1000


def measured() -> tuple[float, float, float, float]:
    """Milliseconds for the same nine needs over the same traces: ours, the fold before it, pm4py's two ways."""
    found, file = traces(), protocol()
    log, told = as_log(found), list(map(as_events, found))
    pairs = list(itertools.pairwise(STEPS))
    model = {"precedence": {pair: {"support": 1.0, "confidence": 1.0} for pair in pairs}}
    cases = [fold(file, events) for events in told]
    ours = min(took_ms(lambda: [list(needs(case, 0.0)) for case in cases]) for _ in range(5))
    folded = min(took_ms(lambda: [fold(file, events) for events in told]) for _ in range(5))
    declared = min(took_ms(lambda: declare.apply(log, model)) for _ in range(5))
    quiet = {alignments.Parameters.SHOW_PROGRESS_BAR: False}
    aligned = took_ms(lambda: alignments.apply_log(log, *linear_net(), parameters=quiet))
    _agree(declare.apply(log, model), [{d.step for d in needs(case, 0.0)} for case in cases])
    return ours, folded, declared, aligned


def _agree(judged: list[dict[str, Any]], found: list[set[str]]) -> None:
    """Two ways that are timed side by side must find the same, else a figure beside the other says nothing."""
    assert [{later for _, (_, later) in each["deviations"]} for each in judged] == found
