"""The fold itself; what it makes of people, trouble, ends, and of what means nothing."""

from __future__ import annotations

import pytest

from small_procedures import TWO_STAGES
from story import case_of, events_of, steps_of
from tracker.core.fold import extend, fold

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
