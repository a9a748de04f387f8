"""Invented cases: two ways of writing the same ones, and a truth that an audit finds again."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise
from statistics import median

import pyarrow.dataset as ds
import pytest

from audit_archives import SHIPPED, SMALL
from tracker.audit import questions
from tracker.audit.answers import courses, lengths, order, theatre_lists, trust
from tracker.audit.answers.form import audit_of
from tracker.audit.columns import TABLES, columns
from tracker.audit.engine import connected
from tracker.audit.invented.slips import KINDS
from tracker.audit.invented.truth import Truth
from tracker.audit.population import Filters, rows
from tracker.audit.statistics.rates import rate
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import FOLDER, bring_up_to_date
from tracker.cli import main
from tracker.core.events import Opened
from tracker.journal.archive import Archive

CASES = 400
CHANGE = 201
TRUTH = Truth(change_from=CHANGE, change_ratio=0.65)
EVERY = Filters(completed=False)


def table(folder, name):
    """All rows of a table in one order, whatever file they lie in."""
    rows = ds.dataset(str(folder / FOLDER / name)).to_table()
    keys = ("code", "seq", "fact", "stage", "step", "key", "clock", "pair")
    return rows.sort_by([(key, "ascending") for key in keys if key in rows.column_names])


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    """Four hundred invented cases straight to tables, and what is true of them."""
    folder = tmp_path_factory.mktemp("invented")
    made = synthesise(Archive(folder), SHIPPED, CASES, 3, TRUTH, as_journals=False)
    return folder / FOLDER, made


@pytest.fixture(scope="module")
def asked(invented):
    """The completed cases among them, asked through DuckDB."""
    with connected(invented[0]) as tables:
        yield audit_of(tables, invented[0])


# -- two ways


def test_journals_and_tables_hold_the_same_cases_to_the_row(tmp_path):
    """Folding the journals of invented cases gives exactly the rows that the other way writes."""
    truth = replace(TRUTH, slip=0.9, lapse=0.03, change_from=20)
    told = synthesise(Archive(tmp_path / "a"), SHIPPED, 60, 5, truth, as_journals=True)
    bring_up_to_date(Archive(tmp_path / "a"))
    woven = synthesise(Archive(tmp_path / "b"), SHIPPED, 60, 5, truth, as_journals=False)

    assert told.drawn == woven.drawn
    for name in TABLES:
        assert table(tmp_path / "a", name).equals(table(tmp_path / "b", name)), name


def test_a_file_that_asks_little_can_be_invented_too(tmp_path):
    """No operator, no clocks, no pairs, no readings, no reasons: still the same both ways."""
    for name, journals in (("a", True), ("b", False)):
        synthesise(Archive(tmp_path / name), SMALL.format(version="1"), 30, 5, as_journals=journals)
    bring_up_to_date(Archive(tmp_path / "a"))

    for name in TABLES:
        assert table(tmp_path / "a", name).equals(table(tmp_path / "b", name)), name


def test_invented_cases_verify_and_say_in_their_first_line_that_they_are_invented(tmp_path):
    """They are whole journals of site SYN, hash chain and all."""
    archive = Archive(tmp_path)
    made = synthesise(archive, SMALL.format(version="1"), 5, 1, as_journals=True)

    assert archive.verify_all() == ()
    assert archive.codes() == tuple(f"SYN-000{n}" for n in range(1, 6))
    assert (made.drawn.first_code, made.drawn.last_code) == ("SYN-0001", "SYN-0005")
    firsts = [archive.read(code).events[0] for code in archive.codes()]
    assert all(isinstance(first, Opened) and first.invented for first in firsts)


def test_the_same_seed_invents_the_same_cases_and_another_does_not(tmp_path):
    """Byte for byte, journals and all."""

    def digests(name, seed):
        synthesise(Archive(tmp_path / name), SMALL.format(version="1"), 4, seed, as_journals=True)
        return [path.read_bytes() for path in sorted((tmp_path / name).glob("*.jsonl"))]

    assert digests("a", 1) == digests("b", 1) != digests("c", 2)


def test_codes_go_on_where_the_archive_ends(tmp_path):
    """Neither journals nor tables are ever written over."""
    archive = Archive(tmp_path)
    text = SMALL.format(version="1")
    synthesise(archive, text, 3, 1, as_journals=True)
    synthesise(archive, text, 4, 2, as_journals=False)
    last = synthesise(archive, text, 2, 3, as_journals=False)

    report = bring_up_to_date(archive)

    assert (last.drawn.first_code, last.drawn.last_code) == ("SYN-0008", "SYN-0009")
    assert (report.cases, report.invented) == (3, 6)
    assert len(set(table(tmp_path, "cases")["code"].to_pylist())) == 9
    assert bring_up_to_date(archive, again=True).invented == 6


def test_a_case_may_have_as_many_spans_as_are_asked_for(tmp_path):
    """Steps that may repeat are done in parts, and take no longer for it."""
    few = synthesise(Archive(tmp_path / "a"), SHIPPED, 60, 1, as_journals=False)
    many = synthesise(Archive(tmp_path / "b"), SHIPPED, 60, 1, as_journals=False, spans=40)
    peel = [table(tmp_path / name, "steps").to_pylist() for name in ("a", "b")]
    medians = [
        median(r["minutes"] for r in rows if r["step"] == "peel_post" and r["minutes"] is not None)
        for rows in peel
    ]

    assert few.drawn.spans / 60 < 20
    assert many.drawn.spans / 60 >= 38
    assert medians[1] == pytest.approx(medians[0], rel=0.25)


def test_only_the_tables_asked_for_are_filled(tmp_path):
    """A million cases need not hold their entries."""
    synthesise(
        Archive(tmp_path), SMALL.format(version="1"), 10, 1, as_journals=False, only=("cases", "stages")
    )

    assert table(tmp_path, "stages").num_rows > 0
    assert table(tmp_path, "entries").num_rows == 0


@pytest.mark.parametrize(("text", "cases"), [("no protocol", 3), (SMALL.format(version="1"), 0)])
def test_nothing_is_invented_of_nothing(tmp_path, text, cases):
    """A text that is no protocol, or no cases: refused in a sentence."""
    with pytest.raises(ValueError, match="are needed"):
        synthesise(Archive(tmp_path), text, cases, 1)


def test_how_a_step_may_stand_is_said_in_its_column(tmp_path):
    """Every status that slips bring about is in the definition of the column, and no other."""
    synthesise(Archive(tmp_path), SHIPPED, 80, 5, replace(TRUTH, slip=1.0), as_journals=False)
    met = set(table(tmp_path, "steps")["status"].to_pylist())
    (words,) = (c.says.words for c in columns("steps") if c.name == "status")

    assert {"ticked", "not_needed", "not_logged", "no_tick"} <= met <= set(re.findall(r"\w+", words))
    assert not re.search("running|due", words)


def test_a_seed_below_nought_is_refused_in_a_sentence(tmp_path, capsys):
    """Exit code 2, and no archive is begun."""
    code = main(["--archive", str(tmp_path / "a"), "archive", "synthesise", "--cases", "3", "--seed", "-1"])

    assert code == 2
    assert capsys.readouterr().err == "A seed is a whole number from 0 on: --seed 5.\n"
    assert not (tmp_path / "a").exists()


# -- a truth that is found again


def test_what_was_drawn_is_what_is_counted(invented, asked):
    """Entries, late entries, spans, cases past midnight and every slip, exactly."""
    drawn = invented[1].drawn
    with connected(invented[0]) as tables:
        every = audit_of(tables, invented[0], EVERY)
        (row,) = trust.completeness(every).result
        cases = tables.cases.to_pyarrow().to_pylist()

    assert row.n == drawn.cases == CASES
    assert row.late == drawn.late / drawn.told
    assert sum(case["spans_n"] for case in cases) == drawn.spans
    assert sum((case["t4_minute"] or 0) >= 1440 for case in cases) == drawn.midnights > 0
    assert sum(case["operator"] == "fellow" for case in cases) == drawn.fellow_cases
    assert sum(case["open"] for case in cases) == drawn.slips.get("left_open", 0)
    assert sum(case["gaps_n"] for case in cases) == drawn.slips.get("reopened", 0)
    no_stop = sum(n for slip, n in drawn.slips.items() if slip.startswith("no_stop"))
    assert sum(case["spans_n"] - case["spans_closed_n"] for case in cases) == no_stop > 0


def test_slips_come_as_often_as_the_truth_says(invented):
    """The share of cases with any slip lies within Wilson's interval of what was drawn."""
    drawn = invented[1].drawn
    found = rate(sum(drawn.slips.values()), drawn.cases)

    assert found.low <= TRUTH.slip <= found.high
    assert {slip.partition(":")[0] for slip in drawn.slips} <= set(KINDS)


def test_effects_of_grade_c_and_general_anaesthesia_are_recovered(asked):
    """22 % and 32 % more (Angermann 2021, BMJ Open 11:e052513) lie within the intervals of the model."""
    effects = {e.term: e for e in lengths.drivers(asked, step="base_shave").result.effects.effects}

    for term, truth in (("grade C", 22), ("general anaesthetic", 32)):
        assert 0 < effects[term].low <= truth <= effects[term].high


def test_the_effect_of_grade_c_on_the_whole_case_is_recovered(asked):
    """Grade C changes no step here, so that the whole case takes 1.22 times as long, too."""
    effects = {effect.term: effect for effect in lengths.drivers(asked).result.effects.effects}

    assert 0 < effects["grade C"].low <= 22 <= effects["grade C"].high


def test_a_difference_of_medians_is_recovered(asked):
    """Under general anaesthesia the vitrectomy takes 1.32 times as long as under block."""
    told = lengths.compared(asked, "anaesthetic", "stage", "vitrectomy").result
    block, general = told

    assert (block.stratum, block.difference, general.stratum) == ("block", None, "general")
    assert general.difference.low <= 0.32 * block.summary.median <= general.difference.high
    assert general.difference.low > 0


def test_a_fellow_who_learns_is_recovered(asked):
    """The slope on ln case number is -0.1: within the interval, and below 0."""
    told = courses.learning(asked, "fellow")

    assert told.result.low <= TRUTH.fellow_slope <= told.result.high < 0


def test_a_change_is_recovered_and_seen(asked):
    """From case 201 on the exchange takes 0.65 times as long; its chart shifts, that of peeling does not."""
    minutes = {"before": [], "after": []}
    chart = courses.course(asked, stage="exchange", baseline=150).result
    for code, value in zip(chart.codes, chart.chart.values, strict=True):
        minutes["after" if int(code.partition("-")[2]) >= CHANGE else "before"].append(value)
    ratio = math.exp(median(minutes["after"]) - median(minutes["before"]))

    assert ratio == pytest.approx(TRUTH.change_ratio, rel=0.12)
    assert chart.chart.runs.crossings < chart.chart.runs.crossings_usual
    assert chart.chart.runs.longest > courses.course(asked, stage="peel").result.chart.runs.longest


def test_a_change_shows_in_a_sum(asked):
    """The exchange grows shorter from case 201 on: its lower sum signals after that, and never before."""
    found = courses.shift(asked, stage="exchange").result
    numbers = [int(found.codes[n].partition("-")[2]) for n in found.sums.reached_below]

    assert numbers
    assert min(numbers) >= CHANGE
    assert max(found.sums.lower) > 1.5 * courses.LIMIT * found.spread
    assert courses.shift(asked, stage="peel").result.sums.reached_below == ()


def test_gaps_run_within_a_list(asked):
    """Turnover is patient in less the patient out before, changeover T1 less the T4 before, in one session."""
    placed = rows(questions.lists(asked.everyone.tables, asked.sessions))
    pairs = [(one, after) for one, after in pairwise(placed) if after["place"] > 1]

    assert len(pairs) > 100
    for one, after in pairs:
        assert (one["station"], one["day"], one["session"]) == (
            after["station"],
            after["day"],
            after["session"],
        )
        # F1000Research 2014;3:197, table 4.
        assert after["changeover"] == _less(after["t1_minute"], one["t4_minute"])
        assert after["gap"] == _less(after["started_minute"], one["t4_minute"])


def _less(later, sooner):
    return None if later is None or sooner is None else pytest.approx(later - sooner)


def test_turnovers_and_late_starts_are_recovered(asked):
    """Medians 22 and 15 minutes, within a tenth and a sixth with a hundred lists and more."""
    gaps, starts = theatre_lists.gaps(asked).result, theatre_lists.starts(asked).result

    assert gaps.turnover.gaps.median == pytest.approx(TRUTH.turnover[0], rel=0.1)
    assert starts.patient_in.delay.median == pytest.approx(TRUTH.start_delay[0], rel=0.17)
    assert gaps.turnover.n > 100


def test_a_plan_that_is_too_short_shows(asked):
    """Planned at 0.9 of what is to be expected, the bias is below 0."""
    assert theatre_lists.booked(asked).result.bias < 0


def test_every_step_out_of_order_was_drawn(invented, asked):
    """The inversions found are those drawn, and only in completed cases."""
    swapped = {slip.partition(":")[2]: n for slip, n in invented[1].drawn.slips.items() if "swapped" in slip}
    found = {
        f"{row.inversion.later}<{row.inversion.sooner}": row.inversion.inverted
        for row in order.inversions(asked, 500).result
    }

    assert swapped
    for pair, n in swapped.items():
        assert found[pair] == n


def test_invented_cases_of_an_earlier_form_are_not_lost_silently(tmp_path, monkeypatch):
    """No journal stands behind them, so a program that writes other tables says that they are gone, once."""
    archive = Archive(tmp_path)
    synthesise(archive, SMALL.format(version="1"), 30, 5, as_journals=False)
    assert bring_up_to_date(archive).left_out == ()

    monkeypatch.setattr("tracker.audit.blocks.stamp", lambda: "another form")
    made = bring_up_to_date(archive)

    assert [out.why.partition(".")[0] for out in made.left_out] == [
        "30 cases invented straight into tables of an earlier form"
    ]
    assert (made.invented, bring_up_to_date(archive).left_out) == (0, ())
