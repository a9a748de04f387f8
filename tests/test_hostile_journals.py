"""Journals from strangers: whatever they say, nothing raises, and nothing in them is obeyed."""

from __future__ import annotations

import csv
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from desks import SMALL, protocol_of
from strangers import (
    DIRTY,
    FILMED,
    MOMENTS,
    entries_of,
    envelope,
    first_line,
    sealed,
    take_debrief,
    take_entries,
    take_follow_up,
    take_journal,
    take_record,
    take_review,
)
from tracker.cli import main
from tracker.core.events import KINDS
from tracker.core.text import unshowable
from tracker.journal.lines import read_lines
from tracker.review.record.formats import FORMATS


def nested(depth: int, *, of_lists: bool) -> Any:
    """A value that nests so deep."""
    value: Any = 1
    for _ in range(depth):
        value = [value] if of_lists else {"a": value}
    return value


def entry(seq: int = 2, **fields: Any) -> dict[str, Any]:
    """An entry with some fields."""
    return {**envelope(seq), **fields}


PLACES = {
    "role": lambda seq, words: entry(seq, kind="tick", step="time_out", role=words),
    "kind": lambda seq, words: entry(seq, kind=words),
    "text": lambda seq, words: entry(seq, kind="note", text=words),
    "bookmark": lambda seq, words: entry(seq, kind="bookmark", text=words),
    "step": lambda seq, words: entry(seq, kind="tick", step=words, choice=words),
    "reason": lambda seq, words: entry(seq, kind="reason", deviation=words, reason=words, text=words),
    "pause": lambda seq, words: entry(seq, kind="paused" if seq % 2 else "continued", reason=words),
    "operator": lambda seq, words: entry(seq, kind="operator", operator=words),
    "handover": lambda seq, words: entry(
        seq, kind="handover", outgoing=words, incoming=words, counts_confirmed=False
    ),
    "reading": lambda seq, words: entry(seq, kind="reading", reading="pressure", value=words),
    "fact": lambda seq, words: entry(seq, kind="facts", values={words: words, "lens": words}),
    "key": lambda seq, words: entry(seq, kind="of_tomorrow", **{words: words}),
}
"""An entry with words in each of the places where a journal has words."""


def dirty(*places: str) -> bytes:
    """A journal with all dirty words in each of some places."""
    made = [(PLACES[place], words) for place in places for words in DIRTY]
    return sealed([first_line(SMALL), *(put(seq, words) for seq, (put, words) in enumerate(made, 2))])


@pytest.mark.parametrize("place", PLACES)
def test_words_in_any_place_of_an_entry_are_never_obeyed(place: str) -> None:
    """Control sequences, markup, formulas, paths: on no screen and in no record more than words."""
    assert take_journal(dirty(place)) is not None


class _Page(HTMLParser):
    """What a page of HTML would run or fetch: elements, attributes that run, addresses."""

    def __init__(self) -> None:
        super().__init__()
        self.scripts = 0
        self.live: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what is live."""
        self.scripts += tag == "script"
        self.live += [tag] if tag in ("iframe", "object", "embed", "base", "form", "link", "img") else []
        for name, value in attrs:
            fetched = (value or "").strip().lower().startswith(("javascript:", "data:text", "http", "//"))
            if name.startswith("on") or (fetched and not name.startswith("xmlns")):
                self.live.append(f"{tag} {name}={value}")


def test_no_format_of_a_hostile_case_runs_anything_of_it() -> None:
    """All dirty words everywhere: a page runs its own scripts alone, no cell is a formula."""
    case = take_journal(dirty(*PLACES))
    assert case is not None
    formats = [name for name in ("html", "csv", "xes", "fhir") if name in FORMATS]
    for name, data in take_record(case, read_lines(dirty(*PLACES)), formats).items():
        if name.endswith(".html"):
            page = _Page()
            page.feed(data.decode())
            assert (page.scripts, page.live) == (3, [])
        if name.endswith(".csv"):
            cells = [cell for row in csv.reader(data.decode("utf-8-sig").splitlines()) for cell in row]
            assert not [cell for cell in cells if re.match(r"[=@\t\r]|[+\-](?![\d.]+$)", cell)], name
        if name.endswith(".xes"):
            assert b"<!DOCTYPE" not in data
            assert b"<!ENTITY" not in data


@pytest.mark.parametrize("at", MOMENTS)
@pytest.mark.parametrize("entered_at", MOMENTS)
def test_times_at_the_ends_of_the_calendar_are_times(at: str, entered_at: str) -> None:
    """The years 1 and 9999 at the widest offsets: drawn, recorded, back-stamped, and nothing overflows."""
    lines = [
        first_line(SMALL),
        entry(2, kind="tick", step="in_theatre") | {"at": at, "entered_at": entered_at},
        entry(3, kind="start", step="core"),
        entry(4, kind="back_stamp", ref=3, seconds=3600.0),
        entry(5, kind="stop", step="core", ref=3) | {"entered_at": at},
        entry(6, kind="note", text="x") | {"elapsed_ms": 2**53 - 1, "run": 2**53 - 1},
    ]

    assert take_journal(sealed(lines)) is not None


@pytest.mark.parametrize("depth", [10, 200, 400, 900, 5000])
@pytest.mark.parametrize("of_lists", [True, False])
def test_deep_nesting_is_told_or_taken(depth: int, of_lists: bool) -> None:
    """A value that nests deeper than any reader goes is no entry; one that does not is kept."""
    opens, closes = ("[", "]") if of_lists else ('{"a":', "}")
    line = f'{{"at":"x","kind":"deep","v":{opens * depth}1{closes * depth}}}\n'
    take_journal(sealed([first_line(SMALL)]) + line.encode())
    if depth <= 400:
        take_journal(sealed([first_line(SMALL), entry(kind="deep", v=nested(depth, of_lists=of_lists))]))


def test_every_kind_is_among_those_that_bytes_choose() -> None:
    """The entries of the fuzz below are of every kind there is, and of none."""
    chosen = {
        e["kind"] for n in range(len(KINDS) + 1) for e in entries_of(bytes([n] * 12), protocol_of(SMALL))
    }

    assert {str(kind.model_fields["kind"].default) for kind in KINDS} <= chosen


@settings(max_examples=40)
@given(st.binary(min_size=8, max_size=250))
@example(bytes(range(250)))
def test_any_true_chain_is_taken(data: bytes) -> None:
    """40 journals with a true chain and anything in them, up to their records and screens."""
    take_entries(data)


@settings(max_examples=40)
@given(st.binary(min_size=40, max_size=250))
def test_any_true_chain_is_taken_for_a_debrief(data: bytes) -> None:
    """40 debriefs with a true chain and anything in them, up to the record and the films."""
    take_debrief(data)


@settings(max_examples=40)
@given(st.binary(min_size=8, max_size=250))
@example(bytes(range(250)))
def test_any_true_chain_is_taken_for_a_follow_up(data: bytes) -> None:
    """40 follow-ups with a true chain and anything in them, up to their lines and the rows of their table."""
    take_follow_up(data)


@pytest.mark.parametrize("words", DIRTY, ids=range(len(DIRTY)))
def test_a_recording_with_a_hostile_name_makes_files_with_tame_ones(words: str) -> None:
    """A recording named to climb, to be obeyed or to run: its chapters, captions and cut stay in their folder."""
    began = [
        {**first_line(FILMED), "seq": 1},
        entry(2, kind="facts", values={"video": True}),
        entry(3, kind="tick", step="in_theatre"),
        entry(4, kind="start", step="core"),
        entry(20, kind="stop", step="core", ref=4) | {"seq": 5},
        entry(21, kind="bookmark", text=words) | {"seq": 6},
    ]
    log = read_lines(sealed(began))
    opened = {"code": "A-0001", "log_hash": log.head, "log_entries": len(log.events), "program": "0.1.0"}
    said = [
        {**envelope(1), "kind": "debriefed", **opened},
        entry(2, kind="recording", file=words, length_s=3600.0),
        entry(3, kind="video_mark", file=words, log_t=120.0, video_t=5.0),
        entry(4, kind="to_change", action=words, owner=words, due=words),
        entry(5, kind="went_well", text=words),
        entry(6, kind="attended", who=words),
        entry(7, kind="signed", who=words),
    ]
    debrief = read_lines(sealed(said))

    assert (len(log.events), len(debrief.events)) == (6, 7)
    assert (take_review(log, debrief) > 0) == (
        not unshowable(words)
    )  # a name that cannot be shown is left out


@settings(max_examples=40)
@given(st.binary(max_size=400))
def test_any_bytes_are_taken_for_a_journal(data: bytes) -> None:
    """40 files of any bytes: an answer for each."""
    take_journal(data)
    take_journal(sealed([first_line(SMALL)]) + data)


def test_a_case_code_in_line_1_is_no_path(tmp_path: Path) -> None:
    """A journal whose first line says `../../x` writes nothing outside the folder, and is refused."""
    cases = tmp_path / "cases"
    cases.mkdir()
    for code in ("../../x", "/etc/x", "A-0001\x1b[31m", "CON", "a/b", "..", ""):
        line = {**first_line(SMALL), "code": code}
        (cases / "A-0001.case.jsonl").write_bytes(sealed([line, entry(kind="note", text="x")]))
        before = sorted(tmp_path.rglob("*"))
        assert main(["--archive", str(cases), "archive", "verify"]) == 3
        assert main(["--archive", str(cases), "record", "A-0001", "--to", str(cases / "r")]) != 0
        assert [p for p in sorted(tmp_path.rglob("*")) if p not in before and p.name != "r"] == []
