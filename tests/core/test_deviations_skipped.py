"""When `skipped` may be concluded, and when it may never be."""

from __future__ import annotations

import pytest

from small_procedures import CUT
from story import case_of, codes_in, found_in, only, protocol_of

# -- skipped: when it may be concluded


def _skipped(story: str) -> list[str]:
    return [d.step for d in found_in(case_of(CUT, story), "skipped")]


def test_nothing_is_skipped_while_the_case_goes_on() -> None:
    """A step merely passed by in the file is not skipped: stages overlap in life."""
    assert _skipped("09:00:00 tick gas_in") == []


def test_skipped_once_what_needs_it_is_ticked() -> None:
    """A step is skipped once one that needs it is ticked, at that moment, as serious as the need."""
    skipped = only(case_of(CUT, "09:00:00 note before\n09:05:00 tick ports"), "skipped")

    assert (skipped.step, skipped.seq, skipped.level) == ("sign_in", 2, "safety")
    assert (skipped.key, skipped.expected, skipped.found) == ("skipped:sign_in", "a tick", "no tick")


def test_skipped_once_its_stage_is_closed() -> None:
    """The steps of a closed stage without a tick are skipped, as of the closing."""
    found = found_in(case_of(CUT, "09:00:00 tick sign_in\n09:10:00 close access"), "skipped")

    assert [(d.step, d.seq, d.level) for d in found] == [("ports", 2, "order")]


def test_skipped_once_the_case_has_ended() -> None:
    """At the usual end every step without a tick is skipped, a group once."""
    found = _skipped("09:00:00 tick sign_in\n10:00:00 tick out")

    assert sorted(found) == ["cut", "gas_in", "haemostasis", "laser", "orders", "ports"]


def test_skipped_lapses_when_the_step_is_ticked_after_all() -> None:
    """A step ticked after it was skipped was only out of order."""
    case = case_of(CUT, "09:05:00 tick ports\n09:06:00 tick sign_in")

    assert codes_in(case) == [("out_of_order", "ports")]


def test_skipped_lapses_when_the_stage_is_reopened() -> None:
    """A tick in a closed stage reopens it, and its other steps may still come."""
    story = "09:00:00 close access\n09:01:00 tick sign_in"

    assert _skipped(story) == []
    assert _skipped(f"{story}\n09:02:00 close access") == ["ports"]


def test_step_struck_is_skipped_like_any_other() -> None:
    """A struck tick is no tick."""
    assert _skipped("09:00:00 tick sign_in\n09:00:05 tick ports\n09:00:30 strike 1") == ["sign_in"]


# -- skipped: when it may never be concluded


@pytest.mark.parametrize(
    ("step", "why"),
    [
        ("chandelier", "optional, though its stage is closed and a step needs it"),
        ("oil_out", "its condition is unmet"),
        ("specimen", "it belongs to no stage"),
        ("debrief", "it stands behind the end of the case"),
    ],
)
def test_never_skipped(step: str, why: str) -> None:
    """Optional steps, unmet conditions, steps of no stage and steps behind the end are never skipped."""
    story = "09:00:00 close access\n09:10:00 tick oil_in\n09:20:00 close cut\n10:00:00 tick out"

    assert step not in _skipped(story), why


def test_debrief_is_skipped_when_its_own_stage_is_closed() -> None:
    """A step behind the end of the case is skipped only when its stage is closed."""
    assert "debrief" in _skipped("10:00:00 tick out\n10:30:00 close leave")


def test_met_condition_makes_a_step_count() -> None:
    """A conditional step whose condition is met is skipped like any other."""
    assert "oil_out" in _skipped("09:00:00 facts oil_in_situ=true\n09:10:00 close access")


@pytest.mark.parametrize("done", ["tick gas_in", "not_logged gas_in"])
def test_unchosen_alternative_is_never_skipped(done: str) -> None:
    """Once one of a group is done, ticked or not logged, the others are not in the case."""
    assert not {"gas_in", "oil_in"} & set(_skipped(f"09:00:00 {done}\n10:00:00 tick out"))


def test_group_without_a_choice_is_skipped_once() -> None:
    """A group of which none was done is one deviation that names what is left of the choice."""
    story = "09:00:00 tick cut\n09:10:00 close cut"
    [group] = [d for d in found_in(case_of(CUT, story), "skipped") if d.step == "gas_in"]
    fewer = case_of(CUT, f"09:00:00 not_needed gas_in\n{story}")
    [rest] = [d for d in found_in(fewer, "skipped") if d.step == "oil_in"]

    assert (group.key, group.expected) == ("skipped:one_of:tamponade", "one of: Gas in, Oil in")
    assert (rest.key, rest.expected) == ("skipped:one_of:tamponade", "a tick")


def test_group_is_passed_over_by_what_needs_any_of_it() -> None:
    """A step that needs any of one group passes the group over."""
    assert _skipped("09:00:00 tick orders") == ["gas_in"]


@pytest.mark.parametrize("word", ["not_needed", "not_logged"])
def test_a_word_satisfies_the_step(word: str) -> None:
    """`not needed` and `not logged` satisfy a step: it is never skipped."""
    case = case_of(CUT, f"09:00:00 {word} sign_in\n09:05:00 tick ports\n09:10:00 close access")

    assert codes_in(case) == []


def test_not_reached_is_not_skipped() -> None:
    """A case stopped early skips nothing that it did not reach, even once the patient has left."""
    story = "09:00:00 tick sign_in\n09:05:00 tick ports\n09:10:00 stop_early collapse"

    assert codes_in(case_of(CUT, story)) == []
    assert _skipped(f"{story}\n09:20:00 tick orders\n09:30:00 tick out") == []


def test_passed_over_before_an_early_stop_is_skipped() -> None:
    """What was passed over before the case stopped stays skipped, and so does a closed stage's."""
    story = "09:05:00 tick ports\n09:08:00 close access\n09:10:00 stop_early collapse"

    assert _skipped(story) == ["sign_in"]


# -- skipped: due again


def test_due_again_and_not_done_is_skipped() -> None:
    """A step due again that was not done again by the time something needs it is skipped, with the reason."""
    story = "09:00:00 tick cut\n09:05:00 tick haemostasis\n09:10:00 tick cut\n09:15:00 tick laser"
    skipped = only(case_of(CUT, story), "skipped")

    assert (skipped.key, skipped.seq) == ("skipped:haemostasis:3", 4)
    assert skipped.expected == "again: a cut edge bleeds"


@pytest.mark.parametrize(
    "story",
    [
        "09:05:00 tick haemostasis\n09:06:00 tick laser\n09:10:00 tick cut",
        "09:05:00 tick laser\n09:06:00 tick haemostasis\n09:10:00 tick cut",
    ],
)
def test_tick_before_the_further_cut_does_not_pass_it_over(story: str) -> None:
    """What was ticked before a step was due again, its need met or unmet, did not need it again."""
    assert _skipped(story) == []


def test_due_again_after_its_stage_was_closed_is_open() -> None:
    """A closing from before a step was due again says nothing of what became due since; a later one does."""
    steps = protocol_of("""
    [[stages]]
    id = "access"
    label = "Access"
    [[stages.steps]]
    id = "cannula_check"
    label = "Cannula seen"
    due_again = [{ step = "shave", reason = "it may have slipped" }]
    [[stages]]
    id = "vitrectomy"
    label = "Vitrectomy"
    [[stages.steps]]
    id = "shave"
    label = "Base shave"
    """)
    story = "09:00:00 tick cannula_check\n09:01:00 close access\n09:10:00 tick shave"

    assert found_in(case_of(steps, story), "skipped") == ()
    assert only(case_of(steps, f"{story}\n09:20:00 close access"), "skipped").seq == 4


def test_due_again_lapses_with_its_condition() -> None:
    """A step done and due again asks for nothing more once its condition is no longer met."""
    steps = protocol_of("""
    [[stages]]
    id = "cut"
    label = "Cut"
    [[stages.steps]]
    id = "decide"
    label = "Retinectomy decision"
    shape = "decision"
    occurrence = "repeat"
    choices = [{ id = "none", label = "None", key = "n" }, { id = "cut", label = "Cut", key = "c" }]
    [[stages.steps]]
    id = "haemostasis"
    label = "Haemostasis"
    when = { all = [{ decision = "decide", choice = ["cut"] }] }
    due_again = [{ step = "decide", choice = ["cut"], reason = "more is cut" }]
    [[stages.steps]]
    id = "laser"
    label = "Laser"
    needs = [{ step = "haemostasis", level = "safety", reason = "no laser through blood" }]
    """)
    story = "09:00:00 tick decide cut\n09:05:00 tick haemostasis\n09:10:00 tick decide cut\n"
    end = "09:30:00 tick laser\n09:40:00 close cut"

    assert [d.step for d in found_in(case_of(steps, story + end), "skipped")] == ["haemostasis"]
    lapsed = case_of(steps, f"{story}09:20:00 tick decide none\n{end}")
    assert {d.code for d in found_in(lapsed)} == {"plan_changed"}
