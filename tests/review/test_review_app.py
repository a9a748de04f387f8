"""The wiring of the review screen: keys, pastes and sizes reach the desk, and its lines the terminal."""

from __future__ import annotations

from textual.events import Paste

from debriefs import desk_of, lines, told
from tracker.screen.app import TheatreApp
from tracker.screen.lines import Size


async def test_a_review_on_a_terminal() -> None:
    """Arrows, zoom, a reason in three keys, pasted words, another size, another theme, leaving."""
    desk = desk_of()
    app = TheatreApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        for keys in (["down", "right", "plus"], ["d", "r", "f", "o"], ["backslash"], ["question_mark"]):
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
