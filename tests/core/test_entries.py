"""The case clock, and what stands once corrections are applied."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from story import events_of
from tracker.core import events as ev
from tracker.core.entries import NO_RUNS, Entry, entry_of, shifted, standing, struck

LONDON = ZoneInfo("Europe/London")


def _note(seq: int, at: datetime, elapsed_s: float, run: int = 1) -> ev.Note:
    elapsed_ms = round(elapsed_s * 1000)
    return ev.Note(seq=seq, at=at, entered_at=at, elapsed_ms=elapsed_ms, run=run, role="runner", text="")


def _ts(*events: ev.Event) -> list[float]:
    return [e.t for e in standing(events)]


START = datetime(2026, 3, 2, 9, tzinfo=UTC)


# -- the case clock


def test_first_line_is_nought() -> None:
    """The case clock begins with the first line, however long the station had been running."""
    assert _ts(_note(1, START, 4000.0), _note(2, START, 4001.5)) == [0.0, 1.5]


def test_within_a_run_monotonic_time_counts() -> None:
    """Within one opening a station clock set back an hour, or forward a day, moves nothing."""
    back, forward = START - timedelta(hours=1), START + timedelta(days=1)

    assert _ts(_note(1, START, 0), _note(2, back, 10), _note(3, forward, 20)) == [0.0, 10.0, 20.0]


def test_between_runs_wall_time_counts() -> None:
    """A new opening goes on where the wall clock says, its monotonic time counted from there."""
    later = START + timedelta(minutes=10)

    assert _ts(_note(1, START, 0), _note(2, later, 5000.0, run=2), _note(3, later, 5003.0, run=2)) == [
        0.0,
        600.0,
        603.0,
    ]


def test_gap_is_never_negative() -> None:
    """An opening whose wall clock lies before the last entry goes on from that entry."""
    earlier = START - timedelta(hours=3)

    assert _ts(_note(1, START, 0), _note(2, START, 50.0), _note(3, earlier, 0, run=2)) == [0.0, 50.0, 50.0]


def test_offset_is_no_time() -> None:
    """Between two openings the same instant in another offset is the same instant."""
    in_delhi = START.astimezone(timezone(timedelta(hours=5, minutes=30)))

    assert _ts(_note(1, START, 0), _note(2, in_delhi, 0, run=2)) == [0.0, 0.0]


@pytest.mark.parametrize(
    ("first", "second", "true_s"),
    [
        # IANA tzdata 2026: Europe/London leaves +00:00 at 2026-03-29T01:00Z; 02:00:00 follows 00:59:59.
        (datetime(2026, 3, 29, 0, 30, tzinfo=LONDON), datetime(2026, 3, 29, 2, 30, tzinfo=LONDON), 3600.0),
        # It leaves +01:00 at 2026-10-25T01:00Z; 01:30 is told twice, at +01:00 first (PEP 495, fold 0, 1).
        (
            datetime(2026, 10, 25, 1, 30, tzinfo=LONDON, fold=0),
            datetime(2026, 10, 25, 1, 30, tzinfo=LONDON, fold=1),
            3600.0,
        ),
    ],
)
def test_clock_change_between_runs(first: datetime, second: datetime, true_s: float) -> None:
    """A journal resumed across a change to or from summer time, told with offsets, has lost no hour."""
    told = [datetime.fromisoformat(t.isoformat()) for t in (first, second)]

    assert _ts(_note(1, told[0], 0), _note(2, told[1], 0, run=2)) == [0.0, true_s]


def test_t_is_whole_milliseconds() -> None:
    """Case seconds are whole milliseconds, so that sums of them do not drift off a limit."""
    assert _ts(_note(1, START, 0.1), _note(2, START, 0.3)) == [0.0, 0.2]


def test_bases_grow_event_by_event() -> None:
    """Each opening has the case second at which its monotonic time was nought."""
    events = [_note(1, START, 5.0), _note(2, START, 7.0), _note(3, START, 1.0, run=2)]
    bases = NO_RUNS
    for event in events:
        bases = bases.after(event)

    assert bases.base_s == {1: -5.0, 2: 1.0}


def test_late_entry_is_told_for_its_own_time() -> None:
    """An entry is placed when the thing happened, and knows how late it was entered."""
    [entry] = standing(events_of("09:05:00 +60 tick ports"))

    assert (entry.t, entry.late_s, entry.at) == (-60.0, 60.0, datetime(2026, 3, 2, 9, 5, tzinfo=UTC))


# -- order and corrections


def _seqs(story: str) -> list[int]:
    return [e.seq for e in standing(events_of(story))]


def test_entries_are_in_order_of_the_time_told() -> None:
    """Entries stand by the time told for them, ties by the order of the file."""
    assert _seqs("09:10:00 tick a\n09:05:00 +400 tick b\n09:10:00 +120 tick c") == [2, 1, 3]


def test_corrections_are_no_entries() -> None:
    """Strikes, moves, back-stamps and choices change others and stand nowhere themselves."""
    story = "09:00:00 tick a\n09:00:01 move 1 b\n09:00:02 back 1 5\n09:00:03 choose 1 x"
    [entry] = standing(events_of(story))

    assert (entry.seq, entry.step, entry.t, entry.choice) == (1, "b", -5.0, "x")


def test_struck_is_void_with_all_that_hangs_on_it() -> None:
    """A strike voids its event and what hangs on it; struck itself, it voids nothing."""
    story = "09:00:00 start a\n09:01:00 stop a\n09:01:30 back 2 5\n09:02:00 strike 1"

    assert struck(events_of(story)) == {1, 2, 3}
    assert struck(events_of(f"{story}\n09:02:05 strike 4")) == {4}


@pytest.mark.parametrize("line", ["strike 2", "move 2 b", "back 2 5", "choose 2 x", "strike 99"])
def test_an_event_points_only_backwards(line: str) -> None:
    """A correction that points at a later line, or at none, corrects nothing and stays among the entries."""
    assert _seqs(f"09:00:00 {line}\n09:00:05 tick a") == [1, 2]


def test_last_move_counts() -> None:
    """A tick moved twice is where it was moved last."""
    [entry] = standing(events_of("09:00:00 tick a\n09:00:01 move 1 b\n09:00:02 move 1 c"))

    assert entry.step == "c"


def test_back_stamp_of_a_back_stamp_is_none() -> None:
    """A back-stamp corrects a thing that happened, not another correction."""
    assert _seqs("09:00:00 tick a\n09:00:01 back 1 5\n09:00:02 back 2 5") == [1, 3]


def test_back_stamp_beyond_belief_changes_nothing() -> None:
    """A back-stamp of more than a week, or of no number, is no correction."""
    assert _seqs("09:00:00 tick a\n09:00:01 back 1 604800") == [1]
    assert _seqs("09:00:00 tick a\n09:00:01 back 1 604801\n09:00:02 back 1 inf\n09:00:03 back 1 nan") == [
        1,
        2,
        3,
        4,
    ]


def test_calendar_has_a_beginning() -> None:
    """A time moved before year 1 stays where it is rather than raising."""
    first = datetime.min.replace(tzinfo=UTC)

    assert shifted(first, -1.0) == first
    assert shifted(START, 1.0) - START == timedelta(seconds=1)


def test_keys_of_a_newer_program_mean_nothing_here() -> None:
    """A note that carries a step for a newer program is a note all the same."""
    event = ev.event_from({**_note(1, START, 0).model_dump(), "step": ["ports"], "choice": "x"})
    entry = entry_of(event, NO_RUNS.after(event))

    assert entry == Entry(event, 0.0, START, 0.0)
