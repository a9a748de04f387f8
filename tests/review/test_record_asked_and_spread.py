"""What was asked and not given, what came of one cause, and what hangs on spread times, in the record."""

from __future__ import annotations

import json

from record_alone import build
from record_case import story
from record_sheet import section, sheet
from tracker.audit.rows import rows_of
from tracker.core.case import Case
from tracker.core.debrief import fold_debrief
from tracker.core.debrief_events import DEBRIEF_BY_KIND
from tracker.core.reviewed import reviewed
from tracker.core.wording import SPREAD
from tracker.review.plain_text import review_text
from tracker.review.record.as_fhir import render as as_fhir
from tracker.review.record.as_xes import render as as_xes
from tracker.review.record.build import build_reviewed
from tracker.review.record.structure import Record
from tracker.review.record.tables import tables

UNSAID = """
09:00 opened
09:01 tick step=in_theatre
09:02 tick step=count_in
09:03 tick step=time_out
09:04 start step=core
09:08 stop step=core ref=5
09:20 handover outgoing=runner incoming=runner_two counts_confirmed=false
09:50 tick step=count_out
10:00 tick step=out_theatre
"""
BURST = """
09:00 opened
09:01 tick step=in_theatre
09:02 tick step=liquid_in
09:10 start step=core
09:20 stop step=core ref=4
09:20 tick step=liquid_out
09:21 back_stamp ref=5 seconds=300 spread=true
09:21 back_stamp ref=6 seconds=200 spread=true
10:00 tick step=out_theatre
"""


def _record(text: str) -> Record:
    case = story(text)
    return build(case, 7200.0, "ab" * 32, len(case.events))


def _review(case: Case) -> str:
    return "\n".join(review_text(reviewed(case, fold_debrief(()), "as debriefed"), 120))


def test_the_sheet_never_says_none_open_of_a_count_without_figures() -> None:
    """Both counts were ticked and not said: they stand where it said that none was open."""
    assert section(sheet(_record(UNSAID)), "Not matched") == (
        "First count 09:02: figures not given; Closing count 09:50: figures not given"
    )


def test_the_sheet_names_a_count_that_has_no_tick_and_one_that_differs() -> None:
    """A closing count never ticked, and one whose figure is not the one expected."""
    said = '09:02:30 count ref=3 lines={"swabs":10}\n'
    head, tail = UNSAID.split("09:03 tick")
    first = f"{head}{said}09:03 tick{tail}".replace("ref=5", "ref=6")
    without = first.replace("09:50 tick step=count_out\n", "")
    differs = first.replace("10:00 tick", '09:51 count ref=9 lines={"swabs":9}\n10:00 tick')

    assert section(sheet(_record(without)), "Not matched") == "Closing count: no tick"
    assert section(sheet(_record(differs)), "Not matched") == "Swabs 9 of 10"
    agrees = differs.replace('"swabs":9', '"swabs":10')
    assert section(sheet(_record(agrees)), "Not matched") == "none open"


def test_the_record_tells_a_hand_over_that_nobody_read() -> None:
    """Staff, deviations and sheet say that it was not acknowledged and that no count was said since."""
    record = _record(UNSAID)
    told = {d.code: d.level for d in record.deviations if d.about == "hand-over"}
    staff = next(row for row in tables(record)["staff"].rows if row[1].startswith("second"))

    assert told == {"handover_unacknowledged": "order", "handover_unconfirmed": "safety"}
    assert staff[-2:] == ("no", "no")
    assert "(counts not confirmed, not acknowledged)" in section(sheet(record), "Staff by role")


def test_what_came_of_one_cause_is_one_line_of_the_record() -> None:
    """A cut before the membranes and no membranes: one line, the other named within it."""
    record = _record(
        "09:00 opened\n09:01 start step=cut\n09:02 stop step=cut ref=2\n10:00 tick step=out_theatre"
    )
    [line] = [d for d in record.deviations if "membranes" in d.key]
    [row] = [r for r in tables(record)["deviations"].rows if "Membrane peel" in r]

    assert line.key == "skipped:membranes"
    assert line.beneath == ("Retina cut: came before what it needs (safety), not ticked by then",)
    assert row[5] == f"no tick; with it {line.beneath[0]}"
    assert "with it Retina cut: came before what it needs (safety)" in _review(
        story("09:00 opened\n09:01 start step=cut\n10:00 tick step=out_theatre")
    )


def test_minutes_of_a_spread_span_are_marked_uncertain() -> None:
    """In every table of lengths, and no finding is made of them; the record says why in its own section."""
    record = _record(BURST)
    told = tables(record)
    [core] = [row for row in told["spans"].rows if row[1] == "Core vitrectomy"]

    assert core[5] == "5.0 (uncertain)"
    assert core[-1] == "time spread by the program"
    assert "5.0 (uncertain)" in next(r for r in told["steps"].rows if r[1] == "Core vitrectomy")
    assert "5.0 (uncertain)" in next(r for r in told["stages"].rows if r[0] == "Peel and cut")
    [clock] = told["clocks"].rows
    assert (clock[3].endswith("(uncertain)"), clock[5]) == (True, "not judged")
    assert not {"clock_under", "clock_over", "under_time", "over_time", "late_entry"} & {
        d.code for d in record.deviations
    }
    assert ("Core vitrectomy", SPREAD) in [(u.label, u.words) for u in record.unjudged]


def test_other_formats_say_that_a_time_was_spread() -> None:
    """FHIR has an observation of what was not judged, the event log a mark at each end, the review a line."""
    record = _record(BURST)
    fhir = json.loads(next(iter(as_fhir(record).values())))
    texts = json.dumps(fhir)
    xes = next(iter(as_xes(record).values())).decode()

    assert "Not judged" in texts
    assert SPREAD in texts
    assert '<boolean key="time_spread" value="true"' in xes
    assert f"Core vitrectomy: {SPREAD}" in _review(story(BURST))


def test_the_rows_of_an_audit_flag_a_spread_time() -> None:
    """Spans, steps and stages are marked as late ones are; a clock's minutes are left out."""
    rows = rows_of(story(BURST))

    assert [s.late for s in rows.spans] == [True]
    assert [s.late for s in rows.stages if s.minutes is not None] == [True]
    [clock] = rows.clocks
    assert (clock.minutes, clock.unsure, clock.reached) == (None, True, "")
    assert rows_of(story(BURST.replace("spread=true", ""))).clocks[0].minutes is not None


def test_a_time_told_at_the_debrief_is_certain_again() -> None:
    """Whoever was there says when the span ended: then it is judged."""
    case = story(BURST)
    said = {"kind": "amended", "entry": 5, "told": "2026-10-24T09:19:00+01:00", "text": "on the film"}
    frame = {"at": "2026-10-26T12:01:00+00:00", "entered_at": "2026-10-26T12:01:00+00:00"}
    begun = {
        "kind": "debriefed",
        "code": "A-0007",
        "log_hash": "ab" * 32,
        "log_entries": 9,
        "program": "0.1.0",
    }
    events = [
        DEBRIEF_BY_KIND[str(words["kind"])].model_validate(
            {**frame, "seq": n, "elapsed_ms": n * 1000, "run": 1, "role": "consultant", **words}
        )
        for n, words in enumerate((begun, said), start=1)
    ]
    review = reviewed(case, fold_debrief(tuple(events)), "as debriefed")
    record = build_reviewed(review, 7200.0, "ab" * 32, len(case.events), "cd" * 32)
    [core] = record.spans

    assert (core.spread, core.minutes) == (False, 9.0)
    assert "over_time:core" in [d.key for d in record.deviations]
