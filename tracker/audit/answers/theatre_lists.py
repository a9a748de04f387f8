"""The day's lists: first starts, turnovers, use of sessions, booking, and what a plan draws on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Any, Final

from tracker.audit import questions
from tracker.audit.answers.form import Answer, Audit, answer, column
from tracker.audit.engine import Tables, streamed
from tracker.audit.listed import PARTED
from tracker.audit.population import rows
from tracker.audit.questions import Sessions
from tracker.audit.statistics.lengths import Length, gap_from_history, length_from_history
from tracker.audit.statistics.summary import Summary, summarise
from tracker.audit.statistics.theatre_times import (
    LONGEST_GAP,
    Booking,
    CaseTimes,
    FirstStarts,
    Session,
    SessionUse,
    Turnovers,
    booking,
    first_starts,
    session_use,
    turnovers,
)

USUAL: Final = Sessions()
_LATE: Final = "Late is the share of n whose case began or ended by an entry made more than 60 s late."
_BY_LISTS: Final = (
    "What was begun from a list of the day goes by that list: its start and its booked minutes."
)
_LIST: Final = ("station", "day", "session")
_TIMES: Final = ("started_minute", "t1_minute", "t2_minute", "t3_minute", "t4_minute")


Reasons = tuple[tuple[str, int], ...]
"""Reasons in words and how often each was given, the most frequent first."""


@dataclass(frozen=True, slots=True)
class Starts:
    """When first cases of sessions began: patient in, and T2, after the planned start."""

    patient_in: FirstStarts
    knife: FirstStarts
    reasons: Reasons = ()


@dataclass(frozen=True, slots=True)
class Gaps:
    """Turnover (patient out to next patient in) and changeover (T4 to next T1)."""

    turnover: Turnovers
    changeover: Turnovers
    reasons: Reasons = ()


@dataclass(frozen=True, slots=True)
class CalledOff:
    """Places of lists of the day that were called off, of so many, and the reasons given."""

    lists: int
    places: int
    called_off: int
    reasons: Reasons


@dataclass(frozen=True, slots=True)
class TheatreTimes:
    """Parts of the time in theatre: (T2 - T1) + (T4 - T3), T3 - T2, patient in to T4; minutes."""

    anaesthetic: Summary
    procedure: Summary
    in_theatre: Summary


def starts(audit: Audit) -> Answer[Starts]:
    """How late the first case of a session begins."""
    asked = _placed(audit)
    firsts = asked.filter(asked.place == 1).select("delay", "knife_delay", "late").to_pyarrow()
    late = column(firsts, "late")
    lists = rows(questions.said_of_lists(audit.everyone.tables))
    reasons = _counted(row["late_start_reason"] for row in lists if row["late_start_reason"])
    result = Starts(
        first_starts(column(firsts, "delay"), late),
        first_starts(column(firsts, "knife_delay"), late),
        reasons,
    )
    definition = f"""
        Minutes from the planned start of a session ({clock_times(audit.sessions)}) to patient in, and to the
        first of buckle or ports (T2), of the first case of each session; below 0 is early. {_LATE} {_BY_LISTS}
        {_of_all(audit, asked)}
    """
    asks = "How late do lists begin?"
    return answer(audit, "starts", asks, definition, result, result.patient_in.refused, audit.everyone)


def _placed(audit: Audit) -> Any:
    return questions.lists(audit.everyone.tables, audit.sessions)


def _of_all(audit: Audit, placed: Any) -> str:
    """Which cases lists are made of, and how many of them are on none."""
    (row,) = rows(placed.aggregate(n=placed.count()))
    on_none = audit.everyone.n - row["n"]
    return f"""
        Asked of all cases of these days in their theatre, of any protocol and however they ended; {on_none:,} on no
        list: before any session, or after its end and more than {LONGEST_GAP:g} min after the patient before had left.
    """


def clock_times(sessions: Sessions) -> str:
    """When lists begin, in words."""
    return ", ".join(f"{int(s) // 60:02d}:{int(s) % 60:02d}" for s in sessions.starts)


def gaps(audit: Audit) -> Answer[Gaps]:
    """How long it takes from one patient to the next."""
    asked = _placed(audit)
    between = asked.filter(asked.place > 1).select("gap", "changeover", "either_late").to_pyarrow()
    late = column(between, "either_late")
    reasons = rows(questions.turnover_reasons(audit.everyone.tables))
    result = Gaps(
        turnovers(column(between, "gap"), late),
        turnovers(column(between, "changeover"), late),
        tuple(sorted(((r["turnover_reason"], r["n"]) for r in reasons), key=_most_first)),
    )
    definition = f"""
        Minutes from patient out to the next patient in (turnover), and to the next start of the
        anaesthetic (changeover, T1 - T4; F1000Research 2014;3:197), same theatre and session; gaps over
        60 min are breaks, counted and left out. Late is the share of n in which the start or the end of either
        case was entered more than 60 s late. {_of_all(audit, asked)}
    """
    asks = "How long is it from one patient to the next?"
    return answer(audit, "gaps", asks, definition, result, result.turnover.refused, audit.everyone)


def use(audit: Audit) -> Answer[SessionUse]:
    """How booked sessions are used, with overrun and early finish beside it."""
    asked = _placed(audit)
    result = session_use(_sessions(asked))
    definition = f"""
        Minutes with a patient in theatre over the {audit.sessions.length:g} min booked, all sessions
        together, as such, within the booked block only, and with turnovers; overrun and early finish
        beside it, since an overrunning list looks better. n counts sessions, missing is the share of them without
        the times of every case, late the share of their cases whose start or end was entered more than 60 s late.
        {_BY_LISTS} {_of_all(audit, asked)}
    """
    return answer(audit, "use", "How are sessions used?", definition, result, result.refused, audit.everyone)


def times_in_theatre(audit: Audit) -> Answer[TheatreTimes]:
    """How the time in theatre divides into anaesthetic and procedure."""
    cases = audit.asked.cases
    asked = cases.select(*_TIMES, "late").to_pyarrow()
    told = [CaseTimes(*row) for row in zip(*(column(asked, name) for name in _TIMES), strict=True)]
    late = column(asked, "late")
    result = TheatreTimes(
        summarise([each.anaesthetic for each in told], late),
        summarise([each.procedure for each in told], late),
        summarise([each.in_theatre for each in told], late),
    )
    definition = f"""
        T1 start of the anaesthetic or block, T2 first of buckle or ports, T3 end of drugs, pad and
        shield, T4 patient out: anaesthetic (T2 - T1) + (T4 - T3), procedure T3 - T2 (F1000Research
        2014;3:197, table 4); in theatre is patient in to T4. {_LATE}
    """
    asks = "How is the time in theatre divided?"
    return answer(audit, "times", asks, definition, result, result.in_theatre.refused)


def booked(audit: Audit) -> Answer[Booking]:
    """Whether cases are booked as long as they take."""
    asked = audit.asked.cases.select("planned_minutes", "minutes", "late").to_pyarrow()
    result = booking(*(column(asked, name) for name in ("planned_minutes", "minutes", "late")))
    definition = f"""
        Planned minutes less minutes from patient in to patient out; the median is the bias, below 0
        where too little was booked. {_LATE}
    """
    return answer(audit, "booking", "Is enough time booked?", definition, result, result.refused)


def called_off(audit: Audit) -> CalledOff:
    """How many places of lists were called off; only of lists from which a case was begun."""
    lists = rows(questions.said_of_lists(audit.everyone.tables))
    given = (reason for row in lists for reason in (row["called_off"] or "").split(PARTED) if reason)
    places, off = (sum(row[name] for row in lists) for name in ("list_places_n", "called_off_n"))
    return CalledOff(len(lists), places, off, _counted(given))


def _counted(reasons: Iterable[str]) -> Reasons:
    return tuple(sorted(Counter(reasons).items(), key=_most_first))


def _most_first(counted: tuple[str, int]) -> tuple[int, str]:
    return -counted[1], counted[0]


def _sessions(placed: Any) -> Iterator[Session]:
    asked = placed.select(*_LIST, "place", "planned_start", "booked", "late", *_TIMES).order_by(
        *_LIST, "place"
    )
    # A batch at a time: of a million cases no more need be held at once.
    batches = (batch.to_pydict().values() for batch in streamed(asked))
    cases = (case for columns in batches for case in zip(*columns, strict=True))
    for _, its in groupby(cases, key=itemgetter(0, 1, 2)):
        told = list(its)
        held = [(_times(start, times), late) for _, _, _, _, start, _, late, *times in told]
        yield Session(told[0][5], tuple(times for times, _ in held), sum(late for _, late in held))


def _times(start: float, minutes: Sequence[float | None]) -> CaseTimes:
    return CaseTimes(*(None if minute is None else minute - start for minute in minutes))


# -- what a plan draws on


def minutes_by_code(asked: Tables) -> Mapping[str, float | None]:
    """The length of each case in minutes, by its code."""
    found = asked.cases.select("code", "minutes").to_pyarrow()
    return dict(zip(column(found, "code"), column(found, "minutes"), strict=True))


def strata_of(asked: Tables, fact: str) -> Mapping[str, str]:
    """What each case that has a fact has of it, by its code."""
    found = questions.strata(asked, fact).to_pyarrow()
    return dict(zip(column(found, "code"), column(found, "stratum"), strict=True))


def length_among(
    label: str,
    facts: Mapping[str, Sequence[str]],
    minutes: Mapping[str, float | None],
    strata: Mapping[str, Mapping[str, str]],
) -> Length:
    """How long a case with these facts may take, among cases of known minutes and strata, by code."""
    alike = {code for code in minutes if all(strata[f].get(code) in values for f, values in facts.items())}
    its = [length for code, length in minutes.items() if code in alike]
    return length_from_history(label, its, [length for code, length in minutes.items() if code not in alike])


def turnover_from(placed: Sequence[Mapping[str, Any]]) -> Length:
    """How long a turnover may take, from the past ones of 0 to 60 minutes among cases placed on lists."""
    return gap_from_history(
        "turnover", [r["gap"] for r in placed if r["gap"] is not None and 0 <= r["gap"] <= 60]
    )


def delay_from(placed: Sequence[Mapping[str, Any]]) -> Length:
    """How late a list may begin, from the past ones among cases placed on lists."""
    return gap_from_history("late start", [row["delay"] for row in placed if row["place"] == 1])
