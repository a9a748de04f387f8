"""What a terminal may send: what is a key comes through, nothing else does, on a real terminal and to the machine alone."""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terminal import F4, Terminal, clockhour
from tracker.screen.hand import FINGERS, KEY_S, STILL_S, Hand
from tracker.screen.sequences import CONTROLS, SEQUENCES
from tracker.screen.wire import (
    ENOUGH,
    ESC_S,
    PASTE_MOST,
    PASTE_UNFINISHED,
    SEQUENCE_S,
    SLOW_S,
    UNFINISHED,
    Given,
    Heard,
    Key,
    Pasted,
    Synchronises,
    Wire,
)
from wires import ANSWERS, NOISE, foreign, next_key_works, take_bytes, words

UNIX = pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal is of Unix")
PASTED = "\x1b[200~a\x1bb\x1b[Ac\x1b]0;rsl\x07d\x1b[201~"


def read(sent: str, cuts: frozenset[int] = frozenset()) -> list[str]:
    """What the wire makes of text that comes in pieces, one right after the other."""
    wire = Wire()
    edges = [0, *sorted(c for c in cuts if 0 < c < len(sent)), len(sent)]
    return words(one for a, b in pairwise(edges) for one in wire.feed(sent[a:b], 0.0))


# -- keys


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        (
            "sQ \r\t\x7f\x08\u00e9\ufffd",
            ["s", "Q", "space", "enter", "tab", "backspace", "backspace", "\u00e9", "\ufffd"],
        ),
        ("\x11\x03\x1a\x00", ["ctrl+q", "ctrl+c", "ctrl+z", "ctrl+@"]),
        ("\x1b4", ["escape", "4"]),
        ("\x1bhe", ["escape", "h", "e"]),
        ("\x1b\x1bs", ["escape", "escape", "s"]),
        ("\x1b Q", ["escape", "space", "Q"]),
        ("\x1b\r\x1b\t\x1b\x7f", ["escape", "enter", "escape", "tab", "escape", "backspace"]),
        ("\x1b\u00e9", ["escape", "\u00e9"]),
        ("\x1b[A\x1bOP\x1b[18~", ["up", "f1", "f7"]),
        ("\x1bOA\x1bOD\x1b[H\x1bOF\x1b[4~\x1b[8~", ["up", "left", "home", "end", "end", "end"]),
        ("\x1b[[A\x1b[[E\x1b[11~\x1b[24~\x1b[Z", ["f1", "f5", "f1", "f12", "shift+tab"]),
        ("\x1bOp\x1bOy\x1bOM\x1bOk", ["0", "9", "enter", "+"]),
        ("\x9bA\x8fP", ["up", "f1"]),
        ("\x1b\x1b[A", ["escape", "up"]),
        (PASTED + "s", ["pasted ab[Ac]0;rsl\x07d", "s"]),
    ],
)
@given(cuts=st.frozensets(st.integers(1, 40)))
def test_keys_come_through_however_they_are_torn(sent: str, keys: list[str], cuts: frozenset[int]) -> None:
    """Those of all terminals that we know; a key right behind Esc is that key; a paste is one and no key."""
    assert read(sent, cuts) == keys


def test_the_numbers_of_keys_are_those_of_the_terminals() -> None:
    """As terminfo has them for xterm, linux, rxvt and vt220: arrows, six keys beside them, F1 to F12."""
    every = {"up", "down", "left", "right", "home", "end", "insert", "delete", "pageup", "pagedown"}
    every |= {f"f{n}" for n in range(1, 13)}
    assert every <= set(SEQUENCES.values())
    assert [SEQUENCES[f"[{n}~"] for n in (15, 17, 18, 19, 20, 21, 23, 24)] == [f"f{n}" for n in range(5, 13)]


def test_esc_alone_is_a_key_after_a_moment() -> None:
    """It waits a twentieth of a second for what may stand behind it, and no longer."""
    wire = Wire()

    assert wire.feed("\x1b", 5.0) == []
    assert wire.due() == 5.0 + ESC_S
    assert wire.tick(5.0 + ESC_S / 2) == []
    assert wire.tick(5.0 + ESC_S) == [Key("escape")]
    assert wire.due() is None


def test_esc_held_down_is_esc_again_and_again() -> None:
    """Thirty a second for two seconds: sixty keys, and nothing is given up."""
    wire, heard = Wire(), []
    for n in range(60):
        heard += [*wire.tick(n / 30), *wire.feed("\x1b", n / 30)]

    assert [*heard, *wire.tick(3.0)] == [Key("escape")] * 60


# -- what is no key


@pytest.mark.parametrize("sent", ANSWERS.values(), ids=ANSWERS)
@given(cuts=st.frozensets(st.integers(1, 40)))
def test_what_nobody_typed_is_no_key(sent: str, cuts: frozenset[int]) -> None:
    """Answers, reports, keys with others held, overlong ones: nothing comes through, and the next key is taken."""
    assert read(f"{sent}s", cuts) == ["s"]


def test_an_overlong_sequence_is_swallowed_to_its_end() -> None:
    """Four hundred thousand characters of figures in pieces: nothing comes of it, nothing is remembered of it."""
    wire = Wire()
    heard = [
        one for n in range(100) for one in wire.feed(("\x1b[" if n == 0 else "") + "1;" * 2048, n / 1000)
    ]

    assert heard == []
    assert len(wire._begun) < 20
    assert words(wire.feed("ms", 0.2)) == ["s"]


def test_a_paste_is_kept_up_to_a_bound() -> None:
    """What is over it is counted, and Esc in it is nothing."""
    wire = Wire()
    heard = wire.feed("\x1b[200~" + "x\x1b" * PASTE_MOST + "yy" + "\x1b[201~", 0.0)

    assert heard == [Pasted("x" * PASTE_MOST, 2)]
    assert wire._paste == []


def test_only_that_the_terminal_shows_whole_frames_is_of_use() -> None:
    """The answer for mode 2026; no answer for another mode, and none that says it does not know the mode."""
    assert Wire().feed("\x1b[?2026;2$y", 0.0) == [Synchronises()]
    assert Wire().feed("\x1b[?2026;0$y\x1b[?2048;2$y\x1b[?2026;22$y", 0.0) == []


# -- what does not end


@pytest.mark.parametrize("begun", ["\x1b[", "\x1b[1;", "\x1bO", "\x1bP", "\x9d", "\x1b[[", "\x1b[M  "])
def test_an_unfinished_sequence_is_given_up_and_said(begun: str) -> None:
    """A quarter of a second after its last character; nothing of it was a key, and the next one is."""
    wire = Wire()

    assert wire.feed(begun, 1.0) == []
    assert wire.tick(1.0 + SEQUENCE_S / 2) == []
    assert wire.tick(1.0 + SEQUENCE_S) == [Given(UNFINISHED)]
    assert words(wire.feed("s", 2.0)) == ["s"]


@pytest.mark.parametrize("begun", ["\x1b]11;rgb", "\x1bPabc", "\x1b_abc\x1b"])
def test_an_unfinished_string_is_given_up_and_its_late_end_is_nothing(begun: str) -> None:
    """A second after it stops coming; the end that comes then is no Esc and no backslash."""
    wire = Wire()

    assert wire.feed(begun, 1.0) == []
    assert wire.tick(1.0 + SLOW_S / 2) == []
    assert wire.tick(1.0 + SLOW_S) == [Given(UNFINISHED)]
    assert words(wire.feed("\x1b\\s", 3.0)) == ["s"]


def test_an_unfinished_paste_is_given_up_and_said() -> None:
    """What came of it is pasted, so that it stands in a note; then the next key is a key."""
    wire = Wire()

    assert wire.feed("\x1b[200~rsl", 1.0) == []
    assert wire.due() == 1.0 + SLOW_S
    assert wire.tick(1.0 + SLOW_S) == [Pasted("rsl"), Given(PASTE_UNFINISHED)]
    assert words(wire.feed("s", 2.1)) == ["s"]


def test_keys_pressed_into_an_unfinished_paste_do_not_hold_it_open() -> None:
    """Eight keys a second: the paste is given up after a second all the same, and they are in it."""
    wire = Wire()
    heard = wire.feed("\x1b[200~", 0.0)
    for n in range(1, 9):
        heard += wire.feed("s", n / 8)

    assert heard == [Pasted("s" * 8), Given(PASTE_UNFINISHED)]
    assert words(wire.feed("s", 1.2)) == ["s"]


def test_a_slow_line_keeps_its_paste() -> None:
    """As long as more comes than a hand could type, a paste takes as long as it takes."""
    wire, came = Wire(), []
    came += wire.feed("\x1b[200~", 0.0)
    for n in range(300):
        came += [*wire.tick(n / 60), *wire.feed("xy", n / 60)]

    assert [*came, *wire.feed("\x1b[201~", 5.0)] == [Pasted("xy" * 300)]
    assert ENOUGH / SLOW_S > 1 / KEY_S


# -- faster than a hand


def typed(text: str) -> list[Heard]:
    """Keys, as the wire tells them."""
    return list(Wire().feed(text, 0.0))


def test_many_characters_at_once_are_set_aside() -> None:
    """A word in one read is a paste without marks: no key, whatever is in it; told once it is over."""
    hand = Hand(10.0)

    assert hand.take(typed("rsl \rabc"), 10.1, 10.1) == []
    assert hand.due() == 10.1 + KEY_S
    assert hand.tick(10.1 + KEY_S) == [Pasted("rsl \rabc")]
    assert words(hand.take(typed("s"), 10.3, 10.3)) == ["s"]


def test_a_burst_in_pieces_is_one() -> None:
    """Pieces right behind each other, the last of one character, are one paste."""
    hand = Hand(1.0)
    heard = [
        one
        for n, text in enumerate(["abcdefgh", "ijkl", "m"])
        for one in hand.take(typed(text), 1 + n / 100, 1 + n / 100)
    ]

    assert heard == []
    assert hand.tick(1.2) == [Pasted("abcdefghijklm")]


def test_characters_one_by_one_faster_than_a_hand_are_set_aside_from_the_sixth_on() -> None:
    """A reader of bar codes types two hundred a second: five pass, as five fingers may come down at once."""
    hand, came = Hand(0.0), []
    for n, sign in enumerate("abcdefghijklmnop"):
        came += hand.take(typed(sign), n / 200, n / 200)

    assert words(came) == list("abcde")
    assert hand.tick(1.0) == [Pasted("fghijklmnop")]


def test_a_quick_hand_is_never_set_aside() -> None:
    """Fifteen keys a second for a minute, and five fingers at once now and then."""
    hand, came, at = Hand(0.0), [], 0.0
    for n in range(900):
        at += 1 / 15
        came += hand.take(typed("ab"[n % 2]), at, at)
    came += [*hand.tick(at + 0.1), *hand.tick(at + 0.3), *hand.take(typed("hjkl;"), at + 0.31, at + 0.31)]

    assert len(came) == 905


def test_a_key_held_down_is_all_kept() -> None:
    """Forty repeats in one read, after the program stood still, are forty keys."""
    assert len(Hand(0.0).take(typed("l" * 40), 0.05, 0.05)) == 40


def test_keys_typed_while_the_machine_stood_still_are_kept() -> None:
    """Busy for 0.3 s: eleven keys in one read are no paste, for a hand may have typed them; a hundred are."""
    hand, another = Hand(4.0), Hand(4.0)
    fast = typed("abcdefghijk")

    assert len(fast) <= FINGERS + 0.3 / KEY_S
    assert hand.take(fast, 4.31, 4.31) == fast
    assert another.take(typed("abcdefghij" * 10), 4.3, 4.3) == []


def test_a_machine_that_slept_lets_no_paste_pass() -> None:
    """After an hour without a look at the terminal a line is a paste all the same."""
    hand = Hand(0.0)

    assert hand.take(typed("abcdefgh" * 3), 3600.0, 3600.0) == []
    assert FINGERS + STILL_S / KEY_S < 24


def test_a_sequence_among_many_characters_stays_a_key() -> None:
    """An arrow is none of the characters of a paste."""
    hand = Hand(0.0)

    assert words(hand.take(typed("abcdefgh\x1b[A"), 0.05, 0.05)) == ["pasted abcdefgh", "up"]


# -- properties, over what a fuzzer also tries (`make torture`)


@settings(max_examples=2000, deadline=None)
@given(st.lists(foreign(), min_size=1, max_size=4), st.frozensets(st.integers(1, 60), max_size=4))
def test_no_sequence_that_is_not_a_key_is_one(sent: list[str], cuts: frozenset[int]) -> None:
    """Complete sequences of every kind with anything in them, torn anywhere: not one key."""
    whole = "".join(sent)
    heard = [one for one in read(whole, cuts) if one != "synchronises"]

    assert heard == []
    assert read(f"{whole}s", cuts)[-1:] == ["s"]


@settings(max_examples=2000, deadline=None)
@given(NOISE)
def test_no_input_raises_and_after_any_the_next_key_works(pieces: list[tuple[str, float]]) -> None:
    """Anything at all with any pauses: nothing raises, what is kept is bounded, and a while later a key is a key."""
    next_key_works(pieces)


@settings(max_examples=16000, deadline=None)
@given(st.binary(max_size=60))
def test_no_bytes_raise_and_after_any_the_next_key_works(sent: bytes) -> None:
    """Both for bytes that are no text: raw, in pieces with pauses; and as what a sequence holds."""
    take_bytes(sent)


def test_every_key_of_the_tables_has_a_name_of_the_toolkit() -> None:
    """So that a key is bound by the name that it arrives with."""
    from textual.keys import Keys

    known = {key.value for key in Keys} | set("*+-./0123456789") | {f"ctrl+{letter}" for letter in "him"}
    assert {*SEQUENCES.values(), *CONTROLS.values()} <= known | {"ctrl+@"}


@UNIX
def test_no_driver_of_the_toolkit_keeps_its_own_parser() -> None:
    """On a terminal ours reads; the one for a browser is given our reading in the parser's place."""
    from textual.drivers import linux_driver, web_driver

    from tracker.screen.reading import Reading, driver_of
    from tracker.screen.terminal import TerminalDriver

    assert driver_of(linux_driver.LinuxDriver) is TerminalDriver
    assert driver_of(web_driver.WebDriver) is web_driver.WebDriver
    assert vars(web_driver)["XTermParser"] is Reading


# -- on a real terminal


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


@UNIX
def test_a_key_behind_esc_is_taken_as_the_key(tmp_path: Path) -> None:
    """Both in one write: the sheet is closed and a note begun; what is then pasted is the note and no step."""
    with Terminal(clockhour("--archive", str(tmp_path), "theatre", "complex-pvr")) as live:
        live.until("Enter starts the case")
        live.send("r\r")
        live.until("not started")
        live.send("?")
        live.until("mark the step before")
        live.send("\x1b" + F4)
        live.until("Note (no patient identifiers)")
        live.send(PASTED + "\r")
        live.until("note kept")


@UNIX
def test_what_came_at_once_stands_in_a_note_as_a_paste_does(tmp_path: Path) -> None:
    """Forty characters without marks: in the open note, whatever keys they would be."""
    with Terminal(clockhour("--archive", str(tmp_path), "theatre", "complex-pvr")) as live:
        live.until("Enter starts the case")
        live.send("r\r")
        live.until("not started")
        live.send(F4)
        live.until("Note (no patient identifiers)")
        live.send("oil warm, second bottle brought, rsl Q; " * 2)
        live.until("rsl Q; _")
        live.send("\r")
        live.until("note kept")
