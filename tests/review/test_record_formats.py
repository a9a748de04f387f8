"""Every format read back by a reader of its own kind, and held equal to every other."""

from __future__ import annotations

import json
import stat
from collections.abc import Mapping
from pathlib import Path

import pytest

from record_alone import build
from record_case import WHOLE, story
from record_readers import Table, read_csv, read_json, read_markdown, read_toml, unguarded
from tracker.core.wording import CAUTIONS
from tracker.review.record import formats
from tracker.review.record.formats import FORMATS, NotWritten, write
from tracker.review.record.structure import Record

PLAIN = ("toml", "md", "csv", "json")
"""The formats of text; each other format has tests of its own."""

RUNNING = "09:00 opened\n09:05 tick step=in_theatre\n09:10 start step=core\n09:12 tick step=core"
STOPPED = "09:00 opened\n09:05 tick step=in_theatre\n09:10 stopped_early reason=forced"
OPENED = "09:00 opened"
STORIES = pytest.mark.parametrize(
    "text", [WHOLE, RUNNING, STOPPED, OPENED], ids=["whole", "running", "early", "opened"]
)


def record(text: str) -> Record:
    """The record of a story, half an hour after its first entry."""
    case = story(text)
    return build(case, 1800.0, "ab" * 32, len(case.events))


def files(made: Record) -> Mapping[str, bytes]:
    """All files of all formats."""
    return {name: data for f in map(FORMATS.__getitem__, PLAIN) for name, data in f.render(made).items()}


def rows(table: Table, *columns: str) -> list[tuple[str, ...]]:
    """Some columns of a table."""
    return [tuple(row[c] for c in columns) for row in table]


def plain(value: float | None) -> str:
    """A number as a person writes it, blank for none."""
    return "" if value is None else f"{value:.3f}".rstrip("0").rstrip(".")


def lasted(line: dict[str, object]) -> str:
    """Minutes as the page says them."""
    return "no stop" if line["open"] else plain(line.get("minutes"))  # type: ignore[arg-type]


# -- equal across formats


@STORIES
def test_toml_and_json_hold_the_same(text: str) -> None:
    """The two whole formats agree in every figure; TOML leaves out what is not known."""
    held = files(record(text))
    assert read_toml(held["A-0007.toml"]) == read_json(held["A-0007.json"])


@STORIES
def test_json_is_the_structure_and_makes_it_again(text: str) -> None:
    """Nothing is lost on the way out: with its drawing put back, the JSON validates to the same record."""
    made = record(text)
    held = json.loads(files(made)["A-0007.json"])
    assert Record.model_validate({**held, "timeline": made.timeline}) == made


@STORIES
def test_spans_are_the_same_in_csv_json_and_markdown(text: str) -> None:
    """Durations: every span has the same ends and minutes in each format."""
    held = files(record(text))
    spans = read_json(held["A-0007.json"])["spans"]
    told = [(str(s["seq"]), s["start"], s.get("stop", ""), s.get("minutes")) for s in spans]
    table = read_csv(held["A-0007-spans.csv"])
    assert [
        (r["seq"], r["start"], r["stop"], float(r["minutes"]) if r["minutes"] else None) for r in table
    ] == told
    page = read_markdown(held["A-0007.md"]).get("Spans", [])
    assert rows(page, "Step", "Start", "Stop", "Minutes") == [
        (s["label"], s["start"][11:19], s.get("stop", "")[11:19], lasted(s)) for s in spans
    ]


@STORIES
def test_stage_and_step_minutes_are_the_same_in_markdown_and_json(text: str) -> None:
    """Durations: the page tells each stage and step as the data do."""
    held = files(record(text))
    data, page = read_json(held["A-0007.json"]), read_markdown(held["A-0007.md"])
    assert rows(page["Stages"], "Stage", "Minutes, pauses out") == [
        (s["label"], lasted(s)) for s in data["stages"]
    ]
    assert rows(page["Steps"], "Step", "Minutes") == [(s["label"], lasted(s)) for s in data["steps"]]
    assert [r["Interval since previous tick, minutes"] for r in page.get("Intervals", [])] == [
        plain(i["minutes"]) for i in data["intervals"]
    ]


@STORIES
def test_deviations_are_the_same_in_every_format(text: str) -> None:
    """Each deviation has its level, what was expected and what was found; CSV names it at its entry."""
    held = files(record(text))
    data = read_json(held["A-0007.json"])["deviations"]
    page = read_markdown(held["A-0007.md"]).get("Deviations", [])
    columns = ("Level", "What", "Step", "Expected", "Found")
    assert rows(page, *columns) == [
        (d["level"], d["words"], d["label"], d["expected"], d["found"]) for d in data
    ]
    table = read_csv(held["A-0007-events.csv"])
    told = {(r["seq"], key) for r in table for key in unguarded(r["deviations"]).split("; ") if key}
    assert told == {(str(d["seq"]), d["key"]) for d in data}


@STORIES
def test_readings_are_the_same_in_every_format(text: str) -> None:
    """Each reading has its value and unit; a number is a number wherever the format has numbers."""
    held = files(record(text))
    data = read_json(held["A-0007.json"])["readings"]
    page = read_markdown(held["A-0007.md"]).get("Readings", [])
    assert rows(page, "Reading", "Value", "Outside the file's range") == [
        (r["label"], r["words"], r["limit"]) for r in data
    ]
    table = [r for r in read_csv(held["A-0007-events.csv"]) if r["reading"]]
    assert [(r["seq"], r["reading"], float(r["value"]), r["unit"]) for r in table] == [
        (str(r["seq"]), r["reading"], r["value"], r["unit"]) for r in data
    ]


@STORIES
def test_counts_are_the_same_in_every_format(text: str) -> None:
    """Each counted line stands with its numbers; CSV has what was said at each count."""
    held = files(record(text))
    data = read_json(held["A-0007.json"])["counts"]
    page = read_markdown(held["A-0007.md"])["Counts as said"]
    assert rows(page, "Line", "First", "Added", "Handed off", "Expected", "Final") == [
        (c["label"], *(plain(c.get(k)) for k in ("start", "added", "removed", "expected", "final")))
        for c in data
    ]
    said = [r["detail"] for r in read_csv(held["A-0007-events.csv"]) if r["kind"] == "count"]
    final = "; ".join(f"{c['label']} {c['final']}" for c in data if "final" in c)
    assert (said[-1:] or [""]) == [final]


@STORIES
def test_completeness_is_the_same_in_every_format(text: str) -> None:
    """How far the log can be trusted stands in each format, beside the tables for CSV."""
    held = files(record(text))
    data = read_json(held["A-0007.json"])["completeness"]
    figures = [f"{v['n']} of {v['of']}" if isinstance(v, dict) else plain(v) for v in data.values()]
    page = read_markdown(held["A-0007.md"])["How far the log can be trusted"]
    assert [r["Figure"].split(" (")[0] for r in page] == figures
    about = dict(
        line.split(": ", 1)
        for line in held["A-0007-about.txt"].decode("utf-8-sig").splitlines()
        if ": " in line
    )
    assert [plain(float(about[k].split(" (")[0])) if not isinstance(v, dict) else about[k].split(" (")[0]
            for k, v in data.items()] == figures  # fmt: skip


@STORIES
def test_every_entry_is_in_every_format(text: str) -> None:
    """One row an entry, void and unknown ones too."""
    made = record(text)
    held = files(made)
    numbers = [str(e.seq) for e in made.events]
    assert [r["seq"] for r in read_csv(held["A-0007-events.csv"])] == numbers
    assert [r["Entry"] for r in read_markdown(held["A-0007.md"])["Every entry"]] == numbers


@STORIES
def test_every_format_carries_cautions_version_and_digest(text: str) -> None:
    """Nothing leaves without its cautions, the protocol's version and digest, and the last hash."""
    made = record(text)
    for chosen in map(FORMATS.__getitem__, PLAIN):
        whole = b"\n".join(chosen.render(made).values()).decode()
        for caution in CAUTIONS:
            assert caution in whole
        assert "1.2.0" in whole
        assert made.header.digest in whole
        assert "ab" * 32 in whole


def test_every_row_of_csv_says_where_it_comes_from() -> None:
    """Tables of many cases can be stacked, and each names the page with its cautions."""
    made = record(WHOLE)
    held = files(made)
    for name in ("A-0007-events.csv", "A-0007-spans.csv"):
        for row in read_csv(held[name]):
            assert (row["case"], row["protocol_version"], row["invented"]) == ("A-0007", "1.2.0", "true")
            assert row["protocol_digest"] == made.header.digest
            assert row["about"] in held


def test_csv_is_rfc_4180_with_a_byte_order_mark() -> None:
    """Lines end in CR LF (RFC 4180, 2.1), every record has the same number of fields (2.4)."""
    data = files(record(WHOLE))["A-0007-events.csv"]
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\n") == data.count(b"\r\n") == 45
    assert len({len(row) for row in read_csv(data)}) == 1


def test_the_markdown_page_has_the_drawing() -> None:
    """The page shows the case on its time axis as it is."""
    page = files(record(WHOLE))["A-0007.md"].decode()
    assert "```text\n2026-10-24 08:55 to 10:05" in page
    assert "█" in page


def test_the_same_record_gives_the_same_bytes() -> None:
    """A record rendered twice is the same file, so that files can be compared."""
    assert files(record(WHOLE)) == files(record(WHOLE))


def test_files_go_by_the_case_code() -> None:
    """Whatever the format, the name of each file begins with the code of the case."""
    made = record(WHOLE)
    for name, chosen in FORMATS.items():
        assert chosen.name == name
        assert all(file.startswith("A-0007") for file in chosen.render(made))
    assert tuple(FORMATS["csv"].render(made)) == ("A-0007-events.csv", "A-0007-spans.csv", "A-0007-about.txt")


# -- writing


def names(folder: Path) -> list[str]:
    """What is in a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_writing_makes_private_whole_files(tmp_path: Path) -> None:
    """Files have mode 0600 in a folder of mode 0700, and nothing else is left there."""
    made = record(WHOLE)
    paths = write(made, tmp_path / "out", ["toml", "csv"])
    assert [p.name for p in paths] == [
        "A-0007.toml",
        "A-0007-events.csv",
        "A-0007-spans.csv",
        "A-0007-about.txt",
    ]
    assert names(tmp_path / "out") == sorted(p.name for p in paths)
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == 0o700
    assert {stat.S_IMODE(p.stat().st_mode) for p in paths} == {0o600}
    assert {p.name: p.read_bytes() for p in paths}.items() <= files(made).items()


def test_writing_again_replaces_and_a_name_said_twice_is_written_once(tmp_path: Path) -> None:
    """A later record of the same case takes the place of the earlier one."""
    (tmp_path / "A-0007.md").write_text("old")
    assert len(write(record(WHOLE), tmp_path, ["md", "md"])) == 1
    assert (tmp_path / "A-0007.md").read_text().startswith("# Case A-0007")


def test_an_unknown_format_is_refused_with_a_sentence(tmp_path: Path) -> None:
    """The sentence names the formats there are, and nothing is written."""
    with pytest.raises(NotWritten, match=r"no record format 'docx'; there are toml, md, csv, json"):
        write(record(WHOLE), tmp_path, ["toml", "docx"])
    assert names(tmp_path) == []


@pytest.mark.parametrize("code", ["../A-0007", "/etc/A", "A/B", "", ".hidden", "A\x00B", "C:evil", "a b"])
def test_a_code_that_leaves_the_folder_is_refused(code: str, tmp_path: Path) -> None:
    """Case codes are checked when a case is opened and once more where a file is named."""
    made = record(WHOLE)
    made = made.model_copy(update={"header": made.header.model_copy(update={"case": code})})
    with pytest.raises(NotWritten, match="cannot be the name"):
        write(made, tmp_path / "out", ["toml"])
    assert names(tmp_path) == []


def test_a_symbolic_link_in_the_way_is_not_followed(tmp_path: Path) -> None:
    """A link in place of a file is refused, and what it points at is untouched."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("mine")
    out = tmp_path / "out"
    out.mkdir()
    (out / "A-0007.json").symlink_to(elsewhere)
    with pytest.raises(NotWritten, match="symbolic link"):
        write(record(WHOLE), out, ["toml", "json"])
    assert elsewhere.read_text() == "mine"
    assert names(out) == ["A-0007.json"]


def test_a_folder_that_is_a_symbolic_link_is_not_followed(tmp_path: Path) -> None:
    """Records go into the folder that was named and no other."""
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    with pytest.raises(NotWritten, match="name the folder itself"):
        write(record(WHOLE), tmp_path / "link", ["toml"])
    assert names(tmp_path / "real") == []


def test_a_folder_in_the_way_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """Something that is no plain file is never replaced."""
    (tmp_path / "A-0007.json").mkdir()
    with pytest.raises(NotWritten, match="no plain file"):
        write(record(WHOLE), tmp_path, ["toml", "json"])
    assert names(tmp_path) == ["A-0007.json"]


def test_a_file_where_the_folder_should_be_is_a_sentence(tmp_path: Path) -> None:
    """The disk's refusal comes as one sentence with the name of what refused."""
    (tmp_path / "out").write_text("")
    with pytest.raises(NotWritten, match=r"could not be written to .*out: .*\."):
        write(record(WHOLE), tmp_path / "out", ["toml"])


def test_a_full_disk_leaves_no_half_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses the second file, neither it nor the first is there, and no part is left."""
    synced: list[int] = []

    def refuse(handle: int) -> None:
        synced.append(handle)
        if len(synced) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(formats.os, "fsync", refuse)
    with pytest.raises(NotWritten, match="No space left on device"):
        write(record(WHOLE), tmp_path, ["toml", "json"])
    assert names(tmp_path) == []
