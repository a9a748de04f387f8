"""What all deviations have in common: order, keys, reasons, words."""

from __future__ import annotations

from small_procedures import CUT
from story import case_of, found_in, only, steps_of
from tracker.core.deviations import RULES, deviations
from tracker.core.wording import CODE_WORDS

# -- all of them together


def test_reason_stays_with_its_deviation() -> None:
    """A reason given while the case goes on is still with the deviation at its end."""
    story = "09:05:00 tick ports\n09:06:00 reason need:ports<sign_in:1 finding\n09:30:00 tick sign_in"
    given = only(case_of(CUT, story), "out_of_order").given

    assert given is not None
    assert given.reason == "finding"


def test_safety_comes_first_then_time() -> None:
    """Deviations are ordered by level, then by time."""
    case = case_of(CUT, "09:00:00 tick oil_in\n09:05:00 tick ports")

    assert [(d.level, d.seq) for d in found_in(case)] == [
        ("safety", 2),
        ("safety", 2),
        ("order", 1),
    ]


def test_every_rule_says_what_it_looks_for() -> None:
    """Each rule has its sentence, and no two deviations of a case share a key."""
    case = case_of(CUT, "09:00:00 tick cut\n09:01:00 tick cut\n09:05:00 tick ports\n10:00:00 tick out")
    keys = [d.key for d in deviations(case, case.last_t)]

    assert all(rule.__doc__ for rule in RULES)
    assert len(keys) == len(set(keys))
    assert {d.code for d in found_in(case)} <= CODE_WORDS.keys()


def test_levels_are_the_files() -> None:
    """A step is as serious to leave out as the strongest need that anything has of it."""
    steps = steps_of(
        "a",
        "b",
        'c needs = [{ step = "a", level = "order", reason = "r" }]',
        'd needs = [{step="a", level="safety", reason="r"}, {step="b", level="order", reason="r"}]',
    )
    found = found_in(case_of(steps, "09:00:00 tick d"), "skipped")

    assert {d.step: d.level for d in found} == {"a": "safety", "b": "order"}
