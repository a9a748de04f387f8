"""What became of the eye: from books of visits to tables and answers, and a truth that is found again."""

from __future__ import annotations

import pyarrow.dataset as ds
import pytest

from audit_archives import SHIPPED, follow, write
from audit_reports import audited
from remissions import RELAPSED, SHARES, STEPS, TIMES
from tracker.audit.answers import eyes
from tracker.audit.conventions import convention_from
from tracker.audit.invented.truth import Truth
from tracker.audit.population import Filters
from tracker.audit.report import of_eyes
from tracker.audit.report.as_text import sheet_lines
from tracker.audit.report.flat import kept
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import LeftOut, bring_up_to_date
from tracker.journal.archive import Archive

THREE = {"days": 91}
LATE = {"days": 500}
"""A visit by which every window has closed."""


def cases(folder, *books):
    """An archive with a case for each of these books of visits, and another for an empty one."""
    for n, visits in enumerate(books, start=1):
        write(folder, f"A-{n:04d}")
        if visits:
            follow(folder, f"A-{n:04d}", *visits)
    return Archive(folder)


def rows(archive):
    """The table of visits, brought up to date."""
    made = bring_up_to_date(archive)
    return ds.dataset(str(made.folder / "visits")).to_table().sort_by([("code", "ascending")]).to_pylist()


def asked(archive, ask, filters=None):
    """What an answer comes to."""
    with audited(archive, filters) as audit:
        return ask(audit)


def window(found, label):
    """What an answer has for a window."""
    return next(each for each in found.result.windows if each.window.label == label)


# -- tables


def test_a_visit_is_a_row_with_its_days_and_its_logmar(tmp_path):
    """Days count from the operation; acuity is kept as written, and beside it what a chart makes of it."""
    seen = (
        {"days": -10, "acuity": "HM"},
        {"days": 91, "acuity": "6/60", "pressure": 14.0, "oil": "out", "out": 80},
    )
    before, after = rows(cases(tmp_path, seen))

    assert (before["days"], before["acuity"], before["logmar"], before["off_chart"]) == (
        -10,
        "HM",
        None,
        "HM",
    )
    assert (after["days"], after["logmar"], after["off_chart"]) == (91, 1.0, None)
    assert (after["pressure"], after["oil"], after["oil_out_days"]) == (14.0, "out", 80)


def test_a_changed_follow_up_is_noticed_and_nothing_else_is_folded(tmp_path):
    """The digest of the book counts like that of the log."""
    archive = cases(tmp_path, [THREE | {"pressure": 14.0}], [])
    assert len(rows(archive)) == 1
    follow(tmp_path, "A-0002", THREE | {"pressure": 15.0})

    assert bring_up_to_date(archive).folded == 1
    assert [row["pressure"] for row in rows(archive)] == [14.0, 15.0]
    assert bring_up_to_date(archive).folded == 0
    (tmp_path / "A-0001.followup.jsonl").unlink()
    assert [row["code"] for row in rows(archive)] == ["A-0002"]


def test_a_damaged_follow_up_is_listed_and_left_out_and_its_case_stays(tmp_path):
    """So is one of another log; neither costs the case."""
    books = [[THREE | {"pressure": 14.0}, LATE | {"pressure": 15.0}], [THREE], [THREE | {"pressure": 16.0}]]
    archive = cases(tmp_path, *books)
    path, other = tmp_path / "A-0001.followup.jsonl", tmp_path / "A-0002.followup.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"pressure":14', b'"pressure":41'))
    other.write_bytes((tmp_path / "A-0003.followup.jsonl").read_bytes())
    made = bring_up_to_date(archive)

    assert made.cases == 3
    assert [out.name for out in made.left_out] == ["A-0001.followup.jsonl", "A-0002.followup.jsonl"]
    assert "Line 2 does not match its own hash" in made.left_out[0].why
    assert "begun on another log" in made.left_out[1].why
    assert [row["pressure"] for row in rows(archive)] == [16.0]


def test_an_unfinished_last_line_is_left_out_and_listed(tmp_path):
    """The visits before it count."""
    archive = cases(tmp_path, [THREE | {"pressure": 14.0}])
    path = tmp_path / "A-0001.followup.jsonl"
    path.write_bytes(path.read_bytes() + b'{"acuity":"6/')
    made = bring_up_to_date(archive)

    assert (made.left_out, made.torn) == ((), ("A-0001.followup.jsonl",))
    assert len(rows(archive)) == 1


def test_a_follow_up_without_a_log_is_listed(tmp_path):
    """Its log may lie elsewhere: what was seen of the eye is not passed over without a word."""
    archive = cases(tmp_path, [THREE | {"pressure": 14.0}], [THREE | {"pressure": 16.0}])
    (tmp_path / "A-0001.case.jsonl").unlink()

    assert bring_up_to_date(archive).left_out == (
        LeftOut("A-0001.followup.jsonl", "There is no log of the case that it is the follow-up of."),
    )


def test_no_words_that_anyone_wrote_leave_in_the_flat_file():
    """Acuity as written, the role and the day stay; days since the operation and logMAR go."""
    names = {column.name for column in kept("visits")}

    assert names & {"acuity", "role", "day"} == set()
    assert {"days", "logmar", "off_chart", "pressure"} <= names


# -- no follow-up, and little


ASKS = (of_eyes.reattachment, of_eyes.acuity, of_eyes.pressure, of_eyes.oil)


@pytest.mark.parametrize("ask", ASKS)
def test_no_follow_up_at_all_is_said(tmp_path, ask):
    """No figure, no drawing, and the reason."""
    sheet = asked(cases(tmp_path, *[[]] * 6), ask)

    assert sheet.refused.startswith("too few: 0 cases")
    assert (sheet.grids, sheet.drawings) == ((), ())


@pytest.mark.parametrize("ask", ASKS)
def test_four_eyes_have_no_figure(tmp_path, ask):
    """Small cells: their number is not told either."""
    seen = [
        {"days": -1, "acuity": "6/60"},
        THREE | {"attached": "yes", "acuity": "6/6", "pressure": 14.0},
        LATE,
    ]
    said = "\n".join(sheet_lines(asked(cases(tmp_path, *[seen] * 4, *[[]] * 3), ask)))

    assert "No figure: too few: " in said
    assert "too few: 4" not in said


# -- reattachment


def attached(*books):
    """Visits at three months that find the retina attached, and one when all windows have closed."""
    return [[*visits, LATE | {"text": "seen"}] for visits in books]


def test_primary_success_is_attached_without_a_further_operation(tmp_path):
    """Eight eyes: five attached, one after a second operation, one partly, one detached; two more were not seen."""
    yes, again = THREE | {"attached": "yes"}, THREE | {"attached": "yes", "operation": "detachment"}
    books = [[yes]] * 5 + [[again], [THREE | {"attached": "partly"}], [THREE | {"attached": "no"}]]
    found = asked(cases(tmp_path, *attached(*books), [], []), eyes.reattachment)
    told = window(found, "3 months")

    assert (told.n, told.missing) == (8, 2 / 10)
    assert (told.once.events, told.attached.events, told.partly.events) == (5, 6, 1)
    # Wilson's interval for 5 of 8, by hand from Newcombe, Stat Med 1998;17:857, method 3: 0.306 to 0.863.
    assert (told.once.low, told.once.high) == pytest.approx((0.306, 0.863), abs=5e-4)


def test_a_further_operation_counts_from_the_visit_that_tells_it(tmp_path):
    """Attached at three months; operated on again before six: a success then, and none now."""
    later = {"days": 182, "attached": "yes", "operation": "detachment"}
    found = asked(cases(tmp_path, *attached(*[[THREE | {"attached": "yes"}, later]] * 5)), eyes.reattachment)

    assert window(found, "3 months").once.events == 5
    assert window(found, "6 months").once.events == 0
    assert window(found, "6 months").attached.events == 5


def test_an_operation_for_something_else_takes_no_success_away(tmp_path):
    """A cataract, or taking oil out, is no failure of the first operation."""
    seen = THREE | {"attached": "yes", "operation": "other", "out": 80}
    told = window(asked(cases(tmp_path, *attached(*[[seen]] * 5)), eyes.reattachment), "3 months")

    assert told.once.events == 5


def test_attached_with_oil_in_is_told_apart(tmp_path):
    """Of six attached eyes two have oil in, one had it taken out by then, three never had any."""
    yes = THREE | {"attached": "yes"}
    books = [[yes | {"oil": "in"}]] * 2 + [[yes | {"oil": "out", "out": 80}]] + [[yes]] * 3
    told = window(asked(cases(tmp_path, *attached(*books)), eyes.reattachment), "3 months")

    assert (told.once.events, told.with_oil.events) == (6, 2)


def test_of_two_visits_on_one_day_the_later_entry_counts(tmp_path):
    """A second look at the same visit found it otherwise."""
    seen = [THREE | {"attached": "yes"}, THREE | {"attached": "no"}]
    told = window(asked(cases(tmp_path, *attached(*[seen] * 5)), eyes.reattachment), "3 months")

    assert (told.n, told.attached.events) == (5, 0)


def test_a_retina_that_was_not_seen_is_missing(tmp_path):
    """Unknown is no answer, and neither is a visit that says nothing of it."""
    books = [[THREE | {"attached": "yes"}]] * 5 + [
        [THREE | {"attached": "unknown"}],
        [THREE | {"pressure": 14.0}],
    ]
    told = window(asked(cases(tmp_path, *attached(*books)), eyes.reattachment), "3 months")

    assert (told.n, told.missing) == (5, 2 / 7)


def test_who_is_not_due_yet_is_not_missing(tmp_path):
    """The last day that anything tells is day 150: six months have not closed, three have."""
    books = [[THREE | {"attached": "yes"}, {"days": 150, "pressure": 14.0}]] * 5
    found = asked(cases(tmp_path, *books, []), eyes.reattachment)

    assert window(found, "3 months").missing == 1 / 6
    assert (window(found, "6 months").n, window(found, "6 months").missing) == (0, None)


# -- acuity


def test_acuity_before_is_the_last_readable_one_up_to_the_operation(tmp_path):
    """A later entry that cannot be read does not take its place, and is listed as written."""
    seen = [
        {"days": -20, "acuity": "CF"}, {"days": 0, "acuity": "6/60"}, {"days": 0, "acuity": "too much pain"},
        THREE | {"acuity": "6/12"},
    ]  # fmt: skip
    found = asked(cases(tmp_path, *attached(*[seen] * 5)), eyes.acuity)
    change = found.result.windows[0][1]

    # 6/60 is logMAR 1.0000 and 6/12 0.3010 (Bach, michaelbach.de/sci/acuity.html, recomputed).
    assert change.median == pytest.approx(0.3010 - 1.0000, abs=5e-5)
    assert (change.n, change.missing, change.off_chart, change.gained) == (5, 0, 0, 1)
    assert found.result.unreadable == (("too much pain", 5),)


def test_the_conversion_table_stands_beside_every_table_of_acuity(tmp_path):
    """Another convention has another median, and its name and source are printed."""
    seen = [{"days": -1, "acuity": "HM"}, THREE | {"acuity": "CF"}]
    archive = cases(tmp_path, *attached(*[seen] * 5))
    bach = "\n".join(sheet_lines(asked(archive, of_eyes.acuity)))
    own = b'use = "ours"\n[[tables]]\nname = "ours"\nsource = "the department"\nCF = 2.0\nHM = 2.2\nPL = 2.7\nNPL = 3\n'
    with audited(archive, convention=convention_from(own)) as audit:
        ours = "\n".join(sheet_lines(of_eyes.acuity(audit)))

    assert "-0.40" in bach
    assert "Conversion in use: Bach" in bach
    assert "-0.20" in ours
    assert "Conversion in use: ours" in ours
    assert "Source of the table in use: the department." in ours


def test_rare_wordings_that_cannot_be_read_are_counted_and_not_printed(tmp_path):
    """They may be anyone's words about one eye."""
    books = [[{"days": -1, "acuity": "6/60"}, THREE | {"acuity": "6/6"}]] * 5 + [
        [THREE | {"acuity": "odd words"}]
    ]
    said = "\n".join(sheet_lines(asked(cases(tmp_path, *attached(*books)), of_eyes.acuity)))

    assert "odd words" not in said
    assert "<5 entries could not be read as acuity and count as missing" in said
    assert "fewer than 5 times is not listed" in " ".join(said.split())


# -- pressure


def test_pressure_is_told_over_the_time_since_the_operation(tmp_path):
    """Five eyes at 10 to 14 mmHg on the first day and at 20 a month later."""
    books = [[{"days": 1, "pressure": 10.0 + n}, {"days": 28, "pressure": 20.0}] for n in range(5)]
    found = asked(cases(tmp_path, *attached(*books)), eyes.pressure)

    assert window(found, "first day").summary.median == 12.0
    assert window(found, "first month").summary.median == 20.0
    assert window(found, "2 months").summary.missing == 5


def test_low_and_high_are_told_of_two_visits_in_a_row(tmp_path):
    """5 is low and 25 is not high; once is not twice, and twice on one day is once."""
    low, high = {"days": 40, "pressure": 5.0}, {"days": 40, "pressure": 26.0}
    usual = {"days": 60, "pressure": 25.0}
    books = [
        [low, low | {"days": 50}], [low, usual, low | {"days": 70}], [low, low, usual],
        [high, high | {"days": 60}], [high | {"pressure": 25.0}, usual], [usual],
    ]  # fmt: skip
    found = asked(cases(tmp_path, *attached(*books)), eyes.pressure).result

    assert (found.twice_low.n, found.twice_low.events, found.twice_high.events) == (5, 1, 1)


# -- oil


def test_the_published_curve_comes_out_of_books_of_visits(tmp_path):
    """The treated arm of the 6-MP trial as oil in the eye: weeks as days, relapse as oil taken out."""
    books = [
        [{"days": time, "out": time}] if out else [{"days": time, "oil": "in"}]
        for time, out in zip(TIMES, RELAPSED, strict=True)
    ]
    curve = asked(cases(tmp_path, *books), eyes.oil).result.curve

    # Freireich et al., Blood 1963;21:699 (data read; curve recomputed with lifelines).
    assert [step.time for step in curve.steps] == STEPS
    assert [step.share for step in curve.steps] == pytest.approx(SHARES, abs=1e-6)
    assert (curve.n, curve.events, curve.median) == (21, 9, 23)


def test_oil_that_never_came_out_is_followed_to_the_last_visit_that_found_it(tmp_path):
    """Twelve eyes with oil in to the last: no event, no median, all still in."""
    books = [[THREE | {"oil": "in"}, {"days": 182, "oil": "in"}, {"days": 365, "pressure": 14.0}]] * 12
    found = asked(cases(tmp_path, *books), eyes.oil).result

    assert (found.curve.events, found.curve.median, found.untold) == (0, None, 0)
    assert set(found.curve.times) == {182.0}


def test_the_day_told_comes_before_the_visit_that_found_the_oil_gone(tmp_path):
    """Found gone on day 91, and later told to have come out on day 80; without a day, the visit's own."""
    dated = [THREE | {"oil": "out"}, {"days": 182, "out": 80}]
    undated = [{"days": 10, "oil": "in"}, THREE | {"oil": "out"}]
    found = asked(cases(tmp_path, *[dated] * 6, *[undated] * 6), eyes.oil).result

    assert found.curve.times == (80.0,) * 6 + (91.0,) * 6
    assert found.curve.events == 12


def test_an_eye_without_oil_is_not_among_those_with_oil(tmp_path):
    """A visit that finds no oil makes no eye one that had it."""
    books = [[THREE | {"oil": "in"}]] * 10 + [[THREE | {"oil": "out"}]] * 3
    found = asked(cases(tmp_path, *books), eyes.oil).result

    assert found.curve.n == 10


# -- a truth that is found again


TRUTH = Truth()


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    """A thousand invented cases straight to tables."""
    archive = Archive(tmp_path_factory.mktemp("outcomes"))
    synthesise(archive, SHIPPED, 1000, 9, TRUTH, as_journals=False)
    return archive


def of_all(archive, ask):
    """What an answer says of all of them."""
    return asked(archive, ask, Filters(completed=False))


@pytest.mark.parametrize("label", ["3 months", "6 months", "12 months", "last visit"])
def test_the_rate_of_reattachment_is_recovered(invented, label):
    """75 in 100 stay attached after one operation: within Wilson's interval in every window."""
    told = window(of_all(invented, eyes.reattachment), label)

    assert told.once.low <= TRUTH.attached <= told.once.high


def test_the_share_that_was_not_seen_is_recovered(invented):
    """One visit in ten does not come about."""
    told = window(of_all(invented, eyes.reattachment), "6 months")

    assert told.missing == pytest.approx(1 - TRUTH.followed, abs=0.03)


def test_the_gain_of_acuity_is_recovered(invented):
    """The median change is the gain, to a step of the chart."""
    for _, change in of_all(invented, eyes.acuity).result.windows:
        assert change.median == pytest.approx(-TRUTH.gain, abs=0.05)


def test_the_time_to_oil_removal_is_recovered(invented):
    """At the true median half of the eyes have oil in, within the interval of the curve."""
    curve = of_all(invented, eyes.oil).result.curve
    low, high = curve.interval_at(TRUTH.oil_days)

    assert low <= 0.5 <= high
    assert curve.median == pytest.approx(TRUTH.oil_days, rel=0.07)


def test_low_and_high_pressures_are_recovered(invented):
    """8 in 100 stay low and 5 in 100 high: within Wilson's intervals."""
    found = of_all(invented, eyes.pressure).result

    assert found.twice_low.low <= TRUTH.low_pressure <= found.twice_low.high
    assert found.twice_high.low <= TRUTH.high_pressure <= found.twice_high.high
