"""`clockhour audit` and `archive synthesise` at the door: text, refusals, and archives with little in them."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest

from audit_archives import ROOT, SMALL, USUAL, archive, write
from tracker.audit.columns import TABLES, columns
from tracker.audit.keys import COMMANDS
from tracker.audit.report import flat
from tracker.audit.report.book import QUESTIONS
from tracker.cli import main
from tracker.screen.commands import keys_of

OPEN = "\n".join(USUAL.splitlines()[:-2])
LENGTHS = ["--question", "case_lengths", "--question", "stage_lengths"]


def ask(folder, capsys, *words):
    """Run one command on an archive: exit code, what it printed, what it said."""
    code = main(["--archive", str(folder), *words])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_population_comes_first_and_every_question_defines_itself(many, capsys):
    """The text begins with the population and its exclusions, and has each public question with its n."""
    code, told, _ = ask(many.folder, capsys, "audit", "--until", "2024-01-12")
    public = [key for key, q in QUESTIONS.items() if not q.private]

    assert code == 0
    assert told.index("Population:") < told.index("left out:") < told.index("[completeness]")
    assert re.findall(r"\[(\w+)\]$", told, re.MULTILINE) == public
    assert told.count("spans without both ends") == len(public)
    assert "Quantiles are of type 7" in told
    assert "invented" in told


def test_questions_keys_and_columns_are_in_the_guide():
    """The guide has every question, every key of the screen and every column, as it is kept and as it leaves."""
    guide = (ROOT / "shared" / "guide.md").read_text("utf-8")

    for key in QUESTIONS:
        assert f"| {key} |" in guide
    for command in COMMANDS:
        assert f"| {keys_of(command)} | {command.id} | {command.does} |" in guide
    kept = [column for table in TABLES for column in columns(table)]
    leaves = [column for table in flat.TABLES for column in flat.kept(table)]
    for column in (*kept, *leaves):
        assert f"| {column.name} | {column.says.words} | {column.says.unit} |" in guide


def test_text_is_as_wide_as_it_is_asked_to_be(many, capsys, monkeypatch):
    """COLUMNS says how wide text may be; no line of a report is wider."""
    monkeypatch.setenv("COLUMNS", "70")
    _, told, _ = ask(many.folder, capsys, "audit")

    assert 60 < max(map(len, told.splitlines())) <= 70


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_a_letter_that_standard_output_lacks_is_told_by_number(tmp_path, monkeypatch, encoding):
    """A step named in other letters than the locale has: text, not a traceback."""
    for n in range(1, 7):
        write(tmp_path, f"AB-000{n}", text=SMALL.replace('label = "Core"', 'label = "Core \u7db2"'))
    out = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr("sys.stdout", out)
    code = main(["--archive", str(tmp_path), "audit", "--question", "step_lengths"])
    out.flush()
    told = out.buffer.getvalue().decode(encoding)

    assert code == 0
    assert ("Core \u7db2" if encoding == "utf-8" else "Core \\u7db2") in told


def test_nobody_is_ranked(many, capsys):
    """What would be about one person is asked for by name alone."""
    _, told, _ = ask(many.folder, capsys, "audit")
    code, asked, _ = ask(many.folder, capsys, "audit", "--question", "learning")

    assert "[learning]" not in told
    assert code == 0
    assert "this is about a person" in asked or "No figure: too few" in asked


def test_filters_are_counted(many, capsys):
    """Facts and days leave cases out, each under its reason."""
    _, told, _ = ask(
        many.folder,
        capsys,
        "audit",
        "--facts",
        "lens=phakic",
        "--until",
        "2024-01-12",
        "--question",
        "booking",
    )

    told = " ".join(told.split())
    assert re.search(r"\d+ after 2024-01-12", told)
    assert re.search(r"\d+ with another lens than phakic", told)


def test_a_question_that_is_not_there(many, capsys):
    """An unknown question and a fact without a value are refused in words."""
    assert ask(many.folder, capsys, "audit", "--question", "league")[0] == 2
    code, _, said = ask(many.folder, capsys, "audit", "--facts", "lens")

    assert code == 2
    assert "write it as anaesthetic=general" in said


@pytest.mark.parametrize("cases", [0, 1, 4])
def test_little_in_an_archive_gives_sentences(tmp_path, capsys, cases):
    """No case, one, or four: every question answers, none with a figure of so few."""
    archive(tmp_path, *(f"AB-{n:04d}" for n in range(1, cases + 1)))
    code, told, _ = ask(tmp_path, capsys, "audit")
    lengths = told.partition("[case_lengths]")[2].partition("[by_operator]")[0]

    assert code == 0
    assert ("Population: <5 cases." if cases else "Population: 0 of 0 cases.") in told
    assert "50.0" not in lengths
    assert ("<5" if cases else "no case to answer from") in lengths
    assert not re.search(r"too few: [1-4] ", told)


def test_all_open(tmp_path, capsys):
    """Cases without an end are counted as left out, and nothing is said of them."""
    for n in range(1, 7):
        write(tmp_path, f"AB-000{n}", OPEN)
    code, told, _ = ask(tmp_path, capsys, "audit", *LENGTHS)

    assert code == 0
    assert "0 of 6 cases; left out: 6 without an end" in told


def test_mixed_versions_and_a_stage_that_nobody_logged(tmp_path, capsys):
    """Versions are told apart in the population, and a stage without a span is named."""
    for n in range(1, 13):
        write(tmp_path, f"AB-00{n:02d}", version=str(n % 2 + 1))
    _, told, _ = ask(tmp_path, capsys, "audit", *LENGTHS)

    assert "6 by small-repair, version 1" in told
    assert "6 by small-repair, version 2" in told
    assert "Nobody logged, and no case asked for: Lens." in told
    # The told case: core 08:45 to peel 09:20 less 3 min of pause, and 50 min in theatre.
    assert re.search(r"whole case\s+12\s+0.0 %\s+0.0 %\s+50.0", told)
    assert re.search(r"Work\s+12\s+0.0 %\s+100.0 %\s+32.0", told)


@pytest.mark.parametrize(("versions", "n"), [("2", 6), ("2,9", 12), ("9,", 12), (",9", 12), ("10", 6)])
def test_versions_are_asked_for_by_their_numbers(tmp_path, capsys, versions, n):
    """Six cases each of versions 2, 9 and 10: one version, or a range with both ends, open at either."""
    for place, version in enumerate((2, 9, 10) * 6, start=1):
        write(tmp_path, f"AB-00{place:02d}", version=str(version))
    told = ask(tmp_path, capsys, "audit", "--versions", versions, "--question", "completeness")[1]

    assert f"Population: {n} of 18 cases; left out: {18 - n} of another version." in told


def test_a_mixture_of_procedures_is_said(tmp_path, capsys):
    """A median of whole cases of two procedures is of neither; one asked for is not mixed."""
    for n in range(1, 13):
        text = SMALL.replace("small-repair", "another-repair") if n % 2 else SMALL
        write(tmp_path, f"AB-00{n:02d}", text=text)
    both = ask(tmp_path, capsys, "audit", *LENGTHS)[1]
    one = ask(tmp_path, capsys, "audit", *LENGTHS, "--protocol", "small-repair")[1]

    mixed = "mix these protocols, and --protocol asks for one: another-repair, small-repair."
    assert mixed in " ".join(both.split())
    assert mixed not in " ".join(one.split())
    assert "6 of 12 cases" in one


def test_lists_begin_when_the_department_says(tmp_path, capsys):
    """Patients came in at 08:40: 10 minutes late for 08:30, 20 minutes early for 09:00."""
    for day in range(2, 8):
        write(tmp_path, f"AB-000{day}", f"day 2026-03-0{day}\n{USUAL}")
    starts = ("audit", "--question", "starts", "--question", "use")
    usual = ask(tmp_path, capsys, *starts)[1]
    later = ask(tmp_path, capsys, *starts, "--lists", "09:00, 13:30", "--session", "100")[1]

    assert "(08:30)" in usual
    assert re.search(r"patient in\s+6\s+0.0 %\s+0.0 %\s+10.0", usual)
    assert "(09:00, 13:30)" in later
    assert re.search(r"patient in\s+6\s+0.0 %\s+0.0 %\s+-20.0", later)
    # 50 minutes in theatre, 30 of them after 09:00.
    assert re.search(r"as such\s+6 .* 50.0 %\s+within the booked block only\s+6 .* 30.0 %", later)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--lists", "8"), "8 is no time of the day: write it as 08:30."),
        (("--lists", "08:30,24:10"), "24:10 is no time of the day"),
        (("--session", "nan"), "A session is booked for 1 to 1440 minutes: --session 480."),
    ],
)
def test_lists_that_cannot_be_are_refused_in_a_sentence(tmp_path, capsys, words, why):
    """Exit code 2 and the reason on standard error."""
    code, told, said = ask(tmp_path, capsys, "audit", "--question", "use", *words)

    assert (code, told) == (2, "")
    assert why in said


def test_what_is_left_out_is_said(tmp_path, capsys):
    """A damaged journal, a torn one and a stranger are named on standard error and in the text."""
    torn = write(tmp_path, "AB-0001")
    torn.write_bytes(torn.read_bytes()[:-9])
    damaged = write(tmp_path, "AB-0002")
    damaged.write_bytes(damaged.read_bytes().replace(b"theatre-1", b"theatre-2", 1))
    (tmp_path / "stray.case.jsonl").write_text("hello")
    code, told, said = ask(tmp_path, capsys, "audit", *LENGTHS)

    assert code == 0
    assert "AB-0002 is left out:" in said
    assert "stray.case.jsonl is left out:" in said
    assert "2 files of the archive are left out: AB-0002, stray.case.jsonl." in told
    assert "AB-0001: its last line was unfinished and is left out." in said
    assert "Of these journals the unfinished last line is left out: AB-0001." in told


def test_synthesise_says_where_the_truth_lies(tmp_path, capsys):
    """Invented cases are added as journals, and what is true of them is a file that the command names."""
    code, told, _ = ask(tmp_path, capsys, "archive", "synthesise", "--cases", "6", "--seed", "4")
    truth = json.loads(Path(told.strip().rpartition(": ")[2]).read_text("utf-8"))

    assert code == 0
    assert "SYN-0001 to SYN-0006, seed 4, as journals" in told
    assert truth["seed"] == 4
    assert truth["truth"]["longer"] == {"pvr_c": 1.22, "general": 1.32}
    assert truth["drawn"]["cases"] == 6
    assert len(list(tmp_path.glob("SYN-*.case.jsonl"))) == 6
    assert ask(tmp_path, capsys, "archive", "synthesise", "--cases", "0")[0] == 2


@pytest.mark.spark
def test_spark_says_the_same(tmp_path, capsys):
    """The text of an audit is the same whichever engine answered."""
    for n in range(1, 7):
        write(tmp_path, f"AB-000{n}")
    _, one, _ = ask(tmp_path, capsys, "audit", *LENGTHS)
    _, other, _ = ask(tmp_path, capsys, "audit", *LENGTHS, "--engine", "spark")

    assert other.replace("Apache Spark at local[2]", "DuckDB") == one
