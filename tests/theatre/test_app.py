"""The wiring of the live screen: keys, pastes, sizes and time reach the desk, and its lines the terminal."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.events import Paste
from textual.pilot import Pilot

from desks import SMALL, Hand, Memory, clock_of, desk_of, keeper_of, lines, protocol_of, shipped, told
from tracker.journal.archive import Archive
from tracker.journal.files import Journal
from tracker.screen.app import TheatreApp
from tracker.screen.lines import Line, Size
from tracker.theatre.desk import Desk
from tracker.theatre.home import Home
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings

SIZES = [(80, 24), (200, 60)]


def _painted(app: TheatreApp) -> list[str]:
    """What is on the terminal, a string a line."""
    return [strip.text for strip in app.canvas.render_lines(app.size.region)]


def _board(desk: Desk, pilot: Pilot[None]) -> list[str]:
    return lines(desk.draw(Size(pilot.app.size.width, pilot.app.size.height)))


@pytest.mark.parametrize("size", SIZES)
async def test_what_is_painted_is_the_board(size: tuple[int, int]) -> None:
    """The terminal shows the desk's board, line for line, after every key."""
    desk = desk_of()
    app = TheatreApp(desk)
    async with app.run_test(size=size) as pilot:
        for key in ("i", "down", "space", "question_mark", "escape", "slash", "right"):
            await pilot.press(key)
            await pilot.pause()
            assert _painted(app) == _board(desk, pilot)


async def test_keys_reach_the_desk_by_their_character() -> None:
    """Letters, capitals, space, tab, backspace, digits, function keys and punctuation all arrive."""
    desk = desk_of()
    async with TheatreApp(desk).run_test() as pilot:
        await pilot.press("i", "space", "escape", "t", "space", "tab", "less_than_sign", "backspace")
        await pilot.press("P", "2", "5", "enter", "f6", "slash", "escape", "slash", "b")

    assert told(desk) == [
        "tick in_theatre", "tick count_in", "tick time_out", "start core", "stop core @7", "start peel",
        "back_stamp 60.0 @9", "strike @9", "tick noted", "reading pressure 25 @12", "bookmark",
        "complication", "complication_detail bleed @15",
    ]  # fmt: skip


@pytest.mark.parametrize("key", ["shift+tab", "f12", "ctrl+c", "ctrl+z", "ctrl+p", "home", "insert"])
async def test_no_key_is_kept_by_the_toolkit(key: str) -> None:
    """Keys that a toolkit uses itself reach the desk as well, and are answered."""
    desk = desk_of()
    app = TheatreApp(desk)
    async with app.run_test() as pilot:
        await pilot.press(key)
        await pilot.pause()
        assert desk.hint.lower().startswith(f"{key}: no step within reach has this key")
        assert not app._notifications

    assert told(desk) == []


async def test_keys_typed_into_a_note_log_no_step() -> None:
    """Everything typed into a note is in the note, and nothing else is logged."""
    desk = desk_of()
    async with TheatreApp(desk).run_test() as pilot:
        await pilot.press("f4", *"icQ", "space", "0", "question_mark", "enter")

    assert told(desk) == ["note icQ 0?"]


async def test_pasted_text_arrives() -> None:
    """A paste goes into a note; over the board it is set aside, and said."""
    desk = desk_of()
    app = TheatreApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("f4")
        app.post_message(Paste("oil ready\n" * 3))
        await pilot.pause()
        await pilot.press("enter")
        app.post_message(Paste("icticic"))
        await pilot.pause()
        assert "7 characters came at once, as from a paste: set aside" in "\n".join(_painted(app))

    assert told(desk) == ["note oil ready oil ready oil ready"]


async def test_another_size_is_drawn_at_once() -> None:
    """Resized, in either direction, the whole board is there in the new size."""
    desk = desk_of(keys="i c escape t v")
    app = TheatreApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        for width, height in [(200, 60), (60, 15), (121, 41), (80, 24)]:
            await pilot.resize_terminal(width, height)
            await pilot.pause()
            assert _painted(app) == _board(desk, pilot)
            assert {len(line) for line in _painted(app)} == {width}


async def test_leaving_asks_first() -> None:
    """The toolkit's own key for leaving asks as Q does; only the answer leaves."""
    desk = desk_of(keys="i")
    app = TheatreApp(desk)
    async with app.run_test() as pilot:
        await pilot.press("ctrl+q")
        await pilot.pause()
        assert app.is_running
        assert "Leave?" in "\n".join(_painted(app))

        await pilot.press("escape", "t", "ctrl+q", "l")
        await pilot.pause()

    assert desk.left
    assert told(desk) == ["tick in_theatre", "tick time_out"]


async def test_what_was_opened_from_the_first_screen_goes_back_to_it(tmp_path: Path) -> None:
    """A case that is left shows the first screen again, as dark as the case was, and can be opened again."""
    archive, settings, clock, text = Archive(tmp_path), Settings(), Hand(), shipped()
    facts = protocol_of(text).defaults | {"eye": "left"}
    journal = Journal.create(tmp_path, "A-0001")
    Session.begin(journal, protocol_of(text), text, "A-0001", facts, clock)
    journal.close()

    def home() -> Home:
        return Home(archive, clock, settings)

    first = home()
    letter = next(row.key for row in first.rows() if "open: A-0001" in row.text)
    app = TheatreApp(first, 3600, home)
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.press(letter, "left_square_bracket", "f6", "Q", "l")
        await pilot.pause()
        assert "open: A-0001" in "\n".join(_painted(app))
        assert app.room.brightness == settings.brightness - 1

        await pilot.press(letter, "f6", "Q", "l", "Q")
        await pilot.pause()

    assert isinstance(app.room, Home)
    kinds = [event.kind for event in archive.read("A-0001").events]
    assert kinds[-4:] == ["resumed", "bookmark", "resumed", "bookmark"]


async def test_without_a_first_screen_to_go_back_to_leaving_ends() -> None:
    """A case opened by its code ends the program; so does one whose archive has gone since it was opened."""
    alone, lost = desk_of(keys="i"), desk_of(keys="i")
    opened_here = TheatreApp(alone, 3600)
    opened_from = TheatreApp(desk_of(), 3600, lambda: None)
    opened_from.room = lost
    for app in (opened_here, opened_from):
        async with app.run_test() as pilot:
            await pilot.press("Q", "l")
            await pilot.pause()

    assert (alone.left, opened_here.room) == (True, alone)
    assert (lost.left, opened_from.room) == (True, lost)


async def test_the_clock_swallows_no_key() -> None:
    """With the screen drawing itself all the time, every key is an entry."""
    desk = desk_of()
    async with TheatreApp(desk, period_s=0.1).run_test() as pilot:
        await pilot.press(*["f6", "P", "escape"] * 12)

    assert told(desk) == ["bookmark", "tick noted"] * 12


async def test_time_moves_on_without_a_key() -> None:
    """The clocks on the board go on by themselves, and what waits for the disk is tried again."""
    desk = desk_of(keys="i v", keeper=Memory())
    keeper_of(desk).refusals = 1
    app = TheatreApp(desk, period_s=0.1)
    async with app.run_test() as pilot:
        await pilot.press("f6")
        clock_of(desk).on(75)
        await pilot.pause(0.3)
        assert "09:01:15" in "\n".join(_painted(app))

    assert desk.session.waiting == ()


async def test_a_terminal_of_one_cell_is_survived() -> None:
    """However small the terminal is for a moment, nothing ends."""
    desk = desk_of(SMALL, "i")
    app = TheatreApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        for size in [(1, 1), (3, 2), (20, 5), (80, 24)]:
            await pilot.resize_terminal(*size)
            await pilot.pause()
        await pilot.press("t")
        assert _painted(app) == _board(desk, pilot)


async def test_the_second_s_drawing_does_not_stand_before_the_next_key(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Right after a key it leaves out what asks for the whole case; without one it does not."""
    asked: list[bool] = []
    desk = desk_of()
    drawn = desk.draw

    def draw(size: Size, *, quick: bool = False) -> tuple[Line, ...]:
        asked.append(quick)
        return drawn(size, quick=quick)

    monkeypatch.setattr(desk, "draw", draw)
    app = TheatreApp(desk, period_s=3600)
    async with app.run_test():
        app.pulse()
        app.press("i")
        app.pulse()
        assert asked[-3:] == [False, True, True]
