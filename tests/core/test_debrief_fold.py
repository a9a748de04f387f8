"""The debrief and the reviewed case: what stands, what is amended, and that the log never changes."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debriefs import DEBRIEFS, debrief, entry
from record_case import WHOLE, protocol, story
from tracker.core.case import Case
from tracker.core.debrief import NO_DEBRIEF, bond, fold_debrief
from tracker.core.debrief_events import Debriefed, WentWell
from tracker.core.deviations import deviations
from tracker.core.durations import step_seconds
from tracker.core.events import Event
from tracker.core.fold import fold
from tracker.core.reviewed import Reviewed, reviewed, told_at

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
