"""The page: whole in one file, the same facts as everywhere, nothing of it live but its own two scripts."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator, Mapping
from functools import cache
from hashlib import sha256
from html.parser import HTMLParser
from pathlib import Path

import pytest

from record_browser import Page, axe, browser
from record_demo import demo_record
from record_readers import read_markdown
from record_stories import EVERY_STORY, hostile_record, small_record, with_usual
from tracker.core.text import shown
from tracker.core.usual import Usual
from tracker.core.wording import CAUTIONS
from tracker.review.record import as_markdown
from tracker.review.record.as_html import render
from tracker.review.record.structure import Record

NOTES = (
    "<script>window.pwned=1</script>",
    "</script><script>window.pwned=1</script><!--",
    "</style><img src=x onerror='window.pwned=1'>",
    '" onmouseover="window.pwned=1" x="',
    "' autofocus onfocus='window.pwned=1",
    "javascript:window.pwned=1",
    "{{ 7 * 7 }} {% include 'x' %} ${7 * 7} &lt;b&gt; &#60;b&#62;",
    "datum.x; window.pwned=1; lanes[0]",
    "<svg><a xlink:href='https://example.org/x'><text>go</text></a></svg>",
    "مرحبا بالعالم and שלום and 👩‍⚕️",
    "👁" * 60,
    "x" * 20_000,
)
EVERY_NOTE = pytest.mark.parametrize("note", NOTES, ids=range(len(NOTES)))


class Read(HTMLParser):
    """What a page says, by the reader of the standard library."""

    def __init__(self, data: bytes) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: dict[str, list[list[str]]] = {}
        self.scripts: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.words = ""
        self._section, self._cell, self._script = "", False, False
        self.feed(data.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep every attribute; open sections, rows, cells and scripts."""
        told = {name: value or "" for name, value in attrs}
        self.attributes += [(tag, name, value) for name, value in told.items()]
        if tag == "section":
            self._section = told["id"]
        elif tag == "tr":
            self.tables.setdefault(self._section, []).append([])
        elif tag in ("th", "td"):
            self._cell = True
            self.tables[self._section][-1].append("")
        elif tag == "script" and not told.get("type"):
            self._script = True
            self.scripts.append("")

    def handle_endtag(self, tag: str) -> None:
        """Close cells and scripts."""
        self._cell = self._cell and tag not in ("th", "td")
        self._script = self._script and tag != "script"

    def handle_data(self, data: str) -> None:
        """Words belong to the cell or the script that is open."""
        if self._script:
            self.scripts[-1] += data
        elif self._cell:
            self.tables[self._section][-1][-1] += data
        self.words += data

    def rows(self, section: str) -> list[list[str]]:
        """The rows of a section without its headings."""
        return self.tables.get(section, [[]])[1:]


def page(record: Record) -> bytes:
    """The one file of a record's page."""
    ((name, data),) = render(record).items()
    assert name == f"{record.header.case}.html"
    return data


@cache
def demo_page() -> bytes:
    """The page of the invented case."""
    return page(demo_record())


@cache
def story_page(told: str) -> bytes:
    """The page of a story."""
    return page(small_record(told))


@cache
def hostile_page(note: str) -> bytes:
    """The page of a case whose every free word is `note`."""
    return page(hostile_record(note))


# -- what it says

SAME = {
    "Case facts": "facts",
    "Deviations": "deviations",
    "Readings": "readings",
    "Matched pairs": "pairs",
    "Counts as said": "counts",
    "Changes of plan": "changes",
    "Notes and bookmarks": "said",
    "Amendments": "amendments",
    "Entries this program could not use": "unknown",
    "Every entry": "events",
}
"""Sections without a length of time, by their headings on the Markdown page."""


def _equal(record: Record, data: bytes) -> None:
    read = Read(data)
    other = read_markdown(as_markdown.render(record)[f"{record.header.case}.md"])
    for heading, section in SAME.items():
        told = [[" ".join(cell.split()) for cell in row.values()] for row in other.get(heading, [])]
        assert [[" ".join(cell.split()) for cell in row] for row in read.rows(section)] == told, section


@EVERY_STORY
def test_page_and_markdown_tell_the_same(told: str) -> None:
    """Facts, deviations, readings, pairs, counts, changes, notes, amendments and entries: cell by cell."""
    _equal(small_record(told), story_page(told))


def test_the_demo_case_is_told_the_same_on_page_and_in_markdown() -> None:
    """The invented case, which has a hundred and more entries, too."""
    _equal(demo_record(), demo_page())


@EVERY_STORY
def test_lengths_are_those_of_the_record_to_a_tenth_of_a_minute(told: str) -> None:
    """Stages and spans have their minutes with pauses out; no stop is said, not guessed."""
    record = small_record(told)
    read = Read(story_page(told))
    rows = [row[3] for row in read.rows("stages")] + [row[5] for row in read.rows("spans")]
    lengths = [(s.minutes, s.open) for s in record.stages] + [(s.minutes, s.open) for s in record.spans]
    for cell, (minutes, is_open) in zip(rows, lengths, strict=True):
        if minutes is None:
            assert cell == ("no stop" if is_open else "")
        else:
            assert float(cell) == pytest.approx(minutes, abs=0.0501)


@EVERY_STORY
def test_cautions_come_first_and_provenance_is_told(told: str) -> None:
    """Before any section stand the cautions; version, digest, last hash and figures of trust are there."""
    record = small_record(told)
    data = story_page(told)
    read = Read(data)
    for caution in CAUTIONS:
        assert 0 < data.index(caution.encode()) < data.index(b"<section")
    assert "version 1.2.0" in read.words
    assert dict(read.rows("provenance"))["Digest of the protocol text (SHA-256)"] == record.header.digest
    assert dict(read.rows("provenance"))["Hash of the last entry"] == "ab" * 32
    assert len(read.rows("completeness")) == 11


def test_usual_ranges_say_how_many_cases_they_are_of() -> None:
    """A stage with a usual range shows it with its n, every other says that n is too small."""
    data = render(with_usual(small_record("whole"), "peel", Usual(12, 38.25, 9)))["A-0007.html"]
    column = [row[4] for row in Read(data).rows("stages")]

    assert column == ["n too small", "12.0 to 38.3 (n = 9)", "n too small"]


def test_the_page_is_in_british_english_and_says_it_is_invented() -> None:
    """Language and title are there for a reader that speaks, and an invented case is called one."""
    data = story_page("whole")
    assert b'<html lang="en-GB">' in data
    assert b"<title>Case A-0007: timed record</title>" in data
    assert b"an invented case" in data


def test_a_case_with_nothing_on_it_needs_no_script() -> None:
    """Where there is nothing to draw the page says so and carries no script."""
    read = Read(story_page("opened"))
    assert "Nothing on the timeline." in read.words
    assert read.scripts == []


def test_the_same_record_gives_the_same_page() -> None:
    """Drawn twice in one process, the bytes are the same."""
    assert page(small_record("whole")) == story_page("whole")


# -- nothing but itself


def test_no_network_address_is_in_the_file() -> None:
    """Every http address is the name of an XML language of the W3C, and every link stays on the page."""
    data = demo_page().decode()
    assert set(re.findall(r"https?://[\w.]*", data)) == {"http://www.w3.org"}
    for tag, name, value in Read(data.encode()).attributes:
        if name in ("href", "src", "action", "data", "poster", "srcset"):
            assert value.startswith("#"), (tag, name, value)


def test_the_policy_names_the_scripts_that_are_there_and_no_other() -> None:
    """The content security policy allows by hash the two scripts of the page, and fetching of nothing."""
    read = Read(demo_page())
    (policy,) = (value for _, name, value in read.attributes if name == "content" and "default-src" in value)
    hashes = [base64.b64encode(sha256(s.encode()).digest()).decode() for s in read.scripts]
    assert len(hashes) == 2
    assert policy.split("; ")[0] == "default-src 'none'"
    assert re.findall(r"'sha256-([^']+)'", policy) == hashes
    assert "unsafe-eval" not in policy
    assert "http" not in policy


@EVERY_NOTE
def test_a_note_stays_words(note: str) -> None:
    """Whatever was typed is read back as itself, and adds neither tag nor attribute nor script."""
    made, plain = Read(hostile_page(note)), Read(hostile_page("plain"))
    assert [row[2] for row in made.rows("said")] == [shown(note)] * 2
    assert [(t, n) for t, n, _ in made.attributes] == [(t, n) for t, n, _ in plain.attributes]
    assert made.scripts == plain.scripts


# -- colours


def _palettes() -> Iterator[Mapping[str, str]]:
    styles = story_page("whole").decode().split("<style>")[1].split("</style>")[0]
    light, dark = (dict(re.findall(r"--(\w+): (#\w{6})", part)) for part in styles.split("@media")[:2])
    yield light
    yield dark


def _contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours: WCAG 2.2, definitions of contrast ratio and relative luminance."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_contrast_is_computed_as_published() -> None:
    """Black on white is 21:1 (WCAG 2.2, note to contrast ratio); #767676 on white is just over 4.5:1."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    assert _contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_words_and_marks_stand_out_in_light_and_dark(scheme: int) -> None:
    """Words have 4.5:1 (WCAG 2.2, 1.4.3); bars, marks and borders 3:1 (1.4.11), which axe leaves out."""
    colours = list(_palettes())[scheme]
    for ground in ("page", "panel"):
        for words in ("ink", "quiet", "link"):
            assert _contrast(colours[words], colours[ground]) >= 4.5, (words, ground)
    for mark in ("stage", "lane", "safety", "order", "note", "quiet"):
        assert _contrast(colours[mark], colours["page"]) >= 3, mark


# -- in a browser

ACTS = ("earlier", "later", "closer", "wider", "whole", "previous", "next")
READY = "!document.querySelector('.controls').hidden"
RULES = "['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']"
MIDDLE = """mark => {
  mark.scrollIntoView({block: "center"});
  const box = mark.getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2];
}"""
SHOWN = "(what => getComputedStyle(document.querySelector(what)).display !== 'none')"


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A tab of a Chromium of its own."""
    with browser(tmp_path_factory.mktemp("profile")) as opened:
        yield opened


@pytest.fixture(scope="module")
def checker(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The script of axe-core."""
    return axe(tmp_path_factory.mktemp("axe"))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the invented case as a file."""
    path = tmp_path_factory.mktemp("page") / "demo.html"
    path.write_bytes(demo_page())
    return path


@pytest.mark.browser
def test_chromium_opens_the_page_and_asks_for_nothing(tab: Page, demo: Path) -> None:
    """The one request is for the file itself, nothing is complained of, and the facts are in the document."""
    tab.look(demo)
    tab.wait(READY)

    assert tab.asked == [demo.as_uri()]
    assert tab.said == []
    assert str(tab.run("document.querySelector('h1').textContent")).startswith("Case DEMO-")
    assert tab.run("document.querySelectorAll('#events tbody tr').length") == len(demo_record().events)
    text = tab.run("document.querySelector('#deviations').innerText")
    assert all(d.label in text and d.found in text for d in demo_record().deviations)


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_against_wcag(tab: Page, demo: Path, checker: str, scheme: str, width: int) -> None:
    """No rule of axe-core for WCAG 2.2 A and AA is broken, in light and dark, wide and narrow."""
    tab.look(demo, width=width, prefers_color_scheme=scheme)
    tab.wait(READY)
    tab.run(f"{checker}; 0")
    broken, passed = tab.run(
        f"axe.run({{runOnly: {RULES}}})"
        ".then(r => [r.violations.map(v => [v.id, v.nodes[0].html]), r.passes.length])"
    )

    assert broken == []
    assert passed > 20


@pytest.mark.browser
def test_the_colours_follow_the_reader(tab: Page, demo: Path) -> None:
    """A reader who asks for dark gets a dark page, one who does not a white one."""
    ground = {}
    for scheme in ("light", "dark"):
        tab.look(demo, prefers_color_scheme=scheme)
        ground[scheme] = tab.run("getComputedStyle(document.body).backgroundColor")

    assert ground == {"light": "rgb(255, 255, 255)", "dark": "rgb(20, 24, 29)"}


@pytest.mark.browser
def test_nothing_is_cut_off_on_a_narrow_screen(tab: Page, demo: Path) -> None:
    """At 320 pixels the page itself does not scroll sideways (WCAG 2.2, 1.4.10); tables and drawing do."""
    tab.look(demo, width=320)
    tab.wait(READY)

    assert tab.run("document.documentElement.scrollWidth") == 320


@pytest.mark.browser
def test_without_script_the_drawing_and_every_table_are_there(tab: Page, demo: Path) -> None:
    """A reader that runs no script sees the drawing as it was made, and no button that would do nothing."""
    tab.look(demo, script=False)

    assert tab.run(f"{SHOWN}('.still svg')")
    assert not tab.run(f"{SHOWN}('.controls')")
    assert tab.run("document.querySelectorAll('table').length") >= 18
    assert tab.said == []


@pytest.mark.browser
def test_on_paper_the_whole_case_is_drawn(tab: Page, demo: Path) -> None:
    """Printed after zooming, the page shows the drawing of the whole case and none of the buttons."""
    tab.look(demo)
    tab.wait(READY)
    tab.run("document.querySelector('[data-act=closer]').click()")
    tab.call("Emulation.setEmulatedMedia", media="print")
    seen = {what: tab.run(f"{SHOWN}('{what}')") for what in (".still", ".live", ".controls", "nav")}
    tab.call("Emulation.setEmulatedMedia", media="")

    assert seen == {".still": True, ".live": False, ".controls": False, "nav": False}


@pytest.mark.browser
def test_every_control_is_reached_and_used_by_keyboard(tab: Page, demo: Path) -> None:
    """Tab goes from the link that skips to the record through sections and buttons, and Enter presses."""
    tab.look(demo)
    tab.wait(READY)
    reached = []
    for _ in range(60):
        tab.key("Tab")
        reached.append(tab.run("document.activeElement.dataset.act || document.activeElement.className"))
        if reached[-1] == "closer":
            tab.key("Enter")

    assert reached[0] == "skip"
    assert [act for act in reached if act in ACTS] == list(ACTS)
    assert "scroll" in reached
    assert tab.run("document.querySelector('.told').textContent").startswith("Showing 09:")


@pytest.mark.browser
def test_the_timeline_zooms_moves_and_comes_back(tab: Page, demo: Path) -> None:
    """Closer halves what is shown, later moves it on, the whole case brings back what was there first."""
    tab.look(demo)
    tab.wait(READY)

    def pressed(*acts: str) -> tuple[int, int]:
        for act in acts:
            tab.run(f"document.querySelector('[data-act={act}]').click()")
        shows = re.findall(r"(\d\d):(\d\d):\d\d", tab.run("document.querySelector('.told').textContent"))
        start, stop = (60 * int(h) + int(m) for h, m in shows)
        return start, stop

    whole = pressed("whole")
    closer = pressed("closer")
    later = pressed("later")
    assert closer[1] - closer[0] == pytest.approx((whole[1] - whole[0]) / 2, abs=1)
    assert later[0] > closer[0]
    assert later[1] - later[0] == pytest.approx(closer[1] - closer[0], abs=1)
    assert pressed("wider", "wider") == whole == pressed("closer", "closer", "whole")


@pytest.mark.browser
def test_the_next_mark_is_told_in_words(tab: Page, demo: Path) -> None:
    """Going from mark to mark says which it is: kind, what, time told and entry."""
    tab.look(demo)
    tab.wait(READY)
    tab.run("document.querySelector('[data-act=next]').click()")
    first = tab.run("document.querySelector('.told').textContent")

    assert re.fullmatch(r"1 of \d+: bookmark, bookmark, 09:13:40, entry \d+\.", first)


@pytest.mark.browser
@EVERY_NOTE
def test_no_note_runs_in_a_browser(tab: Page, tmp_path: Path, note: str) -> None:
    """Shown in tables, labels and a tooltip, no note has run, asked for anything or become an element."""
    path = tmp_path / "hostile.html"
    path.write_bytes(hostile_page(note))
    tab.look(path)
    tab.wait(READY)
    x, y = tab.run(f"({MIDDLE})(document.querySelector('.live .mark-symbol path:last-child'))")
    for step in (0, 1):
        tab.call("Input.dispatchMouseEvent", type="mouseMoved", x=x + step, y=y)
    tab.wait("document.querySelector('#vg-tooltip-element.visible') !== null")

    told = tab.run("document.querySelector('#vg-tooltip-element').innerText")
    assert shown(note).strip()[:150] in told
    assert tab.run("window.pwned") is None
    assert tab.asked == [path.as_uri()]
    assert tab.said == []
    assert tab.run("document.querySelectorAll('script').length") == 3
    assert tab.run("document.querySelectorAll('img, iframe, object, embed, base').length") == 0
    tags = tab.run(
        "[...new Set([...document.querySelectorAll('#vg-tooltip-element *')].map(e => e.tagName))]"
    )
    assert set(tags) <= {"TABLE", "TBODY", "TR", "TD", "H2"}


@pytest.mark.browser
def test_the_policy_stops_a_script_that_was_not_there(tab: Page, demo: Path) -> None:
    """Even a script put into the page afterwards does not run."""
    tab.look(demo)
    tab.wait(READY)
    tab.run(
        "(made => { made.textContent = 'window.pwned = 1'; document.body.append(made); })"
        "(document.createElement('script'))"
    )

    assert tab.run("window.pwned") is None
    assert any("Content Security Policy" in words for words in tab.said)
