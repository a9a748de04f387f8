"""From journals to tables: what the rows say, and what is folded again when."""

from __future__ import annotations

import json
import sys

import msgspec
import pyarrow.parquet as pq
import pytest

from audit_archives import USUAL, archive, write
from tracker.audit import blocks, parquet, tables
from tracker.audit.columns import TABLES, columns
from tracker.audit.tables import FOLDER, LeftOut, bring_up_to_date
from tracker.journal.archive import Archive
from tracker.journal.disk import RealDisk
from tracker.journal.trouble import InUse


def rows(folder, table):
    """All rows of a table, as dicts, by code."""
    paths = sorted((folder / table).glob("*.parquet"))
    found = [row for path in paths for row in pq.read_table(path, partitioning=None).to_pylist()]
    return sorted(found, key=lambda row: row["code"])


def made(folder, **options):
    """The tables of an archive, brought up to date."""
    return bring_up_to_date(Archive(folder), **options)


@pytest.fixture(scope="module")
def usual(tmp_path_factory):
    """The tables of one usual case."""
    return made(archive(tmp_path_factory.mktemp("usual"), "A-0001").folder).folder


# -- what the rows say


def test_a_case_is_one_row_with_its_times_of_the_day(usual):
    """Opened 08:30, in theatre 08:40 to 09:30: 50 minutes, pauses included, 45 planned."""
    (case,) = rows(usual, "cases")

    assert (case["code"], case["protocol"], case["version"]) == ("A-0001", "small-repair", "1")
    assert (case["opened_minute"], case["started_minute"], case["t4_minute"]) == (510, 520, 570)
    assert (case["minutes"], case["planned_minutes"], case["paused_minutes"]) == (50, 45, 3)
    assert (case["open"], case["ending"], case["torn"], case["invented"]) == (False, "usual", False, False)
    assert (case["week"], case["weekday"]) == ("2026-W10", 1)


def test_facts_are_kept_whole_and_the_usual_ones_have_columns(usual):
    """CP3-CA2 is grade C of five clock hours; a fact that the file does not have is nothing."""
    (case,) = rows(usual, "cases")

    assert json.loads(case["facts"]) == {
        "anaesthetic": "block",
        "pvr_grade": "CP3-CA2",
        "planned_minutes": 45,
    }
    assert (case["anaesthetic"], case["pvr_c"], case["pvr_hours"], case["general"]) == (
        "block",
        True,
        5,
        False,
    )
    assert (case["lens"], case["tamponade"], case["lens_removed"]) == (None, None, False)
    facts = {row["fact"]: (row["text"], row["number"], row["changed"]) for row in rows(usual, "facts")}
    assert facts["planned_minutes"] == ("45", 45.0, False)
    assert facts["anaesthetic"] == ("block", None, False)


def test_lengths_leave_pauses_out_and_a_stage_runs_from_first_start_to_last_stop(usual):
    """Peel 20 - 3 + 2 minutes; the stage 08:45 to 09:20 is 35 - 3; core 10."""
    steps = {row["step"]: row for row in rows(usual, "steps")}
    (stage,) = rows(usual, "stages")
    spans = [(row["step"], row["nth"], row["minutes"], row["paused_minutes"]) for row in rows(usual, "spans")]

    assert (steps["core"]["minutes"], steps["peel"]["minutes"]) == (10, 19)
    assert (stage["stage"], stage["minutes"], stage["first_minute"], stage["last_minute"]) == (
        "work",
        32,
        15,
        50,
    )
    assert spans == [("core", 1, 10, 0), ("peel", 1, 17, 3), ("peel", 2, 2, 0)]


def test_a_stage_that_the_case_did_not_ask_for_has_no_row(usual):
    """The lens stage has only an optional step, which nobody did."""
    assert [row["stage"] for row in rows(usual, "stages")] == ["work"]


def test_late_entries_show_at_the_entry_the_span_the_step_and_the_case(usual):
    """The second peel was entered 90 s after it began; the deviation is there, too."""
    (late,) = [row for row in rows(usual, "entries") if row["late"]]
    case, deviations = rows(usual, "cases")[0], rows(usual, "deviations")

    assert (late["kind"], late["step"], late["late_s"]) == ("start", "peel", 90)
    assert [row["late"] for row in rows(usual, "spans")] == [False, False, True]
    assert {row["step"]: row["late"] for row in rows(usual, "steps")}["peel"]
    assert (case["late_n"], case["told_n"], case["late"]) == (1, 11, False)
    assert [row["deviation"] for row in deviations if row["about"] == "peel"] == ["late_entry"]


def test_struck_entries_stay_in_the_log_and_out_of_all_else(tmp_path):
    """A struck start is a void line and no span."""
    story = USUAL.replace(
        "09:18:00 +90 start peel\n    09:20:00 stop peel", "09:18:00 start peel\n 09:19:00 strike 10"
    )
    write(tmp_path, "A-0001", story)

    folder = made(tmp_path).folder

    assert [row["seq"] for row in rows(folder, "entries") if row["struck"]] == [10]
    assert len(rows(folder, "spans")) == 2
    assert rows(folder, "cases")[0]["amendments_n"] == 1


def test_a_span_without_a_stop_has_no_length_and_its_stage_has_none(tmp_path):
    """Missing is none, never nought; the stage is open too."""
    write(tmp_path, "A-0001", USUAL.replace("08:55:00 stop core", "08:55:00 note nothing"))

    folder = made(tmp_path).folder

    (core,) = [row for row in rows(folder, "spans") if row["step"] == "core"]
    assert (core["minutes"], core["stop_minute"], core["open"]) == (None, None, True)
    assert [(row["minutes"], row["open"]) for row in rows(folder, "stages")] == [(None, True)]
    assert (rows(folder, "cases")[0]["spans_n"], rows(folder, "cases")[0]["spans_closed_n"]) == (3, 2)


def test_a_step_that_nobody_logged_is_a_row_that_says_so(tmp_path):
    """Peel is asked for and has no tick; the case ended, so it was not only not reached."""
    story = "\n".join(line for line in USUAL.splitlines() if "peel" not in line)
    write(tmp_path, "A-0001", story)

    steps = {row["step"]: row for row in rows(made(tmp_path).folder, "steps")}

    assert (steps["peel"]["status"], steps["peel"]["ticks_n"], steps["peel"]["minutes"]) == (
        "no_tick",
        0,
        None,
    )


def test_an_open_case_is_in_the_tables_and_marked(tmp_path):
    """No end, no minutes; steps still to come are not reached."""
    write(tmp_path, "A-0001", "\n".join(USUAL.splitlines()[:6]))

    report = made(tmp_path)

    (case,) = rows(report.folder, "cases")
    assert (report.cases, report.open) == (1, 1)
    assert (case["open"], case["ending"], case["minutes"]) == (True, "none", None)
    assert {r["step"]: r["status"] for r in rows(report.folder, "steps")}["peel"] == "not_reached"


def test_a_case_over_midnight_keeps_its_day_and_its_minutes_run_on(tmp_path):
    """Opened 23:30 on 2 March; out at 00:30 is minute 1470 of that day."""
    story = """
        23:30:00 open
        23:31:00 facts anaesthetic=general
        23:35:00 tick patient_in
        23:50:00 start core
        00:10:00 stop core
        00:30:00 tick out_theatre
    """
    write(tmp_path, "A-0001", story)

    folder = made(tmp_path).folder

    (case,) = rows(folder, "cases")
    assert (case["day"].isoformat(), case["opened_minute"], case["t4_minute"]) == ("2026-03-02", 1410, 1470)
    assert (case["minutes"], rows(folder, "stages")[0]["minutes"]) == (55, 20)


def test_a_change_to_summer_time_bends_no_length(tmp_path):
    """The station's clock jumps an hour ahead in the middle of the core: it still took ten minutes."""
    ahead = "clock 3600\n    09:55:00 stop core\n    clock -3600"
    write(tmp_path, "A-0001", USUAL.replace("08:55:00 stop core", ahead))

    steps = {row["step"]: row["minutes"] for row in rows(made(tmp_path).folder, "steps")}

    assert steps["core"] == 10


# -- columns


def test_every_file_carries_the_words_and_units_of_its_columns(usual):
    """Under the key `clockhour`, for any reader of Parquet, the same as the definitions in the program."""
    for table in TABLES:
        for path in (usual / table).glob("*.parquet"):
            told = json.loads(pq.read_metadata(path).metadata[parquet.KEY])
            assert [c["name"] for c in told["columns"]] == pq.read_schema(path).names
            assert told == json.loads(parquet.definitions(table))


def test_every_column_says_what_it_holds():
    """No column without words; every number has a unit or is a number of a reading or a fact."""
    for table in TABLES:
        for column in columns(table):
            assert column.says.words
            unitless = {"number", "list_position"}
            assert column.kind != "number" or column.says.unit or column.name in unitless, column


def test_what_tells_the_day_or_the_station_is_marked_private():
    """An export gives the week; the day and the station stay inside the department."""
    private = {c.name for table in TABLES for c in columns(table) if c.says.private}

    assert private == {"day", "station", "day_list", "list_day"}


# -- what is folded when


def test_nothing_is_folded_twice(tmp_path):
    """A second run reads no journal into the tables; a new journal alone is folded."""
    archive(tmp_path, "A-0001", "A-0002")

    assert made(tmp_path).folded == 2
    assert made(tmp_path).folded == 0
    write(tmp_path, "A-0003")
    assert made(tmp_path).folded == 1
    assert [row["code"] for row in rows(tmp_path / FOLDER, "cases")] == ["A-0001", "A-0002", "A-0003"]
    assert made(tmp_path, again=True).folded == 3


def test_a_journal_that_went_on_replaces_its_rows(tmp_path):
    """An open case that is ended later is one row, and closed."""
    path = write(tmp_path, "A-0001", "\n".join(USUAL.splitlines()[:6]))
    write(tmp_path, "A-0002")
    assert made(tmp_path).open == 1
    path.unlink()
    write(tmp_path, "A-0001")

    report = made(tmp_path)

    assert (report.cases, report.open, report.folded) == (2, 0, 1)
    assert [row["open"] for row in rows(report.folder, "cases")] == [False, False]
    assert len(rows(report.folder, "spans")) == 6


def test_a_journal_that_is_gone_leaves_no_row(tmp_path):
    """Within its block, and with its whole block."""
    paths = [write(tmp_path, code) for code in ("A-0001", "A-0002", "B-0001")]
    made(tmp_path)
    paths[0].unlink()
    paths[2].unlink()

    report = made(tmp_path)

    assert report.cases == 1
    assert {row["code"] for table in TABLES for row in rows(report.folder, table)} == {"A-0002"}


def test_what_cannot_be_folded_is_left_out_and_listed(tmp_path):
    """A damaged line, another case's first line, a name that is no code, an empty file: each is told."""
    archive(tmp_path, "A-0001", "A-0002", "A-0003")
    damaged = tmp_path / "A-0002.case.jsonl"
    damaged.write_bytes(damaged.read_bytes().replace(b"patient_in", b"patient_on", 2))
    (tmp_path / "A-0003.case.jsonl").rename(tmp_path / "A-0004.case.jsonl")
    (tmp_path / "copy of A-0001.case.jsonl").write_bytes(b"{}")
    (tmp_path / "A-0005.case.jsonl").touch()

    report = made(tmp_path)

    assert report.cases == 1
    assert [left.name for left in report.left_out] == [
        "A-0002",
        "A-0004",
        "A-0005",
        "copy of A-0001.case.jsonl",
    ]
    assert all(left.why.endswith((".", "sets aside the rest")) for left in report.left_out), report.left_out
    assert {row["code"] for table in TABLES for row in rows(report.folder, table)} == {"A-0001"}


def test_a_mended_journal_comes_back_in(tmp_path):
    """Left out while damaged, in once it holds again."""
    path = write(tmp_path, "A-0001")
    sound = path.read_bytes()
    path.write_bytes(sound.replace(b"08:40", b"08:41", 1))
    assert made(tmp_path).left_out[0].name == "A-0001"
    path.write_bytes(sound)

    report = made(tmp_path)

    assert (report.cases, report.left_out) == (1, ())


def test_an_unfinished_last_line_is_left_out_and_the_case_is_in(tmp_path):
    """What an interrupted append leaves behind costs that line and no more."""
    path = write(tmp_path, "A-0001")
    path.write_bytes(path.read_bytes()[:-20])

    report = made(tmp_path)

    assert (report.cases, report.torn, report.left_out) == (1, ("A-0001",), ())
    assert [row["torn"] for row in rows(report.folder, "cases")] == [True]


def test_a_journal_that_trips_the_program_is_left_out_like_any_other(tmp_path, monkeypatch):
    """Whatever goes wrong in one case, the others are in the tables."""
    archive(tmp_path, "A-0001", "A-0002")
    whole = blocks.rows_of

    def trip(case, follow_up, *, torn, on_list):
        if case.code == "A-0001":
            raise KeyError("odd")
        return whole(case, follow_up, torn=torn, on_list=on_list)

    monkeypatch.setattr(blocks, "rows_of", trip)

    assert made(tmp_path).left_out == (LeftOut("A-0001", "Case A-0001 cannot be folded (KeyError)."),)


def test_a_value_that_no_column_takes_costs_its_own_case_only(tmp_path, monkeypatch):
    """A whole number of twenty digits fits no file; the case is left out and the others are in."""
    archive(tmp_path, "A-0001", "A-0002")
    whole = blocks.rows_of

    def huge(case, follow_up, *, torn, on_list):
        rows = whole(case, follow_up, torn=torn, on_list=on_list)
        if case.code == "A-0002":
            return rows
        return rows._replace(cases=[msgspec.structs.replace(row, spans_n=10**20) for row in rows.cases])

    monkeypatch.setattr(blocks, "rows_of", huge)

    report = made(tmp_path)

    assert report.left_out == (LeftOut("A-0001", "Case A-0001 holds a value that the tables cannot take."),)
    assert [row["code"] for row in rows(report.folder, "cases")] == ["A-0002"]


def test_text_from_strangers_is_harmless_in_the_tables(tmp_path):
    """A control sequence in a fact becomes a mark, as everywhere."""
    write(tmp_path, "A-0001", USUAL.replace("facts ", 'facts odd="\\u001b[2Jx" '))

    facts = {row["fact"]: row["text"] for row in rows(made(tmp_path).folder, "facts")}

    assert facts["odd"] == "\ufffd[2Jx"


@pytest.mark.parametrize("lost", ["manifest", "part", "truncated"])
def test_an_interrupted_block_is_made_anew(tmp_path, lost):
    """Without its manifest, or with a file gone or cut short when something changed, all is folded again."""
    archive(tmp_path, "A-0001", "A-0002")
    folder = made(tmp_path).folder
    spans = blocks.table_path(folder, "spans", "A-000000")
    if lost == "manifest":
        blocks.manifest_path(folder, "A-000000").unlink()
    else:
        write(tmp_path, "A-0003")
        spans.unlink() if lost == "part" else spans.write_bytes(spans.read_bytes()[:100])

    report = made(tmp_path)

    assert report.folded == report.cases
    assert len(rows(folder, "spans")) == 3 * report.cases


def test_tables_of_another_form_are_made_anew(tmp_path, monkeypatch):
    """When the columns or the program change, nothing of the old form is kept."""
    archive(tmp_path, "A-0001")
    made(tmp_path)
    monkeypatch.setattr(blocks, "stamp", lambda: "another form")

    assert made(tmp_path).folded == 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps no such modes")
def test_tables_are_readable_by_their_owner_only(usual):
    """Folders 0700, files 0600, whatever the umask."""
    for path in [usual, *usual.rglob("*")]:
        assert path.stat().st_mode & 0o777 == (0o700 if path.is_dir() else 0o600), path


def test_one_program_at_a_time(tmp_path):
    """While another brings the tables up to date, this one says so and changes nothing."""
    archive(tmp_path, "A-0001")
    folder = made(tmp_path).folder
    lock = RealDisk().lock(folder / ".lock")
    try:
        with pytest.raises(InUse, match="up to date"):
            made(tmp_path)
    finally:
        lock.release()


def test_several_processes_give_what_one_gives(tmp_path, monkeypatch):
    """Two blocks, two processes, the same rows; and whoever listens hears that all is done."""
    archive(tmp_path, "A-0001", "A-0002", "B-0001")
    alone = made(tmp_path).folder
    one = {table: rows(alone, table) for table in TABLES}
    heard: list[tuple[int, int]] = []
    monkeypatch.setattr(tables, "FEWEST_FOR_A_POOL", 1)

    report = made(tmp_path, again=True, workers=2, told=lambda done, of: heard.append((done, of)))

    assert report.folded == 3
    assert {table: rows(report.folder, table) for table in TABLES} == one
    assert heard[-1] == (3, 3)


def test_an_archive_without_cases_has_tables_without_rows(tmp_path):
    """Nobody has begun a case yet: every table is there, with its columns."""
    report = made(tmp_path / "nothing yet")

    assert (report.cases, report.left_out) == (0, ())
    for table in TABLES:
        (path,) = (report.folder / table).glob("*.parquet")
        assert pq.read_schema(path).names == [c.name for c in columns(table)]


def test_tables_may_lie_elsewhere(tmp_path):
    """An archive that may only be read is folded into a folder of its own."""
    archive(tmp_path / "cases", "A-0001")

    report = bring_up_to_date(Archive(tmp_path / "cases"), tmp_path / "mine")

    assert report.folder == tmp_path / "mine"
    assert not (tmp_path / "cases" / FOLDER).exists()
    assert len(rows(report.folder, "cases")) == 1


def test_the_protocols_of_the_cases_are_kept_beside_them(tmp_path):
    """By the digest of their text, so that labels and order are those of the cases."""
    write(tmp_path, "A-0001")
    write(tmp_path, "A-0002", version="2")

    held = tables.protocols(made(tmp_path).folder)

    assert {p.version for p in held.values()} == {"1", "2"}
    assert {row["digest"] for row in rows(tmp_path / FOLDER, "cases")} == set(held)


def test_two_processes_that_meet_a_protocol_at_once_both_keep_it(tmp_path, monkeypatch):
    """While one process writes the text of a protocol another writes it too: it is there, and whole."""

    class Met(str):
        def encode(self):
            monkeypatch.setattr(blocks.os, "getpid", lambda: 2)
            blocks.keep_protocol(tmp_path, "d1", "the text")
            return super().encode()

    monkeypatch.setattr(blocks.os, "getpid", lambda: 1)
    blocks.keep_protocol(tmp_path, "d1", Met("the text"))

    assert [path.name for path in tmp_path.iterdir()] == ["d1.toml"]
    assert (tmp_path / "d1.toml").read_text("utf-8") == "the text"
