"""Answers: which cases they are about, what they say, and what they say when there is little to say."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date

import pytest

from audit_archives import SHIPPED, SMALL, USUAL, archive, write
from tracker.audit import engine, questions
from tracker.audit.answers import courses, lengths, order, theatre_lists, trust
from tracker.audit.answers.form import audit_of
from tracker.audit.engine import NoEngine, connected
from tracker.audit.population import Exclusion, Filters, population, rows, version_key
from tracker.audit.questions import Sessions
from tracker.audit.report import of_lists
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import FOLDER, bring_up_to_date
from tracker.journal.archive import Archive

EVERY = (
    trust.completeness,
    lambda audit: trust.completeness(audit, "circulating"),
    *(lambda audit, of=of: lengths.lengths(audit, of) for of in ("case", "stage", "step")),
    *(lambda audit, by=by: lengths.compared(audit, by) for by in ("operator", "anaesthetic", "pvr_c")),
    lambda audit: lengths.compared(audit, "anaesthetic", "stage", "work"),
    lengths.drivers,
    lambda audit: lengths.drivers(audit, step="core"),
    lengths.variance,
    theatre_lists.starts,
    theatre_lists.gaps,
    theatre_lists.times_in_theatre,
    theatre_lists.use,
    theatre_lists.booked,
    lambda audit: courses.learning(audit, "fellow"),
    courses.course,
    lambda audit: courses.course(audit, stage="work"),
    courses.shift,
    lambda audit: courses.shift(audit, step="core"),
    lambda audit: courses.rare(audit, "complication"),
    order.deviations,
    order.inversions,
    order.precedence,
    order.clocks,
    order.unmatched,
)
"""Every answer there is."""

OF_ALL = ("starts", "gaps", "use")
"""Those that are about lists, and so about all cases, ended or not."""

OPEN = "\n".join(USUAL.splitlines()[:6])
STOPPED = USUAL.replace(
    "09:30:00 tick out_theatre", "09:21:00 stop_early equipment\n 09:30:00 tick out_theatre"
)


def told(folder, ask, filters=None):
    """What `ask` says of the archive in a folder."""
    made = bring_up_to_date(Archive(folder))
    with connected(made.folder) as tables:
        return ask(audit_of(tables, made.folder, filters))


def whole(folder, filters=None):
    """Every answer about the archive in a folder, and the population they are about."""
    return told(folder, lambda audit: (audit.population, [ask(audit) for ask in EVERY]), filters)


# -- the population


def test_every_case_left_out_is_counted_under_its_first_reason(tmp_path):
    """Six cases: another version, two open, one stopped early, one of another anaesthetic, one left."""
    write(tmp_path, "A-0001")
    write(tmp_path, "A-0002", version="2")
    write(tmp_path, "A-0003", OPEN)
    write(tmp_path, "A-0004", OPEN)
    write(tmp_path, "A-0005", STOPPED)
    write(tmp_path, "A-0006", USUAL.replace("anaesthetic=block", "anaesthetic=general"))
    wanted = Filters("small-repair", "1", "1", facts={"anaesthetic": ["block"]})

    held = told(tmp_path, lambda audit: audit.population, wanted)

    assert (held.n, held.of, held.invented) == (1, 6, False)
    assert held.exclusions == (
        Exclusion("of another version", 1),
        Exclusion("without an end", 2),
        Exclusion("stopped early", 1),
        Exclusion("with another anaesthetic than block", 1),
    )
    assert held.sentence.startswith("1 of 6 cases; left out: 1 of another version; 2 without an end")


@pytest.mark.parametrize(
    ("filters", "n"),
    [
        (Filters(first_day=date(2026, 3, 2), last_day=date(2026, 3, 2)), 1),
        (Filters(first_day=date(2026, 3, 3)), 1),
        (Filters(last_day=date(2026, 3, 1)), 0),
        (Filters(protocol="another"), 0),
        (Filters(facts={"planned_minutes": ["45"]}), 2),
        (Filters(facts={"no_such_fact": ["x"]}), 0),
        (Filters(facts={"pvr_c": ["yes"]}), 2),
        (Filters(facts={"pvr_c": ["no"]}), 0),
        (Filters(facts={"ending": ["usual"], "anaesthetic": ["block", "general"]}), 2),
    ],
)
def test_filters_keep_the_cases_they_say(tmp_path, filters, n):
    """Two cases, on 2 and 3 March; days count with both ends, facts by their text."""
    write(tmp_path, "A-0001")
    write(tmp_path, "A-0002", f"day 2026-03-03\n{USUAL}")

    assert told(tmp_path, lambda audit: audit.population.n, filters) == n


def test_a_fact_that_a_case_has_not_is_not_called_another(tmp_path):
    """Nothing is known of the lens of the small file's cases; of their anaesthetic it is."""
    archive(tmp_path, "A-0001", "A-0002")

    lens = told(tmp_path, lambda audit: audit.population, Filters(facts={"lens": ["phakic"]}))
    general = told(tmp_path, lambda audit: audit.population, Filters(facts={"anaesthetic": ["general"]}))

    assert lens.exclusions == (Exclusion("of unknown lens", 2),)
    assert general.exclusions == (Exclusion("with another anaesthetic than general", 2),)


def test_versions_go_by_their_numbers():
    """2026.10 comes after 2026.9, and a letter after a number."""
    assert version_key("2026.9") < version_key("2026.10") < version_key("2026.a")


def test_invented_cases_do_not_count_beside_real_ones(tmp_path):
    """Alone they are the population and it says so; beside a real case they are left out, and counted."""
    write(tmp_path, "A-0001", USUAL.replace("08:30:00 open", "08:30:00 open invented=true"))
    alone = told(tmp_path, lambda audit: audit.population)
    write(tmp_path, "A-0002")
    beside = told(tmp_path, lambda audit: audit.population)

    assert (alone.n, alone.invented) == (1, True)
    assert "invented" in alone.sentence
    assert (beside.n, beside.invented, beside.exclusions) == (1, False, (Exclusion("invented", 1),))


# -- archives with little in them


def _nothing(folder):
    return None


def _one(folder):
    write(folder, "A-0001")


def _all_open(folder):
    for n in range(1, 7):
        write(folder, f"A-000{n}", OPEN)


def _mixed(folder):
    for n in range(1, 9):
        write(folder, f"A-000{n}", version=f"{n % 3}")


def _unlogged(folder):
    story = "\n".join(line for line in USUAL.splitlines() if "peel" not in line and "core" not in line)
    for n in range(1, 7):
        write(folder, f"A-000{n}", story)


@pytest.mark.parametrize("made", [_nothing, _one, _all_open, _mixed, _unlogged])
def test_every_answer_is_a_sentence_or_a_figure_whatever_there_is(tmp_path, made):
    """An empty archive, one case, all open, versions mixed, a stage nobody logged: no answer raises."""
    made(tmp_path)

    held, answers = whole(tmp_path)

    for each in answers:
        assert each.asks.endswith("?")
        assert each.definition.strip().endswith(".")
        assert "\n" not in each.definition
        assert each.n == (0 if each.key == "learning" else held.of if each.key in OF_ALL else held.n)
    if made is _nothing:
        assert {each.refused for each in answers} == {"no case to answer from: 0 of 0 cases"}
    if made is _all_open:
        sentence = "no case to answer from: 0 of 6 cases; left out: 6 without an end"
        assert {each.refused for each in answers if each.key not in OF_ALL} == {sentence}
        assert all(each.refused.startswith("too few: ") for each in answers if each.key in OF_ALL)


def test_a_stage_nobody_logged_has_no_length_and_all_missing(tmp_path):
    """Six cases asked for the stage of work and none has a span: n 0, missing 6, and why."""
    _unlogged(tmp_path)

    (row,) = told(tmp_path, lambda audit: lengths.lengths(audit, "stage").result[:1])

    assert (row.ident, row.label) == ("work", "Work")
    assert (row.summary.n, row.summary.missing, row.summary.median) == (0, 6, None)
    assert row.summary.refused == "too few: 0 cases, at least 5 needed"


def test_a_stage_that_no_case_asked_for_is_told_too(tmp_path):
    """The lens stage is in the file and in no case: nothing missing, nothing there."""
    _mixed(tmp_path)

    found = {row.ident: row.summary for row in told(tmp_path, lambda a: lengths.lengths(a, "stage")).result}

    assert (found["lens"].n, found["lens"].missing) == (0, 0)
    assert found["lens"].refused


def test_mixed_versions_are_listed_with_their_cases(tmp_path):
    """Eight cases by three versions; labels are those of the commonest."""
    _mixed(tmp_path)

    audit = told(tmp_path, lambda audit: audit)

    assert [(v.version, v.n) for v in audit.versions] == [("1", 3), ("2", 3), ("0", 2)]
    assert audit.protocol.version == "1"
    assert (audit.label("peel"), audit.label("unheard_of")) == ("Peel", "unheard_of")


# -- figures


@pytest.fixture(scope="module")
def six(tmp_path_factory):
    """Six cases of one theatre, two lists of three: gaps of 20 and 80 min, first starts 10 and 40 late."""
    folder = tmp_path_factory.mktemp("six")
    for day, late in ((2, 10), (3, 40)):
        start = 510 + late
        for place, gap in enumerate((0, 20, 80)):
            start += gap
            write(folder, f"A-00{day}{place}", _case(day, start, peel=10 + 10 * place))
            start += 60
    return folder


def _case(day, start, peel, began="", left=""):
    """A case of an hour in theatre; core 5 minutes, peel as said."""

    def at(minute):
        return f"{(start + minute) // 60:02d}:{(start + minute) % 60:02d}:00"

    return f"""
        day 2026-03-0{day}
        {at(-10)} open
        {at(-9)} facts anaesthetic=block planned_minutes=50
        {at(0)} {began} tick patient_in
        {at(2)} start core
        {at(7)} stop core
        {at(8)} start peel
        {at(8 + peel)} stop peel
        {at(60)} {left} tick out_theatre
    """


def test_lengths_are_quantiles_of_type_7_with_their_n(six):
    """Peel took 10, 20, 30 twice: median 20, quartiles 12.5 and 27.5 (numpy's default, type 7)."""
    found = {row.ident: row.summary for row in told(six, lambda audit: lengths.lengths(audit, "step")).result}
    peel = found["peel"]

    assert (peel.n, peel.missing, peel.late) == (6, 0, 0)
    assert (peel.median, peel.p25, peel.p75) == (20, 12.5, 27.5)
    assert (peel.p10, peel.p90) == (10, 30)


def test_a_step_begun_by_a_wrong_key_is_not_missing(tmp_path):
    """Six cases: in one the lens, which is optional, was begun and struck, in one the core, which is asked for."""
    lens = USUAL.replace(
        "09:20:00 stop peel", "09:20:00 stop peel\n 09:21:00 start lens_out\n 09:22:00 strike 12"
    )
    core = f"{USUAL} 09:31:00 strike 4\n 09:31:00 strike 5"
    for n, story in enumerate((lens, core, *[USUAL] * 4), start=1):
        write(tmp_path, f"A-000{n}", story)

    found = {
        row.ident: row.summary for row in told(tmp_path, lambda audit: lengths.lengths(audit, "step")).result
    }

    assert (found["lens_out"].n, found["lens_out"].missing) == (0, 0)
    assert (found["core"].n, found["core"].missing) == (5, 1)


def test_first_starts_and_gaps_are_of_their_session(six):
    """Starts 10 and 40 minutes late; gaps of 20 twice, 80 twice, which are breaks."""
    starts, gaps = told(six, lambda audit: (theatre_lists.starts(audit), theatre_lists.gaps(audit)))

    assert starts.result.patient_in.n == 2
    assert starts.refused == "too few: 2 cases, at least 5 needed"
    assert (gaps.result.turnover.n, gaps.result.turnover.breaks) == (2, 2)
    assert starts.definition.startswith("Minutes from the planned start of a session (08:30)")


def test_a_case_belongs_to_the_session_that_had_begun(six):
    """With an afternoon session from 11:50, the third case of each list is its first."""
    asked = Sessions(starts=(510.0, 710.0), length=200.0)

    starts = told(six, lambda audit: theatre_lists.starts(replace(audit, sessions=asked)))

    assert starts.result.patient_in.n == 4
    assert "(08:30, 11:50)" in starts.definition


def test_what_comes_after_hours_is_on_no_list(tmp_path):
    """Each of five days: a list of one case, out at 09:30, then two from 20:00 on, the booked block over at 16:30."""
    for day in range(2, 7):
        for place, start in enumerate((510, 1200, 1270)):
            write(tmp_path, f"A-00{day}{place}", _case(day, start, peel=10))
    write(tmp_path, "A-0080", _case(8, 1200, peel=10))

    def asked(audit):
        return theatre_lists.starts(audit), theatre_lists.gaps(audit), theatre_lists.use(audit)

    starts, gaps, use = told(tmp_path, asked)

    assert (starts.result.patient_in.n, starts.result.patient_in.delay.p90) == (5, 0)
    assert (gaps.result.turnover.n, gaps.result.turnover.breaks) == (0, 0)
    assert (use.result.n, use.result.overrun_minutes, use.result.early_minutes) == (5, 0, 5 * 420)
    assert all("; 11 on no list: before any session" in answer.definition for answer in (starts, gaps, use))


@pytest.fixture(scope="module")
def six_lists(tmp_path_factory):
    """Six lists of two cases 20 min apart; four cases late, two first and two second; the last has no end."""
    folder = tmp_path_factory.mktemp("six_lists")
    late = {2: ("+61", "+61"), 3: ("+61", "+60"), 4: ("+60", "+61")}
    for day in range(2, 8):
        began, left = late.get(day, ("", ""))
        write(folder, f"A-00{day}0", _case(day, 510, peel=10, began=began))
        second = _case(day, 590, peel=10, left=left)
        write(folder, f"A-00{day}1", second if day < 7 else second[: second.rindex("10:50")])
    return folder


@pytest.mark.parametrize(
    ("ask", "row", "rests_on"),
    [
        (of_lists.starts, "patient in", ("6", "0.0 %", "33.3 %")),  # 2 of 6 first cases
        (of_lists.gaps, "turnover", ("6", "0.0 %", "50.0 %")),  # days 2, 3 and 4: either case
        (of_lists.times_in_theatre, "in theatre", ("11", "0.0 %", "36.4 %")),  # 4 of 11, one has no end
        (of_lists.use, "as such", ("5", "16.7 %", "40.0 %")),  # 5 of 6 lists, 4 of their 10 cases
        (of_lists.booked, "within 15 min", ("11", "0.0 %", "36.4 %")),
    ],
)
def test_a_figure_of_lists_says_what_it_rests_on(six_lists, ask, row, rests_on):
    """Beside each figure its n, the share that is missing, and the share that rests on an entry over 60 s late."""
    (grid, *_) = told(six_lists, ask).grids

    assert grid.headings[1:4] == ("n", "missing", "late")
    assert {its[0]: its[1:4] for its in grid.rows}[row] == rests_on


def test_a_list_that_overruns_keeps_the_case_that_follows(tmp_path):
    """From 08:30 on without a break: the last case came in at 16:50, after the end, and is part of the list."""
    for place, start in enumerate((510, 600, 690, 780, 870, 940, 1010)):
        write(tmp_path, f"A-002{place}", _case(2, start, peel=10))

    placed = told(tmp_path, lambda audit: rows(questions.lists(audit.everyone.tables, audit.sessions)))

    assert [row["place"] for row in placed] == [1, 2, 3, 4, 5, 6, 7]


def test_what_is_asked_of_other_cases_says_their_n(tmp_path):
    """Of six cases five are of the population; lists are of all six, and a fellow began none of them."""
    for n in range(1, 7):
        write(tmp_path, f"A-000{n}", OPEN if n == 1 else USUAL)

    def asked(audit):
        return theatre_lists.booked(audit), theatre_lists.starts(audit), courses.learning(audit, "fellow")

    booked, starts, learning = told(tmp_path, asked)

    assert (booked.n, starts.n, learning.n) == (5, 6, 0)
    assert learning.refused.endswith("1 without an end; 5 not begun by the role fellow")


def test_a_cut_of_unknown_extent_is_not_nought(tmp_path, monkeypatch):
    """Of sixty invented cases with a cut some lose its extent: those leave the model of lengths."""
    synthesise(Archive(tmp_path), SHIPPED, 60, 2, as_journals=False)
    asked_of = questions.case_mix

    def forgotten(tables, most):
        mix = asked_of(tables, most)
        return mix.mutate(cut_hours=mix.code.right(1).isin(["1", "2"]).ifelse(None, mix.cut_hours))

    with connected(tmp_path / FOLDER) as tables:
        audit = audit_of(tables, tmp_path / FOLDER)
        cut = sum(r["retinectomy"] != "none" and r["code"][-1] in "12" for r in rows(audit.asked.cases))
        monkeypatch.setattr(questions, "case_mix", forgotten)
        found = lengths.drivers(audit).result

    assert 0 < cut == found.effects.dropped


def test_facts_that_are_alike_in_every_case_are_no_terms(six):
    """Six cases with the same facts: there is nothing to model their lengths on, and no number of cases is wanting."""
    assert told(six, lengths.drivers).refused == (
        "no term to go by: each is the same in every case, or unknown"
    )


def test_a_plan_draws_on_cases_with_the_same_facts(six):
    """Six cases of an hour are alike in one anaesthetic; another has none of its own, and six others."""

    def drawn(audit):
        minutes = theatre_lists.minutes_by_code(audit.asked)
        strata = {"anaesthetic": theatre_lists.strata_of(audit.asked, "anaesthetic")}
        facts = ({"anaesthetic": ["block"]}, {"anaesthetic": ["general"]})
        lengths_of = [theatre_lists.length_among("case", fact, minutes, strata) for fact in facts]
        placed = rows(questions.lists(audit.everyone.tables, audit.sessions))
        return *lengths_of, theatre_lists.turnover_from(placed), theatre_lists.delay_from(placed)

    same, other, gap, delay = told(six, drawn)

    assert (same.n, same.others) == (6, 0)
    assert (other.n, other.others) == (0, 6)
    assert gap.refused == "too few: 2 past values of turnover, at least 10 needed"
    assert delay.n == 2


def test_deviations_stand_apart_by_how_they_came_about(six):
    """Each case has core at the file's least and peel within it: no deviation, and a table without rows."""
    told_of = told(six, order.deviations)

    assert told_of.result == {}
    assert told_of.refused == ""


def test_a_step_before_what_it_needs_is_an_inversion(tmp_path):
    """In two cases of six the peel came before the core that the file puts first."""
    swapped = USUAL.replace("core", "x").replace("peel", "core").replace("x", "peel")
    for n in range(1, 7):
        write(tmp_path, f"A-000{n}", swapped if n < 3 else USUAL)

    (row,) = told(tmp_path, order.inversions).result
    matrix = told(tmp_path, order.precedence).result

    assert (row.inversion.sooner, row.inversion.later, row.inversion.n) == ("core", "peel", 6)
    assert (row.inversion.inverted, row.level) == (2, "order")
    core, peel = map(matrix.steps.index, ("core", "peel"))
    assert (matrix.first[core][peel], matrix.both[core][peel]) == (4, 6)


def test_each_case_is_held_against_its_own_file(tmp_path):
    """Of twelve cases seven went by a file that does not put core before peel: five have it, two inverted."""
    swapped = USUAL.replace("core", "x").replace("peel", "core").replace("x", "peel")
    free = '\n[[stages]]\nid = "more"\nlabel = "More"\n[[stages.steps]]\nid = "core_b"\nlabel = "Core"\n'
    other = SMALL.replace('step = "core", level', 'step = "core_b", level') + free
    for n in range(1, 13):
        of = {"text": SMALL} if n <= 5 else {"text": other}
        write(tmp_path, f"A-00{n:02d}", swapped if n in (1, 2, 6, 7, 8) else USUAL, **of)

    (row,) = told(tmp_path, order.inversions).result

    assert (row.inversion.sooner, row.inversion.later) == ("core", "peel")
    assert (row.inversion.n, row.inversion.inverted) == (5, 2)


def test_completeness_by_role_names_nobody(six):
    """One role opened all six journals; its logs are whole."""
    (row,) = told(six, lambda audit: trust.completeness(audit, "circulating")).result

    assert (row.group, row.n, row.spans_with_both_ends, row.required_steps) == ("runner", 6, 1, 1)
    assert (row.late, row.back_stamped, row.amendments_a_case) == (0, 0, 0)


def test_rare_events_are_of_all_cases_in_order(tmp_path):
    """One case of six with a complication: Wilson's interval of 1/6, four cases since."""
    for n in range(1, 7):
        story = USUAL.replace("09:20:00 stop peel", "09:20:00 stop peel\n 09:21:00 complication")
        write(tmp_path, f"A-000{n}", story if n == 2 else USUAL)

    rare = told(tmp_path, lambda audit: courses.rare(audit, "complication")).result

    assert (rare.rate.events, rare.rate.n, rare.gaps.since) == (1, 6, 4)


def test_groups_too_large_to_resample_have_medians_and_no_interval(six, monkeypatch):
    """The groups are still told, with the reason that stands in the place of the interval."""
    monkeypatch.setattr(lengths, "MOST_TO_RESAMPLE", 1)

    def parted(audit):
        return lengths.compared(audit, "planned_minutes").result

    assert [row.difference for row in told(six, parted)] == [None]


# -- engines that are not there


def test_without_java_spark_says_what_it_needs(tmp_path, monkeypatch):
    """No traceback of somebody else's: a sentence."""
    folder = bring_up_to_date(archive(tmp_path, "A-0001")).folder
    monkeypatch.setenv("PATH", os.fspath(tmp_path))
    monkeypatch.delenv("JAVA_HOME", raising=False)

    with pytest.raises(NoEngine, match="needs Java 17"), connected(folder, "spark"):
        pass


def test_a_cluster_that_does_not_start_is_named_in_a_sentence(tmp_path, monkeypatch):
    """A master that no Spark knows, or that cannot be reached."""

    def refuses(master):
        raise RuntimeError("Java gateway process exited before sending its port number")

    monkeypatch.setattr(engine, "_session", refuses)

    with (
        pytest.raises(NoEngine, match=r"Apache Spark at bogus://x did not start \(RuntimeError\)\."),
        connected(tmp_path, "spark", "bogus://x"),
    ):
        pass


def test_a_folder_with_odd_letters_is_read_as_it_is_named(tmp_path):
    """Brackets, stars and blanks in a folder's name are letters, not patterns."""
    odd = tmp_path / "a [b] c*d 'e'"
    write(odd, "A-0001")

    assert told(odd, lambda audit: audit.population.n) == 1


def test_asking_twice_gives_the_same(six):
    """A report is reproducible from its files."""
    made = bring_up_to_date(Archive(six))
    with connected(made.folder) as tables:
        first = population(tables)
        second = population(tables)

    assert (first.n, first.exclusions) == (second.n, second.exclusions)
