"""The list of a day: what a person types, what becomes of it, how it goes."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from days import DAY, SHORT, THREE, at
from desks import protocol_of, shipped
from test_docs import GUIDE
from tracker.core import day_events as de
from tracker.core.day import Day, event_words, fold_day, next_number
from tracker.core.day_course import course
from tracker.core.day_text import NewPlace, list_text
from tracker.core.events import Event
from tracker.core.loading.plan import Files, load_plan
from tracker.core.loading.plan import given as given_facts
from tracker.core.protocol import Protocol
from tracker.journal.codes import check_code


@cache
def _protocol(ident: str) -> Protocol | None:
    return {"complex-pvr": protocol_of(shipped()), "short-list": protocol_of(SHORT)}.get(ident)


FILES = Files(_protocol, ("complex-pvr", "short-list"), check_code)


def findings(text: str, name: str = DAY) -> list[str]:
    """What is the matter with a list, each as line and words."""
    return [f"{f.line} {f.path}: {f.what}. {f.mend}." for f in load_plan(text, name, FILES).findings]


def day_of_entries(*entries: tuple[type[Event], dict[str, object]]) -> Day:
    """The list of three places with these entries behind its first line."""
    plan = load_plan(THREE, DAY, FILES).plan
    assert plan is not None
    told: list[tuple[type[Event], dict[str, object]]] = [
        (de.ListBegun, {"name": DAY, "plan": THREE, "digest": "", "program": "0"}), *entries,
    ]  # fmt: skip
    frame = {"at": at("08:00"), "entered_at": at("08:00"), "elapsed_ms": 0, "run": 1, "role": "circulating"}
    return fold_day(DAY, plan, [kind(seq=n, **frame, **fields) for n, (kind, fields) in enumerate(told, 1)])


def order(day: Day) -> list[int]:
    """The numbers of the places as they stand."""
    return [place.number for place in day.places]


# -- the file


def test_a_list_as_a_person_types_it_has_no_findings() -> None:
    """Two protocols, planned times, facts known, reasons; a day with quotes is as good as one without."""
    assert findings(THREE) == []
    assert findings(THREE.replace("day = 2026-12-01", 'day = "2026-12-01"')) == []


MISTAKES = [
    ("day = 2026-12-01", "day = 2026-12-02", "3 day: is not the day that the file is named for, 2026-12-01."),
    ('start = "08:30"\nsession', 'start = "25:30"\nsession', "4 start: “25:30” is not a time of the day."),
    ("session = 480", "sesion = 480", "5 sesion: this key is not known here. Write session, or take it out."),
    ('"complex-pvr"\nstart = "08:30"', '"complex-prv"', "9 places.1.protocol: there is no protocol “complex-prv”."),
    ("minutes = 150", "minutes = 5", "11 places.1.minutes: 5 is not what the file of complex-pvr takes."),
    ('eye = "left"', 'eye = "middle"', "12 places.1.facts.eye: Eye cannot be “middle”. Write "),
    ("anaesthetic =", "anaesthtic =", "12 places.1.facts.anaesthtic: complex-pvr has no such case fact. Write anaes"),
    ('"cp3-ca2"', '"D3"', "12 places.1.facts.pvr_grade: PVR grade cannot be “D3”. Write a grade"),
    ("video_consent = true", 'video_consent = "yes"', "12 places.1.facts.video_consent: Consent for video cannot be"),
    ("video_consent = true", "planned_minutes = 9", "12 places.1.facts.planned_minutes: comes from the minutes of"),
    ('start = "14:00"', 'start = "11:00"', "22 places.3.start: is before the start of what comes before it."),
    ('"B-0007"', '"b7"', "18 places.2.code: “b7” is not a case code."),
    ('"B-0007"', '"B-010260"', "18 places.2.code: “B-010260” cannot be a case code."),
    ('key = "u"', 'key = "w"', "33 reasons.unfit.key: “w” is there 2 times. Keep it once."),
    ('label = "ward or', "name = 1\nlabel = \"ward or", "27 reasons.ward.name: this key is not known here."),
    ("format = 1", "format = 2", "2 format: is made for a newer Clockhour: this one reads lists up to format 1."),
    ("format = 1", "format = ", "2 : the value cannot be read."),
]  # fmt: skip


@pytest.mark.parametrize(("was", "now", "said"), MISTAKES)
def test_every_mistake_has_its_line_and_how_to_mend_it(was: str, now: str, said: str) -> None:
    """A mistake of a person's hand is one finding, at the line where it stands."""
    told = findings(THREE.replace(was, now, 1))

    assert len(told) == 1
    assert told[0].startswith(said)


def test_ten_mistakes_are_found_in_one_go() -> None:
    """What is amiss at one place keeps nothing else from being found."""
    text = THREE
    for was, now, _ in (*MISTAKES[1:3], *MISTAKES[4:9], MISTAKES[10], MISTAKES[13]):
        text = text.replace(was, now, 1)

    told = findings(text.replace('"B-0007"', '"b7"'))

    assert len(told) == 10
    assert [int(line.split()[0]) for line in told] == sorted(int(line.split()[0]) for line in told)


@pytest.mark.parametrize(
    "line",
    ["# for Mrs Smith", 'station = "Dr Jones"', "# born 01.02.1960", "# 401 023 2137", 'note = "Mr Smith"'],
)
def test_what_looks_like_a_person_is_refused_wherever_it_stands(line: str) -> None:
    """A comment counts too: the whole text goes into the book of the day."""
    told = findings(THREE.replace('station = "Theatre 4"', line))

    assert any(said.startswith("6 ") and "a list holds case codes only" in said for said in told)


@pytest.mark.parametrize(
    "text", ["", "[" * 5000, "x = " + "[" * 5000, "\ud800", "places = 3", "places = [1]", "= 1"]
)
def test_no_text_at_all_ends_the_program(text: str) -> None:
    """Whatever stands in the file, there is a finding."""
    assert findings(text)


def test_a_new_list_is_written_as_it_is_read() -> None:
    """What the program writes has no finding, its facts in the form of the file, and reasons to begin with."""
    places = [
        NewPlace("complex-pvr", 150, "08:30", "B-0001", {"eye": "left", "axial_length": 24.5, "video_consent": False}),
        NewPlace("short-list"),
    ]  # fmt: skip
    text = list_text(DAY, "08:30", places, 480, 'Theatre "4"')

    plan = load_plan(text, DAY, FILES).plan
    assert plan is not None, findings(text)
    assert [place.protocol for place in plan.places] == ["complex-pvr", "short-list"]
    assert plan.places[0].facts == {"eye": "left", "axial_length": 24.5, "video_consent": False}
    assert plan.station == 'Theatre "4"'
    assert len(plan.reasons) == len({reason.key for reason in plan.reasons})


def test_the_facts_of_a_place_are_those_typed_with_its_minutes_and_its_place() -> None:
    """Which facts hold minutes and place the protocol file says; a fact that is not known is not given."""
    plan = load_plan(THREE, DAY, FILES).plan
    protocol = protocol_of(shipped())
    assert plan is not None

    assert given_facts(plan.places[0], 2, protocol) == {
        "eye": "left", "anaesthetic": "general", "pvr_grade": "CP3-CA2", "video_consent": True,
        "planned_minutes": 150, "list_position": 2,
    }  # fmt: skip
    bare = protocol.model_copy(update={"planned_minutes_fact": None, "list_position_fact": None})
    assert given_facts(plan.places[2], 1, bare) == {}


# -- what becomes of it


def test_places_are_moved_added_and_called_off_by_entries() -> None:
    """Each is an entry; the plan itself stays as typed."""
    day = day_of_entries(
        (de.PlaceMoved, {"place": 3, "before": 1, "reason": "ward"}),
        (de.PlaceAdded, {"place": 4, "protocol": "short-list", "minutes": 60.0, "before": 2}),
        (de.PlaceCalledOff, {"place": 1, "reason": "unfit"}),
    )

    assert order(day) == [3, 1, 4, 2]
    assert [place.number for place in day.places if place.off] == [1]
    assert day.place[4].planned.minutes == 60
    assert len(day.plan.places) == 3
    assert next_number(day) == 5


def test_a_struck_entry_means_nothing_and_stays_legible() -> None:
    """The last that can be struck is struck first; a case that was begun stays begun."""
    day = day_of_entries(
        (de.PlaceMoved, {"place": 3, "before": 1}),
        (de.PlaceBegun, {"place": 3, "code": "A-0001"}),
        (de.ListStruck, {"ref": 2}),
        (de.ListStruck, {"ref": 3}),
    )

    assert order(day) == [1, 2, 3]
    assert day.place[3].codes == ("A-0001",)
    assert day.last_mendable() is None
    assert [event_words(day, e) for e in day.events[1:3]] == ["place 3 moved", "place 3 begun as A-0001"]


def test_an_added_place_whose_case_was_begun_is_not_struck() -> None:
    """Else its case would stand on no place."""
    added = (de.PlaceAdded, {"place": 4, "protocol": "short-list"})

    assert day_of_entries(added).last_mendable() is not None
    assert day_of_entries(added, (de.PlaceBegun, {"place": 4, "code": "A-0001"})).last_mendable() is None


def test_an_entry_that_means_nothing_is_kept_as_odd() -> None:
    """A place that is not there, a number given twice, a second first line."""
    day = day_of_entries(
        (de.PlaceMoved, {"place": 9}),
        (de.PlaceAdded, {"place": 1, "protocol": "short-list"}),
        (de.ListBegun, {"name": DAY, "plan": "", "digest": "", "program": "0"}),
    )

    assert [event.seq for event in day.odd] == [2, 3, 4]
    assert order(day) == [1, 2, 3]


# -- how it goes, without a case


def test_a_list_is_late_only_once_its_planned_start_has_passed() -> None:
    """Before it nothing is said; a minute of grace counts as on time."""
    day = day_of_entries()

    def late(told: str) -> tuple[bool, float | None]:
        its = course(day, {}, at(told))
        return its.late, its.late_s

    assert late("08:00") == (False, None)
    assert late("08:31") == (False, 60.0)
    assert late("08:55") == (True, 1500.0)


def test_a_list_all_called_off_is_not_late() -> None:
    """Nobody waits for it."""
    off = ((de.PlaceCalledOff, {"place": n, "reason": "unfit"}) for n in (1, 2, 3))

    its = course(day_of_entries(*off), {}, at("08:00") + timedelta(hours=5))
    assert (its.late_s, its.next, its.open, its.running) == (None, None, (), None)


def _kinds() -> Iterator[str]:
    return (str(kind.model_fields["kind"].default) for kind in de.LIST_KINDS)


@pytest.mark.parametrize("kind", de.LIST_KINDS, ids=lambda k: k.__name__)
def test_every_kind_of_a_list_is_in_the_guide(kind: type[Event]) -> None:
    """The guide's table of kinds is the book's."""
    assert f"| {kind.model_fields['kind'].default} |" in GUIDE


NUMBERS = st.integers(0, 6)
REASONS = st.sampled_from(["", "ward", "nothing known"])
CODES = st.sampled_from(["A-0001", "A-0002", "B-0007"])
SAID = st.one_of(
    st.tuples(st.just(de.TeamTalked), st.fixed_dictionaries({"talk": st.sampled_from(["brief", "debrief"])})),
    st.tuples(st.just(de.PlaceBegun), st.fixed_dictionaries({"place": NUMBERS, "code": CODES})),
    st.tuples(
        st.just(de.PlaceAdded),
        st.fixed_dictionaries(
            {"place": NUMBERS, "protocol": st.just("short-list"), "before": st.none() | NUMBERS}
        ),
    ),
    st.tuples(
        st.just(de.PlaceMoved), st.fixed_dictionaries({"place": NUMBERS, "before": st.none() | NUMBERS})
    ),
    st.tuples(st.just(de.PlaceCalledOff), st.fixed_dictionaries({"place": NUMBERS, "reason": REASONS})),
    st.tuples(st.just(de.LateStartReason), st.fixed_dictionaries({"reason": REASONS})),
    st.tuples(st.just(de.TurnoverReason), st.fixed_dictionaries({"after": CODES, "reason": REASONS})),
    st.tuples(st.just(de.ListStruck), st.fixed_dictionaries({"ref": st.integers(0, 12)})),
)


@given(st.lists(SAID, max_size=10))
def test_whatever_was_said_every_place_stands_once(said: list[tuple[type[Event], dict[str, object]]]) -> None:
    """No entry takes a planned place away or puts one twice, and each has words."""
    day = day_of_entries(*said)

    assert len(order(day)) == len(set(order(day)))
    assert {1, 2, 3} <= set(order(day))
    assert all(event_words(day, event) for event in day.events)
    assert next_number(day) not in order(day)
    assert course(day, {}, at("12:00")).seats


def test_the_kinds_of_a_list_are_no_other_book_s() -> None:
    """One table of kinds reads every journal."""
    from tracker.core.debrief_events import DEBRIEF_BY_KIND
    from tracker.core.events import BY_KIND
    from tracker.core.follow_up_events import FOLLOW_UP_BY_KIND

    assert set(_kinds()).isdisjoint({*BY_KIND, *DEBRIEF_BY_KIND, *FOLLOW_UP_BY_KIND})
