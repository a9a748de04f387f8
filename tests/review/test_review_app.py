"""The wiring of the review screen: keys, pastes and sizes reach the desk, and its lines the terminal."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from textual.events import Paste

from debriefs import CODE, archive_of, desk_of, lines, log_bytes, told
from terminal import Terminal, clockhour
from tracker.screen.app import TheatreApp
from tracker.screen.lines import Size


async def test_a_review_on_a_terminal() -> None:
    """Arrows, zoom, a reason in three keys, pasted words, another size, another theme, leaving."""
    desk = desk_of()
    app = TheatreApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        for keys in (
            ["down", "right", "plus"],
            ["d", "r", "f", "enter", "o", "enter"],
            ["backslash"],
            ["question_mark"],
        ):
            await pilot.press(*keys)
            await pilot.pause()
            assert _painted(app) == lines(desk.draw(Size(80, 24)))
        await pilot.press("escape", "w")
        app.post_message(Paste("calm\nthroughout"))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.resize_terminal(120, 40)
        await pilot.pause()
        assert _painted(app) == lines(desk.draw(Size(120, 40)))
        await pilot.press("Q")
        await pilot.pause()

    assert desk.left
    assert [line.split()[0] for line in told(desk)] == ["deviation_reason", "went_well"]
    assert told(desk)[1] == "went_well calm throughout"


def _painted(app: TheatreApp) -> list[str]:
    """What is on the terminal, a string a line."""
    return [strip.text for strip in app.canvas.render_lines(app.size.region)]


@pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal is of Unix")
def test_the_first_screen_leads_to_a_review(tmp_path: Path) -> None:
    """`clockhour` without words: the line of a closed case opens its review, Q goes back, and Q again ends."""
    cases = tmp_path / "cases"
    cases.mkdir(mode=0o700)
    (cases / f"{CODE}.case.jsonl").write_bytes(log_bytes(archive_of()))
    with Terminal(clockhour("--archive", str(cases)), columns=100, lines=30) as live:
        live.until(f"review: {CODE}")
        live.send("\x1b[A\r")
        live.until("debrief not begun")
        live.send("Q")
        live.until(f"review: {CODE}")
        live.send("Q")

        assert live.wait() == 0
    assert [p.name for p in cases.iterdir()] == [f"{CODE}.case.jsonl"]
