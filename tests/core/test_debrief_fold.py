"""The debrief and the reviewed case: what stands, what is amended, and that the log never changes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debriefs import DEBRIEFS, debrief, entry
from record_case import WHOLE, protocol, story
from tracker.core.amendable import told_at
from tracker.core.case import Case
from tracker.core.debrief import NO_DEBRIEF, bond, fold_debrief
from tracker.core.debrief_events import Debriefed, WentWell
from tracker.core.deviations import deviations
from tracker.core.durations import step_seconds
from tracker.core.events import Event
from tracker.core.fold import fold
from tracker.core.reviewed import Reviewed, reviewed

CASE = story(WHOLE)


def review(*said: dict[str, object], case: Case = CASE) -> Reviewed:
    """The case of the story with what was said of it."""
    return reviewed(case, fold_debrief(debrief(*said)), "as debriefed")


def amended(number: int, **what: object) -> dict[str, object]:
    """An amendment of an entry of the log."""
    return {"kind": "amended", "entry": number, "reason": "forced", **what}


def well(text: str = "calm") -> dict[str, object]:
    """Something that went well."""
    return {"kind": "went_well", "text": text}


def signed() -> dict[str, object]:
    """A sign-off."""
    return {"kind": "signed", "who": "consultant"}


def minutes(case: Case, step: str) -> float:
    """How long a span took, in minutes."""
    seconds = step_seconds(case, case.protocol.step[step], case.last_t)
    assert seconds is not None
    return seconds / 60


# -- what stands


def test_a_case_without_a_debrief_is_the_log() -> None:
    """Nothing said, nothing changed, and the debrief is not begun."""
    alone = reviewed(CASE, NO_DEBRIEF, "as debriefed")

    assert alone.case == CASE
    assert alone.debrief.state == "not begun"


def test_an_entry_taken_back_is_void_and_stays() -> None:
    """A withdrawal points at its entry; both are still there."""
    said = fold_debrief(debrief(well(), {"kind": "withdrawn", "ref": 2}))

    assert said.standing(WentWell) == ()
    assert [e.kind for e in said.events] == ["debriefed", "went_well", "withdrawn"]


def test_a_withdrawal_withdrawn_takes_nothing_back() -> None:
    """The last word counts."""
    said = fold_debrief(debrief(well(), {"kind": "withdrawn", "ref": 2}, {"kind": "withdrawn", "ref": 3}))

    assert [e.text for e in said.standing(WentWell)] == ["calm"]


@pytest.mark.parametrize("ref", [0, 1, 3, 9])
def test_what_cannot_be_taken_back_is_told(ref: int) -> None:
    """Not the first line, not a refused export, nothing that is not there: the entry is among the odd."""
    refused = {"kind": "export_refused", "reason": "no consent"}
    said = fold_debrief(debrief(well(), refused, {"kind": "withdrawn", "ref": ref}))

    assert [e.seq for e in said.odd] == [4]
    assert said.void == frozenset()


def test_an_entry_of_a_kind_not_known_is_kept_and_told() -> None:
    """A newer program's entry is not dropped."""
    said = fold_debrief(debrief({"kind": "from_the_future", "colour": 7}))

    assert [e.kind for e in said.odd] == ["from_the_future"]


# -- sign-off


def test_a_debrief_is_signed_off_and_then_changed() -> None:
    """The state tells which: who took part and a second signature change nothing, the rest does."""
    there: dict[str, object] = {"kind": "attended", "who": "fellow"}
    gone: dict[str, object] = {"kind": "withdrawn", "ref": 3}
    told = [
        ((), "not signed off"),
        ((well(), signed()), "signed off"),
        ((signed(), there, signed(), gone), "signed off"),
        ((signed(), well()), "changed since the sign-off"),
        ((well(), signed(), {**gone, "ref": 2}), "changed since the sign-off"),
        ((well(), signed(), gone), "not signed off"),
    ]

    assert [fold_debrief(debrief(*said)).state for said, _ in told] == [state for _, state in told]


def test_entries_after_the_sign_off_are_told_with_their_reason() -> None:
    """Each with the reason it came with."""
    said = fold_debrief(debrief(signed(), {**well(), "why": "forgotten"}))

    assert [(e.seq, e.why) for e in said.after_sign_off] == [(3, "forgotten")]


# -- reasons


def test_a_deviation_gets_its_reason_from_the_log_or_the_debrief() -> None:
    """The debrief's counts where both have one; the last one said counts among several."""
    key = "need:cut<membranes:12"
    first: dict[str, object] = {
        "kind": "deviation_reason",
        "deviation": key,
        "reason": "forced",
        "how": "oversight",
    }
    said = review(first, {**first, "how": "intended", "text": "planned so"})

    [found] = [d for d in deviations(said.case, said.case.last_t) if d.key == key]
    assert found.given is not None
    assert (found.given.how, found.given.text) == ("intended", "planned so")
    [logged] = [d for d in deviations(CASE, CASE.last_t) if d.key == key]
    assert logged.given is not None
    assert logged.given.how == "finding_forced"


def test_a_reason_taken_back_leaves_that_of_the_log() -> None:
    """What was given in theatre stands again."""
    key = "need:cut<membranes:12"
    said = review(
        {"kind": "deviation_reason", "deviation": key, "reason": "", "how": "oversight"},
        {"kind": "withdrawn", "ref": 2},
    )

    assert said.case.reasons == CASE.reasons


# -- amendments


def test_a_time_is_amended_and_the_original_stays() -> None:
    """Entry 9 stopped the core at 09:16:30, ten and a half minutes; told as 09:12:00 it is six."""
    said = review(amended(9, told="2026-10-24T09:12:00.000+01:00"))

    assert minutes(CASE, "core") == 10.5
    assert minutes(said.case, "core") == 6.0
    assert said.case.events == CASE.events
    assert said.logged == CASE


def test_the_last_amendment_of_a_time_stands() -> None:
    """Times told are absolute: a second amendment is not added to the first."""
    times = ("2026-10-24T09:12:00+01:00", "2026-10-24T08:10:00+00:00")
    said = review(*(amended(9, told=told) for told in times))

    assert minutes(said.case, "core") == 4.0


def test_a_time_back_stamped_in_the_log_is_amended_from_where_it_stands() -> None:
    """Entry 36, pressed at 09:54 and back-stamped to 09:53, told as 09:52 makes the close three minutes."""
    said = review(amended(36, told="2026-10-24T09:52:00+01:00"))

    assert (minutes(CASE, "close"), minutes(said.case, "close")) == (4.0, 3.0)


def test_a_stop_held_at_its_start_is_amended_from_its_own_time() -> None:
    """A stop back-stamped to before its start is held there; amended it stands where it is told."""
    case = story(
        "09:00:00 opened\n09:10:00 start step=core\n09:20:00 stop step=core ref=2\n"
        "09:21:00 back_stamp ref=3 seconds=1200"
    )
    said = review(amended(3, told="2026-10-24T09:14:00+01:00"), case=case)

    assert (minutes(case, "core"), minutes(said.case, "core")) == (0.0, 4.0)


def test_a_tick_is_amended_to_another_step() -> None:
    """It counts for that step, and no longer for its own."""
    said = review(amended(10, step="liquid_out"))

    assert [t.seq for t in said.case.state("liquid_out").ticks] == [10, 30]
    assert said.case.state("liquid_in").ticks == ()
    assert [t.seq for t in CASE.state("liquid_in").ticks] == [10]


def test_an_entry_is_amended_to_be_void() -> None:
    """It is struck for the review, with what hangs on it."""
    said = review(amended(8, void=True))

    assert said.case.state("core").ticks == ()
    assert {8, 9} <= said.void
    assert said.case.state("core").struck


def test_a_decision_is_amended_to_another_choice() -> None:
    """The tamponade was gas after all."""
    said = review(amended(34, choice="gas"))

    assert said.case.state("tamponade").choice == "gas"
    assert said.logged.state("tamponade").choice == "oil"


def test_a_reading_is_amended_and_its_own_entry_stays_legible() -> None:
    """Three rows, not one: the caution is gone, the log's own entry is void and still there."""
    said = review(amended(24, value=3))

    assert [(v.value, v.tick, v.when.at) for v in said.case.readings if v.reading == "rows"] == [
        (3, 22, moment("09:40:20"))
    ]
    assert "reading:rows:24" in {d.key for d in deviations(CASE, CASE.last_t)}
    assert not {d.key for d in deviations(said.case, said.case.last_t)} & {"reading:rows:24"}
    assert 24 in said.void
    assert said.case.events == CASE.events


def test_a_reading_is_amended_in_value_and_in_time() -> None:
    """The other value stands at the other time: pressure was raised for a minute less."""
    said = review(amended(14, value=45), amended(14, told="2026-10-24T09:21:30+01:00"))

    [run] = [r for r in said.case.clocks if r.clock == "raised"]
    assert run.stop is not None
    assert (run.start.at, run.stop.t - run.start.t) == (moment("09:21:30"), 100.0)


def test_a_span_gets_the_stop_that_nobody_logged() -> None:
    """Its length is known, and the stop is told to be late."""
    case = story("09:00:00 opened\n09:06:00 start step=core\n09:30:00 tick step=out_theatre")
    said = review(amended(2, stopped="2026-10-24T09:16:00+01:00"), case=case)

    assert minutes(said.case, "core") == 10.0
    [tick] = said.case.state("core").ticks
    assert tick.stop is not None
    assert tick.stop_late_s > 86_400
    assert [t.stop for t in said.logged.state("core").ticks] == [None]


# -- what is added


def added(adds: str, told: str, ident: str = "", **more: object) -> dict[str, object]:
    """Something that happened and was not logged."""
    return {
        "kind": "added", "adds": adds, "told": f"2026-10-24T{told}+01:00", "ident": ident, "text": "missed",
        **more,
    }  # fmt: skip


def moment(clock: str) -> datetime:
    """A time of the day of the case."""
    return datetime.fromisoformat(f"2026-10-24T{clock}+01:00")


def test_a_missed_span_is_added_between_what_was_logged() -> None:
    """It opens and closes where it was, a time of its own step, and the log has no more entries than before."""
    said = review(added("step", "09:41:00", "membranes", until="2026-10-24T09:43:00+01:00"))

    assert [(t.nth, t.seq, t.start.at) for t in said.case.state("membranes").ticks] == [
        (1, 19, moment("09:25:00")),
        (2, 1_000_002, moment("09:41:00")),
    ]
    assert said.case.state("membranes").ticks[1].stop is not None
    assert (said.case.log[-1].seq, len(said.case.log)) == (CASE.log[-1].seq, len(CASE.log))


def test_what_is_added_moves_clocks_and_pairs() -> None:
    """The heavy liquid was out five minutes earlier than its tick."""
    said = review(added("step", "09:41:20", "liquid_out"))

    [run] = [r for r in said.case.clocks if r.clock == "liquid_time"]
    assert run.stop is not None
    assert run.stop.at == moment("09:41:20")


@pytest.mark.parametrize(
    ("what", "found"),
    [
        (added("step", "09:58:00", "tamponade", value="gas"), lambda c: c.state("tamponade").choice == "gas"),
        (added("reading", "09:41:30", "rows", value=4), lambda c: 4 in [v.value for v in c.readings]),
        (added("complication", "09:42:00", "bleed"), lambda c: len(c.troubles) == 2),
        (added("complication", "09:42:00", "", until="2026-10-24T09:43:00+01:00"),
         lambda c: c.troubles[-1].stop.at == moment("09:43:00")),
        (added("operator", "09:30:00", "consultant"), lambda c: c.posts[3].role == "consultant"),
        (added("bookmark", "09:42:00", words="edge"), lambda c: c.said[1].text == "edge"),
    ],
)  # fmt: skip
def test_what_was_missed_is_of_many_kinds(what: dict[str, object], found: Callable[[Case], bool]) -> None:
    """Each is what the same entry of the log would have been."""
    assert found(review(what).case)


def test_what_is_added_keeps_its_number_whatever_else_is_taken_back() -> None:
    """A reason given for a deviation of it still finds it."""
    first, span = amended(8, void=True), added("step", "09:41:00", "membranes")
    alone = review(well(), span).case
    after = review(first, span, {"kind": "withdrawn", "ref": 2}).case

    assert alone.state("membranes").ticks[-1].seq == after.state("membranes").ticks[-1].seq == 1_000_003


def test_what_is_added_stands_right_on_a_clock_that_was_set() -> None:
    """The station's clock was put an hour on in the middle: five minutes after an entry are five minutes."""
    case = story(
        "09:00:00 opened\n09:06:00 start step=core\n09:16:00 stop step=core ref=2\n"
        "09:20:00 start step=membranes\n09:30:00 stop step=membranes ref=4"
    )
    hour = timedelta(hours=1)
    put_on = [
        e.model_copy(update={"at": e.at + hour, "entered_at": e.entered_at + hour}) for e in case.events
    ]
    case = fold(case.protocol, (*case.events[:3], *put_on[3:]))
    early = review(added("step", "09:11:00", "liquid_in"), case=case).case
    late = review(added("step", "10:25:00", "liquid_in"), case=case).case

    assert early.state("liquid_in").ticks[0].start.t == 660.0
    assert late.state("liquid_in").ticks[0].start.t == 1500.0


@pytest.mark.parametrize(
    "what",
    [
        added("step", "09:41:00", "nothing"),
        added("step", "09:41:00", "liquid_out", until="2026-10-24T09:42:00+01:00"),
        added("step", "09:41:00", "membranes", until="2026-10-24T09:40:00+01:00"),
        added("step", "09:41:00", "tamponade", value="helium"),
        added("step", "09:41:00", "membranes", value="gas"),
        added("reading", "09:41:00", "rows", value="three"),
        added("reading", "09:41:00", "rows"),
        added("reading", "09:41:00", "nothing", value=3),
        added("reading", "09:41:00", "rows", value=3, until="2026-10-24T09:42:00+01:00"),
        added("complication", "09:41:00", "nothing"),
        added("operator", "09:41:00", "runner"),
        {**added("bookmark", ""), "told": "2026-10-24T09:41:00"},
        {**added("bookmark", ""), "told": "2026-11-24T09:41:00+00:00"},
        {**added("bookmark", ""), "told": "2026-10-10T09:41:00+00:00"},
    ],
)
def test_what_cannot_be_added_is_left_and_told(what: dict[str, object]) -> None:
    """Neither unknown names, nor an end before the beginning, nor the time to come, nor another week."""
    said = review(what)

    assert said.idle == {2}
    assert said.case == CASE


def test_an_amendment_taken_back_is_as_if_never_said() -> None:
    """The case is that of the log again."""
    said = review(amended(8, void=True), {"kind": "withdrawn", "ref": 2})

    assert said.case == CASE


@pytest.mark.parametrize(
    ("number", "what"),
    [
        (99, {"void": True}),
        (1, {"void": True}),
        (28, {"void": True}),
        (29, {"void": True}),
        (37, {"told": "2026-10-24T09:00:00+01:00"}),
        (42, {"told": "2026-10-24T09:00:00+01:00"}),
        (8, {}),
        (8, {"told": "soon"}),
        (8, {"told": "2026-10-24T09:00:00"}),
        (8, {"told": "2026-12-24T09:00:00+01:00"}),
        (8, {"step": "unheard_of"}),
        (8, {"step": "liquid_in"}),
        (9, {"step": "membranes"}),
        (14, {"step": "core"}),
        (8, {"choice": "gas"}),
        (34, {"choice": "helium"}),
        (8, {"value": 3}),
        (24, {"value": "three"}),
        (24, {"value": True}),
        (8, {"stopped": "2026-10-24T09:20:00+01:00"}),
        (9, {"stopped": "2026-10-24T09:20:00+01:00"}),
        (4, {"stopped": "2026-10-24T09:20:00+01:00"}),
    ],
)
def test_what_cannot_be_amended_is_left_and_told(number: int, what: dict[str, object]) -> None:
    """No entry of that number, the frame, a correction, a void one; no time, no step, a span for a moment."""
    said = review(amended(number, **what))

    assert said.idle == {2}
    assert said.case == CASE


def test_a_debrief_of_another_log_changes_nothing() -> None:
    """It is kept and told of, and the case is the log's."""
    said = reviewed(CASE, fold_debrief(debrief(amended(8, void=True))), "another log")

    assert said.case == CASE
    assert len(said.debrief.events) == 2


def test_a_time_without_an_offset_is_no_moment() -> None:
    """A time of day alone could be any of twenty-four."""
    assert told_at("2026-10-24T09:00:00") is None
    assert told_at("2026-10-24T09:00:00+01:00") == datetime.fromisoformat("2026-10-24T08:00:00+00:00")


# -- of which log


def opened(entries: int, head: str) -> Debriefed:
    """A first line."""
    made = entry(1, "debriefed", code="A-0007", log_hash=head, log_entries=entries, program="0")
    assert isinstance(made, Debriefed)
    return made


def test_a_debrief_knows_its_log() -> None:
    """The same hash at the same place is the same log, perhaps gone on; anything else is another."""
    hashes = ("a" * 64, "b" * 64, "c" * 64)

    assert bond(opened(3, "c" * 64), hashes) == "as debriefed"
    assert bond(opened(2, "b" * 64), hashes) == "the log has gone on"
    assert bond(opened(3, "b" * 64), hashes) == "another log"
    assert bond(opened(4, "d" * 64), hashes) == "another log"
    assert bond(opened(0, "c" * 64), hashes) == "another log"


# -- whatever is said


@given(DEBRIEFS)
def test_the_reviewed_case_is_deterministic_and_the_log_stays(events: tuple[Event, ...]) -> None:
    """The same entries make the same case; its entries are the log's, whatever was said."""
    said = fold_debrief(events)
    once, again = (reviewed(CASE, said, "as debriefed") for _ in range(2))

    assert once == again
    assert fold_debrief(events) == said
    assert once.case.events == CASE.events
    assert once.logged == fold(protocol(), CASE.events)
    assert {e.seq for e in once.case.log} <= {e.seq for e in CASE.events}


@given(DEBRIEFS, st.integers(0, 25))
def test_every_beginning_of_a_debrief_is_a_debrief(events: tuple[Event, ...], cut: int) -> None:
    """Cut anywhere between two entries, what is left folds, and nothing raises."""
    for bound in ("as debriefed", "the log has gone on", "another log"):
        made = reviewed(CASE, fold_debrief(events[:cut]), bound)
        assert deviations(made.case, CASE.last_t) is not None
