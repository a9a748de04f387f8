"""The times of many cases of one pattern: when each thing happened, and when it was entered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from tracker.audit.invented.pattern import Pattern
from tracker.audit.invented.truth import Truth
from tracker.core import events as ev

Whole = NDArray[np.int64]
Floats = NDArray[np.float64]
_MS: Final = 60_000


@dataclass(frozen=True, slots=True)
class Times:
    """Case by entry, in ms from the first line: when it happened (`told`) and when its key was pressed."""

    told: Whole
    entered: Whole

    @property
    def late(self) -> Whole:
        """How long after it happened each entry was made, in ms."""
        return self.entered - self.told


@dataclass(frozen=True, slots=True)
class Pace:
    """What multiplies the lengths of each case: all of them, and those of the stage that changes."""

    whole: Floats
    stage: Floats


def draw_times(pattern: Pattern, pace: Pace, truth: Truth, seed: int) -> Times:
    """Draw the times of as many cases as `pace` is for; the same seed gives the same times."""
    # Of the file only what makes the course counts: a comment put right in it invents no other cases.
    drawn_for = repr([stroke for stroke in pattern.course if stroke.kind is not ev.Opened])
    rng = np.random.default_rng([seed, crc32(drawn_for.encode())])
    n, strokes = pace.whole.size, pattern.course
    sigma = np.array([truth.step_sigma if s.sigma is None else s.sigma for s in strokes])
    length = rng.standard_normal((n, len(strokes)))
    length *= sigma
    np.exp(length, out=length)
    length *= np.array([s.median for s in strokes])
    length *= pace.whole[:, None]
    changes = np.array([s.stage == truth.change_stage for s in strokes])
    length[:, changes] *= pace.stage[:, None]
    ms = np.maximum(np.rint(length * _MS), 1).astype(np.int64)
    ms[:, 0] = 0
    told = np.cumsum(ms, axis=1)[:, list(pattern.places)]
    return Times(told, _entered(pattern, told, truth, rng))


def _entered(pattern: Pattern, told: Whole, truth: Truth, rng: np.random.Generator) -> Whole:
    """When each entry was made: what slipped the mind comes later, and nothing before what came before it."""
    if pattern.reopened:
        return told  # opening the journal again is told as it happens
    lapsed = rng.random(told.shape) < truth.lapse
    lapsed[:, [isinstance(e, ev.Opened) for e in pattern.events]] = False
    ms = rng.lognormal(np.log(truth.lapse_minutes * _MS), truth.lapse_sigma, told.shape)
    return np.maximum.accumulate(told + np.where(lapsed, np.rint(ms), 0).astype(np.int64), axis=1)
