"""The one structure of a record: what stands in it, worked out by hand from a small case."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from record_alone import build
from record_case import PROTOCOL, WHOLE, story
from record_stories import debriefed_record
from tracker.core.case import Case
from tracker.core.wording import CAUTIONS
from tracker.review.record.plain import minutes
from tracker.review.record.structure import Record, Share, StepLine

HASH = "c0ffee" * 10 + "0123"


def record(text: str, now_t: float = 9e9) -> Record:
    """The record of a story."""
    case = story(text)
    return build(case, now_t, HASH, len(case.events))


@pytest.fixture(scope="module")
def whole() -> Record:
    """The record of the whole small case."""
    return record(WHOLE)


def step(made: Record, ident: str) -> StepLine:
    """One step of a record."""
    (found,) = [s for s in made.steps if s.step == ident]
    return found


# -- header and facts


def test_the_header_says_which_case_by_which_file(whole: Record) -> None:
    """Case, protocol, version, digest, cautions and the end of the hash chain are all there."""
    h = whole.header
    assert (h.case, h.invented, h.program) == ("A-0007", True, "0.1.0")
    assert (h.protocol, h.version) == ("small-repair", "1.2.0")
    assert (len(h.digest), h.reviewed_by) == (64, "not reviewed locally")
    assert whole.cautions == CAUTIONS
    assert (whole.entries, whole.last_hash) == (44, HASH)


def test_the_header_says_from_when_to_when_and_what_was_planned(whole: Record) -> None:
    """09:00 into theatre to 10:05 out of it is 65 minutes; 45 were planned."""
    h = whole.header
    assert h.opened == "2026-10-24T08:55:00.000+01:00"
    assert h.started == "2026-10-24T09:00:00.000+01:00"
    assert h.ended == h.measured_to == "2026-10-24T10:05:00.000+01:00"
    assert (h.ending, h.ending_reason) == ("at its usual end", "")
    assert (h.planned_minutes, h.actual_minutes) == (45.0, 65.0)


def test_facts_are_told_as_asked_and_as_changed() -> None:
    """A fact corrected later keeps what was first said beside what stands."""
    made = record('09:00 opened\n09:01 facts values={"eye":"left"}\n09:02 facts values={"eye":"right"}')
    eye = made.facts[0]
    assert (eye.asked_words, eye.now_words, eye.changed) == ("left", "right", True)
    assert [(c.label, c.was, c.now) for c in made.changes] == [("Eye", "left", "right")]


# -- stages, steps, spans


def test_stage_minutes_run_from_first_start_to_last_stop(whole: Record) -> None:
    """Core starts at 09:06, the laser stops at 09:40: 34 minutes; a stage of points has no minutes."""
    told = [(s.label, s.minutes, s.ticks, s.open) for s in whole.stages]
    assert told == [
        ("Ready", None, 3, False), ("Peel and cut", 34.0, 6, False), ("Fill and close", 4.0, 4, False),
    ]  # fmt: skip


def test_pauses_are_taken_out_of_every_length() -> None:
    """Ten minutes with four of them paused are six, for the span, the step and the stage alike."""
    made = record(
        """
        09:00 opened
        09:10 start step=core
        09:12 paused
        09:16 continued
        09:20 stop step=core ref=2
        """
    )
    (span,) = made.spans
    assert (span.minutes, span.paused_minutes) == (6.0, 4.0)
    assert step(made, "core").minutes == 6.0
    assert made.stages[1].minutes == 6.0
    assert [p.minutes for p in made.pauses] == [4.0]


def test_points_have_no_minutes_and_spans_have(whole: Record) -> None:
    """A point is a moment; only a span with both ends has a length."""
    assert [t.minutes for t in step(whole, "in_theatre").ticks] == [None]
    assert [(t.nth, t.minutes, t.operator) for t in step(whole, "cut").ticks] == [(1, 6.0, "fellow")]
    assert step(whole, "core").minutes == 10.5
    assert (step(whole, "core").file_low, step(whole, "core").file_high) == (2.0, 8.0)


def test_late_and_back_stamped_ticks_say_so(whole: Record) -> None:
    """A tick entered 90 s late is late; a stop corrected by a minute is back-stamped and not late."""
    (time_out,) = step(whole, "time_out").ticks
    (close,) = step(whole, "close").ticks
    assert (time_out.late, time_out.back_stamped, time_out.late_s) == (True, True, 90.0)
    assert (close.late, close.back_stamped, close.late_s) == (False, True, 60.0)
    assert close.stop == "2026-10-24T09:53:00.000+01:00"


def test_a_tick_before_what_it_needs_says_what_was_missing(whole: Record) -> None:
    """The cut came before the peel; its tick carries the file's own reason."""
    (cut,) = step(whole, "cut").ticks
    assert cut.unmet == ("Membrane peel: traction goes before the cut",)


def test_the_choice_of_a_decision_is_told_in_words(whole: Record) -> None:
    """The decision keeps its id and its label."""
    (tick,) = step(whole, "tamponade").ticks
    assert (tick.choice, tick.choice_words) == ("oil", "silicone oil")


def test_a_span_without_a_stop_has_no_minutes_anywhere() -> None:
    """A missing stop makes the span, the step and the stage open, never as long as the case."""
    made = record("09:00 opened\n09:10 start step=core\n09:30 tick step=out_theatre")
    (span,) = made.spans
    assert (span.open, span.minutes, span.stop, span.stop_s) == (True, None, None, None)
    assert (step(made, "core").open, step(made, "core").minutes) == (True, None)
    assert (made.stages[1].open, made.stages[1].minutes, made.stages[1].last_stop) == (True, None, None)
    assert step(made, "core").status == "ticked, no stop"
    assert made.completeness.spans_with_both_ends == Share(n=0, of=1, percent=0.0)


def test_intervals_between_ticks_are_labelled_as_such(whole: Record) -> None:
    """The time since the previous tick is given under its own name, and never as a step's time."""
    assert {i.what for i in whole.intervals} == {"interval since previous tick"}
    assert [(i.label, i.minutes) for i in whole.intervals[:3]] == [
        ("First count", 3.0), ("Time-out", 1.0), ("Core vitrectomy", 2.0),
    ]  # fmt: skip


# -- what was said and found


def test_deviations_carry_expected_found_and_reason(whole: Record) -> None:
    """The cut before the peel is of safety level, with the reason that was given for it."""
    first = whole.deviations[0]
    assert (first.code, first.level, first.label) == ("out_of_order", "safety", "Retina cut")
    assert first.expected == "Membrane peel done first: traction goes before the cut"
    assert first.found == "came after, at 09:25:00"
    assert (first.reason_words, first.how) == ("finding forced it", "finding forced it")
    assert first.text == "edge was folded"


def test_readings_carry_unit_and_the_limit_they_lie_outside(whole: Record) -> None:
    """50 mmHg is over the file's 40; 25 mmHg is not."""
    told = [(r.label, r.value, r.unit, r.outside_caution, r.limit) for r in whole.readings]
    assert told == [
        ("Infusion pressure", 50, "mmHg", True, "at most 40 mmHg"),
        ("Infusion pressure", 25, "mmHg", False, ""),
        ("Laser rows", 1, "", True, "at least 2"),
    ]
    assert whole.readings[2].step == "laser"


def test_clocks_carry_the_figures_of_the_file_in_minutes(whole: Record) -> None:
    """2 min 40 s of raised pressure reached amber at 2 and not red at 5."""
    raised = next(c for c in whole.clocks if c.clock == "raised")
    assert (raised.minutes, raised.amber, raised.red, raised.reached) == (2.667, 2.0, 5.0, "amber")


def test_a_clock_whose_stop_was_not_logged_has_no_minutes() -> None:
    """Heavy liquid that came out unlogged: out by then, and for how long it was in is not known."""
    made = record("09:00 opened\n09:05 tick step=liquid_in\n09:20 not_logged step=liquid_out")
    (clock,) = made.clocks
    assert (clock.unsure, clock.minutes) == (True, None)
    assert [m.unsure for m in made.pairs[0].movements] == [False, True]
    assert made.completeness.not_logged == 1


def test_pairs_counts_and_complications(whole: Record) -> None:
    """Liquid in and out again; fifteen swabs of ten and five; one blade of two; bleeding for 3.5 minutes."""
    (liquid,) = whole.pairs
    assert (liquid.state, liquid.open, [m.way for m in liquid.movements]) == ("out", False, ["in", "out"])
    assert [(c.label, c.expected, c.final, c.agrees) for c in whole.counts] == [
        ("Swabs", 15, 15, True), ("Blades", 2, 1, False),
    ]  # fmt: skip
    (bleed,) = whole.complications
    assert (bleed.label, bleed.text, bleed.minutes) == ("Bleeding from the cut edge", "one vessel", 3.5)


def test_staff_are_told_by_role_and_span(whole: Record) -> None:
    """Each post runs to the next holder or to the end of the case."""
    told = [(s.post, s.role, s.minutes, s.counts_confirmed) for s in whole.staff]
    assert told == [
        ("circulating", "runner", 52.0, None),
        ("circulating", "runner_two", 18.0, True),
        ("operator", "consultant", 22.817, None),
        ("operator", "fellow", 47.0, None),
    ]


def test_a_span_is_shared_out_among_those_who_operated_during_it() -> None:
    """A take-over two minutes before the end of a ten-minute span leaves eight minutes and two."""
    made = record(
        """
        09:00 opened
        09:01 operator operator=fellow
        09:10 start step=core
        09:18 operator operator=consultant
        09:20 stop step=core ref=3
        """
    )
    assert [(o.label, o.role, o.minutes) for o in made.operated] == [
        ("Core vitrectomy", "fellow", 8.0), ("Core vitrectomy", "consultant", 2.0),
    ]  # fmt: skip
    assert made.spans[0].operators == ("fellow", "consultant")


def test_notes_bookmarks_changes_and_gaps(whole: Record) -> None:
    """What was said, what changed and when the log was not open."""
    assert [(s.kind, s.text) for s in whole.said] == [("bookmark", "good bit"), ("note", "lens clear")]
    assert [(c.was, c.now, c.planned) for c in whole.changes] == [("gas", "silicone oil", True)]
    assert [(g.minutes, g.torn) for g in whole.gaps] == [(4.0, False)]


# -- amendments and the log


def test_every_correction_keeps_the_original_legible(whole: Record) -> None:
    """A strike, a move and a back-stamp each say what was written first and what it became."""
    told = [(a.kind, a.original, a.became, a.reason) for a in whole.amendments]
    assert told == [
        ("strike", "entry 28; tick; Heavy liquid in; 09:45:00", "void", "wrong key"),
        ("move", "entry 30; tick; Time-out; 09:46:00", "Heavy liquid out", ""),
        ("back-stamp", "entry 36; stop; Ports closed; 09:54:00", "09:53:00", ""),
    ]


def test_a_second_choice_and_a_second_reading_are_amendments() -> None:
    """What replaces an earlier answer leaves it legible; a correction struck in turn does not stand."""
    made = record(
        """
        09:00 opened
        09:10 tick step=tamponade choice=gas
        09:11 choice ref=2 choice=oil
        09:12 tick step=laser
        09:13 reading reading=rows value=2 ref=4
        09:14 reading reading=rows value=3 ref=4
        09:15 back_stamp ref=4 seconds=60
        09:16 strike ref=7
        """
    )
    chosen = "Tamponade chosen"
    told = [(a.kind, a.original, a.became, a.stands) for a in made.amendments]
    assert told == [
        ("choice changed", f"entry 2; tick; {chosen}; gas; 09:10:00", f"{chosen}; silicone oil", True),
        ("reading replaced", "entry 5; reading; Laser rows 2; 09:13:00", "Laser rows 3", True),
        ("back-stamp", "entry 4; tick; Edge laser; 09:12:00", "09:11:00", False),
        ("strike", "entry 7; back stamp; entry 4 was 60 s before its time; 09:15:00", "void", True),
    ]  # fmt: skip


def test_every_entry_has_a_line_and_void_ones_are_marked(whole: Record) -> None:
    """Nothing of the log is left out: the struck tick stands there, struck by the entry that struck it."""
    assert [e.seq for e in whole.events] == list(range(1, 45))
    struck = [(e.seq, e.struck_by, e.step) for e in whole.events if e.struck]
    assert struck == [(28, 29, "liquid_in")]
    moved = whole.events[29]
    assert (moved.step, moved.moved_from, moved.stage) == ("liquid_out", "time_out", "peel")
    stop = whole.events[35]
    assert (stop.at[11:19], stop.at_written[11:19], stop.entered_at[11:19]) == (
        "09:53:00",
        "09:54:00",
        "09:54:00",
    )


def test_the_protocol_text_is_told_by_its_digest_only(whole: Record) -> None:
    """A record is a few pages, not a second copy of the file; the digest ties the two together."""
    assert PROTOCOL not in whole.model_dump_json()


def test_an_entry_points_at_the_deviations_that_show_at_it(whole: Record) -> None:
    """Every deviation of the record is found again at the entry of its own number."""
    told = {(e.seq, key) for e in whole.events for key in e.deviations}
    assert told == {(d.seq, d.key) for d in whole.deviations}


def test_unknown_entries_are_kept_whole(whole: Record) -> None:
    """A kind from a newer program is told with all that it carried."""
    (unknown,) = whole.unknown
    assert (unknown.seq, unknown.kind) == (43, "from_the_future")
    assert '"colour": 7' in unknown.content
    assert whole.events[42].unknown


def test_what_is_entered_after_the_end_says_so() -> None:
    """Once the patient has left theatre the case is closed; what comes later is marked."""
    made = record("09:00 opened\n09:30 tick step=out_theatre\n09:45 note text=later")
    assert [e.after_end for e in made.events] == [False, False, True]


# -- completeness


def test_completeness_figures(whole: Record) -> None:
    """Eleven required steps of eleven; one of 38 entries late; two told another time than the key's."""
    c = whole.completeness
    assert c.required_steps == Share(n=11, of=11, percent=100.0)
    assert c.spans_with_both_ends == Share(n=5, of=5, percent=100.0)
    assert c.required_readings == Share(n=1, of=1, percent=100.0)
    assert c.late == Share(n=1, of=38, percent=2.6)
    assert c.low_confidence == Share(n=0, of=38, percent=0.0)
    assert c.back_stamped == Share(n=2, of=38, percent=5.3)
    assert (c.amendments, c.gaps, c.gap_minutes, c.unknown) == (3, 1, 4.0, 1)


def test_a_step_said_not_to_be_needed_counts_as_done_and_one_due_again_does_not() -> None:
    """Not needed satisfies a required step; a cut after the laser leaves the laser due again."""
    made = record(
        """
        09:00 opened
        09:01 not_needed step=core reason=forced
        09:02 start step=laser
        09:03 stop step=laser ref=3
        09:04 start step=cut
        09:05 stop step=cut ref=5
        """
    )
    assert made.completeness.required_steps == Share(n=1, of=11, percent=9.1)
    assert step(made, "laser").status == "ticked, due again"
    assert step(made, "laser").due_again == ("a further cut was made",)
    assert step(made, "core").not_needed == "finding forced it"


# -- cases that are not whole


def test_an_empty_log_makes_a_record_of_nothing() -> None:
    """No entry at all: no times, no shares, and no traceback."""
    made = record("")
    assert (made.header.opened, made.header.measured_to, made.header.ending) == (None, None, "no end logged")
    assert made.completeness.late == Share(n=0, of=0, percent=None)
    assert made.events == ()


def test_a_running_case_has_no_end_and_no_actual_minutes() -> None:
    """Until it ends, a case is measured to the moment of the record."""
    made = record("09:00 opened\n09:05 tick step=in_theatre\n09:10 start step=core", now_t=1200.0)
    h = made.header
    assert (h.ended, h.actual_minutes, h.ending) == (None, None, "no end logged")
    assert h.measured_to == "2026-10-24T09:20:00.000+01:00"
    assert step(made, "core").status == "running"


def test_a_case_stopped_early_calls_the_rest_not_reached() -> None:
    """A case may end at any stage; what it did not come to is not reached and never left out."""
    made = record("09:00 opened\n09:05 tick step=in_theatre\n09:10 stopped_early reason=forced")
    assert (made.header.ending, made.header.ending_reason) == ("stopped early", "finding forced it")
    assert made.header.stopped == "2026-10-24T09:10:00.000+01:00"
    assert {step(made, s).status for s in ("core", "close", "time_out")} == {"not reached"}
    assert [d for d in made.deviations if d.code == "skipped"] == []


def test_a_step_left_out_of_an_ended_case_has_no_tick() -> None:
    """Once a case is at its usual end, a step of a stage it went through says so plainly."""
    made = record("09:00 opened\n09:05 tick step=in_theatre\n09:10 tick step=out_theatre")
    assert step(made, "core").status == "no tick"
    assert "skipped:core" in {d.key for d in made.deviations}


def test_the_record_of_an_ended_case_does_not_depend_on_when_it_is_made() -> None:
    """The same log gives the same record tomorrow."""
    assert record(WHOLE, 4200.0) == record(WHOLE, 1e7)


def test_a_record_is_frozen(whole: Record) -> None:
    """Nobody edits a record; a correction is a new entry in the log."""
    with pytest.raises(ValidationError):
        whole.entries = 3  # type: ignore[misc]


@pytest.mark.parametrize(("seconds", "expected"), [(0, 0.0), (1, 0.017), (90, 1.5), (3599.98, 60.0)])
def test_minutes_are_to_a_thousandth(seconds: float, expected: float) -> None:
    """Minutes are seconds by sixty, to a thousandth."""
    assert minutes(seconds) == expected


def test_midnight_is_nothing_special() -> None:
    """A span from 23:50 to 00:10 is twenty minutes, and its two dates stand in its times."""
    made = record("23:40 opened\n23:50 start step=core\n00:10 stop step=core ref=2")
    (span,) = made.spans
    assert (span.minutes, span.start[:10], (span.stop or "")[:10]) == (20.0, "2026-10-24", "2026-10-25")


def test_the_case_given_is_left_alone() -> None:
    """Building a record twice from one case gives the same record."""
    case: Case = story(WHOLE)
    assert build(case, 0.0, HASH, 44) == build(case, 0.0, HASH, 44)


def test_what_a_debrief_adds_stands_under_a_number_that_no_entry_of_the_log_has() -> None:
    """The span is told with its length, late by its nature; the amendments say that it was added."""
    record = debriefed_record()
    [span] = [s for s in record.spans if s.seq > 1_000_000]
    assert record.debrief is not None

    assert (span.seq, span.stop_seq, span.step, span.minutes) == (1_000_007, 2_000_007, "membranes", 2.0)
    assert (span.paused_minutes, span.late, span.low_confidence) == (2.0, True, True)
    [line] = [a for a in record.debrief.amendments if a.entry == span.seq]
    assert (line.original, line.became) == ("nothing was logged", "Membrane peel; at 09:39:00; to 09:43:00")
    assert len(record.events) == record.entries == 44


def test_a_reading_amended_at_the_debrief_stands_and_its_original_is_legible() -> None:
    """Three rows stand; the entry that said one is marked as void, and the amendment says both."""
    record = debriefed_record()
    assert record.debrief is not None

    [rows] = [r for r in record.readings if r.reading == "rows"]
    assert (rows.value, rows.at, rows.outside_caution) == (3, "2026-10-24T09:40:20.000+01:00", False)
    [line] = [e for e in record.events if e.seq == 24]
    assert (line.value, line.struck) == (1, True)
    [said] = [a for a in record.debrief.amendments if a.entry == 24]
    assert (said.original, said.became) == ("entry 24; reading; Laser rows 1; 09:40:20", "3")
    assert said.reason == "counted on the film"


def test_the_words_of_an_added_moment_are_left_out_with_the_notes() -> None:
    """They are free words like any other."""
    moment = {"kind": "added", "adds": "bookmark", "told": "2026-10-24T09:39:00+01:00", "words": "the fold"}

    assert "the fold" in debriefed_record(moment).model_dump_json()
    assert "the fold" not in debriefed_record(moment, notes=False).model_dump_json()
