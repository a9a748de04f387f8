"""Three hard hours: 250 entries, forty interruptions, two hand-overs, nothing lost and no key swallowed."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest

from desks import board, desk_of, keeper_of, press, shipped
from tracker.core.case import Case
from tracker.core.fold import fold
from tracker.core.protocol import Step
from tracker.theatre.desk import Desk

INTERRUPTIONS = (
    "<note> g a u z e escape",  # a note begun and left
    "<reading> 2 5",  # a reading half typed: the next key is a step's
    "4 2",  # figures that nothing asked for
    "? +1 ?",
    "<open>",
    "<bookmark>",
    "<pause> +1 <pause> +240 <pause> +1 <pause>",  # it asks once more
    "<strike>",  # a wrong key
    "<back_stamp> +1 <back_stamp> +1 <back_stamp>",  # that was three minutes ago
    "<complication> escape +200 <complication> z",
    "<entries> escape",
    "<missed> escape",
    "ctrl+z +1 ctrl+z",  # a key that means nothing here
    "left right",
    "<count> escape",
    "2 5 <reading> escape",  # figures before the key of the reading
    "enter",  # a habit from other programs
    "<decision> Z escape",  # a key that is no answer
)
"""What is pressed between two steps, as `desks.press` reads it."""
HAND_OVER = "<hand_over> down enter y y"


@dataclass
class Log:
    """What was pressed, and what came of each key."""

    keys: int = 0
    asked: int = 0
    swallowed: list[str] = field(default_factory=list)


def _press(desk: Desk, log: Log, script: str) -> None:
    for word in script.split():
        before = (len(desk.case.events), board(desk))
        press(desk, word)
        if word.startswith("+"):
            continue
        log.keys += 1
        if (len(desk.case.events), board(desk)) == before and not desk.hint:
            log.swallowed.append(word)


def _reach(desk: Desk, log: Log, step: Step) -> None:
    """Nothing for a step on the screen; else arrows to its stage, the shorter way; an open question has its own."""
    while step.id in desk.protocol.stage_of and step.id not in desk.on_screen().steps:
        if desk.panel is not None:
            _press(desk, log, "escape")
        ahead = (desk.stage_of(step.id) - desk.stage) % len(desk.protocol.stages)
        _press(desk, log, "right" if ahead <= len(desk.protocol.stages) // 2 else "left")


def _enter(desk: Desk, log: Log, step: Step) -> None:
    """Press the letter of a step; what takes letters is left first, and what asks for the key once more gets it."""
    key = step.key or "space"
    if desk.panel is not None and (desk.panel.lists or desk.panel.types(key)):
        _press(desk, log, "escape")
    _reach(desk, log, step)
    before = len(desk.case.events)
    _press(desk, log, key)
    if desk.scene().ask and len(desk.case.events) == before:
        log.asked += 1
        _press(desk, log, key)
    assert len(desk.case.events) > before, (step.id, desk.hint)


def _hard_case(seed: int) -> tuple[Desk, Log]:
    chance = random.Random(seed)
    facts = {"eye": "left", "planned_retinectomy": "inferior_180", "lens": "phakic"}
    desk, log = desk_of(shipped(), facts=facts), Log()
    steps = [s for s in desk.protocol.all_steps() if s.key and not s.ends_case]
    interrupted, deck = 0, list[str]()
    while len(desk.case.events) < 250 or interrupted < 40:
        step = steps[len(desk.case.events) * len(steps) // 260 % len(steps)]
        if chance.random() < 0.3:
            step = chance.choice(steps)
        _press(desk, log, f"+{chance.randint(5, 70)}")
        _enter(desk, log, step)
        if chance.random() < 0.3:
            interrupted += 1
            if desk.panel is not None and desk.panel.lists:
                _press(desk, log, "escape")
            # A deck that is drawn empty, so that each comes twice at least.
            deck = deck or chance.sample(INTERRUPTIONS, len(INTERRUPTIONS))
            _press(desk, log, HAND_OVER if interrupted in (12, 30) else deck.pop())
    return desk, log


@pytest.fixture(scope="module", params=[1, 2, 3])
def played(request: pytest.FixtureRequest) -> tuple[Desk, Log]:
    """A hard case, played once a seed."""
    return _hard_case(request.param)


def test_no_key_is_swallowed(played: tuple[Desk, Log]) -> None:
    """Every key made an entry, changed what is seen, or was answered in words."""
    _, log = played
    assert log.swallowed == []


def test_the_key_of_what_is_open_already_says_so() -> None:
    """A question asked for while it is asked stays as it is, with what was typed, and the key is answered."""
    desk = desk_of(keys="P 2 5")
    before = [row.text for row in desk.panel.rows()] if desk.panel else []
    press(desk, "<reading>")

    assert desk.hint == "F1 changes nothing here; Esc goes back to the board"
    assert [row.text for row in desk.panel.rows()] == before if desk.panel else False
    assert before[0] == "25_ mmHg"


def test_everything_is_kept_and_folds_to_the_same(played: tuple[Desk, Log]) -> None:
    """What the keeper has, folded afresh, is the case on the screen."""
    desk, _ = played
    kept: Case = fold(desk.protocol, keeper_of(desk).events)

    assert len(kept.events) >= 250
    assert kept == desk.case


def test_it_was_a_hard_case(played: tuple[Desk, Log]) -> None:
    """Three hours or more, two hand-overs acknowledged, complications, pauses and corrections, keys asked for twice."""
    desk, log = played
    kinds = [e.kind for e in desk.case.events]

    assert desk.case.last_t >= 3 * 3600 * 0.7
    assert kinds.count("handover") == kinds.count("handover_accepted") == 2
    assert {"strike", "back_stamp", "complication", "complication_closed", "paused"} <= set(kinds)
    assert log.asked > 10


def test_an_entry_costs_few_keys(played: tuple[Desk, Log]) -> None:
    """Out of order, over all stages, with every interruption counted: under four keys an entry."""
    desk, log = played
    assert log.keys / len(desk.case.events) < 4
