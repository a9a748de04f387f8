"""Starts, gaps, session use and booking, by their published definitions."""

import pytest

from tracker.audit.statistics.theatre_times import (
    CaseTimes,
    Session,
    booking,
    first_starts,
    session_use,
    turnovers,
)


def at(into, out):
    """Make a case from patient in and patient out alone."""
    return CaseTimes(patient_in=into, t4=out)


def test_times_between_the_four_marks():
    """Anaesthetic time is (T2 - T1) + (T4 - T3), procedure time T3 - T2."""
    case = CaseTimes(patient_in=-5, t1=0, t2=25, t3=140, t4=152)

    # F1000Research 2014;3:197, table 4
    assert case.anaesthetic == 25 + 12
    assert case.procedure == 115
    assert case.in_theatre == 157


def test_a_missing_mark_gives_no_time():
    """A time that was not logged leaves the intervals on it unknown, and the others known."""
    case = CaseTimes(patient_in=0, t1=2, t3=140, t4=152)

    assert (case.anaesthetic, case.procedure, case.in_theatre) == (None, None, 152)


def test_turnover():
    """Turnover runs from patient out to the next patient in."""
    session = Session(480, tuple(at(k * 100, k * 100 + 80 - k) for k in range(6)))

    # Procedural Times Glossary: prior patient out to next patient in.
    assert session.gaps == (20, 21, 22, 23, 24)
    assert turnovers(session.gaps).gaps.median == 22


def test_breaks_and_overlaps_are_counted_and_left_out():
    """A gap of over an hour is a break, one below 0 an overlap; an hour itself is still a turnover."""
    cases = (at(0, 60), at(120, 180), at(241, 300), at(295, 350), at(None, 400), at(410, 450),
             at(460, 470), at(475, 480), at(490, 500))  # fmt: skip
    found = turnovers(Session(540, cases).gaps)

    # Gaps 60, 61, -5, unknown, 10, 10, 5, 10.
    assert (found.n, found.breaks, found.overlaps, found.gaps.missing) == (5, 1, 1, 1)
    assert found.gaps.median == 10


def test_gaps_do_not_run_from_one_session_into_the_next():
    """The time between two sessions is no turnover."""
    gaps = [gap for session in [Session(240, (at(0, 100), at(120, 200)))] * 5 for gap in session.gaps]

    assert turnovers(gaps).n == 5
    assert turnovers(gaps[:4]).refused == "too few: 4 cases, at least 5 needed"


def test_first_starts():
    """More than 15 minutes and 30 minutes or more are counted, and early starts keep their sign."""
    found = first_starts([-5, 0, 15, 16, 29, 30, 45, None])

    assert (found.n, found.delay.missing, found.delay.median) == (7, 1, 16)
    assert found.over_15 == pytest.approx(4 / 7)
    assert found.at_least_30 == pytest.approx(2 / 7)


def test_four_first_starts_are_too_few():
    """Below five sessions there are no shares."""
    found = first_starts([0, 10, 20, 40])

    assert (found.n, found.refused) == (4, "too few: 4 cases, at least 5 needed")
    assert found.over_15 is None


def test_utilisation_with_credit_for_turnover():
    """Eighty booked hours with 72 of cases and turnover are nine tenths used."""
    # Miller's Anesthesia, 6th ed., Operating Room Utilization: 2 rooms x 5 days x 8 h, 72 h used.
    eight_hours = Session(480, (at(0, 200), at(232, 432)))
    found = session_use([eight_hours] * 10)

    assert found.adjusted == pytest.approx(0.9)
    assert found.uncapped == pytest.approx(400 / 480)


def test_an_overrunning_list_looks_better_uncapped():
    """Time outside the block counts only uncapped, and overrun and early finish stand beside it."""
    over, early = Session(240, (at(-10, 130), at(150, 300))), Session(240, (at(30, 120), at(140, 200)))
    found = session_use([over] * 3 + [early] * 2)

    assert found.uncapped == pytest.approx((3 * 290 + 2 * 150) / 1200)
    assert found.capped == pytest.approx((3 * 220 + 2 * 150) / 1200)
    assert (found.overrun_minutes, found.overrun_sessions) == (180, 3)
    assert (found.early_minutes, found.early_sessions) == (80, 2)


def test_cases_on_a_wrong_clock_are_not_counted_twice():
    """Two cases that overlap cover their union."""
    found = session_use([Session(240, (at(0, 100), at(90, 200)))] * 5)

    assert found.uncapped == pytest.approx(200 / 240)


def test_a_session_that_lacks_a_time_is_left_out():
    """An incomplete session is counted and not used, nor is one without cases."""
    whole = Session(240, (at(0, 200),))
    found = session_use([whole] * 5 + [Session(240, (at(0, None),)), Session(240, ())])

    assert (found.n, found.incomplete) == (5, 2)
    assert session_use([whole] * 4).refused == "too few: 4 complete sessions, at least 5 needed"


def test_a_session_needs_a_length():
    """A session of no minutes is turned away."""
    with pytest.raises(ValueError, match="length above 0"):
        session_use([Session(0, ())])


def test_booking_bias():
    """The bias is the median of planned minus actual, and both margins include their ends."""
    found = booking([60, 90, 120, 90, 60, None], [75, 99, 90, 106, 60, 80])

    assert (found.n, found.missing, found.bias) == (5, 1, -9)
    assert found.within_15 == pytest.approx(3 / 5)
    assert found.within_tenth == pytest.approx(2 / 5)
    assert booking([60] * 4, [70] * 4).refused == "too few: 4 cases, at least 5 needed"


def test_late_entries_are_those_of_what_is_counted():
    """A late entry counts where its length does: not of a break, a gap without a time, or a session left out."""
    gaps = turnovers([20, 80, None, 30, 25, 10, 5], [True, True, True, True, False, False, False])
    sessions = [Session(240, (at(0, 100), at(120, 200)), late) for late in (2, 1, 0, 0, 0)]
    used = session_use([*sessions, Session(240, (at(0, None),), 1)])
    booked = booking(
        [60, 90, 120, 90, 60, None], [75, 99, 90, 106, 60, 80], [True] * 2 + [False] * 3 + [True]
    )

    assert (gaps.gaps.n, gaps.gaps.late) == (5, 2)
    assert (used.n, used.cases, used.late) == (5, 10, 3)
    assert (booked.n, booked.late) == (5, 2)
