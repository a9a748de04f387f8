"""The report as files: the page in a browser, the typeset pages by a reader of PDF, flat files by DuckDB."""

from __future__ import annotations

import base64
import csv
import errno
import html
import io
import json
import re
import xml.etree.ElementTree as ET
from collections import Counter

import altair
import duckdb
import pyarrow.parquet as pq
import pypdf
import pytest

from audit_archives import SMALL, archive, write
from audit_reports import DAY, audited
from record_browser import axe, browser
from tracker.audit.columns import columns
from tracker.audit.population import Filters
from tracker.audit.report import files
from tracker.audit.report.book import report
from tracker.audit.report.charts import in_words, legend, on_paper, specification, svg_width
from tracker.audit.report.files import write as write_report
from tracker.audit.report.flat import flat
from tracker.audit.report.sheet import Bar, Bars, Box, Boxes
from tracker.cli import main
from tracker.core.wording import CAUTIONS
from tracker.journal.archive import Archive
from tracker.journal.trouble import NotKept
from tracker.paper.drawing import drawing

NAMES = [
    "audit.html",
    "audit.pdf",
    "cases.csv",
    "cases.parquet",
    "spans.csv",
    "spans.parquet",
    "visits.csv",
    "visits.parquet",
    "precedence.csv",
]


ALIVE = "document.querySelectorAll('.live.alive').length === document.querySelectorAll('.live').length"
UNCLEAR = """[...document.querySelectorAll('.live svg')].flatMap(svg => {
  const edge = svg.getBoundingClientRect();
  const words = [...svg.querySelectorAll('text')]
    .filter(t => t.textContent.trim() && t.getAttribute('opacity') !== '0')
    .map(t => ({ word: t.textContent, at: t.getBoundingClientRect() }));
  const beyond = words.filter(({ at }) => at.left < edge.left - 1 || at.right > edge.right + 1);
  const meet = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1;
  const upon = words.filter((one, n) => words.some((other, m) => m > n && meet(one.at, other.at)));
  return [...beyond, ...upon].map(({ word }) => word);
})"""


def write_all(held, folder, *keys, filters=None):
    """Write the report of an archive; the report."""
    with audited(held, filters) as audit:
        found = report(audit, DAY, keys)
        write_report(found, audit, folder)
    return found


@pytest.fixture(scope="module")
def made(many, tmp_path_factory):
    """The report of eighty invented cases, and the folder it lies in."""
    folder = tmp_path_factory.mktemp("made")
    return write_all(many, folder), folder


def test_the_command_names_the_files(tmp_path, capsys):
    """`audit --to` writes page, pages and flat files, and prints the path of each."""
    archive(tmp_path / "cases", "AB-0001")
    words = ["audit", "--question", "booking", "--to", str(tmp_path / "out")]
    code = main(["--archive", str(tmp_path / "cases"), *words])

    assert code == 0
    assert capsys.readouterr().out.split() == [str(tmp_path / "out" / name) for name in NAMES]
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == sorted(NAMES)
    # What lies beside the page is said on it.
    assert "personal data for whoever holds the key list" in (tmp_path / "out" / "audit.html").read_text(
        "utf-8"
    )


def test_a_link_is_not_followed(tmp_path):
    """A folder that is a symbolic link is refused."""
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")

    with pytest.raises(NotKept, match="symbolic link"):
        write_all(archive(tmp_path / "cases"), tmp_path / "link")


def test_a_file_in_the_place_of_the_folder_is_named_before_anything_is_asked(tmp_path, capsys):
    """A file where the folder should be, or above it, is named, and no journal is folded for nothing."""
    archive(tmp_path / "cases", "AB-0001")
    (tmp_path / "file").touch()
    codes = [
        main(["--archive", str(tmp_path / "cases"), "audit", "--to", str(tmp_path / name)])
        for name in ("file", "file/deeper")
    ]

    assert codes == [5, 5]
    assert capsys.readouterr().err.splitlines() == [f"{tmp_path / 'file'} is a file; name a folder."] * 2
    assert not (tmp_path / "cases" / "tables").exists()


@pytest.mark.parametrize("trouble", [OSError(errno.ENOSPC, "full"), KeyboardInterrupt()], ids=repr)
def test_no_part_of_a_file_is_left(tmp_path, monkeypatch, capsys, trouble):
    """A full disk, or Ctrl-C, in the middle: a sentence, what was there before, and no half of a file."""
    out = tmp_path / "out"
    words = ["--archive", str(tmp_path / "cases"), "audit", "--question", "booking", "--to", str(out)]
    archive(tmp_path / "cases", "AB-0001")
    assert main(words) == 0
    before = (out / "audit.pdf").read_bytes()

    def halted(*_args):
        raise trouble

    monkeypatch.setattr(files, "as_pdf", halted)
    capsys.readouterr()

    assert main(words) == 5
    assert capsys.readouterr().err.startswith(("The report cannot be written: the disk is full.", "Stopped."))
    assert (out / "audit.pdf").read_bytes() == before
    assert sorted(p.name for p in out.iterdir()) == sorted(NAMES)


# -- the page


def test_the_page_needs_nothing_else(made):
    """No address but that of a namespace, a policy that fetches nothing, population before the questions."""
    page = html.unescape((made[1] / "audit.html").read_text("utf-8"))

    assert re.findall(r"https?://(?!www\.w3\.org/)[\w.]+", page) == []
    assert "default-src 'none'" in page
    assert page.index('id="population"') < page.index('id="completeness"')
    for sheet in made[0].sheets:
        assert f'<section id="{sheet.key}">' in page
    assert page.count('class="definition"') == len(made[0].sheets)
    assert all(caution in page for caution in CAUTIONS)


def test_what_was_typed_is_escaped(tmp_path):
    """Words from a protocol are words on the page and in its drawings, whatever they look like."""
    text = SMALL.replace('label = "Core"', 'label = "Core & {{so}}"')
    for n in range(1, 7):
        write(tmp_path / "cases", f"AB-000{n}", text=text)
    found = write_all(Archive(tmp_path / "cases"), tmp_path / "out", "step_lengths")
    page = (tmp_path / "out" / "audit.html").read_text("utf-8")

    assert found.sheets[0].drawings[0].rows[0].label == "Core & {so}"
    assert "Core &amp; {so}" in page
    assert "Core & {so}" not in page


@pytest.mark.browser
def test_the_page_in_a_browser(made, tmp_path):
    """With script the charts come alive, without they stand still; nothing is asked for, nothing complained."""
    with browser(tmp_path) as page:
        page.look(made[1] / "audit.html")
        page.wait(ALIVE)
        assert page.run("document.querySelectorAll('.live').length") > 8
        assert page.asked == [(made[1] / "audit.html").as_uri()] or page.asked == []
        assert page.said == []
        light = page.run("getComputedStyle(document.body).backgroundColor")
        page.look(made[1] / "audit.html", prefers_color_scheme="dark")
        assert page.run("getComputedStyle(document.body).backgroundColor") != light
        page.look(made[1] / "audit.html", width=400)
        assert page.run("document.documentElement.scrollWidth") <= 400
        page.look(made[1] / "audit.html", script=False)
        told = page.call("DOM.getDocument", depth=-1)
        assert json.dumps(told).count('"svg"') > 8
        assert page.said == []


@pytest.fixture(scope="module")
def checker(tmp_path_factory):
    """The script of axe-core."""
    return axe(tmp_path_factory.mktemp("axe"))


@pytest.mark.browser
def test_the_page_is_for_every_reader(made, checker, tmp_path):
    """No rule of axe-core for WCAG 2.2 A and AA is broken, light and dark, wide and narrow."""
    with browser(tmp_path) as page:
        for scheme in ("light", "dark"):
            for width in (1280, 400):
                page.look(made[1] / "audit.html", width=width, prefers_color_scheme=scheme)
                page.wait(ALIVE)
                page.run(f"{checker}; 0")
                rules = "{runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}"
                found = f"axe.run({rules}).then(r => r.violations.map(v => [v.id, v.nodes[0].html]))"
                assert page.run(found) == []


@pytest.mark.browser
def test_words_of_a_chart_stand_clear(made, tmp_path):
    """In a browser no word of a chart lies on another one, or beyond the edge of its drawing."""
    with browser(tmp_path) as page:
        page.look(made[1] / "audit.html")
        page.wait(ALIVE)
        assert page.run(UNCLEAR) == []
        assert page.run("document.querySelectorAll('.live svg text').length") > 100


@pytest.mark.browser
def test_a_printed_page_ends_with_no_head(made, tmp_path):
    """Printed by a browser, no page ends with a question, or with the head of a table whose rows come next."""
    with browser(tmp_path) as page:
        page.look(made[1] / "audit.html", script=False)
        told = base64.b64decode(page.call("Page.printToPDF")["data"])
    last = [page.extract_text().splitlines()[-1].strip() for page in pypdf.PdfReader(io.BytesIO(told)).pages]
    grids = [grid for sheet in made[0].sheets for grid in sheet.grids]
    heads = {sheet.asks for sheet in made[0].sheets} | {sheet.trust for sheet in made[0].sheets}
    heads |= {grid.title for grid in grids} | {" ".join(grid.headings) for grid in grids}

    assert len(last) > 5
    assert not heads & set(last)


# -- the typeset pages


def test_the_pages_are_tagged(made):
    """The PDF says that it is PDF/UA-1, has a language, a title, tags, and an alternative for each figure."""
    read = pypdf.PdfReader(made[1] / "audit.pdf")
    root = read.trailer["/Root"]
    about = read.xmp_metadata.stream.get_data().decode()

    assert re.search(r"pdfuaid:part>\s*1", about)
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-GB"
    assert read.metadata.title == "Audit of invented cases"
    words = list(_alternatives(root["/StructTreeRoot"]))
    assert len(words) == sum(len(sheet.drawings) for sheet in made[0].sheets)


def test_what_is_read_aloud_has_paragraphs(made):
    """Definition, n and remarks of every question are tagged as paragraphs, tables with the heads of their columns."""
    root = pypdf.PdfReader(made[1] / "audit.pdf").trailer["/Root"]["/StructTreeRoot"]
    kinds = Counter(node.get("/S") for node in _nodes(root))
    sheets = made[0].sheets
    grids = [grid for sheet in sheets for grid in sheet.grids]

    assert kinds["/P"] >= 2 * len(sheets) + sum(len(sheet.remarks) + len(sheet.drawings) for sheet in sheets)
    assert kinds["/TH"] == sum(len(grid.headings) for grid in grids)
    assert (kinds["/H1"], kinds["/H2"], kinds["/H3"]) == (1, 1 + len(sheets), len(grids))


def _alternatives(node):
    return (each["/Alt"] for each in _nodes(node) if "/Alt" in each)


def _nodes(node):
    node = node.get_object()
    if isinstance(node, list):
        for part in node:
            yield from _nodes(part)
    elif isinstance(node, dict):
        yield node
        if "/K" in node and not isinstance(node["/K"], int):
            yield from _nodes(node["/K"])


def test_an_alternative_names_every_row():
    """Whoever cannot see a chart hears each of its rows, however many there are."""
    names = [f"step {n}" for n in range(30)]
    told = in_words(Bars("Steps", "%", tuple(Bar(name, 1, "1") for name in names)))

    assert all(name in told for name in names)


def test_the_pages_say_what_the_page_says(made):
    """Population and exclusions come first; every question, definition and refusal stands on the pages."""
    read = pypdf.PdfReader(made[1] / "audit.pdf")
    told = " ".join(" ".join(page.extract_text() for page in read.pages).split())

    assert told.index(made[0].population) < told.index("How complete are the logs?")
    for sheet in made[0].sheets:
        assert sheet.asks in told
        assert _first_words(sheet.definition) in told
        assert sheet.refused in told


def _first_words(text):
    return " ".join(text.split()[:6])


def test_every_drawing_is_vega_lite(made):
    """Each chart holds against the schema of Vega-Lite that altair carries."""
    drawings = [each for sheet in made[0].sheets for each in sheet.drawings]

    assert len(drawings) > 15
    for each in drawings:
        assert altair.LayerChart.from_dict(specification(each)).layer


def test_a_drawing_on_paper_has_colours():
    """No name of CSS is left in a drawing that is set on paper, and it is sound XML."""
    told = on_paper('<svg class="marks"><path stroke="var(--rule)" fill="var(--stage)"/></svg>')

    assert "var(" not in told
    assert ET.fromstring(told).tag.endswith("svg")


def test_no_label_of_a_chart_is_cut_off():
    """A label of eighty letters goes on below, and two that are alike are two rows."""
    words = "a rather long name of a deviation: and a rather long name of the step it is about"
    bars = Bars("Deviations", "%", (Bar(words, 3, "3"), Bar("alike", 2, "2"), Bar("alike", 1, "1")))
    told = drawing(specification(bars)).svg
    labels = re.findall(r"<text[^>]*>(?:<tspan[^>]*>)?([^<]+)", told)

    assert "\u2026" not in told
    assert words.split() == [w for t in re.findall(r"<tspan[^>]*>([^<]+)", told) for w in t.split()]
    assert labels.count("alike") == 2


def test_no_chart_is_wider_than_the_page(made):
    """Each drawing is as wide as its labels ask for, and with the longest as wide as the page is."""
    drawings = [each for sheet in made[0].sheets for each in sheet.drawings]
    widths = [svg_width(drawing(specification(each)).svg) for each in drawings]

    assert max(widths) < 980
    assert min(widths) < 700


def test_minutes_are_not_the_least():
    """Under five quantiles an axis named min would be read as the minimum."""
    boxes = Boxes("Stage", "minutes", (Box("a", "9", 0, 25, 50, 75, 100),))
    told = drawing(specification(boxes)).svg

    assert ">minutes</text>" in told
    assert not re.search(r"\bmin\b", f"{told} {legend(boxes)}")


def test_a_legend_tells_of_no_interval_that_is_not_drawn():
    """Bars without intervals have none in their legend."""
    assert "interval" not in legend(Bars("a", "%", (Bar("a", 1, "1"),)))
    assert "interval" in legend(Bars("a", "%", (Bar("a", 1, "1", 0, 2),)))


def test_the_typeset_pages_list_their_questions(made):
    """The first page names every question with its page; few questions need no list."""
    read = pypdf.PdfReader(made[1] / "audit.pdf")
    first = " ".join(read.pages[0].extract_text().split())

    assert all(sheet.asks in first for sheet in made[0].sheets)
    assert len(read.pages[0]["/Annots"]) >= len(made[0].sheets)


def test_letters_that_the_typefaces_lack_are_told_by_number(tmp_path):
    """A step named in letters that the typesetter cannot show: pages, not a traceback, in the chart as in the table."""
    text = SMALL.replace('label = "Core"', 'label = "Core \u7db2\u819c"')
    for n in range(1, 7):
        write(tmp_path / "cases", f"AB-000{n}", text=text)
    found = write_all(Archive(tmp_path / "cases"), tmp_path / "out", "step_lengths")
    read = pypdf.PdfReader(tmp_path / "out" / "audit.pdf")
    words = "".join(read.pages[0].extract_text().replace("\u200b", "").split())

    assert len(found.sheets[0].drawings) == 1
    assert words.count("[U+7DB2][U+819C]") == 2
    assert "Core \u7db2\u819c" in (tmp_path / "out" / "audit.html").read_text("utf-8")


# -- flat files


def test_flat_files_are_pseudonymised(made):
    """One row a case, one a span; the ISO week in place of the day, no station, no time of day."""
    told = list(csv.DictReader(io.StringIO((made[1] / "cases.csv").read_text("utf-8"))))

    assert len(told) == 80
    assert re.fullmatch(r"\d{4}-W\d\d", told[0]["week"])
    assert {"day", "weekday", "station", "opened_minute", "stop_reason"} & told[0].keys() == set()
    # Minutes from the first line: a journal is opened within the quarter of an hour before patient in.
    assert all(-1 < float(row["started_minute"]) < 60 for row in told if row["started_minute"])
    spans = list(csv.DictReader(io.StringIO((made[1] / "spans.csv").read_text("utf-8"))))
    assert sum(int(row["spans_n"]) for row in told) == len(spans)


def test_csv_and_parquet_agree_and_carry_definitions(made):
    """DuckDB reads the same rows from both; the Parquet file defines its columns, with units."""
    csv_path, parquet_path = made[1] / "cases.csv", made[1] / "cases.parquet"
    sums = [
        duckdb.sql(f"select count(*), round(sum(minutes), 3), sum(spans_n) from '{path}'").fetchall()
        for path in (csv_path, parquet_path)
    ]
    told = json.loads(pq.read_metadata(parquet_path).metadata[b"clockhour"])

    assert sums[0] == sums[1]
    assert [c["name"] for c in told["columns"]] == pq.read_schema(parquet_path).names
    assert all(c["says"]["words"] for c in told["columns"])
    assert not any("midnight" in c["says"]["unit"] for c in told["columns"])


@pytest.mark.parametrize("table", ["cases", "spans", "visits"])
def test_no_private_column_leaves(tmp_path, table):
    """No column that the tables call private is in a flat file."""
    with audited(archive(tmp_path, "AB-0001")) as audit:
        names = set(flat(audit, table).schema.names)

    assert names
    assert names & {c.name for c in columns(table) if c.says.private} == set()


def test_rows_come_in_order(made):
    """Both flat files of spans have the same rows in the same order, by case and by entry."""
    told = list(csv.DictReader(io.StringIO((made[1] / "spans.csv").read_text("utf-8"))))
    order = [(row["code"], int(row["seq"])) for row in told]
    held = pq.read_table(made[1] / "spans.parquet", columns=["code", "seq"]).to_pylist()

    assert order == sorted(order)
    assert order == [(row["code"], row["seq"]) for row in held]


def test_small_cells_are_suppressed(made, tmp_path):
    """No number of cases or events from 1 to 4 stands in a table of the report, and that is said."""
    counted = {"n", "runs", "breaks", "overlaps", "sessions", "inverted", "unmatched", "cases with it", "off chart",
               "after one operation", "eyes", "at risk", "entries"}  # fmt: skip
    for sheet in made[0].sheets:
        for grid in sheet.grids:
            places = [i for i, h in enumerate(grid.headings) if h in counted or h.startswith("n ")]
            cells = {row[i].replace(",", "") for row in grid.rows for i in places}
            assert cells & {"1", "2", "3", "4"} == set()
    told = list(csv.DictReader(io.StringIO((made[1] / "precedence.csv").read_text("utf-8"))))

    assert told
    assert all(row["came_first"] not in ("1", "2", "3", "4") for row in told)
    assert any("Small cells" in line for line in made[0].lines)


@pytest.mark.parametrize("cases", [0, 1])
def test_little_in_an_archive_gives_a_report(tmp_path, cases):
    """No case, or one, gives page, pages and flat files that say so."""
    found = write_all(archive(tmp_path / "cases", *["AB-0001"][:cases]), tmp_path / "out")
    read = pypdf.PdfReader(tmp_path / "out" / "audit.pdf")

    assert found.population == ("<5 cases" if cases else "0 of 0 cases")
    assert found.population in read.pages[0].extract_text()
    assert all(not sheet.drawings for sheet in found.sheets)
    rows = (tmp_path / "out" / "cases.csv").read_text("utf-8").splitlines()
    assert len(rows) == 1 + cases


def test_filters_hold_for_flat_files(tmp_path):
    """What the filters leave out is not in the flat files either."""
    held = archive(tmp_path / "cases", "AB-0001", "AB-0002")
    write_all(held, tmp_path / "out", "booking", filters=Filters(facts={"anaesthetic": ("general",)}))

    assert len((tmp_path / "out" / "cases.csv").read_text("utf-8").splitlines()) == 1
