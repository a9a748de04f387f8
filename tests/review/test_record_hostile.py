"""Notes that try to be something else: inert in every format, and still legible."""

from __future__ import annotations

import json
import re
import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from record_alone import build
from record_case import story
from record_readers import (
    live_kinds,
    markdown_tokens,
    read_csv,
    read_json,
    read_markdown,
    read_toml,
    unguarded,
    words,
)
from tracker.core.text import shown
from tracker.review.record.as_csv import guarded
from tracker.review.record.as_markdown import fenced, inert, table
from tracker.review.record.formats import FORMATS

PLAIN = ("toml", "md", "csv", "json")
"""The formats of text; each other format has tests of its own."""

HOSTILE = (
    '=HYPERLINK("http://example.org","lens")',
    "+1+cmd|' /C calc'!A0",
    "-2+3",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "＝1+1",
    "fine; =1+1",
    "'=already",
    "a | b || c \\| d",
    "<script>alert(1)</script>",
    "<!-- --> &lt; &amp;",
    "[link](javascript:alert(1)) ![](x) [red]text[/red]",
    "www.example.org https://example.org/x //localhost/y a@example.org",
    "**bold** __x__ `code` ~~gone~~ # heading\n- list\n> quote\n```",
    "\x1b[2J\x1b]0;title\x07\x9b31m",
    "lens \u202eraelc\u202c \u200b\u2066x",
    "👩‍⚕️ 👁️ ok",
    "\x00\u2028\u2029\ufeff",
    "x" * 20_000,
    '"quoted", commas, and a "," too',
    "'''\n\"\"\"\\",
)


def rendered(note: str) -> dict[str, bytes]:
    """Every file of a case whose note, bookmark, reasons and unknown entry all say `note`."""
    case = story(
        """
        09:00 opened
        09:01 note text={note}
        09:02 bookmark text={note}
        09:03 complication
        09:04 complication_detail ref=4 complication=bleed text={note}
        09:05 paused reason={note}
        09:06 strike ref=6 reason={note}
        09:07 from_the_future words={note}
        09:08 operator operator={note}
        09:09 start step=core
        09:10 reading reading=pressure value={note}
        09:11 stopped_early reason={note}
        """,
        note=note,
    )
    record = build(case, 700.0, "ab" * 32, len(case.events))
    return {name: data for f in map(FORMATS.__getitem__, PLAIN) for name, data in f.render(record).items()}


@pytest.mark.parametrize("note", HOSTILE, ids=range(len(HOSTILE)))
def test_no_file_holds_a_character_that_a_terminal_obeys(note: str) -> None:
    """Control codes and direction overrides reach no file; line ends are the only control characters."""
    for name, data in rendered(note).items():
        text = data.decode("utf-8-sig").replace("\r\n", "\n").replace("\n", "")
        assert {c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp")} == set(), name


@pytest.mark.parametrize("note", HOSTILE, ids=range(len(HOSTILE)))
def test_the_note_is_the_same_in_every_format(note: str) -> None:
    """Made harmless once, the words are the same wherever they are read."""
    held, expected = rendered(note), shown(note)
    for data in (read_json(held["A-0007.json"]), read_toml(held["A-0007.toml"])):
        assert [s["text"] for s in data["said"]] == [expected, expected]
        assert data["complications"][0]["text"] == expected
    page = read_markdown(held["A-0007.md"])
    assert [r["Words"] for r in page["Notes and bookmarks"]] == [expected.strip()] * 2
    rows = read_csv(held["A-0007-events.csv"])
    assert unguarded(rows[1]["detail"]) == expected


@pytest.mark.parametrize("note", HOSTILE, ids=range(len(HOSTILE)))
def test_no_cell_of_csv_is_a_formula(note: str) -> None:
    """No cell begins as a formula, parted at commas or, as elsewhere in Europe, at semicolons."""
    held = rendered(note)
    for name in ("A-0007-events.csv", "A-0007-spans.csv"):
        for row in read_csv(held[name]):
            for cell in row.values():
                for part in cell.split(";"):
                    assert not re.match(r"\s*[=+\-@＝＋－＠]", part) or _is_number(part)


def _is_number(cell: str) -> bool:
    return re.fullmatch(r"-?\d+(\.\d+)?", cell) is not None


@pytest.mark.parametrize("note", HOSTILE, ids=range(len(HOSTILE)))
def test_nothing_on_the_markdown_page_is_live(note: str) -> None:
    """No link, picture, HTML, emphasis or code comes of what was typed; the only fence is the drawing's."""
    tokens = markdown_tokens(rendered(note)["A-0007.md"].decode())
    assert live_kinds(tokens) == set()
    kinds = [t.type for t in tokens]
    assert {"html_block", "code_block", "blockquote_open", "ordered_list_open", "hr"} & set(kinds) == set()
    assert kinds.count("fence") == 1
    assert kinds.count("bullet_list_open") == 1


@given(st.text(st.characters(codec="utf-8"), max_size=60))
@example("'=1")
@example("''=1;'-2; ;=")
def test_the_guard_loses_nothing(text: str) -> None:
    """Whatever is guarded is given back whole, and no part of it begins as a formula."""
    cell = guarded(text)
    assert unguarded(cell) == text
    for part in cell.split(";"):
        assert not part.lstrip()[:1] or part.lstrip()[0] not in "=+-@＝＋－＠"
    assert cell[:1] not in ("\t", "\r", "\n")


@given(st.text(max_size=20).filter(lambda t: not re.search(r"[=+\-@\t\r\n＝＋－＠]", t)))
def test_ordinary_words_are_not_touched_by_the_guard(text: str) -> None:
    """An apostrophe stands only where it is wanted."""
    assert guarded(text) == text


def test_numbers_stay_numbers_in_csv() -> None:
    """A reading of -3 is a number and no formula; the same typed as words is guarded."""
    case = story('09:00 opened\n09:01 reading reading=pressure value=-3\n09:02 note text="-3"')
    record = build(case, 120.0, "", 3)
    _, reading, note = read_csv(FORMATS["csv"].render(record)["A-0007-events.csv"])
    assert (reading["value"], note["detail"]) == ("-3", "'-3")


_MARKUP = st.text(st.sampled_from("ab1 .:/@\\`*_{}[]()<>#+-!|~&;$^=\"'\n\twWhtps"), max_size=60)


@given(st.text(st.characters(codec="utf-8"), max_size=60) | _MARKUP)
@example("http://www.example.org")
@example("a\\|b\\")
def test_whatever_is_typed_is_read_back_as_words(text: str) -> None:
    """In a table cell any text at all is read as itself, with nothing live in it."""
    tokens = markdown_tokens("\n".join(table(("a", "b"), [(text, "end")])))
    cells = [t for t in tokens if t.type == "inline"]
    assert [words(c) for c in cells[2:]] == [shown(text).strip(), "end"]
    assert live_kinds(tokens) == set()
    assert "<" not in inert(text)


@given(st.lists(st.text(st.sampled_from("`~ ab"), max_size=12), max_size=4))
def test_nothing_closes_the_fence_of_the_drawing(lines: list[str]) -> None:
    """A label made of backticks stays inside the fence."""
    tokens = markdown_tokens("\n".join(fenced(lines)))
    assert [t.type for t in tokens] == ["fence"]
    assert tokens[0].content == "".join(f"{line}\n" for line in lines)


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity"])
def test_a_number_that_is_none_is_told_as_a_word(value: str) -> None:
    """JSON has no such numbers; the record says the word, and every reader can read the file."""
    case = story(f"09:00 opened\n09:01 reading reading=pressure value={value}")
    data = FORMATS["json"].render(build(case, 60.0, "", 2))["A-0007.json"]

    def refuse(word: str) -> None:
        raise AssertionError(word)

    held = json.loads(data, parse_constant=refuse)
    assert held["readings"][0]["value"] in ("nan", "inf", "-inf")


def test_a_lone_surrogate_in_an_unknown_entry_can_be_written() -> None:
    """Half a character from a damaged newer program is kept as its escape."""
    case = story('09:00 opened\n09:01 from_the_future words="\\ud83d"')
    record = build(case, 60.0, "", 2)
    assert "\\ud83d" in record.unknown[0].content
    for chosen in map(FORMATS.__getitem__, PLAIN):
        assert chosen.render(record)
