"""What a terminal may send, on a real one and to its decoder alone."""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual._xterm_parser import XTermParser

from terminal import Terminal, clockhour
from tracker.screen.wire import _forgiving

UNIX = pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal is of Unix")
PASTED = b"\x1b[200~a\x1bb\x1b[Ac\x1b]0;rsl\x07d\x1b[201~"


@UNIX
@pytest.mark.parametrize("sent", [b"\xff", b"\x9b", b"\xe9", b"\xc3(", b"\x1b[M \xa0\xa0", b"\xf0\x9f"])
def test_a_byte_that_is_no_utf_8_ends_nothing(sent: bytes, tmp_path: Path) -> None:
    """Of an 8-bit keyboard, of half a letter, of an old mouse: the next keys are taken as ever."""
    with Terminal(clockhour("--archive", str(tmp_path))) as live:
        live.until("start: ")
        live.send(sent)
        live.send("Z")
        live.until("Z: no line has this key")
        live.send("Q")

        assert live.wait() == 0


def read(sent: bytes, cuts: frozenset[int] = frozenset()) -> list[str]:
    """What Textual makes of some bytes that come in pieces: the names of keys, and what was pasted."""
    wire, parser = _forgiving("utf-8")(), XTermParser()
    edges = [0, *sorted(c for c in cuts if 0 < c < len(sent)), len(sent)]
    told = [wire.decode(sent[a:b]) for a, b in pairwise(edges)]
    found = [event for text in told if text for event in parser.feed(text)]
    return [getattr(event, "key", None) or f"pasted {getattr(event, 'text', '')}" for event in found]


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        (b"\x1b4", ["escape", "4"]),
        (b"\x1bhe", ["escape", "h", "e"]),
        (b"\x1b\x1bs", ["escape", "escape", "s"]),
        (b"\x1b Q", ["escape", "space", "Q"]),
        ("\x1b\u00e9".encode(), ["escape", "\u00e9"]),
        (b"\x1b[A\x1bOP\x1b[18~", ["up", "f1", "f7"]),
        (PASTED + b"s", ["pasted ab[Ac]0;rsl\x07d", "s"]),
    ],
)
@given(cuts=st.frozensets(st.integers(1, 40)))
def test_esc_is_a_key_of_its_own_and_nothing_pasted_is_one(
    sent: bytes, keys: list[str], cuts: frozenset[int]
) -> None:
    """A key right behind Esc is that key; arrows and pedals are whole; a paste is one, wherever it is torn."""
    assert read(sent, cuts) == keys


@UNIX
def test_a_key_behind_esc_is_taken_as_the_key(tmp_path: Path) -> None:
    """Both in one write: the sheet is closed and a note begun; what is then pasted is the note and no step."""
    with Terminal(clockhour("--archive", str(tmp_path), "theatre", "complex-pvr")) as live:
        live.until("Enter starts the case")
        live.send("\r")
        live.until("not started")
        live.send("?")
        live.until("mark the step before")
        live.send("\x1b4")
        live.until("Note (no patient identifiers)")
        live.send(PASTED + b"\r")
        live.until("note kept")
