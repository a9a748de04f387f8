"""Each deviation code, and each clause of when `skipped` may and may not be concluded."""

from __future__ import annotations

import pytest

from story import case_of, codes_in, found_in, protocol_of, steps_of
from tracker.core.case import Case
from tracker.core.deviations import LATE_S, LOW_CONFIDENCE_S, RULES, Deviation, deviations
from tracker.core.wording import CODE_WORDS


def _only(case: Case, code: str, now_t: float | None = None) -> Deviation:
    [found] = found_in(case, code, now_t)
    return found


# -- skipped: when it may be concluded

CUT = protocol_of("""
[[facts]]
id = "oil_in_situ"
label = "Oil in situ"
kind = "flag"
default = false

[[stages]]
id = "access"
label = "Access"
[[stages.steps]]
id = "sign_in"
label = "Sign-in"
[[stages.steps]]
id = "ports"
label = "Ports in"
needs = [{ step = "sign_in", level = "safety", reason = "identity first" }]
[[stages.steps]]
id = "oil_out"
label = "Old oil out"
when = { all = [{ fact = "oil_in_situ", choice = [true] }] }
[[stages.steps]]
id = "chandelier"
label = "Chandelier"
occurrence = "optional"

[[stages]]
id = "cut"
label = "Cut"
[[stages.steps]]
id = "cut"
label = "Retina cut"
occurrence = "repeat"
[[stages.steps]]
id = "haemostasis"
label = "Haemostasis"
due_again = [{ step = "cut", reason = "a cut edge bleeds" }]
[[stages.steps]]
id = "laser"
label = "Laser"
needs = [{ step = "haemostasis", level = "safety", reason = "no laser through blood" }]
[[stages.steps]]
id = "gas_in"
label = "Gas in"
occurrence = "one_of"
group = "tamponade"
[[stages.steps]]
id = "oil_in"
label = "Oil in"
occurrence = "one_of"
group = "tamponade"
needs = [{ step = "chandelier", level = "order", reason = "light" }]

[[stages]]
id = "leave"
label = "Leave"
[[stages.steps]]
id = "orders"
label = "Orders"
needs = [{ any_step = ["gas_in", "oil_in"], level = "order", reason = "posture depends on it" }]
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
[[stages.steps]]
id = "debrief"
label = "Team debrief"

[[anytime]]
id = "specimen"
label = "Specimen"
""")


def _skipped(story: str) -> list[str]:
    return [d.step for d in found_in(case_of(CUT, story), "skipped")]


def test_nothing_is_skipped_while_the_case_goes_on() -> None:
    """A step merely passed by in the file is not skipped: stages overlap in life."""
    assert _skipped("09:00:00 tick gas_in") == []


def test_skipped_once_what_needs_it_is_ticked() -> None:
    """A step is skipped once one that needs it is ticked, at that moment, as serious as the need."""
    skipped = _only(case_of(CUT, "09:00:00 note before\n09:05:00 tick ports"), "skipped")

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
    skipped = _only(case_of(CUT, story), "skipped")

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
    assert _only(case_of(steps, f"{story}\n09:20:00 close access"), "skipped").seq == 4


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


# -- order


def test_need_never_met_is_missing() -> None:
    """A tick before what it needs, never ticked, has a need missing, with the file's reason."""
    missing = _only(case_of(CUT, "09:05:00 tick ports"), "prereq_missing")

    assert (missing.step, missing.level, missing.key) == ("ports", "safety", "need:ports<sign_in:1")
    assert missing.expected == "Sign-in done first: identity first"
    assert missing.found == "not ticked by then"


def test_need_met_later_is_out_of_order() -> None:
    """A need that came after all makes the same deviation out of order, with the time."""
    found = _only(case_of(CUT, "09:05:00 tick ports\n09:06:00 tick sign_in"), "out_of_order")

    assert (found.key, found.found) == ("need:ports<sign_in:1", "came after, at 09:06:00")


def test_need_due_again_says_when_it_was_ticked() -> None:
    """A need that was ticked and has become due again is missing, and the words say so."""
    story = "09:05:00 tick haemostasis\n09:10:00 tick cut\n09:15:00 tick laser"

    assert _only(case_of(CUT, story), "prereq_missing").found == "ticked at 09:05:00, due again since"


def test_optional_step_can_be_needed() -> None:
    """An optional step is never skipped, but what needs it says so."""
    assert codes_in(case_of(CUT, "09:00:00 tick oil_in")) == [("prereq_missing", "oil_in")]


def test_not_logged_is_not_not_done() -> None:
    """A need said afterwards to have been done but not logged carries that as its reason by itself."""
    found = _only(case_of(CUT, "09:05:00 tick ports\n09:30:00 not_logged sign_in"), "prereq_missing")

    assert found.found == "done, not logged at the time"
    assert found.given is not None
    assert (found.given.reason, found.given.how) == ("not_logged", "not_logged")


def test_not_logged_before_a_further_cut_says_nothing_of_afterwards() -> None:
    """Haemostasis done but not logged before a further cut is not the one that laser needs."""
    story = "09:00:00 not_logged haemostasis\n09:10:00 tick cut\n09:15:00 tick laser"

    assert _only(case_of(CUT, story), "prereq_missing").found == "not ticked by then"


def test_reason_given_outweighs_the_one_by_itself() -> None:
    """A reason given by someone stands before the one that follows from `not logged`."""
    story = "09:05:00 tick ports\n09:30:00 not_logged sign_in\n09:40:00 reason need:ports<sign_in:1 teaching"
    given = _only(case_of(CUT, story), "prereq_missing").given

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
    early = _only(case_of(OPEN_SKY, f"{begun}09:05:00 tick cut\n09:06:00 stop dia_line"), "out_of_order")

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

    assert _only(case_of(OPEN_SKY, begun), "prereq_missing").found == "out at that time"
    late = case_of(OPEN_SKY, f"{begun}09:07:00 tick pfcl_in")
    assert _only(late, "out_of_order").found == "in after, at 09:07:00"
    unseen = _only(case_of(OPEN_SKY, f"{begun}09:07:00 not_logged pfcl_in"), "prereq_missing")
    assert unseen.found == "in, not logged at the time"
    assert unseen.given is not None


def test_need_for_something_out() -> None:
    """Heavy liquid that should be out first is in at that time, or out only afterwards."""
    begun = "09:00:00 tick pfcl_in\n09:30:00 tick ports_out\n"

    assert _only(case_of(OPEN_SKY, begun), "prereq_missing").found == "in at that time"
    assert _only(case_of(OPEN_SKY, f"{begun}09:31:00 tick pfcl_out"), "out_of_order").found == (
        "out after, at 09:31:00"
    )


def test_any_of_several_meets_a_need() -> None:
    """One of the steps that would do is enough; none at all is missing."""
    assert codes_in(case_of(OPEN_SKY, "09:00:00 tick direct\n09:01:00 tick oil_in")) == []
    missing = _only(case_of(OPEN_SKY, "09:01:00 tick oil_in"), "prereq_missing")
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
    found = _only(case_of(CUT, "09:00:00 tick sign_in\n09:05:00 tick sign_in"), "repeated")

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


# -- time

SPANS = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "core_vit"
label = "Core vitrectomy"
shape = "span"
minutes = [2, 8]
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
occurrence = "optional"
""")


def test_over_time_from_the_figure_on() -> None:
    """A span is over time beyond the file's longest, from the moment it got there, live and afterwards."""
    live = case_of(SPANS, "09:00:00 start core_vit")

    assert found_in(live, "over_time", now_t=480.0) == ()
    over = _only(live, "over_time", now_t=480.5)
    assert (over.key, over.expected, over.when.at.strftime("%H:%M:%S")) == (
        "over_time:core_vit",
        "2 to 8 min",
        "09:08:00",
    )
    done = _only(case_of(SPANS, "09:00:00 start core_vit\n09:10:30 stop core_vit"), "over_time")
    assert (done.when, done.found) == (over.when, "10 min 30 s")


def test_over_time_adds_the_spans_of_a_step() -> None:
    """The file's minutes are for the whole of a step: two spans of five minutes are over eight."""
    story = """
    09:00:00 start core_vit
    09:05:00 stop core_vit
    09:20:00 start core_vit
    09:25:00 stop core_vit
    """

    assert _only(case_of(SPANS, story), "over_time").when.at.strftime("%H:%M:%S") == "09:23:00"


def test_over_time_from_the_end_of_a_span_that_used_it_up() -> None:
    """Where one span lasts exactly the file's longest, a further one is over from the end of the first."""
    story = "09:00:00 start core_vit\n09:08:00 stop core_vit\n09:20:00 start core_vit\n09:21:00 stop core_vit"

    assert _only(case_of(SPANS, story), "over_time").when.at.strftime("%H:%M:%S") == "09:08:00"


def test_paused_time_is_not_over_time() -> None:
    """A pause within a span is not its time, and moves the moment it was over."""
    story = "09:00:00 start core_vit\n09:05:00 pause\n09:15:00 continue\n09:18:00 stop core_vit"

    assert found_in(case_of(SPANS, story), "over_time") == ()
    longer = _only(case_of(SPANS, story.replace("09:18:00", "09:18:30")), "over_time")
    assert longer.when.at.strftime("%H:%M:%S") == "09:18:00"


def test_under_time_once_nothing_more_is_to_come() -> None:
    """A short span is under time only once its stage is closed or the case has ended."""
    story = "09:00:00 start core_vit\n09:01:59 stop core_vit"

    assert found_in(case_of(SPANS, story), "under_time") == ()
    assert _only(case_of(SPANS, f"{story}\n09:02:00 tick out"), "under_time").found == "1 min 59 s"
    assert _only(case_of(SPANS, f"{story}\n09:02:00 close stage"), "under_time").seq == 2
    assert found_in(case_of(SPANS, story.replace("1:59", "2:00") + "\n09:03:00 tick out"), "under_time") == ()


def test_step_still_running_is_not_under_time() -> None:
    """While an earlier span of a step still runs, its time is not known to be short."""
    story = "09:00:00 start core_vit\n09:00:10 start core_vit\n09:00:20 stop core_vit\n09:00:30 close stage"

    assert found_in(case_of(SPANS, story), "under_time") == ()


def test_case_stopped_early_has_no_short_spans() -> None:
    """A span cut short with the case is not under time."""
    story = "09:00:00 start core_vit\n09:01:00 stop core_vit\n09:02:00 stop_early collapse\n09:30:00 tick out"

    assert codes_in(case_of(SPANS, story)) == []


def test_span_nobody_stopped_is_unmatched_not_long() -> None:
    """A span still running when the patient leaves has no stop and so no length to compare."""
    case = case_of(SPANS, "09:00:00 start core_vit\n09:30:00 tick out")

    assert codes_in(case, now_t=86_400.0) == [("unmatched", "core_vit")]
    assert _only(case, "unmatched").found == "no stop ticked"


CLOCKS = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "iodine"
label = "Iodine"
shape = "span"
occurrence = "optional"
[[stages.steps]]
id = "drape"
label = "Drape"
occurrence = "optional"
[[stages.steps]]
id = "dye_in"
label = "Dye in"
occurrence = "optional"
[[stages.steps]]
id = "dye_out"
label = "Dye out"
occurrence = "optional"
[[stages.steps]]
id = "out"
label = "Out"
occurrence = "optional"
ends_case = true

[[clocks]]
id = "contact"
label = "Iodine contact"
start = [{ step = "iodine" }]
stop = [{ step = "drape" }]
min_s = 180
level = "safety"
[[clocks]]
id = "dye"
label = "Dye"
start = [{ step = "dye_in" }]
stop = [{ step = "dye_out" }]
amber_s = 60
red_s = 120
""")


def test_clock_under_its_least_time() -> None:
    """A clock stopped before its least time is under; at exactly that time it is not."""
    under = _only(case_of(CLOCKS, "09:00:00.100 start iodine\n09:03:00.099 tick drape"), "clock_under")

    assert (under.step, under.level, under.expected, under.found) == (
        "contact",
        "safety",
        "at least 3 min",
        "2 min 59 s",
    )
    assert (
        found_in(case_of(CLOCKS, "09:00:00.100 start iodine\n09:03:00.100 tick drape"), "clock_under") == ()
    )


def test_clock_reaches_its_figure() -> None:
    """A clock is over from its first figure on, inclusive, while it runs and afterwards alike."""
    live = case_of(CLOCKS, "09:00:00 tick dye_in")

    assert found_in(live, "clock_over", now_t=59.999) == ()
    over = _only(live, "clock_over", now_t=60.0)
    assert (over.expected, over.when.at.strftime("%H:%M:%S")) == (
        "amber from 1 min, red from 2 min",
        "09:01:00",
    )
    done = _only(case_of(CLOCKS, "09:00:00 tick dye_in\n09:02:10 tick dye_out"), "clock_over")
    assert (done.key, done.when, done.found) == (over.key, over.when, "2 min 10 s")


def test_clock_stops_with_the_case() -> None:
    """A clock nobody stopped runs until the patient left and no further."""
    case = case_of(CLOCKS, "09:00:00 tick dye_in\n09:01:30 tick out")

    assert _only(case, "clock_over", now_t=86_400.0).found == "1 min 30 s"


def test_clock_stopped_by_something_not_logged_concludes_nothing() -> None:
    """How long a clock ran that something not logged stopped is not known, so nothing is said of it."""
    case = case_of(CLOCKS, "09:00:00 tick dye_in\n09:30:00 not_logged dye_out")

    assert codes_in(case) == []


@pytest.mark.parametrize(
    ("late_s", "found"),
    [
        (60, []),
        (61, ["1 min 01 s after"]),
        (1200, ["20 min after"]),
        (1201, ["20 min 01 s after, low confidence"]),
    ],
)
def test_late_entry_at_the_boundary(late_s: int, found: list[str]) -> None:
    """An entry is late over 60 s and of low confidence over 20 min (J Med Syst 2026, PMC12883500)."""
    case = case_of(SPANS, f"09:00:00 +{late_s} tick out")

    assert (LATE_S, LOW_CONFIDENCE_S) == (60.0, 1200.0)
    assert [d.found for d in found_in(case, "late_entry")] == found


def test_back_stamp_makes_an_entry_late() -> None:
    """A tick back-stamped by two minutes was entered two minutes after."""
    late = _only(case_of(CLOCKS, "09:10:00 tick drape\n09:10:05 back 1 120"), "late_entry")

    assert (late.key, late.step, late.found) == ("late_entry:1", "drape", "2 min after")


def test_entry_after_the_end_is_late() -> None:
    """What is entered as done once the patient has left is late, the debrief behind the end is not."""
    story = "10:00:00 tick out\n10:00:30 tick cut\n10:10:00 tick debrief\n10:11:00 note words"
    late = found_in(case_of(CUT, story), "late_entry")

    assert [(d.step, d.found) for d in late] == [("cut", "after the case had ended")]


def test_closing_up_after_an_early_stop_is_not_late() -> None:
    """After a case stopped early the team still closes the eye: those ticks are not late."""
    story = "09:00:00 tick ports\n09:10:00 stop_early collapse\n09:20:00 tick orders"

    assert found_in(case_of(CUT, story), "late_entry") == ()


# -- readings

READINGS = protocol_of("""
[[readings]]
id = "mmhg"
label = "Infusion pressure"
unit = "mmHg"
plausible = [0, 120]
caution_below = 10
caution_above = 40
[[readings]]
id = "spots"
label = "Spots"
caution_total_above = 1500
[[readings]]
id = "ml"
label = "Volume"
unit = "ml"
plausible = [0.5, 10]
[[readings]]
id = "seen"
label = "Tip seen"
kind = "choice"
choices = [{ id = "yes", label = "Seen", key = "y" }, { id = "no", label = "Not seen", key = "n" }]
caution_choices = ["no"]
[[readings]]
id = "perfused"
label = "Disc perfused"
kind = "flag"

[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "laser"
label = "Laser"
shape = "span"
occurrence = "repeat"
readings = [{ id = "spots", required = true }, { id = "ml" }]
[[stages.steps]]
id = "tamp"
label = "Tamponade decision"
shape = "decision"
occurrence = "optional"
choices = [{ id = "gas", label = "Gas", key = "g" }]
[[stages.steps]]
id = "out"
label = "Out"
ends_case = true
occurrence = "optional"
""")


@pytest.mark.parametrize(
    ("said", "expected", "found"),
    [
        ("mmhg=41", "at most 40 mmHg", "41 mmHg"),
        ("mmhg=9.5", "at least 10 mmHg", "9.5 mmHg"),
        ("ml=12", "0.5 to 10 ml", "12 ml"),
        ("seen=no", "none of the choices marked in your file", "Not seen"),
    ],
)
def test_reading_outside_caution(said: str, expected: str, found: str) -> None:
    """A reading outside its caution limits, its plausible range or among its marked choices is noted."""
    caution = _only(case_of(READINGS, f"09:00:00 read {said}"), "reading_caution")

    assert (caution.expected, caution.found, caution.level) == (expected, found, "note")


@pytest.mark.parametrize("said", ["mmhg=40", "mmhg=10", "ml=10", "ml=0.5", "seen=yes", "perfused=false"])
def test_reading_on_the_limit_is_inside(said: str) -> None:
    """Both ends of a range are inside it, and a yes or no has no caution."""
    assert codes_in(case_of(READINGS, f"09:00:00 read {said}")) == []


def test_total_of_a_reading() -> None:
    """A total over the file's figure is one deviation, shown where it was passed, with the total so far."""
    story = (
        "09:00:00 read spots=800\n09:10:00 read spots=700\n09:20:00 read spots=100\n09:30:00 read spots=50"
    )
    total = _only(case_of(READINGS, story), "reading_caution")

    assert (total.key, total.seq, total.expected, total.found) == (
        "total:spots",
        3,
        "in all at most 1500",
        "1650 in all",
    )


def test_reading_missing_once_its_stage_is_over() -> None:
    """A reading the file asks for is missing for each tick without one, once nothing more is to come."""
    story = """
    09:00:00 start laser
    09:01:00 read spots=400 1
    09:05:00 stop laser
    09:10:00 start laser
    09:15:00 stop laser
    """
    missing = _only(case_of(READINGS, f"{story}\n09:20:00 tick out"), "reading_missing")

    assert found_in(case_of(READINGS, story), "reading_missing") == ()
    assert (missing.step, missing.seq, missing.found) == ("spots", 4, "not entered for Laser")


def test_reading_of_a_step_behind_the_end_may_still_come() -> None:
    """A step ticked behind the end of the case has until its stage is closed for its readings."""
    steps = protocol_of("""
    [[readings]]
    id = "minutes"
    label = "Minutes"
    [[stages]]
    id = "leave"
    label = "Leave"
    [[stages.steps]]
    id = "out"
    label = "Out"
    ends_case = true
    [[stages.steps]]
    id = "debrief"
    label = "Debrief"
    readings = [{ id = "minutes", required = true }]
    """)
    story = "10:00:00 tick out\n10:30:00 tick debrief"

    assert codes_in(case_of(steps, story)) == []
    assert codes_in(case_of(steps, f"{story}\n10:40:00 close leave")) == [("reading_missing", "minutes")]


def test_loose_reading_serves_the_tick_before_it() -> None:
    """A reading entered on its own serves the step it followed, not one begun later."""
    begun = "09:00:00 start laser\n09:01:00 read spots=400\n09:05:00 stop laser\n"

    assert codes_in(case_of(READINGS, f"{begun}09:20:00 tick out")) == []
    later = case_of(READINGS, f"{begun}09:10:00 start laser\n09:15:00 stop laser\n09:20:00 tick out")
    assert [(d.step, d.seq) for d in found_in(later, "reading_missing")] == [("spots", 4)]


def test_loose_reading_after_a_later_tick_serves_that_one() -> None:
    """One loose reading does not serve two ticks of the same step."""
    story = """
    09:00:00 start laser
    09:05:00 stop laser
    09:10:00 start laser
    09:11:00 read spots=400
    09:15:00 stop laser
    09:20:00 tick out
    """

    assert [d.seq for d in found_in(case_of(READINGS, story), "reading_missing")] == [1]


def test_decision_without_a_choice_is_missing_it() -> None:
    """A decision ticked without its choice, and without a plan for it, has nothing decided."""
    missing = _only(case_of(READINGS, "09:00:00 tick tamp\n09:20:00 tick out"), "reading_missing")

    assert (missing.step, missing.expected) == ("tamp", "a choice")
    assert found_in(case_of(READINGS, "09:00:00 tick tamp gas\n09:20:00 tick out"), "reading_missing") == ()


# -- pairs and counts

PAIRS = protocol_of("""
[[readings]]
id = "in_n"
label = "Ports in"
[[readings]]
id = "out_n"
label = "Ports out"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "ports"
label = "Ports in"
[[stages.steps]]
id = "ports_out"
label = "Ports out"
occurrence = "optional"
[[stages.steps]]
id = "sign_out"
label = "Sign-out"
occurrence = "optional"
[[stages.steps]]
id = "out"
label = "Out"
occurrence = "optional"
ends_case = true
[[pairs]]
id = "port_pair"
label = "Ports"
counted = true
opens = [{ step = "ports", amount_from = "in_n" }]
closes = [{ step = "ports_out", amount_from = "out_n" }]
by = "sign_out"
""")

IN = "09:00:00 tick ports\n09:00:05 read in_n=3 1\n"


def test_unmatched_at_the_step_it_should_be_closed_by() -> None:
    """A pair still open when the file's step is ticked is unmatched, as serious as the file says."""
    found = _only(case_of(PAIRS, f"{IN}10:00:00 tick sign_out"), "unmatched")

    assert (found.step, found.level, found.seq, found.expected, found.found) == (
        "port_pair",
        "safety",
        3,
        "out by Sign-out",
        "3 in, 0 out",
    )


def test_unmatched_stays_once_closed_later() -> None:
    """A pair closed after that step stays unmatched, and the words say when it was closed."""
    story = f"{IN}10:00:00 tick sign_out\n10:05:00 tick ports_out\n10:05:05 read out_n=3 4"

    assert _only(case_of(PAIRS, story), "unmatched").found == "3 in, 0 out; out at 10:05:00"


def test_numbers_that_differ_are_unmatched() -> None:
    """Three in and two out is unmatched at sign-out, with both numbers."""
    story = f"{IN}09:50:00 tick ports_out\n09:50:05 read out_n=2 3\n10:00:00 tick sign_out"

    assert _only(case_of(PAIRS, story), "unmatched").found == "3 in, 2 out"


def test_matched_pair_is_no_deviation() -> None:
    """Three in and three out is matched."""
    story = f"{IN}09:50:00 tick ports_out\n09:50:05 read out_n=3 3\n10:00:00 tick sign_out\n10:05:00 tick out"

    assert codes_in(case_of(PAIRS, story)) == []


def test_unmatched_at_the_end_where_the_step_never_came() -> None:
    """Without that step a pair is looked at when the case ends, also if it was opened after the step."""
    never = _only(case_of(PAIRS, f"{IN}10:00:00 tick out"), "unmatched")
    after = _only(
        case_of(PAIRS, "08:50:00 tick sign_out\n" + IN.replace(" 1", " 2") + "10:00:00 tick out"), "unmatched"
    )

    assert never.seq == 3
    assert after.seq == 4


def test_pair_out_not_logged_carries_that_reason() -> None:
    """A pair said afterwards to be out, not logged at the time, carries that as its reason by itself."""
    found = _only(case_of(PAIRS, f"{IN}10:00:00 tick sign_out\n10:05:00 not_logged ports_out"), "unmatched")

    assert found.found == "3 in, 0 out; out, not logged at the time"
    assert found.given is not None
    assert found.given.reason == "not_logged"


def test_pair_may_be_closed_after_an_early_stop() -> None:
    """After an early stop a pair is unmatched only as long as it is open."""
    story = f"{IN}09:30:00 stop_early collapse"

    assert _only(case_of(PAIRS, story), "unmatched").found == "3 in, 0 out"
    assert found_in(case_of(PAIRS, f"{story}\n09:35:00 tick ports_out"), "unmatched") == ()


COUNTS = protocol_of("""
[[counted]]
id = "swab"
label = "Swabs"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "count_1"
label = "First count"
shape = "count"
count = "opening"
[[stages.steps]]
id = "count_2"
label = "Closing count"
shape = "count"
count = "closing"
""")

COUNTED = "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n09:30:00 swab +5\n10:00:00 tick count_2\n"


def test_count_that_agrees_is_no_deviation() -> None:
    """10 + 5 - 0 = 15 said is no deviation."""
    assert codes_in(case_of(COUNTS, f"{COUNTED}10:01:00 count 4 swab=15")) == []


def test_count_discrepancy() -> None:
    """A number said that is not start + added - removed is a discrepancy of the highest class."""
    found = _only(case_of(COUNTS, f"{COUNTED}10:01:00 count 4 swab=14"), "count_discrepancy")

    assert (found.step, found.level, found.expected, found.found) == (
        "swab",
        "safety",
        "15 (10 + 5 - 0)",
        "14",
    )


def test_count_discrepancy_stays_once_the_item_is_found() -> None:
    """A discrepancy stays in the record when a recount agrees, and says so."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:06:00 count 4 swab=15"

    assert _only(case_of(COUNTS, story), "count_discrepancy").found == "14; 15 at 10:06:00"


def test_recount_that_differs_too_is_no_agreement() -> None:
    """A recount that differs again is a second discrepancy and settles nothing."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:06:00 count 4 swab=13"

    assert [d.found for d in found_in(case_of(COUNTS, story), "count_discrepancy")] == ["14", "13"]


def test_first_count_put_right_is_no_recount() -> None:
    """A first count put right afterwards is not a recount that agreed."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:06:00 count 1 swab=9"

    assert _only(case_of(COUNTS, story), "count_discrepancy").found == "14"


def test_number_struck_was_never_said() -> None:
    """A number mistyped and struck leaves no discrepancy."""
    story = f"{COUNTED}10:01:00 count 4 swab=14\n10:01:10 strike 5\n10:01:15 count 4 swab=15"

    assert codes_in(case_of(COUNTS, story)) == []


# -- minds and troubles

PLANS = protocol_of("""
[[facts]]
id = "planned"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Silicone oil", key = "o" }]
[[facts]]
id = "axial_mm"
label = "Axial length"
kind = "number"
unit = "mm"
default = 24
[[complications]]
id = "bleed"
label = "Bleeding from the edge"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "tamp"
label = "Tamponade decision"
shape = "decision"
occurrence = "repeat"
plan_fact = "planned"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Silicone oil", key = "o" }]
""")


def test_choice_against_the_plan() -> None:
    """A choice other than the plan's says what was planned and what it became."""
    changed = _only(case_of(PLANS, "09:00:00 tick tamp oil"), "plan_changed")

    assert (changed.step, changed.expected, changed.found) == ("tamp", "Gas, as planned", "Silicone oil")


def test_second_thoughts_are_recorded_both() -> None:
    """Decided and then changed: both changes are kept, each at its own tick."""
    case = case_of(PLANS, "09:00:00 tick tamp oil\n09:30:00 tick tamp gas")

    assert [(d.expected, d.found) for d in found_in(case, "plan_changed")] == [
        ("Gas, as planned", "Silicone oil"),
        ("Silicone oil", "Gas"),
    ]


def test_planned_fact_changed() -> None:
    """A fact that holds a plan is a change of plan, a length put right is not."""
    story = "08:50:00 facts planned=gas axial_mm=24\n09:00:00 facts axial_mm=26"

    assert codes_in(case_of(PLANS, story)) == []
    changed = case_of(PLANS, f"{story}\n09:10:00 facts planned=oil")
    assert [(d.step, d.expected, d.found) for d in found_in(changed)] == [("planned", "Gas", "Silicone oil")]


def test_complication_named_or_not_yet() -> None:
    """A complication is a deviation from its stamp on, its name and words follow."""
    bare = _only(case_of(PLANS, "09:00:00 complication"), "complication")
    named = _only(case_of(PLANS, "09:00:00 complication\n09:01:00 detail 1 bleed small"), "complication")

    assert (bare.key, bare.found) == ("complication:1", "not yet named")
    assert (named.key, named.step, named.found) == (
        "complication:1",
        "bleed",
        "Bleeding from the edge: small",
    )


# -- all of them together


def test_reason_stays_with_its_deviation() -> None:
    """A reason given while the case goes on is still with the deviation at its end."""
    story = "09:05:00 tick ports\n09:06:00 reason need:ports<sign_in:1 finding\n09:30:00 tick sign_in"
    given = _only(case_of(CUT, story), "out_of_order").given

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
