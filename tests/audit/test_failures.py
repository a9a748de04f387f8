"""Failures after one operation, case by case: what counts, in which order, and what is never told."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from audit_archives import SHIPPED, USUAL, follow, write
from audit_reports import audited
from tracker.audit.answers import eyes, failures
from tracker.audit.answers.failures import Failures
from tracker.audit.answers.form import Answer
from tracker.audit.conventions import shipped
from tracker.audit.invented.truth import Truth
from tracker.audit.outcomes import Shares
from tracker.audit.population import Filters
from tracker.audit.report import of_failures
from tracker.audit.report.charts import specification
from tracker.audit.report.drawn import draw
from tracker.audit.report.sheet import Run
from tracker.audit.statistics.cusum import outcome_cusum, weights
from tracker.audit.statistics.rates import rate
from tracker.audit.synthesis import synthesise
from tracker.audit.worker import Worker
from tracker.cli import main
from tracker.journal.archive import Archive

SEEN = {"days": 91}
YES, NO = SEEN | {"attached": "yes"}, SEEN | {"attached": "no"}
LATE = {"days": 500}
"""A visit by which every window has closed."""
EVERY = Filters(completed=False)


def cases(folder, *books):
    """An archive with a case for each of these books of visits, in this order; all windows have closed."""
    for n, visits in enumerate(books, start=1):
        write(folder, f"A-{n:04d}")
        if visits:
            follow(folder, f"A-{n:04d}", *visits)
    write(folder, "A-9999")
    follow(folder, "A-9999", LATE)
    return Archive(folder)


def found(archive, **given):
    """What the question comes to."""
    with audited(archive, EVERY) as audit:
        return failures.failures(replace(audit, **given)).result


def sheet_of(archive):
    """How it is told."""
    with audited(archive, EVERY) as audit:
        return of_failures.failures(audit)


def cells(sheet, title):
    """The row of a table by its headings."""
    grid = next(g for g in sheet.grids if g.title == title)
    return dict(zip(grid.headings, grid.rows[0], strict=True))


# -- what counts


def test_success_is_attached_without_a_further_operation_and_all_else_told_is_a_failure(tmp_path):
    """Partly attached, detached, and attached after a second operation are failures; oil in and a cataract are none."""
    books = [
        [YES], [SEEN | {"attached": "partly"}], [NO], [YES | {"operation": "detachment"}],
        [YES | {"operation": "other"}], [YES | {"oil": "in"}],
    ]  # fmt: skip

    assert found(cases(tmp_path, *books)).failed == (False, True, True, True, False, False)


def test_an_operation_after_the_window_takes_no_success_away(tmp_path):
    """The outcome is that of three months."""
    later = {"days": 200, "attached": "no", "operation": "detachment"}

    assert found(cases(tmp_path, [YES, later])).failed == (False,)


def test_due_but_untold_is_missing(tmp_path):
    """Not seen, seen without a word of the retina, and unknown are of no outcome; the last case is one of them."""
    told = found(cases(tmp_path, *[[YES]] * 5, [], [SEEN], [SEEN | {"attached": "unknown"}]))

    assert told.failed == (False,) * 5
    assert told.missing == 4 / 9


def test_who_is_not_due_yet_counts_nowhere(tmp_path):
    """By day 100 no window of three months has closed."""
    for n in range(1, 7):
        write(tmp_path, f"A-{n:04d}")
        follow(tmp_path, f"A-{n:04d}", YES, {"days": 100})
    told = found(Archive(tmp_path))

    assert (told.failed, told.missing) == ((), None)


def test_cases_count_in_order_of_operation(tmp_path):
    """Not of their codes: the last code was operated on first, and failed."""
    for code, day, visit in (("A-0001", 4, YES), ("A-0002", 3, YES), ("A-0003", 2, NO)):
        write(tmp_path, code, f"day 2026-03-0{day}\n{USUAL}")
        follow(tmp_path, code, visit, LATE)

    assert found(Archive(tmp_path)).failed == (True, False, False)


def test_fewer_than_five_are_refused(tmp_path):
    """Five is the least, and is said; four are told as few."""
    (tmp_path / "five").mkdir()
    few, enough = sheet_of(cases(tmp_path, *[[NO]] * 4)), sheet_of(cases(tmp_path / "five", *[[NO]] * 5))

    assert few.refused == "too few: <5 cases with a visit that tells it, at least 5 needed"
    assert not (few.grids or few.drawings or few.remarks)
    assert "from 5 on" in few.definition
    assert enough.refused == ""


def test_an_archive_without_cases_is_refused(tmp_path):
    """No case, no figure, no traceback."""
    assert sheet_of(Archive(tmp_path)).refused


# -- a truth that is found again


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    """A thousand invented cases straight to tables, a quarter of which fail."""
    archive = Archive(tmp_path_factory.mktemp("failures"))
    synthesise(archive, SHIPPED, 1000, 9, Truth(), as_journals=False)
    return archive


def test_the_counts_are_those_of_reattachment(invented):
    """As many are told, missing and attached after one operation as at three months there."""
    with audited(invented, EVERY) as audit:
        told, window = failures.failures(audit).result, eyes.reattachment(audit).result.windows[0]

    assert told.rate.n == window.n > 800
    assert told.rate.n - told.rate.events == window.once.events
    assert told.missing == window.missing


def test_a_quarter_that_fails_signals_where_a_seventh_is_expected(invented):
    """Of 1,000 cases 25 % fail: beyond the limit soon where 14 % were expected, seldom where 25 % were."""
    usual = found(invented)
    true = found(invented, failures=Shares(0.25, 0.5))

    assert usual.sums.reached[0] < 5 * usual.if_noticed
    assert len(usual.sums.reached) > 0.8 * usual.rate.n
    assert len(true.sums.reached) < 0.05 * true.rate.n


def test_the_sheet_says_what_it_rests_on(invented):
    """Counts, expected, both shares, both weights, the limit and how far it runs by chance."""
    sheet = sheet_of(invented)
    told = cells(sheet, "Failures after one operation")
    set_by = dict(next(g for g in sheet.grids if g.title == "Weights and limit").rows)

    assert float(told["expected"]) == pytest.approx(0.14 * int(told["n"]), abs=0.05)
    assert list(set_by.values()) == ["14.0 %", "28.0 %", "+0.693", "-0.178", "2.92", "400", "35"]
    assert "here h is 2.92, and the average 400 cases" in sheet.definition
    assert any("a department must type its own" in remark for remark in sheet.remarks)
    assert sheet.remarks[-1] == "A signal asks for a look at those cases and says no more."


def test_words_are_neutral(invented):
    """Nobody is blamed, nothing is prescribed."""
    sheet = sheet_of(invented)
    words = " ".join((sheet.asks, sheet.definition, *sheet.remarks, *(g.title for g in sheet.grids)))

    assert not re.search(
        r"\b(error|alarm|score|recommend\w*|warning|surgeon|operator)\b", words, re.IGNORECASE
    )


# -- what is never told


def answering(monkeypatch, failed):
    """Let the question come to these outcomes."""
    its = weights(0.14, 0.28)
    sums = outcome_cusum(failed, its, 2.92)
    result = Failures(
        tuple(failed), rate(sum(failed), len(failed)), 0.0, Shares(), its, 2.92, 400.0, 35.0, sums
    )
    told = Answer("failures", "?", "", len(failed), 0.0, 0.0, "", result)
    monkeypatch.setattr(failures, "failures", lambda _audit: told)


def told_of(monkeypatch, failed):
    """The sheet of these outcomes."""
    answering(monkeypatch, failed)
    return of_failures.failures(None)


@pytest.mark.parametrize(("failing", "of", "said"), [(4, 30, "<5"), (26, 30, "all but <5"), (1, 5, "<5")])
def test_few_failures_or_successes_are_not_drawn(monkeypatch, failing, of, said):
    """Each step of a sum tells one; so its signals are left out too, and that is said."""
    sheet = told_of(monkeypatch, [True] * failing + [False] * (of - failing))
    outcomes, signals = (
        cells(sheet, "Failures after one operation"),
        cells(sheet, "Signals by the stated rule"),
    )

    assert (outcomes["failures"], outcomes["share"], outcomes["95 % interval"]) == (said, "-", "-")
    assert list(signals.values())[1:] == ["-", "-"]
    assert sheet.drawings == ()
    assert any("it is left out with its signals" in remark for remark in sheet.remarks)


@pytest.mark.parametrize(("failing", "of"), [(0, 30), (5, 30), (25, 30), (30, 30)])
def test_none_all_and_five_are_drawn(monkeypatch, failing, of):
    """A point a case, without its code."""
    sheet = told_of(monkeypatch, [True] * failing + [False] * (of - failing))

    assert len(sheet.drawings[0].values) == of
    assert cells(sheet, "Signals by the stated rule")["points signalling"] != "-"


def test_a_long_run_is_drawn_from_where_those_before_are_not_few(monkeypatch):
    """Of 503 cases the first 3, or their failures, would follow from the table less what is drawn."""
    sheet = told_of(monkeypatch, ([True] + [False] * 6) * 71 + [True] * 6)
    (run,) = sheet.drawings
    failed = sum(step > 0 for step in (b - a for a, b in zip(run.values, run.values[1:], strict=False)))
    before = 503 - len(run.values)

    assert before == 29  # the fifth failure is the 29th case
    assert failed >= 5
    assert any("drawn from point 30 on" in remark for remark in sheet.remarks)


def test_places_of_a_long_run_are_those_of_what_is_drawn(monkeypatch):
    """The table counts from the first case; the drawing marks the same points."""
    sheet = told_of(monkeypatch, [False] * 600 + [True] * 5)
    (run,) = sheet.drawings

    assert [run.values[place] > 2.92 for place in run.outside] == [True]
    assert cells(sheet, "Signals by the stated rule")["first at point"] == "605"


# -- a drawing with one limit


def test_a_sum_has_no_lower_limit():
    """Its floor is its centre, and is named once."""
    run = Run("Sum", "sum of weights", (0.0, 0.69, 0.52), 0.0, None, 2.92, ())
    held = [row for rows in specification(run)["datasets"].values() for row in rows]
    levels = {row["level"]: row["sum of weights"] for row in held if "level" in row}
    lines = ["".join(piece for piece, _ in line) for line in draw(run, 40, 10)]

    assert levels == {"centre": 0.0, "upper limit": 2.92}
    assert sum("......" in line for line in lines) == 1
    assert any(line.strip().startswith("2.92 ....") for line in lines)


# -- what the department types


@pytest.mark.parametrize(
    "words", ["0", "0.5", "1", "0.3,0.2", "0.2,0.2", "0.2,1", "nan", "0,14", "14 %", "", "0.1,"]
)
def test_shares_that_cannot_be_are_refused_in_a_sentence(tmp_path, capsys, words):
    """Exit code 2, and what is wanted on standard error."""
    code = main(["--archive", str(tmp_path), "audit", "--question", "failures", f"--failures={words}"])
    told = capsys.readouterr()

    assert (code, told.out) == (2, "")
    assert "--failures takes the share expected and the share to be noticed" in told.err


def test_typed_shares_are_asked_with(invented, capsys):
    """At the door, and in the screen's worker; what is said of the usual ones is gone."""
    assert (
        main(
            ["--archive", str(invented.folder), "audit", "--question", "failures", "--failures", "0.2, 0.35"]
        )
        == 0
    )
    text = capsys.readouterr().out
    with Worker(invented.folder / "tables", shipped(), failures=Shares(0.2, 0.35)) as worker:
        sheet = worker.ask(Filters(), "failures").result().sheet

    assert re.search(r"expected +20.0 %", text)
    assert re.search(r"noticed +35.0 %", text)
    assert "must type its own" not in text
    assert dict(next(g for g in sheet.grids if g.title == "Weights and limit").rows)["limit h"] == "2.95"


def test_the_second_share_is_twice_the_first_unless_told(invented, capsys):
    """One share is enough."""
    main(["--archive", str(invented.folder), "audit", "--question", "failures", "--failures", "0.2"])

    assert re.search(r"noticed +40.0 %", capsys.readouterr().out)
