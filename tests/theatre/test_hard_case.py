"""Three hard hours: 250 entries, forty interruptions, two hand-overs, nothing lost and no key swallowed."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest

from desks import board, clock_of, desk_of, keeper_of, shipped
from tracker.core.case import Case
from tracker.core.fold import fold
from tracker.core.protocol import Step
from tracker.theatre.desk import Desk

INTERRUPTIONS = (
    ["<note>", *"gauze", "escape"],  # a note begun and left
    ["<reading>", "2", "5"],  # a reading half typed: the next key is a step's
    ["4", "2"],  # figures that nothing asked for
    ["?", "escape"],
    ["<open>"],
    ["<bookmark>"],
    ["<pause>", "+1", "<pause>", "+240", "<pause>", "+1", "<pause>"],
    ["backspace"],  # a wrong key
    ["<back_stamp>", "+0.2", "<back_stamp>", "+0.2", "<back_stamp>"],  # that was three minutes ago
    ["<complication>", "+200", "<complication>", "escape", "<complication>", "z"],
    ["<entries>", "escape"],
    ["'", "escape"],
    ["%", "%"],  # a key that means nothing here
    ["left", "right"],
    ["<count>", "escape"],
)  # fmt: skip
HAND_OVER = ["<hand_over>", "a", "y", "+2", "y"]


@dataclass
class Log:
    """What was pressed, and what came of each key."""

    keys: int = 0
    swallowed: list[str] = field(default_factory=list)


def _press(desk: Desk, log: Log, key: str) -> None:
    if key.startswith("+"):
        clock_of(desk).on(float(key))
        return
    key = desk.keys_of(key[1:-1])[0] if len(key) > 2 and key.startswith("<") else key
    before = (len(desk.case.events), board(desk), desk.hint)
    desk.press(key)
    log.keys += 1
    if (len(desk.case.events), board(desk)) == before[:2] and not desk.hint:
        log.swallowed.append(key)


def _reach(desk: Desk, log: Log, step: Step) -> None:
    """Arrows to the stage of a step; a finger that knows its keyboard takes the shorter way."""
    while step.id in desk.protocol.stage_of and desk.stage != desk.stage_of(step.id):
        ahead = (desk.stage_of(step.id) - desk.stage) % len(desk.protocol.stages)
        _press(desk, log, "right" if ahead <= len(desk.protocol.stages) // 2 else "left")


def _hard_case(seed: int) -> tuple[Desk, Log]:
    chance = random.Random(seed)
    facts = {"planned_retinectomy": "inferior_180", "lens": "phakic"}
    desk, log = desk_of(shipped(), facts=facts), Log()
    steps = [s for s in desk.protocol.all_steps() if s.key and not s.ends_case]
    interrupted = 0
    while len(desk.case.events) < 250 or interrupted < 40:
        step = steps[len(desk.case.events) * len(steps) // 260 % len(steps)]
        if chance.random() < 0.3:
            step = chance.choice(steps)
        _press(desk, log, f"+{chance.randint(5, 70)}")
        if desk.panel is not None:
            _press(desk, log, "escape")
        _reach(desk, log, step)
        _press(desk, log, step.key or "space")
        if "once more" in desk.hint:
            _press(desk, log, "+0.6")
            _press(desk, log, step.key or "space")
        if chance.random() < 0.3:
            interrupted += 1
            if desk.panel is not None and desk.panel.lists:
                _press(desk, log, "escape")
            keys = HAND_OVER if interrupted in (12, 30) else chance.choice(INTERRUPTIONS)
            for key in keys:
                _press(desk, log, key)
    return desk, log


@pytest.fixture(scope="module", params=[1, 2, 3])
def played(request: pytest.FixtureRequest) -> tuple[Desk, Log]:
    """A hard case, played once a seed."""
    return _hard_case(request.param)


def test_no_key_is_swallowed(played: tuple[Desk, Log]) -> None:
    """Every key made an entry, changed what is seen, or was answered in words."""
    _, log = played
    assert log.swallowed == []


def test_everything_is_kept_and_folds_to_the_same(played: tuple[Desk, Log]) -> None:
    """What the keeper has, folded afresh, is the case on the screen."""
    desk, _ = played
    kept: Case = fold(desk.protocol, keeper_of(desk).events)

    assert len(kept.events) >= 250
    assert kept == desk.case


def test_it_was_a_hard_case(played: tuple[Desk, Log]) -> None:
    """Three hours or more, two hand-overs acknowledged, complications, pauses and corrections among it."""
    desk, _ = played
    kinds = [e.kind for e in desk.case.events]

    assert desk.case.last_t >= 3 * 3600 * 0.7
    assert kinds.count("handover") == kinds.count("handover_accepted") == 2
    assert {"strike", "back_stamp", "complication", "paused"} <= set(kinds)


def test_an_entry_costs_few_keys(played: tuple[Desk, Log]) -> None:
    """Out of order, over all stages, with every interruption counted: under four keys an entry."""
    desk, log = played
    assert log.keys / len(desk.case.events) < 4
