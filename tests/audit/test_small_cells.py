"""The small-cell rule: 1 to 4 are kept back, and so is what would tell them by subtraction."""

from __future__ import annotations

import pytest

from audit_archives import USUAL, archive, write
from audit_reports import DAY, audited
from tracker.audit.answers import eyes, lengths, order, theatre_lists, trust
from tracker.audit.answers.eyes import Oil
from tracker.audit.answers.form import Answer
from tracker.audit.answers.lengths import Compared, Drivers
from tracker.audit.answers.order import ClockRow, PairRow
from tracker.audit.answers.theatre_lists import Starts
from tracker.audit.answers.trust import CompletenessRow
from tracker.audit.population import Filters
from tracker.audit.report import of_eyes, of_lengths, of_lists, of_order, small
from tracker.audit.report.book import about, report
from tracker.audit.statistics.drivers import Effect, Effects
from tracker.audit.statistics.rates import pareto, rate
from tracker.audit.statistics.summary import MedianDifference, summarise
from tracker.audit.statistics.survival import kaplan_meier
from tracker.audit.statistics.theatre_times import first_starts
from tracker.journal.archive import Archive

GENERAL = USUAL.replace("anaesthetic=block", "anaesthetic=general")


def answering(monkeypatch, module, name, result):
    """Let a question be answered by `result`, of 30 cases."""
    told = Answer(name, "?", "", 30, 0.0, 0.0, "", result)
    monkeypatch.setattr(module, name, lambda *_args: told)


@pytest.fixture(scope="module")
def eight(tmp_path_factory):
    """Six cases with a block and two with a general anaesthetic."""
    folder = tmp_path_factory.mktemp("eight")
    for n in range(1, 9):
        write(folder, f"AB-000{n}", USUAL if n <= 6 else GENERAL)
    with audited(Archive(folder)) as audit:
        yield audit


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ((8, 4), ("5+", "<5")),
        ((20, 9, 4), ("", "5+", "<5")),
        ((20, 1, 1), ("5+", "<5", "<5")),  # together 2, so each is 1
        ((20, 4, 4), ("5+", "<5", "<5")),  # together 8, so each is 4
        ((20, 3, 2), ("", "<5", "<5")),
        ((20, 9, 0), ("", "", "")),
        ((3,), ("<5",)),
    ],
)
def test_groups_of_a_whole(sizes, said):
    """Where those kept back follow from the whole less the others, the smallest other is kept back too."""
    assert small.apart(sizes) == said


@pytest.mark.parametrize(
    ("events", "said"), [(0, "0"), (4, "<5"), (5, "5"), (25, "25"), (26, "all but <5"), (30, "30")]
)
def test_what_is_not_so_is_a_number_too(events, said):
    """Of 30 cases 26 leave 4: neither they, nor their share, interval, or bar is given."""
    told = rate(events, 30)
    kept_back = said in ("<5", "all but <5")

    assert small.events(told)[0] == said
    assert (small.events(told)[1:] == ("-", "-")) == kept_back
    assert (small.rate_bar("a", told) is None) == kept_back
    assert (small.share(events / 30, 30) == said) == kept_back


def test_a_group_is_not_told_by_the_others(eight):
    """Of 8 cases 2 had a general anaesthetic: the 6 others are not counted, in table, chart or share."""
    sheet = of_lengths.by_anaesthetic(eight)
    by_group = {row[0]: row for row in sheet.grids[0].rows}

    assert by_group["block"][1:4] == ("5+", "-", "-")
    assert by_group["block"][4] == "50.0"
    assert by_group["general"][1] == "<5"
    assert [(box.label, box.n) for box in sheet.drawings[0].rows] == [("block", "5+")]


def test_a_table_of_lengths_says_what_its_shares_are(eight):
    """Missing and late stand beside each length; what they are shares of is said under the table."""
    for ask in (of_lengths.stage_lengths, of_lengths.by_anaesthetic):
        sheet = ask(eight)
        assert {"missing", "late"} <= set(sheet.grids[0].headings)
        assert any(remark.startswith("Missing: ") and "Late: " in remark for remark in sheet.remarks)


def test_below_five_cases_nothing_is_said(tmp_path):
    """Of one case no table says which of its stages or steps there were."""
    with audited(archive(tmp_path, "AB-0001")) as audit:
        sheets = [of_lengths.step_lengths(audit), of_order.clocks(audit), of_order.inversions(audit)]

    assert [sheet.refused for sheet in sheets] == ["too few: <5 cases, at least 5 needed"] * 3
    assert all(not (sheet.grids or sheet.drawings or sheet.remarks) for sheet in sheets)


def test_a_sum_does_not_tell_a_kind(eight, monkeypatch):
    """One kind of 2 beside one of 6: neither their sum nor a share of it is given; of many kinds both are."""
    six, few = [("skipped", "core", "none given")] * 6, [("skipped", "peel", "none given")] * 2
    answering(monkeypatch, order, "deviations", {"oversight": pareto([*six, *few], 30)})
    one = of_order.deviations(eight)
    several = [("repeated", step, "none given") for step in "abc"]
    answering(monkeypatch, order, "deviations", {"oversight": pareto([*six, *few, *several], 30)})
    many = of_order.deviations(eight)

    assert one.grids[0].title == "Oversight"
    assert one.grids[0].rows[0][3:] == ("6", "20.0", "-", "-")
    assert one.drawings[0].rows[0].said == "20.0"
    assert many.grids[0].title == "Oversight: 11 in all"
    assert many.drawings[0].rows[0].said == "20.0, to 55 %"


def test_shares_of_sessions_do_not_tell_them(eight, monkeypatch):
    """Of 15 first cases 2 were 30 min late: a share of 13.3 % would say so."""
    late = first_starts([5.0] * 8 + [20.0] * 5 + [40.0] * 2)
    most = first_starts([5.0] * 3 + [40.0] * 12)
    between = first_starts([5.0] * 5 + [20.0] * 2 + [40.0] * 8)
    answering(monkeypatch, theatre_lists, "starts", Starts(late, most))
    rows = of_lists.starts(eight).grids[0].rows
    answering(monkeypatch, theatre_lists, "starts", Starts(between, between))
    nested = of_lists.starts(eight).grids[0].rows[0]

    assert rows[0][-2:] == ("46.7 %", "<5")
    assert rows[1][-2:] == ("all but <5", "all but <5")
    assert nested[-2:] == ("66.7 %", "-")


def test_minutes_of_few_runs_are_not_given(eight, monkeypatch):
    """Where 2 runs reached the figure, the minutes past it are theirs; where 8 did, 6 of them red, 2 did not."""
    lengths = summarise([float(n) for n in range(30)])
    few = ClockRow("air", "Air", 30, lengths, rate(2, 30), rate(0, 30), 114.4, None)
    many = ClockRow("oil", "Oil", 30, lengths, rate(8, 30), rate(6, 30), 114.4, None)
    answering(monkeypatch, order, "clocks", (few, many))
    rows = of_order.clocks(eight).grids[1].rows

    assert rows[0][1:] == ("<5", "-", "no figure", "-")
    assert rows[1][1:] == ("8 (26.7 %)", "-", "no figure", "114.4")


def test_a_clock_says_what_its_lengths_rest_on(eight, monkeypatch):
    """Of 40 runs 30 have a length, 6 of them by a late entry; of 8 runs 4 have one, and no share tells them."""
    many = summarise([5.0] * 30 + [None] * 10, [True] * 6 + [False] * 34)
    few = summarise([5.0] * 4 + [None] * 4, [True] * 8)
    told = [
        ClockRow("a", "A", 40, many, None, None, None, None),
        ClockRow("b", "B", 8, few, None, None, None, None),
    ]
    answering(monkeypatch, order, "clocks", told)
    grid = of_order.clocks(eight).grids[0]

    assert grid.headings[:5] == ("Clock", "runs", "n", "missing", "late")
    assert [row[:5] for row in grid.rows] == [
        ("A", "40", "30", "25.0 %", "20.0 %"),
        ("B", "8", "<5", "-", "-"),
    ]


@pytest.mark.parametrize(
    ("unmatched", "resolved", "said"),
    [
        (10, 5, "5"),
        (10, 2, "<5"),
        (10, 8, "all but <5"),
        (10, 10, "10"),
        (0, 0, "0"),
        (2, 1, "-"),
        (28, 20, "-"),
    ],
)
def test_what_was_matched_by_the_end(eight, monkeypatch, unmatched, resolved, said):
    """Of 30 cases; neither those matched by the end nor those that were not are told where they are 1 to 4."""
    told = (PairRow("dye", "Dye", "order", rate(unmatched, 30), resolved),)
    answering(monkeypatch, order, "unmatched", told)
    grid = of_order.unmatched(eight).grids[0]

    assert (grid.headings[-1], grid.rows[0][-1]) == ("matched by the end", said)


def test_what_else_the_logs_lack_is_told_of_all_cases(eight, monkeypatch):
    """Six steps not logged, two gaps of 8.9 min: the gaps and their minutes are kept back, and all of it by role."""
    told = (CompletenessRow("all", "all", 30, "", not_logged=6, gaps=2, gap_minutes=8.9, unknown=0),)
    answering(monkeypatch, trust, "completeness", told)

    assert [row[1:] for row in of_order.completeness(eight).grids[1].rows] == [
        ("30", "6"), ("30", "<5"), ("30", "0"), ("30", "-"),
    ]  # fmt: skip
    assert len(of_order.completeness_by_role(eight).grids) == 1


def test_a_month_does_not_tell_who_left(eight, monkeypatch):
    """Between two months that are told, none or at least 5 eyes left those at risk."""
    days = [40.0] * 2 + [70.0] * 2 + [100.0] * 6 + [400.0] * 20
    answering(monkeypatch, eyes, "oil", Oil(kaplan_meier(days, [True] * len(days)), 0))
    rows = of_eyes.oil(eight).grids[0].rows

    assert [(row[0], row[2]) for row in rows[:3]] == [
        ("1 month", "30"),
        ("4 months", "20"),
        ("5 months", "20"),
    ]


def test_a_small_population_is_not_told(tmp_path):
    """Of 8 cases 2 had a general anaesthetic: neither they nor the 6 left out are counted in a report."""
    for n in range(1, 9):
        write(tmp_path, f"AB-000{n}", USUAL if n <= 6 else GENERAL)
    with audited(Archive(tmp_path), Filters(facts={"anaesthetic": ("general",)})) as audit:
        found = report(audit, DAY, ["case_lengths"])

    assert found.population == "<5 of 8 cases; left out: with another anaesthetic than general"
    assert found.lines[0] == "Asked for: anaesthetic general."
    assert any(line.startswith("<5 by small-repair") for line in found.lines)


def test_the_population_has_its_months_and_versions(eight):
    """The months of the cases stand beside their protocols, no day of any case."""
    told = list(about(eight))

    assert told[0] == "Cases of March 2026."
    assert told[1] == "8 by small-repair, version 1 (not reviewed locally)."


def test_a_rare_version_is_not_told(tmp_path):
    """Two cases of an older file beside six of a newer: neither is counted."""
    for n in range(1, 9):
        write(tmp_path, f"AB-000{n}", version="1" if n < 3 else "2")
    with audited(Archive(tmp_path)) as audit:
        told = list(about(audit))

    assert [line.partition(" (")[0] for line in told[1:3]] == [
        "5+ by small-repair, version 2", "<5 by small-repair, version 1",
    ]  # fmt: skip


def test_a_term_that_few_cases_rest_on_is_not_told(eight, monkeypatch):
    """Of two terms one rests on 5 cases, one on 4: the second is named, its effect is not given."""
    five, four = Effect("grade C", 5, 20.0, 15.0, 25.0), Effect("lens removed", 4, 16.0, 11.0, 21.0)
    answering(monkeypatch, lengths, "drivers", Drivers(Effects(80, 0, "", (five, four), 0.5), ()))
    sheet = of_lengths.drivers(eight)

    assert [row[0] for row in sheet.grids[0].rows] == ["grade C"]
    assert [bar.label for bar in sheet.drawings[0].rows] == ["grade C"]
    assert (
        "Held in the model but not told, as fewer than 5 cases differ in it: lens removed." in sheet.remarks
    )


def test_a_difference_that_is_not_given_says_why(eight):
    """Six cases against two: no difference, and what one needs stands under the table, without their number."""
    sheet = of_lengths.by_anaesthetic(eight)

    assert sheet.grids[0].rows[1][-2:] == ("not given", "not given")
    assert "Not given: a difference needs at least 10 cases in either group." in sheet.remarks


def test_a_difference_of_groups_too_large_says_so(eight, monkeypatch):
    """Where both groups are larger than is resampled, that is the reason, and nothing is said of too few."""
    why = "no interval for groups of more than 20000 cases; see the medians"
    told = [
        Compared("block", summarise([50.0] * 40), None),
        Compared("general", summarise([60.0] * 30), MedianDifference(30, 40, 0, 1, 0.95, why)),
    ]
    answering(monkeypatch, lengths, "compared", told)
    remarks = of_lengths.by_anaesthetic(eight).remarks

    assert [r for r in remarks if r.startswith("Not given")] == [f"Not given: {why}."]


def test_the_oil_table_is_reckoned_at_the_days_it_prints(eight, monkeypatch):
    """Of 30 eyes 5 had the oil out on day 122, as printed after 4 months: 25 of 30 remain, not 30."""
    days = [122.0] * 5 + [400.0] * 25
    answering(monkeypatch, eyes, "oil", Oil(kaplan_meier(days, [True] * len(days)), 0))
    rows = {row[0]: row[1:4] for row in of_eyes.oil(eight).grids[0].rows}

    assert rows["3 months"] == ("91", "30", "100.0 %")
    assert rows["4 months"] == ("122", "25", "83.3 %")


def test_who_left_on_the_day_that_is_printed_is_not_told(eight, monkeypatch):
    """Two of 30 eyes had the oil out on day 122: nothing is told of 4 months, nor until 5 have left."""
    days = [122.0] * 2 + [150.0] * 3 + [400.0] * 25
    answering(monkeypatch, eyes, "oil", Oil(kaplan_meier(days, [True] * len(days)), 0))
    rows = of_eyes.oil(eight).grids[0].rows

    assert [row[:3] for row in rows[3:5]] == [("5 months", "152", "25"), ("6 months", "183", "25")]
