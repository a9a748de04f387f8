"""Cross-checks of figures: ranges the right way round, limits inside them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tracker.core.loading.sentences import figure
from tracker.core.loading.walk import Remark, Rule, each_step, each_trigger, named
from tracker.core.protocol import Protocol, Range, Reading


def _ranges(protocol: Protocol) -> Iterator[tuple[str, Range | None]]:
    yield from ((f"{path}.plausible", fact.plausible) for path, fact in named("facts", protocol.facts))
    for path, reading in named("readings", protocol.readings):
        yield f"{path}.plausible", reading.plausible
        yield f"{path}.usual", reading.usual
    yield from ((f"{path}.minutes", step.minutes) for path, step in each_step(protocol))


def ranges_ascend(protocol: Protocol) -> Iterator[Remark]:
    """The low end of a range is not above the high end, and no minutes are below nought."""
    for path, limits in _ranges(protocol):
        if limits and limits[0] > limits[1]:
            what = f"the low end {figure(limits[0])} is above the high end {figure(limits[1])}"
            yield Remark(path, what, "Write the low end first")
    for path, step in each_step(protocol):
        if step.minutes and min(step.minutes) < 0:
            yield Remark(f"{path}.minutes", "holds minutes below nought", "Write minutes from 0 up")


def _outside(path: str, value: float | None, plausible: Range | None) -> Iterator[Remark]:
    if value is not None and plausible and not plausible[0] <= value <= plausible[1]:
        what = f"{figure(value)} lies outside the plausible {figure(plausible[0])} to {figure(plausible[1])}"
        yield Remark(path, what, "Move one of the two")


def _of_reading(path: str, reading: Reading) -> Iterator[Remark]:
    for value in dict.fromkeys(reading.usual or ()):
        yield from _outside(f"{path}.usual", value, reading.plausible)
    yield from _outside(f"{path}.caution_below", reading.caution_below, reading.plausible)
    yield from _outside(f"{path}.caution_above", reading.caution_above, reading.plausible)
    below, above = reading.caution_below, reading.caution_above
    if below is not None and above is not None and below > above:
        what = f"every value is marked: caution begins below {figure(below)} and above {figure(above)}"
        yield Remark(path, what, "Put caution_below beneath caution_above")


def limits_fit(protocol: Protocol) -> Iterator[Remark]:
    """Usual and caution limits and defaults lie inside what is plausible."""
    for path, reading in named("readings", protocol.readings):
        yield from _of_reading(path, reading)
    for path, fact in named("facts", protocol.facts):
        if fact.kind == "number" and not isinstance(fact.default, bool | str | None):
            yield from _outside(f"{path}.default", fact.default, fact.plausible)


def clock_limits(protocol: Protocol) -> Iterator[Remark]:
    """A clock has a least time, or an amber and a later red one, not both."""
    for path, clock in named("clocks", protocol.clocks):
        if clock.amber_s is not None and clock.red_s is not None and clock.amber_s >= clock.red_s:
            what = f"amber at {figure(clock.amber_s)} s is not before red at {figure(clock.red_s)} s"
            yield Remark(f"{path}.amber_s", what, "Give amber the shorter time")
        if clock.min_s is not None and (clock.amber_s is not None or clock.red_s is not None):
            what = "has a least time and a longest time together"
            yield Remark(f"{path}.min_s", what, "Make two clocks of it")


def trigger_limits(protocol: Protocol) -> Iterator[Remark]:
    """Some value is above `above` and yet at most `at_most`."""
    for path, _, trigger in each_trigger(protocol):
        if trigger.above is not None and trigger.at_most is not None and trigger.above >= trigger.at_most:
            what = f"no value is above {figure(trigger.above)} and at most {figure(trigger.at_most)}"
            yield Remark(path, what, "Give at_most the greater figure")


FIGURE_CHECKS: Final[tuple[Rule, ...]] = (ranges_ascend, limits_fit, clock_limits, trigger_limits)
"""Every cross-check of figures."""
