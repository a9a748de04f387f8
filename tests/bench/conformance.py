"""Order rules over 1,000 traces: ours beside pm4py's declarative check and its optimal alignment."""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Callable

from pm4py.algo.conformance.alignments.petri_net import algorithm as alignments
from pm4py.algo.conformance.declare import algorithm as declare
from pm4py.objects.log.obj import Event, EventLog, Trace
from pm4py.objects.petri_net.obj import Marking, PetriNet
from pm4py.objects.petri_net.utils.petri_utils import add_arc_from_to

from tracker.audit.statistics.precedence import broken

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


def measured() -> tuple[float, float, float]:
    """Milliseconds for the same nine needs over the same traces: ours, the declarative check, the alignment."""
    found = traces()
    log, needs = as_log(found), list(itertools.pairwise(STEPS))
    model = {"precedence": {pair: {"support": 1.0, "confidence": 1.0} for pair in needs}}
    ours = min(took_ms(lambda: broken(found, "precedence", needs)) for _ in range(5))
    quiet = {alignments.Parameters.SHOW_PROGRESS_BAR: False}
    declared = min(took_ms(lambda: declare.apply(log, model)) for _ in range(5))
    aligned = took_ms(lambda: alignments.apply_log(log, *linear_net(), parameters=quiet))
    return ours, declared, aligned
