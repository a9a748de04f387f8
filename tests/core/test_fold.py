"""What the fold makes of a story: statuses, corrections, pairs, counts, people, ends."""

from __future__ import annotations

import pytest

from story import case_of, events_of, protocol_of, steps_of
from tracker.core.case import Case, due_marks, in_case, plan, standing_choice, status
from tracker.core.fold import extend, fold

TWO_STAGES = protocol_of("""
[[stages]]
id = "access"
label = "Access"
[[stages.steps]]
id = "ports"
label = "Ports in"
starts_case = true
[[stages.steps]]
id = "chandelier"
label = "Chandelier light in"
occurrence = "optional"
[[stages.steps]]
id = "buckle"
label = "Buckle"
when = { all = [{ fact = "buckle_planned", choice = [true] }] }

[[stages]]
id = "cut"
label = "Cut"
[[stages.steps]]
id = "cut"
label = "Retina cut"
shape = "span"
occurrence = "repeat"
[[stages.steps]]
id = "haemostasis"
label = "Haemostasis at the edge"
shape = "span"
due_again = [{ step = "cut", edge = "stop", reason = "a cut edge bleeds" }]
[[stages.steps]]
id = "ports_out"
label = "Ports out"
ends_case = true

[[facts]]
id = "buckle_planned"
label = "Buckle planned"
kind = "flag"
default = false
""")


def _status(case: Case, step: str) -> str:
    return status(case, case.protocol.step[step])


# -- the eight words for how a step stands


def test_first_stage_is_due_and_the_next_not_reached() -> None:
    """Before anything is ticked the steps of the first stage are due, those of the next not reached."""
    case = case_of(TWO_STAGES, "")

    assert _status(case, "ports") == "due"
    assert _status(case, "haemostasis") == "not_reached"


def test_optional_step_is_never_due_of_itself() -> None:
    """An optional step of a stage that has been reached is not due."""
    assert _status(case_of(TWO_STAGES, "09:00:00 tick ports"), "chandelier") == "not_reached"


def test_step_with_unmet_condition_is_not_in_case() -> None:
    """A step whose condition is unmet does not belong to the case until a fact changes that."""
    assert _status(case_of(TWO_STAGES, ""), "buckle") == "not_in_case"
    assert _status(case_of(TWO_STAGES, "09:00:00 facts buckle_planned=true"), "buckle") == "due"


def test_span_runs_between_start_and_stop() -> None:
    """A span is running from its start and ticked from its stop."""
    assert _status(case_of(TWO_STAGES, "09:00:00 start cut"), "cut") == "running"
    assert _status(case_of(TWO_STAGES, "09:00:00 start cut\n09:04:00 stop cut"), "cut") == "ticked"


def test_earlier_start_without_a_stop_still_runs() -> None:
    """Of two overlapping spans of one step, the one left open keeps the step running."""
    case = case_of(TWO_STAGES, "09:00:00 start cut\n09:01:00 start cut\n09:02:00 stop cut")

    assert _status(case, "cut") == "running"


def test_ticks_are_numbered() -> None:
    """Each tick of a step has its number, from 1."""
    case = case_of(TWO_STAGES, "09:00:00 start cut\n09:01:00 stop cut\n09:02:00 start cut")

    assert [t.nth for t in case.state("cut").ticks] == [1, 2]


def test_not_needed_and_not_logged_are_words_of_their_own() -> None:
    """A step decided against and a step done without a tick are told apart."""
    case = case_of(TWO_STAGES, "09:00:00 not_needed ports already in\n09:00:00 not_logged cut")

    assert _status(case, "ports") == "not_needed"
    assert _status(case, "cut") == "not_logged"
    assert case.state("ports").not_needed is not None
    assert case.state("ports").not_needed[1] == "already in"


def test_last_word_between_not_needed_and_not_logged_counts() -> None:
    """Of `not needed` and `not logged` for the same step, the later one stands."""
    assert _status(case_of(TWO_STAGES, "09:00:00 not_needed ports\n09:01:00 not_logged ports"), "ports") == (
        "not_logged"
    )
    assert _status(case_of(TWO_STAGES, "09:00:00 not_logged ports\n09:01:00 not_needed ports"), "ports") == (
        "not_needed"
    )


def test_step_not_logged_then_decided_against_was_not_done() -> None:
    """`not needed` takes back a `not logged`, but not where the step was due again: it had been done."""
    taken_back = case_of(TWO_STAGES, "09:00:00 not_logged haemostasis\n09:01:00 not_needed haemostasis")
    due_again = case_of(
        TWO_STAGES,
        """
        09:00:00 not_logged haemostasis
        09:01:00 start cut
        09:02:00 stop cut
        09:03:00 not_needed haemostasis
        """,
    )

    assert not taken_back.state("haemostasis").done
    assert due_again.state("haemostasis").done


def test_tick_after_not_needed_is_a_tick() -> None:
    """A step ticked after it was decided against is ticked."""
    case = case_of(TWO_STAGES, "09:00:00 not_needed ports\n09:01:00 tick ports")

    assert _status(case, "ports") == "ticked"
    assert case.state("ports").not_needed is None


def test_struck_tick_leaves_a_struck_step() -> None:
    """A step whose only tick was struck says so, and is not satisfied."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:00:05 strike 1")

    assert _status(case, "ports") == "struck"
    assert not case.state("ports").satisfied


def test_ticking_a_later_stage_makes_earlier_steps_due() -> None:
    """Steps of every stage up to the furthest one entered are due."""
    assert _status(case_of(TWO_STAGES, "09:00:00 start cut"), "haemostasis") == "due"


def test_closing_a_stage_reaches_the_next() -> None:
    """Once a stage is closed the steps of the next are due."""
    assert _status(case_of(TWO_STAGES, "09:00:00 close access"), "haemostasis") == "due"


def test_closing_the_last_stage_reaches_nothing_more() -> None:
    """Closing the last stage leaves the case in it."""
    assert case_of(TWO_STAGES, "09:00:00 close cut").reached == 1


def test_ticking_in_a_closed_stage_reopens_it() -> None:
    """A stage is no longer closed once a step of it is ticked after all."""
    case = case_of(TWO_STAGES, "09:00:00 close access\n09:01:00 tick ports")

    assert "access" not in case.closed


def test_back_stamped_tick_leaves_a_closed_stage_closed() -> None:
    """A tick told for before the closing was part of the stage that was closed."""
    case = case_of(TWO_STAGES, "09:00:00 close access\n08:59:00 +120 tick ports")

    assert "access" in case.closed


def test_nothing_is_due_once_stopped_early() -> None:
    """After a case was stopped early the steps without a tick are not reached."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:05:00 start cut\n09:06:00 stop_early collapse")

    assert _status(case, "haemostasis") == "not_reached"


def test_nothing_is_due_again_once_stopped_early() -> None:
    """After a case was stopped early a step that was due again is a step that was ticked."""
    story = "10:00:00 start haemostasis\n10:01:00 stop haemostasis\n10:02:00 start cut\n10:03:00 stop cut\n"

    assert _status(case_of(TWO_STAGES, story), "haemostasis") == "due"
    assert _status(case_of(TWO_STAGES, f"{story}10:04:00 stop_early collapse"), "haemostasis") == "ticked"


# -- due again


def test_later_event_makes_a_ticked_step_due_again() -> None:
    """Haemostasis is due again after a further cut, with the file's reason, and is met by a further tick."""
    story = """
    10:00:00 start cut
    10:01:00 stop cut
    10:02:00 start haemostasis
    10:03:00 stop haemostasis
    10:10:00 start cut
    10:12:00 stop cut
    """
    case = case_of(TWO_STAGES, story)

    assert _status(case, "haemostasis") == "due"
    assert [m.reason for m in case.state("haemostasis").due_again] == ["a cut edge bleeds"]
    assert [m.since.seq for m in case.state("haemostasis").due_again] == [6]

    again = case_of(TWO_STAGES, story + "10:13:00 start haemostasis\n10:14:00 stop haemostasis")

    assert _status(again, "haemostasis") == "ticked"
    assert all(t.expected for t in again.state("haemostasis").ticks)


def test_step_not_yet_done_cannot_be_due_again() -> None:
    """A trigger before the step was ever done leaves it simply due."""
    case = case_of(TWO_STAGES, "10:00:00 start cut\n10:01:00 stop cut")

    assert case.state("haemostasis").due_again == ()


CALLED = protocol_of("""
[[facts]]
id = "gas"
label = "Gas in the eye"
kind = "flag"
default = true
[[stages]]
id = "only"
label = "Only"
[[stages.steps]]
id = "air"
label = "Air"
[[stages.steps]]
id = "look"
label = "A look at the tip"
occurrence = "optional"
due_again = [{ step = "air", reason = "air went in" }]
when = { all = [{ fact = "gas", choice = [true] }] }
""")


def test_optional_step_is_due_by_its_trigger() -> None:
    """An optional step never ticked is due from its trigger on, with the file's reason, until ticked."""
    story = "09:00:00 tick air\n09:01:00 tick air"
    case = case_of(CALLED, story)

    assert _status(case_of(CALLED, ""), "look") == "not_reached"
    assert _status(case, "look") == "due"
    assert [(m.reason, m.since.seq) for m in due_marks(case, case.protocol.step["look"])] == [
        ("air went in", 1)
    ]

    looked = case_of(CALLED, f"{story}\n09:02:00 tick look")

    assert (_status(looked, "look"), due_marks(looked, looked.protocol.step["look"])) == ("ticked", ())


def test_optional_step_asked_for_is_not_after_a_strike_of_its_trigger() -> None:
    """What was struck asks for nothing."""
    assert _status(case_of(CALLED, "09:00:00 tick air\n09:00:05 strike 1"), "look") == "not_reached"


@pytest.mark.parametrize(("before", "after"), [("", "not_in_case"), ("09:00:30 tick look\n", "ticked")])
def test_nothing_is_due_once_its_condition_is_unmet(before: str, after: str) -> None:
    """Marks of a step do not count while its condition does not hold, ticked before or never; then again."""
    story = f"09:00:00 tick air\n{before}09:01:00 tick air\n09:02:00 facts gas=false"
    case, again = case_of(CALLED, story), case_of(CALLED, f"{story}\n09:03:00 facts gas=true")

    assert (_status(case, "look"), due_marks(case, case.protocol.step["look"])) == (after, ())
    assert (_status(again, "look"), len(due_marks(again, again.protocol.step["look"]))) == ("due", 1)


@pytest.mark.parametrize("word", ["not_needed", "not_logged"])
def test_due_again_is_met_by_a_word_too(word: str) -> None:
    """`not needed` and `not logged` satisfy a step that was due again."""
    case = case_of(
        TWO_STAGES,
        f"""
        10:00:00 start haemostasis
        10:01:00 stop haemostasis
        10:02:00 start cut
        10:03:00 stop cut
        10:04:00 {word} haemostasis
        """,
    )

    assert case.state("haemostasis").satisfied
    assert _status(case, "haemostasis") == "ticked"


def test_step_decided_against_is_due_again_too() -> None:
    """A trigger after `not needed` makes the step due once more."""
    case = case_of(TWO_STAGES, "10:00:00 not_needed haemostasis\n10:01:00 start cut\n10:02:00 stop cut")

    assert _status(case, "haemostasis") == "due"


# -- corrections


def test_strike_of_a_strike_restores() -> None:
    """A strike that is itself struck strikes nothing."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:00:05 strike 1\n09:00:09 strike 2")

    assert _status(case, "ports") == "ticked"


def test_two_strikes_of_one_tick_need_two_strikes_back() -> None:
    """A tick struck twice stays struck when only one of the strikes is struck."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:00:05 strike 1\n09:00:06 strike 1\n09:00:09 strike 3")

    assert _status(case, "ports") == "struck"


def test_what_hangs_on_a_struck_start_goes_with_it() -> None:
    """The stop of a struck start is void too, and comes back with it."""
    story = "09:00:00 start cut\n09:02:00 stop cut\n09:03:00 strike 1"

    assert case_of(TWO_STAGES, story).odd == ()
    assert _status(case_of(TWO_STAGES, story), "cut") == "struck"
    assert _status(case_of(TWO_STAGES, f"{story}\n09:03:05 strike 3"), "cut") == "ticked"


def test_moved_tick_belongs_to_the_other_step() -> None:
    """A tick moved to another step counts there, at its own time, and nowhere else."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:01:00 move 1 chandelier")

    assert _status(case, "ports") == "due"
    assert [t.start.at.minute for t in case.state("chandelier").ticks] == [0]


@pytest.mark.parametrize("stopped_as", ["cut", "haemostasis"])
def test_stop_follows_its_start_wherever_it_is_moved(stopped_as: str) -> None:
    """A stop belongs to the step of its start, moved before or after, once or twice."""
    case = case_of(
        TWO_STAGES,
        f"""
        09:00:00 start cut
        09:01:00 move 1 ports
        09:01:10 move 1 haemostasis
        09:02:00 stop {stopped_as} @1
        """,
    )

    assert case.odd == ()
    assert [t.stop.seq for t in case.state("haemostasis").ticks if t.stop] == [4]


def test_struck_move_moves_nothing() -> None:
    """A tick whose move was struck is back where it was."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:01:00 move 1 chandelier\n09:01:05 strike 2")

    assert _status(case, "ports") == "ticked"


def test_strike_shows_at_the_step_the_tick_was_moved_to() -> None:
    """A tick moved and then struck leaves its trace where it last stood."""
    case = case_of(TWO_STAGES, "09:00:00 tick ports\n09:01:00 move 1 cut\n09:01:05 strike 1")

    assert _status(case, "cut") == "struck"
    assert not case.state("ports").struck


def test_back_stamp_moves_the_time_told() -> None:
    """A back-stamped tick is told for so many seconds earlier, entered late by as much; two add up."""
    case = case_of(TWO_STAGES, "09:10:00 tick ports\n09:10:01 back 1 60\n09:10:02 back 1 60")
    [tick] = case.state("ports").ticks

    assert tick.start.at.strftime("%H:%M:%S") == "09:08:00"
    assert tick.start.t == -120.0
    assert tick.late_s == 120.0


def test_back_stamp_may_change_the_order() -> None:
    """A tick back-stamped to before another comes before it."""
    case = case_of(TWO_STAGES, "09:10:00 tick ports\n09:11:00 tick chandelier\n09:11:05 back 2 120")

    assert [e.step for e in case.log] == ["chandelier", "ports"]


def test_stop_back_stamped_before_its_start_is_held_there() -> None:
    """A stop corrected to before its start stands at the start, so no span is negative."""
    case = case_of(TWO_STAGES, "09:10:00 start cut\n09:11:00 stop cut\n09:11:05 back 2 600")
    [tick] = case.state("cut").ticks

    assert tick.stop is not None
    assert (tick.start.t, tick.start.at) == (tick.stop.t, tick.stop.at)
    assert tick.stop_late_s == 60.0


def test_start_brought_forward_past_its_stop_takes_the_stop_along() -> None:
    """A start corrected to after its stop holds the stop at the start."""
    case = case_of(TWO_STAGES, "09:10:00 start cut\n09:11:00 stop cut\n09:20:00 back 1 -300")
    [tick] = case.state("cut").ticks

    assert tick.stop is not None
    assert tick.start.t == tick.stop.t == 300.0


# -- what means nothing here


@pytest.mark.parametrize(
    "line",
    [
        "09:01:00 holographic words",
        "09:01:00 tick lens_out",
        "09:01:00 start lens_out",
        "09:01:00 not_needed lens_out",
        "09:01:00 not_logged lens_out",
        "09:01:00 stop cut",
        "09:01:00 stop ports @1",
        "09:01:00 read unheard=3",
        "09:01:00 count 1 swab=3",
        "09:01:00 close lens",
        "09:01:00 detail 1 - words",
        "09:01:00 dealt_with 1",
        "09:01:00 accept 1",
        "09:01:00 strike 99",
        "09:01:00 strike 2",
        "09:01:00 move 3 ports",
        "09:01:00 choose 99 none",
        "09:01:00 back 2 60",
        "09:01:00 back 1 1e300",
    ],
)
def test_entry_that_means_nothing_is_kept_and_reported(line: str) -> None:
    """A kind, step or reference that neither program nor file knows changes nothing and is kept as odd."""
    before = "09:00:00 tick ports\n09:00:30 resume\n09:00:40 note words\n"
    plain, case = case_of(TWO_STAGES, before), case_of(TWO_STAGES, before + line)

    assert [e.seq for e in case.odd] == [4]
    assert case.events[-1] == case.odd[0].event
    assert (case.steps, case.readings, case.counts, case.closed) == (
        plain.steps,
        plain.readings,
        plain.counts,
        plain.closed,
    )


def test_opening_line_cannot_be_struck() -> None:
    """The first line is the frame of the record; a strike of it is odd and strikes nothing."""
    case = case_of(TWO_STAGES, "09:00:00 open\n09:00:05 strike 1")

    assert case.code == "A1"
    assert [e.seq for e in case.odd] == [2]


def test_second_opening_line_is_odd() -> None:
    """Only the first line opens a case."""
    assert [e.seq for e in case_of(TWO_STAGES, "09:00:00 open\n09:00:05 open code=B2").odd] == [2]


# -- decisions, plans, facts

TAMPONADE = protocol_of("""
[[facts]]
id = "planned_tamponade"
label = "Planned tamponade"
kind = "choice"
default = "gas"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Oil", key = "o" }]
[[facts]]
id = "lens"
label = "Lens"
kind = "choice"
default = "phakic"
choices = [{ id = "phakic", label = "Phakic", key = "p" }, { id = "aphakic", label = "Aphakic", key = "a" }]

[[stages]]
id = "exchange"
label = "Exchange"
[[stages.steps]]
id = "lens_out"
label = "Lens removed"
occurrence = "optional"
sets = [{ fact = "lens", to = "aphakic" }]
[[stages.steps]]
id = "tamp_decide"
label = "Tamponade decision"
shape = "decision"
plan_fact = "planned_tamponade"
choices = [{ id = "gas", label = "Gas", key = "g" }, { id = "oil", label = "Oil", key = "o" }]
[[stages.steps]]
id = "iridotomy"
label = "Inferior iridotomy"
when = { all = [{ fact = "lens", choice = ["aphakic"] }, { decision = "tamp_decide", choice = ["oil"] }] }
""")


def _choice(case: Case) -> str | None:
    return standing_choice(case, case.protocol.step["tamp_decide"])


def test_plan_stands_until_a_choice_is_stated() -> None:
    """A decision not ticked, or ticked without its choice, stands as planned."""
    assert _choice(case_of(TAMPONADE, "")) == "gas"
    assert _choice(case_of(TAMPONADE, "09:00:00 tick tamp_decide")) == "gas"
    assert _choice(case_of(TAMPONADE, "09:00:00 tick tamp_decide oil")) == "oil"


def test_choice_may_follow_its_tick() -> None:
    """A choice said after the tick is the choice of that tick; said again, the last one stands."""
    case = case_of(TAMPONADE, "09:00:00 tick tamp_decide\n09:00:04 choose 1 oil")
    put_right = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:00:04 choose 1 gas")

    assert case.state("tamp_decide").ticks[0].choice == "oil"
    assert _choice(put_right) == "gas"


def test_earlier_choice_stands_when_a_decision_is_ticked_bare() -> None:
    """A further tick without a choice leaves what was said before."""
    assert _choice(case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:30:00 tick tamp_decide")) == "oil"


def test_choice_against_the_plan_is_a_change_of_plan() -> None:
    """A choice other than the planned one is kept as a change, marked as planned before."""
    [change] = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil").changes

    assert (change.was, change.now, change.planned) == ("gas", "oil", True)


def test_second_thoughts_are_a_change_between_choices() -> None:
    """A decision ticked again with another choice is a change from what was said, not from the plan."""
    case = case_of(TAMPONADE, "09:00:00 tick tamp_decide gas\n09:30:00 tick tamp_decide oil")

    assert [(c.was, c.now, c.planned) for c in case.changes] == [("gas", "oil", False)]


def test_same_choice_again_is_no_change() -> None:
    """A decision confirmed is not a change."""
    assert case_of(TAMPONADE, "09:00:00 tick tamp_decide gas\n09:30:00 tick tamp_decide gas").changes == ()


def test_fact_changed_by_a_step_switches_another() -> None:
    """Removing the lens of an eye to be filled with oil brings the iridotomy into the case."""
    step = TAMPONADE.step["iridotomy"]
    before = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil")
    after = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:10:00 tick lens_out")
    unseen = case_of(TAMPONADE, "09:00:00 tick tamp_decide oil\n09:10:00 not_logged lens_out")

    assert [in_case(case, step) for case in (before, after, unseen)] == [False, True, True]
    assert after.changes == before.changes


def test_condition_on_a_step_is_met_by_one_not_logged() -> None:
    """A step wanted once another was done is wanted too once that was done but not logged."""
    steps = steps_of("lens_out", 'capsule when = { all = [{ step = "lens_out", state = "ticked" }] }')

    assert not in_case(case_of(steps, ""), steps.step["capsule"])
    assert in_case(case_of(steps, "09:00:00 not_logged lens_out"), steps.step["capsule"])


def test_first_facts_are_asked_later_ones_change() -> None:
    """The first facts are what was asked; later ones are changes, and the plan follows them."""
    case = case_of(TAMPONADE, "09:00:00 facts lens=phakic\n09:30:00 facts planned_tamponade=oil lens=phakic")

    assert case.asked == {"planned_tamponade": "gas", "lens": "phakic"}
    assert [(c.what, c.was, c.now) for c in case.changes] == [("planned_tamponade", "gas", "oil")]
    assert plan(case, TAMPONADE.step["tamp_decide"]) == "oil"


# -- pairs

PORTS = protocol_of("""
[[readings]]
id = "ports_n"
label = "Ports in"
[[readings]]
id = "ports_out_n"
label = "Ports out"

[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "ports"
label = "Ports in"
[[stages.steps]]
id = "chandelier"
label = "Chandelier"
[[stages.steps]]
id = "ports_out"
label = "Ports out"
shape = "span"
[[stages.steps]]
id = "pfcl_in"
label = "Heavy liquid in"
occurrence = "repeat"
[[stages.steps]]
id = "pfcl_out"
label = "Heavy liquid out"
[[stages.steps]]
id = "sign_out"
label = "Sign-out"

[[pairs]]
id = "port_pair"
label = "Ports"
counted = true
opens = [{ step = "ports", amount_from = "ports_n" }, { step = "chandelier", amount = 1 }]
closes = [{ step = "ports_out", edge = "stop", amount_from = "ports_out_n" }]
by = "sign_out"
[[pairs]]
id = "pfcl"
label = "Heavy liquid"
opens = [{ step = "pfcl_in" }]
closes = [{ step = "pfcl_out" }]
by = "sign_out"
""")

FOUR_IN = """
09:00:00 tick ports
09:00:05 read ports_n=3 1
09:10:00 tick chandelier
10:00:00 start ports_out
10:05:00 stop ports_out
"""


def test_ports_and_chandelier_make_four() -> None:
    """Three ports and a chandelier's own are matched by four out, said when the span has ended."""
    ports = case_of(PORTS, f"{FOUR_IN}\n10:05:05 read ports_out_n=4 4").pairs["port_pair"]

    assert (ports.total(+1), ports.total(-1), ports.open) == (4, 4, False)


def test_number_said_while_the_span_runs_counts() -> None:
    """A number said before the span's stop is how many that stop moved."""
    story = """
    09:00:00 tick ports
    09:00:05 read ports_n=3 1
    10:00:00 start ports_out
    10:01:00 read ports_out_n=3 3
    10:05:00 stop ports_out
    """
    ports = case_of(PORTS, story).pairs["port_pair"]

    assert (ports.total(+1), ports.total(-1), ports.open) == (3, 3, False)


@pytest.mark.parametrize("out", [3, 5])
def test_numbers_that_differ_leave_a_pair_open(out: int) -> None:
    """Fewer or more out than in is not matched."""
    assert case_of(PORTS, f"{FOUR_IN}\n10:05:05 read ports_out_n={out} 4").pairs["port_pair"].open


def test_number_corrected_is_the_one_that_stands() -> None:
    """A second number for the same tick replaces the first."""
    story = f"{FOUR_IN}\n10:05:05 read ports_out_n=3 4\n10:06:00 read ports_out_n=4 4"
    case = case_of(PORTS, story)

    assert not case.pairs["port_pair"].open
    assert [v.value for v in case.readings] == [3, 4]


def test_way_out_without_a_number_takes_all() -> None:
    """Ports out without a number leaves none in."""
    ports = case_of(PORTS, FOUR_IN).pairs["port_pair"]

    assert not ports.open
    assert ports.total(-1) is None


def test_number_never_said_cannot_differ() -> None:
    """Where the number in was never said, a number out closes the pair."""
    story = """
    09:00:00 tick ports
    10:00:00 start ports_out
    10:05:00 stop ports_out
    10:05:05 read ports_out_n=3 2
    """
    ports = case_of(PORTS, story).pairs["port_pair"]

    assert not ports.open
    assert ports.total(+1) is None


def test_number_that_is_none_moves_nothing() -> None:
    """A number that is no number leaves the amount unknown."""
    case = case_of(PORTS, '09:00:00 tick ports\n09:00:05 read ports_n=NaN 1\n09:00:06 read ports_n="three" 1')

    assert case.pairs["port_pair"].total(+1) is None


def test_number_is_that_of_its_own_tick() -> None:
    """Where one reading numbers several ticks, each number is that of the tick it was said for."""
    story = "09:00:00 tick ports\n09:01:00 tick ports\n09:01:05 read ports_n=3 1\n09:01:10 read ports_n=2 2"

    assert [m.amount for m in case_of(PORTS, story).pairs["port_pair"].movements] == [3, 2]


def test_heavy_liquid_topped_up_is_in_once() -> None:
    """Something without a number is in or out: in twice is out by once."""
    story = "09:00:00 tick pfcl_in\n09:10:00 tick pfcl_in"

    assert case_of(PORTS, story).pairs["pfcl"].open
    assert not case_of(PORTS, f"{story}\n09:20:00 tick pfcl_out").pairs["pfcl"].open
    assert case_of(PORTS, f"{story}\n09:20:00 tick pfcl_out\n09:30:00 tick pfcl_in").pairs["pfcl"].open


def test_out_without_in_moves_nothing() -> None:
    """Something without a number that was never in cannot come out."""
    pfcl = case_of(PORTS, "09:20:00 tick pfcl_out").pairs["pfcl"]

    assert not pfcl.ever_open
    assert pfcl.movements == ()


def test_not_logged_moves_what_it_stands_for() -> None:
    """Heavy liquid in, not logged, is in the eye; out, not logged, is out, nobody knows since when."""
    inside = case_of(PORTS, "09:00:00 not_logged pfcl_in").pairs["pfcl"]
    out = case_of(PORTS, "09:00:00 tick pfcl_in\n09:30:00 not_logged pfcl_out").pairs["pfcl"]

    assert inside.open
    assert not out.open
    assert out.movements[-1].unsure


# -- clocks

DYE = protocol_of("""
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "dye_in"
label = "Dye in"
shape = "decision"
occurrence = "repeat"
choices = [{ id = "blue", label = "Blue", key = "b" }, { id = "green", label = "Green", key = "g" }]
[[stages.steps]]
id = "dye_out"
label = "Dye out"
occurrence = "repeat"

[[readings]]
id = "infusion_mmhg"
label = "Infusion pressure"
unit = "mmHg"

[[complications]]
id = "bleed"
label = "Bleeding"

[[clocks]]
id = "blue"
label = "Blue"
start = [{ step = "dye_in", choice = ["blue"] }]
stop = [{ step = "dye_out" }]
amber_s = 60
[[clocks]]
id = "raised"
label = "Raised pressure"
start = [{ reading = "infusion_mmhg", above = 40 }]
stop = [{ reading = "infusion_mmhg", at_most = 30 }]
amber_s = 120
[[clocks]]
id = "bleeding"
label = "Bleeding"
start = [{ complication = "bleed" }]
stop = [{ event = "operator" }]
amber_s = 300
""")


def _runs(case: Case, clock: str, now_t: float = 0.0) -> list[float]:
    return [run.seconds(now_t) for run in case.clocks if run.clock == clock]


def test_clock_waits_for_its_choice() -> None:
    """A clock of one dye does not run for another."""
    assert _runs(case_of(DYE, "09:00:00 tick dye_in green"), "blue") == []
    assert _runs(case_of(DYE, "09:00:00 tick dye_in blue\n09:01:10 tick dye_out"), "blue") == [70.0]


def test_clock_runs_from_the_first_start() -> None:
    """A start while the clock runs does not set it back; after a stop it runs anew."""
    story = """
    09:00:00 tick dye_in blue
    09:00:30 tick dye_in blue
    09:01:00 tick dye_out
    09:02:00 tick dye_in blue
    09:02:40 tick dye_out
    """

    assert _runs(case_of(DYE, story), "blue") == [60.0, 40.0]


def test_clock_moves_with_a_reading() -> None:
    """A clock started above 40 runs until a reading of at most 30; both edges as the file writes them."""
    story = """
    09:00:00 read infusion_mmhg=40
    09:01:00 read infusion_mmhg=41
    09:02:00 read infusion_mmhg=60
    09:03:00 read infusion_mmhg=31
    09:04:00 read infusion_mmhg=30
    """

    assert _runs(case_of(DYE, story), "raised") == [180.0]


def test_clock_starts_when_a_complication_is_named() -> None:
    """A complication stamped first and named later starts its clock when named, and only once."""
    story = """
    09:00:00 complication
    09:01:00 detail 1 bleed from the edge
    09:02:00 detail 1 bleed from a vessel
    09:04:00 operator consultant
    """

    assert _runs(case_of(DYE, story), "bleeding") == [180.0]
    assert _runs(case_of(DYE, f"{story}\n09:05:00 detail 1 bleed all told"), "bleeding") == [180.0]


def test_running_clock_counts_to_now() -> None:
    """A clock without a stop has run up to now, never less than nought."""
    case = case_of(DYE, "09:00:00 tick dye_out\n09:01:00 tick dye_in blue")

    assert _runs(case, "blue", now_t=90.0) == [30.0]
    assert _runs(case, "blue", now_t=0.0) == [0.0]


def test_clock_stopped_by_something_not_logged_is_unsure() -> None:
    """Dye out, not logged, stops the clock, but how long it ran is not known."""
    case = case_of(DYE, "09:00:00 tick dye_in blue\n09:30:00 not_logged dye_out")

    assert [run.unsure for run in case.clocks] == [True]


# -- counts

SWABS = protocol_of("""
[[counted]]
id = "swab"
label = "Swabs"
[[counted]]
id = "hook"
label = "Hooks"

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
[[anytime]]
id = "count_check"
label = "Count at hand-over"
shape = "count"
count = "check"
occurrence = "repeat"
""")


def test_count_arithmetic() -> None:
    """A line should end at start + added - removed: 10 + 5 - 2 = 13."""
    story = """
    09:00:00 tick count_1
    09:01:00 count 1 swab=10
    09:30:00 swab +5
    09:40:00 swab -2
    """
    line = case_of(SWABS, story).counts["swab"]

    assert (line.start, line.added, line.removed, line.expected, line.final) == (10, 5, 2, 13, None)


def test_item_opened_before_the_first_count_is_in_its_number() -> None:
    """What was opened before the first count is not added to it again."""
    case = case_of(SWABS, "08:50:00 swab +5\n09:00:00 tick count_1\n09:01:00 count 2 swab=15")

    assert case.counts["swab"].expected == 15


def test_first_count_restated_keeps_what_came_since() -> None:
    """A first count put right afterwards changes the start and nothing else."""
    story = "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n09:30:00 swab +5\n09:31:00 count 1 swab=11"

    assert case_of(SWABS, story).counts["swab"].expected == 16


def test_number_said_lapses_when_an_item_is_added() -> None:
    """A number said at a check is not held against what is opened later."""
    story = """
    09:00:00 tick count_1
    09:01:00 count 1 swab=10
    10:00:00 tick count_check
    10:01:00 count 3 swab=10
    10:30:00 swab +5
    """
    line = case_of(SWABS, story).counts["swab"]

    assert line.final is None
    assert line.differences == ()
    assert line.expected == 15


def test_line_opened_after_the_first_count_is_expected_too() -> None:
    """Items of a line that the first count did not have are expected back."""
    case = case_of(SWABS, "09:00:00 tick count_1\n09:01:00 count 1 swab=10\n09:30:00 hook +4")

    assert case.counts["hook"].expected == 4


def test_line_never_counted_expects_nothing() -> None:
    """A line of which nothing was said expects no number, and any number is taken."""
    case = case_of(SWABS, "10:00:00 tick count_2\n10:01:00 count 1 swab=9")

    assert case.counts["hook"].expected is None
    assert (case.counts["swab"].final, case.counts["swab"].differences) == (9, ())


# -- people, trouble, pauses, the frame


def test_posts_pass_from_role_to_role() -> None:
    """The first line puts its role in the circulating post; a hand-over passes it on, accepted apart."""
    story = """
    09:00:00 open
    09:00:00 operator consultant
    10:00:00 handover runner_two uncounted
    10:00:30 accept 3
    10:30:00 operator fellow
    """
    case = case_of(TWO_STAGES, story)
    [handed] = [p for p in case.posts if p.counts_confirmed is not None]

    assert case.post("circulating") == "runner_two"
    assert case.post("operator") == "fellow"
    assert handed.counts_confirmed is False
    assert handed.accepted is not None
    assert handed.accepted.seq == 4


def test_tick_knows_who_operated() -> None:
    """Each tick has the role operating at its start."""
    story = "09:00:00 start cut\n09:00:30 operator consultant\n09:01:00 start cut\n09:02:00 operator fellow"

    assert [t.operator for t in case_of(TWO_STAGES, story).state("cut").ticks] == [None, "consultant"]


def test_complication_is_stamped_named_and_dealt_with() -> None:
    """A complication is stamped by one key; what it was and that it is over come later."""
    story = """
    09:00:00 complication
    09:01:00 detail 1 bleed edge
    09:02:00 detail 1 - vessel
    09:05:00 dealt_with 1
    """
    [trouble] = case_of(TWO_STAGES, story).troubles

    assert (trouble.complication, trouble.text) == ("bleed", "vessel")
    assert trouble.stop is not None


def test_pause_ends_with_the_next_continue() -> None:
    """A pause lasts to the next `continue`; one inside a pause and one outside change nothing."""
    story = "09:00:00 continue\n09:01:00 pause\n09:02:00 pause\n09:03:00 continue\n09:04:00 continue"
    [(start, stop)] = case_of(TWO_STAGES, story).pauses

    assert stop is not None
    assert (start.seq, stop.seq) == (2, 4)


def test_gap_runs_from_the_last_line_entered() -> None:
    """The journal was closed from the last key before it, whatever time that key told, to the resumption."""
    case = case_of(TWO_STAGES, "09:00:00 open\n09:01:00 +60 tick ports\n09:10:00 resume")
    [gap] = case.gaps

    assert (gap.start.t, gap.stop.t) == (120.0, 600.0)
    assert gap.start.seq == 2


def test_words_and_bookmarks_are_kept_in_order() -> None:
    """Notes and bookmarks are kept with their moments."""
    case = case_of(TWO_STAGES, "09:00:00 note fibrin\n09:01:00 bookmark good peel\n09:02:00 bookmark")

    assert [(s.kind, s.text) for s in case.said] == [
        ("note", "fibrin"),
        ("bookmark", "good peel"),
        ("bookmark", ""),
    ]


def test_last_reason_given_stands() -> None:
    """A reason given again for the same deviation replaces the first."""
    case = case_of(
        TWO_STAGES, "09:00:00 reason skipped:ports oversight\n09:01:00 reason skipped:ports teaching"
    )

    assert case.reasons["skipped:ports"].reason == "teaching"


# -- ends


def test_case_starts_and_ends_with_its_steps() -> None:
    """The first tick of the starting step starts the case, the first of the ending step ends it."""
    story = "09:00:00 tick ports\n09:30:00 tick ports\n10:00:00 tick ports_out\n10:05:00 tick ports_out"
    case = case_of(TWO_STAGES, story)

    assert case.started is not None
    assert case.end is not None
    assert (case.started.seq, case.end.when.seq, case.end.how, case.end.left) == (1, 3, "normal", True)


def test_patient_leaving_does_not_undo_an_early_stop() -> None:
    """The patient leaves after a case stopped early, too: it stays stopped early and ends when they leave."""
    end = case_of(
        TWO_STAGES, "09:00:00 tick ports\n09:10:00 stop_early collapse\n09:30:00 tick ports_out"
    ).end

    assert end is not None
    assert end.stopped is not None
    assert (end.how, end.reason, end.when.seq, end.stopped.seq) == ("stopped_early", "collapse", 3, 2)


def test_early_stop_said_afterwards_keeps_the_time_of_leaving() -> None:
    """A case said to have stopped early only after the patient left ended when they left."""
    end = case_of(TWO_STAGES, "09:30:00 tick ports_out\n09:40:00 stop_early collapse").end

    assert end is not None
    assert (end.how, end.when.seq, end.left) == ("stopped_early", 1, True)


# -- the fold itself


def test_extend_leaves_the_case_it_began_from_alone() -> None:
    """A case is a value: extending it changes nothing in it."""
    events = events_of(
        "09:00:00 tick ports\n09:01:00 read x=1\n09:02:00 start cut\n09:03:00 not_logged buckle"
    )
    case = fold(TWO_STAGES, events[:1])
    again = fold(TWO_STAGES, events[:1])
    for event in events[1:]:
        extend(case, event)

    assert case == again


def test_order_of_the_file_decides_ties() -> None:
    """Of two entries of the same millisecond the earlier line comes first."""
    steps = steps_of("first", 'second needs = [{ step = "first", level = "order", reason = "so" }]')

    assert case_of(steps, "09:00:00 tick first\n09:00:00 tick second").state("second").ticks[0].unmet == ()
    assert case_of(steps, "09:00:00 tick second\n09:00:00 tick first").state("second").ticks[0].unmet != ()
