"""`clockhour plan` at the door: what a list rests on, when it may end, what would change it."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from audit_archives import SHIPPED, USUAL, archive, write
from audit_reports import invented
from story import events_of
from tracker.audit.planning import PlannedCase, PlannedList, forecast_list, leave_out, try_orders
from tracker.audit.plans import Plan, notes
from tracker.audit.statistics.lengths import typed_in
from tracker.audit.synthesis import synthesise
from tracker.cli import main
from tracker.journal.archive import Archive
from tracker.journal.files import Journal


def plan(folder, capsys, *words):
    """Run a plan: exit code, what it printed, what it said."""
    code = main(["--archive", str(folder), "plan", *words])
    told = capsys.readouterr()
    return code, told.out, told.err


def plan_json(folder, capsys, *words):
    """Run a plan as JSON."""
    return json.loads(plan(folder, capsys, *words, "--json")[1])


TWO = ("complex-pvr", "complex-pvr", "--session", "480")


def test_a_plan_in_words(many, capsys):
    """The end of the list stands beside the sum of medians, with n, basis, seed and what changes it."""
    code, told, _ = plan(many.folder, capsys, *TWO)

    assert code == 0
    for words in ("sum of medians", "p80", "p90", "P(after 480 min)", "past cases, resampled", "seed 12"):
        assert words in told
    assert "What would change it" in told
    assert "a late start" in told
    assert "All orders were tried" in told
    assert "invented" in told


def test_the_parts_agree(many, capsys):
    """Median below p80 below p90; without a case the list ends sooner; the seed repeats it all."""
    once, again = (plan_json(many.folder, capsys, *TWO, "--seed", "5") for _ in range(2))
    end = once["forecast"]

    assert once == again
    assert end["seed"] == 5
    assert end["draws"] >= 10_000
    assert end["median"] < end["p80"] < end["p90"]
    assert all(change["median_change"] < 0 for change in once["changes"])
    # Lengths are skewed to the right: the median of a sum is above the sum of the medians.
    assert end["median"] > end["sum_of_medians"]


def test_facts_choose_what_is_comparable(many, capsys):
    """Facts given once a case hold for that case; few comparable cases are drawn towards the rest."""
    told = plan_json(many.folder, capsys, *TWO, "--facts", "anaesthetic=general", "--facts", "lens=phakic")
    general, phakic = told["cases"]

    assert general["label"] == "1 complex-pvr (anaesthetic general)"
    assert general["n"] + general["others"] == phakic["n"] + phakic["others"]
    assert general["n"] < phakic["n"] + phakic["others"]


def afternoons(folder, cases):
    """Cases on a day each, whose patient came in at 13:10 and was out after 50 minutes and more."""
    first, *_ = Archive(folder).read(archive(folder, "AB-0001").codes()[0]).events
    for n in range(2, cases + 2):
        told = events_of(USUAL.replace("09:30:00 tick", f"09:{30 + n}:00 tick"))
        later = timedelta(days=n, hours=4, minutes=30)
        with Journal.create(folder, f"AB-{n:04d}") as journal:
            for event in (first.model_copy(update={"code": f"AB-{n:04d}"}), *told[1:]):
                moved = {"at": event.at + later, "entered_at": event.entered_at + later}
                journal.append(event.model_copy(update=moved))


def test_facts_that_hardly_any_past_case_has_are_said_to_tell_little(many, capsys):
    """Where fewer than five past cases have the facts of a case, the plan says that others speak for it."""
    rare = plan_json(many.folder, capsys, *TWO, "--facts", "", "--facts", "pvr_grade=CA12")
    usual = plan_json(many.folder, capsys, *TWO, "--facts", "anaesthetic=general")

    assert any("Fewer than 5 past cases have the facts of 2:" in said for said in rare["remarks"])
    assert not any("Fewer than 5" in said for said in usual["remarks"])


def test_a_late_start_is_late_for_its_own_list(tmp_path, capsys):
    """Cases of a list that begins at 13:00 are ten minutes late for that, and not hours for one in the morning."""
    afternoons(tmp_path, 12)
    morning, both = (
        plan_json(tmp_path, capsys, "small-repair", "--session", "240", "--lists", lists)
        for lists in ("08:30", "08:30,13:00")
    )

    assert morning["forecast"]["median"] - both["forecast"]["median"] == pytest.approx(270, abs=1)
    assert "of lists that begin at 08:30, 13:00" in " ".join(both["remarks"])


def test_a_turnover_that_is_typed_in(many, capsys):
    """A typed turnover stands in place of the past ones, and is said to be typed."""
    short = plan_json(many.folder, capsys, *TWO, "--turnover", "5", "--on-time")
    long = plan_json(many.folder, capsys, *TWO, "--turnover", "50", "--on-time")

    assert 40 < long["forecast"]["median"] - short["forecast"]["median"] < 50
    assert any("typed in: median 5 min" in remark for remark in short["remarks"])
    assert any("begin on time" in remark for remark in short["remarks"])


def test_too_few(tmp_path, capsys):
    """With one past case, or none, there is no forecast but a sentence."""
    archive(tmp_path, "AB-0001")
    code, told, _ = plan(tmp_path, capsys, "small-repair", "complex-pvr", "--session", "240")

    assert code == 0
    assert "n too small" in told
    assert "No forecast: too few" in told
    assert "--turnover MIN" in told
    assert plan(tmp_path / "nowhere", capsys, "complex-pvr", "--session", "240")[0] == 0


NOBODY = "Neither the file of complex-pvr nor a past case of it has a case fact weather."


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("complex-pvr", "--session", "0"), "minutes above 0"),
        (("complex-pvr", "--session", "-5"), "minutes above 0"),
        (("complex-pvr", "--session", "nan"), "minutes above 0"),
        (("complex-pvr", "--session", "inf"), "minutes above 0"),
        ((*TWO, "--turnover", "nan"), "minutes above 0"),
        ((*TWO, "--seed", "-1"), "whole number from 0"),
        ((*TWO, "--lists", "half past eight"), "no time of the day"),
        ((*TWO, "--facts", "eye=left", "--facts", "eye=left", "--facts", "eye=left"), "once for each"),
        (("vitrectomy-of-ours", "--session", "240"), "no protocol vitrectomy-of-ours"),
        ((*TWO, "--facts", "weather=fine"), NOBODY),
        ((*TWO, "--facts", "anaesthetic=genral"), "it is block or block_sedation or general"),
        ((*TWO, "--facts", "axial_length=300"), "it is a number from 18 to 36 mm"),
        ((*TWO, "--facts", "axial_length=long"), "it is a number from 18 to 36 mm"),
        ((*TWO, "--facts", "pvr_grade=D1"), "a grade as A, B or CP3-CA2"),
        ((*TWO, "--facts", "video_consent=perhaps"), "it is yes or no"),
        ((*TWO, "--facts", "general=perhaps"), "it is no, yes"),
    ],
)
def test_what_cannot_be_planned(many, capsys, words, sentence):
    """What no clock, file or past case knows is refused in words, never planned as if it had been said."""
    code, told, said = plan(many.folder, capsys, *words)

    assert code == 2
    assert not told
    assert sentence in said


def test_a_fact_is_read_as_it_is_recorded(many, capsys):
    """A grade in small letters and a whole number with a point choose the cases that the tables hold."""
    told = plan_json(many.folder, capsys, *TWO, "--facts", "pvr_grade=cp3", "--facts", "axial_length=24.0")
    plain = plan_json(many.folder, capsys, *TWO, "--facts", "pvr_grade=CP3", "--facts", "axial_length=24")

    assert [case["n"] for case in told["cases"]] == [case["n"] for case in plain["cases"]]
    assert all(case["n"] for case in told["cases"])


def test_a_protocol_of_the_past_needs_no_file(tmp_path, capsys):
    """Cases whose protocol is on no shelf any more are planned by its id, with the facts that they have."""
    archive(tmp_path, *(f"AB-{n:04d}" for n in range(1, 7)))
    words = ("small-repair", "--session", "240", "--facts")

    assert plan(tmp_path, capsys, *words, "anaesthetic=block")[0] == 0
    code, _, said = plan(tmp_path, capsys, *words, "anaesthetic=general")
    assert (code, "cannot be general: it is block" in said) == (2, True)


def test_a_protocol_file_that_cannot_be_read(many, tmp_path, capsys):
    """A file with findings says them, and is not planned as a protocol that nobody has done yet."""
    (tmp_path / "ours.toml").write_text("format = [", "utf-8")
    code, _, said = plan(many.folder, capsys, str(tmp_path / "ours.toml"), "--session", "240")

    assert code == 2
    assert "ours.toml:1" in said


def test_cases_without_a_length_are_counted(tmp_path, capsys):
    """A past case in which patient in was not logged has no length, and the plan says how many there are."""
    archive(tmp_path, *(f"AB-{n:04d}" for n in range(1, 6)))
    write(tmp_path, "AB-0006", USUAL.replace("08:40:00 tick patient_in", "08:40:00 note words"))
    told = plan_json(tmp_path, capsys, "small-repair", "--session", "240")

    assert told["cases"][0]["n"] == 5
    assert "1 of them without a length" in told["population"][0]


SHORT = SHIPPED.replace('id = "complex-pvr"', 'id = "short-list"', 1)


def test_turnovers_of_a_protocol_make_the_order_matter(tmp_path, capsys):
    """Where turnovers before cases of one protocol are others than before another's, an order has its own end."""
    held = invented(tmp_path, 320)
    synthesise(held, SHORT, 320, 4, as_journals=False)
    words = ("complex-pvr", "short-list", "--session", "420")
    told = plan_json(tmp_path, capsys, *words)
    one = plan_json(tmp_path, capsys, *words[:1], *words[2:])

    assert not told["orders"]["end_unchanged"]
    assert sum("past ones before cases of" in remark for remark in told["remarks"]) == 2
    assert [name in plan(tmp_path, capsys, *words)[1] for name in ("end, median", "P(overrun)")] == [
        True,
        True,
    ]
    assert one["orders"]["end_unchanged"]
    assert plan_json(tmp_path, capsys, *words, "--turnover", "20")["orders"]["end_unchanged"]


def noted(*gaps):
    """What is said of a list of two cases with these turnovers before them, in minutes."""
    lengths = [typed_in("1 case", 90, 0.2), typed_in("2 case", 60, 0.2)]
    before = [typed_in(f"turnover {minutes}", minutes, 0.2) for minutes in gaps]
    planned = PlannedList(tuple(map(PlannedCase, lengths, before)), 240, before[0])
    orders = try_orders(planned)
    return " ".join(notes(Plan(planned, forecast_list(planned), leave_out(planned), orders, (), ())))


def test_the_order_that_ends_soonest_is_named():
    """The case with the long turnover before it is best first, where it needs none; a small difference is said."""
    assert "turnovers differ, so that the list ends soonest in the order 2 1" in noted(15, 45)
    assert "the order changes the end of the list by less than a minute" in noted(15, 15.2)


def test_few_turnovers_of_a_protocol_are_those_before_any_case(tmp_path, capsys):
    """With fewer than thirty turnovers of its own a protocol is given those before any case."""
    told = plan_json(invented(tmp_path, 40).folder, capsys, *TWO)

    assert any("past ones before any case" in remark for remark in told["remarks"])


def test_what_changes_it_most_is_said(many, capsys):
    """The removal that changes the list most is named in words, two that are alike both."""
    words = ("complex-pvr", "complex-pvr", "--session", "360", "--facts")
    _, told, _ = plan(many.folder, capsys, *words, "anaesthetic=general", "--facts", "anaesthetic=block")
    _, twins, _ = plan(many.folder, capsys, *words, "")

    told, twins = (" ".join(text.split()) for text in (told, twins))
    assert "What changes it most: without 1 complex-pvr (anaesthetic general), end" in told
    assert "without 1 complex-pvr or 2 complex-pvr, end" in twins or "without 2 complex-pvr or 1" in twins
    assert "on 20,000 draws" in told
