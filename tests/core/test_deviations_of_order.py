"""Deviations of order: what came before what it needs, what was ticked again."""

from __future__ import annotations

import pytest

from small_procedures import CUT
from story import case_of, codes_in, found_in, only, protocol_of, steps_of

# -- order


def test_need_never_met_is_missing() -> None:
    """A tick before what it needs, never ticked, has a need missing, with the file's reason."""
    missing = only(case_of(CUT, "09:05:00 tick ports"), "prereq_missing")

    assert (missing.step, missing.level, missing.key) == ("ports", "safety", "need:ports<sign_in:1")
    assert missing.expected == "Sign-in done first: identity first"
    assert missing.found == "not ticked by then"


def test_need_met_later_is_out_of_order() -> None:
    """A need that came after all makes the same deviation out of order, with the time."""
    found = only(case_of(CUT, "09:05:00 tick ports\n09:06:00 tick sign_in"), "out_of_order")

    assert (found.key, found.found) == ("need:ports<sign_in:1", "came after, at 09:06:00")


def test_need_due_again_says_when_it_was_ticked() -> None:
    """A need that was ticked and has become due again is missing, and the words say so."""
    story = "09:05:00 tick haemostasis\n09:10:00 tick cut\n09:15:00 tick laser"

    assert only(case_of(CUT, story), "prereq_missing").found == "ticked at 09:05:00, due again since"


def test_optional_step_can_be_needed() -> None:
    """An optional step is never skipped, but what needs it says so."""
    assert codes_in(case_of(CUT, "09:00:00 tick oil_in")) == [("prereq_missing", "oil_in")]


def test_not_logged_is_not_not_done() -> None:
    """A need said afterwards to have been done but not logged carries that as its reason by itself."""
    found = only(case_of(CUT, "09:05:00 tick ports\n09:30:00 not_logged sign_in"), "prereq_missing")

    assert found.found == "done, not logged at the time"
    assert found.given is not None
    assert (found.given.reason, found.given.how) == ("not_logged", "not_logged")


def test_not_logged_before_a_further_cut_says_nothing_of_afterwards() -> None:
    """Haemostasis done but not logged before a further cut is not the one that laser needs."""
    story = "09:00:00 not_logged haemostasis\n09:10:00 tick cut\n09:15:00 tick laser"

    assert only(case_of(CUT, story), "prereq_missing").found == "not ticked by then"


def test_reason_given_outweighs_the_one_by_itself() -> None:
    """A reason given by someone stands before the one that follows from `not logged`."""
    story = "09:05:00 tick ports\n09:30:00 not_logged sign_in\n09:40:00 reason need:ports<sign_in:1 teaching"
    given = only(case_of(CUT, story), "prereq_missing").given

    assert given is not None
    assert given.reason == "teaching"


OPEN_SKY = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "pfcl_in"
label = "Heavy liquid in"
occurrence = "repeat"
[[stages.steps]]
id = "pfcl_out"
label = "Heavy liquid out"
occurrence = "optional"
[[stages.steps]]
id = "dia_line"
label = "Diathermy line"
shape = "span"
occurrence = "optional"
[[stages.steps]]
id = "fax"
label = "Fluid-air exchange"
occurrence = "optional"
[[stages.steps]]
id = "direct"
label = "Direct exchange"
occurrence = "optional"
[[stages.steps]]
id = "cut"
label = "Retina cut"
occurrence = "optional"
needs = [
  { pair_open = "pfcl", level = "safety", reason = "holds the posterior pole" },
  { step = "dia_line", until = "stop", level = "safety", reason = "bleeding from the edge" },
]
[[stages.steps]]
id = "oil_in"
label = "Oil in"
occurrence = "optional"
needs = [{ any_step = ["fax", "direct"], level = "order", reason = "room for it" }]
[[stages.steps]]
id = "ports_out"
label = "Ports out"
occurrence = "optional"
needs = [{ pair_closed = "pfcl", level = "safety", reason = "none is left" }]

[[pairs]]
id = "pfcl"
label = "Heavy liquid"
opens = [{ step = "pfcl_in" }]
closes = [{ step = "pfcl_out" }]
by = "ports_out"
""")


def test_need_for_the_end_of_a_span() -> None:
    """A need `until = "stop"` is unmet while the span runs, and met from its stop, at the same instant."""
    begun = "09:00:00 tick pfcl_in\n09:01:00 start dia_line\n"
    early = only(case_of(OPEN_SKY, f"{begun}09:05:00 tick cut\n09:06:00 stop dia_line"), "out_of_order")

    assert (early.key, early.found) == ("need:cut<dia_line.stop:3", "still running")
    assert early.expected == "Diathermy line finished first: bleeding from the edge"
    assert codes_in(case_of(OPEN_SKY, f"{begun}09:05:00 stop dia_line\n09:05:00 tick cut")) == []


def test_need_for_the_start_of_a_span() -> None:
    """A need without `until` is met as soon as the span has begun."""
    steps = steps_of('a shape = "span"', 'b needs = [{ step = "a", level = "order", reason = "begun" }]')

    assert codes_in(case_of(steps, "09:00:00 start a\n09:01:00 tick b")) == []


def test_need_for_something_in() -> None:
    """Heavy liquid that should hold the retina is missing, or in only afterwards."""
    begun = "09:01:00 start dia_line\n09:05:00 stop dia_line\n09:06:00 tick cut\n"

    assert only(case_of(OPEN_SKY, begun), "prereq_missing").found == "out at that time"
    late = case_of(OPEN_SKY, f"{begun}09:07:00 tick pfcl_in")
    assert only(late, "out_of_order").found == "in after, at 09:07:00"
    unseen = only(case_of(OPEN_SKY, f"{begun}09:07:00 not_logged pfcl_in"), "prereq_missing")
    assert unseen.found == "in, not logged at the time"
    assert unseen.given is not None


def test_need_for_something_out() -> None:
    """Heavy liquid that should be out first is in at that time, or out only afterwards."""
    begun = "09:00:00 tick pfcl_in\n09:30:00 tick ports_out\n"

    assert only(case_of(OPEN_SKY, begun), "prereq_missing").found == "in at that time"
    assert only(case_of(OPEN_SKY, f"{begun}09:31:00 tick pfcl_out"), "out_of_order").found == (
        "out after, at 09:31:00"
    )


def test_any_of_several_meets_a_need() -> None:
    """One of the steps that would do is enough; none at all is missing."""
    assert codes_in(case_of(OPEN_SKY, "09:00:00 tick direct\n09:01:00 tick oil_in")) == []
    missing = only(case_of(OPEN_SKY, "09:01:00 tick oil_in"), "prereq_missing")
    assert (missing.key, missing.expected) == (
        "need:oil_in<fax+direct:1",
        "Fluid-air exchange or Direct exchange done first: room for it",
    )


def test_one_decided_against_does_not_stand_for_the_other() -> None:
    """Of several steps that would do, `not needed` for one still asks for another; for all, asks nothing."""
    one = "09:00:00 not_needed fax\n"

    assert codes_in(case_of(OPEN_SKY, f"{one}09:01:00 tick oil_in")) == [("prereq_missing", "oil_in")]
    assert codes_in(case_of(OPEN_SKY, f"{one}09:00:30 not_needed direct\n09:01:00 tick oil_in")) == []


def test_repeated() -> None:
    """A `once` step ticked again without being due again is repeated, as a note."""
    found = only(case_of(CUT, "09:00:00 tick sign_in\n09:05:00 tick sign_in"), "repeated")

    assert (found.step, found.seq, found.level, found.found) == ("sign_in", 2, "note", "tick 2")


@pytest.mark.parametrize(
    "story",
    [
        "09:00:00 tick chandelier\n09:05:00 tick cut\n09:10:00 tick cut",
        "09:00:00 tick haemostasis\n09:05:00 tick cut\n09:10:00 tick haemostasis",
        "09:00:00 tick sign_in\n09:05:00 tick sign_in\n09:05:10 strike 1",
    ],
)
def test_not_repeated(story: str) -> None:
    """A repeatable step, a step due again, and a step whose first tick was struck are not repeated."""
    assert found_in(case_of(CUT, story), "repeated") == ()
