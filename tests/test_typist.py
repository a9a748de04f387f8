"""The typist of the benchmark: without slips its journal is what was meant; a slip is found and struck."""

from __future__ import annotations

from random import Random

import pytest

from bench.hard_cases import hard_case
from bench.intentions import HardCase, Intention
from bench.key_rules import rule_of_tree
from bench.tally import KINDS, Tally, total, wilson
from bench.textbook_keys import cost_of_textbook
from bench.told_facts import FRAME, facts_of, meant_by
from bench.typing_person import Typist
from bench.uk_keyboard import neighbours

CASES = range(8)
CASE_BEGUN = 3
"""Entries that opening a case makes: it is opened, its facts, who operates."""


def _logged(case: HardCase, slips: float, seed: str = "11/0/hand") -> Typist:
    typist = Typist(case, rule_of_tree(), Random(seed), slips, Tally())
    typist.log()
    typist.settle()
    return typist


@pytest.mark.parametrize("n", CASES)
def test_without_slips_the_journal_holds_what_was_meant_in_that_order(n: int) -> None:
    """Nothing more, nothing less, nothing struck, though the person looks only now and then."""
    case = hard_case(f"11/{n}")

    typist = _logged(case, slips=0.0)

    entries = [e for e in typist.rig.events[CASE_BEGUN:] if e.kind not in FRAME]
    assert [f for e in entries for f in facts_of(e, typist.by_seq)] == [
        fact for intention in case.intentions for fact in meant_by(intention)
    ]
    assert (typist.tally.lost, typist.tally.left, typist.tally.strikes) == (0, 0, 0)


def test_hard_cases_differ_in_what_makes_them_hard() -> None:
    """Loops of staining and of cutting, both ways of filling the eye, complications: each occurs and varies."""
    told = [hard_case(f"11/{n}").intentions for n in range(40)]

    def times(kind: str, step: str = "") -> set[int]:
        return {sum(i.kind == kind and i.step == step for i in case) for case in told}

    assert {1, 2, 3} <= times("start", "rx_cut")
    assert {1, 2, 3} <= times("start", "peel_post")
    assert {0, 1} <= times("start", "oil_in") & times("start", "gas_in") & times("start", "pfcl_oil")
    assert {0, 1} <= times("complication") & times("hand_over") & times("operator")
    assert {0, 1} == times("not_needed", "core_vit")


def test_the_same_seed_is_the_same_typist() -> None:
    """Every key, slip and entry of a case comes again."""
    first, second = (_logged(hard_case("11/3"), slips=0.1) for _ in range(2))

    assert [e.model_dump() for e in first.rig.events] == [e.model_dump() for e in second.rig.events]
    assert first.tally == second.tally


def test_all_kinds_of_slip_are_drawn_about_equally_often() -> None:
    """Over five cases at one key in five, each kind is between a tenth and three tenths of all slips."""
    tallies = [_logged(hard_case(f"11/{n}"), slips=0.2).tally for n in range(5)]
    slips = {kind: sum(tally.kinds[kind].slips for tally in tallies) for kind in KINDS}

    assert all(0.1 < n / sum(slips.values()) < 0.3 for n in slips.values()), slips


def test_an_entry_that_nobody_meant_is_found_shown_and_struck_at_the_next_look() -> None:
    """A bookmark of a wrong key is laid to its slip; the screen tells of it and one strike mends it."""
    case = HardCase(hard_case("11/0").facts, (Intention("tick", "sign_in"),))
    typist = Typist(case, rule_of_tree(), Random("11/0/hand"), 0.0, Tally())
    for intention in case.intentions:
        typist.mean(intention)
    typist.slipped("neighbour", "a bookmark")
    typist.press(typist.rig.keys_of("bookmark"), meant=False)

    typist.look()
    typist.settle()

    found = typist.tally.kinds["neighbour"]
    assert (found.slips, found.wrote, found.entries, found.shown, found.mended) == (1, 1, 1, 1, 1)
    assert [e.kind for e in typist.rig.events[-2:]] == ["bookmark", "strike"]
    assert (typist.tally.lost, typist.tally.left) == (0, 0)


def test_what_was_meant_and_not_written_is_entered_when_it_is_seen_to_be_missing() -> None:
    """A hand taken off the key: the look finds the step without a tick, and ticks it."""
    case = HardCase(hard_case("11/0").facts, (Intention("tick", "sign_in"),))
    typist = Typist(case, rule_of_tree(), Random("11/0/hand"), 0.0, Tally())
    hand, typist.key = typist.key, lambda key: 0  # type: ignore[method-assign]
    typist.mean(case.intentions[0])
    typist.key = hand  # type: ignore[method-assign]

    typist.look()
    typist.settle()

    assert [e.kind for e in typist.rig.events[CASE_BEGUN:]] == ["tick"]
    assert typist.tally.lost == 0


def test_nothing_is_counted_twice() -> None:
    """Entries laid to slips and those without a slip are all the strays; no slip is shown that wrote nothing."""
    typist = _logged(hard_case("11/5"), slips=0.1)
    all_slips = total(typist.tally.as_dict()["kinds"])

    assert all_slips["entries"] + typist.tally.later == len(typist.strays)
    assert len({s.event.seq for s in typist.strays}) == len(typist.strays)
    assert all_slips["mended"] <= all_slips["shown"] <= all_slips["wrote"] <= all_slips["slips"]


def test_the_textbook_case_is_sixty_steps() -> None:
    """Its journal holds sixty steps, which the count itself asserts, and a key for each at least."""
    cost = cost_of_textbook(rule_of_tree())
    assert (cost.steps, cost.ticks >= cost.steps) == (60, True)


@pytest.mark.parametrize(
    ("key", "near"),
    [
        ("g", {"f", "h", "t", "y", "v", "b"}),
        ("5", {"4", "6", "r", "t"}),
        (";", {"l", "'", "p", "[", ".", "/"}),
        ("P", {"O", "{", ")", "_", "L", ":"}),
        ("enter", {"#", "'", "]"}),
    ],
)
def test_neighbours_are_those_of_a_uk_keyboard(key: str, near: set[str]) -> None:
    """Beside it in its row, and those it touches above and below; with shift held they are shifted."""
    assert set(neighbours(key)) == near


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_gives_the_published_intervals(hits: int, n: int, low: float, high: float) -> None:
    """Newcombe 1998, Stat Med 17:857, table I, method 3."""
    assert wilson(hits, n) == pytest.approx((low, high), abs=5e-5)
