"""The same key twice at once in the theatre: what it opened is not answered by it, what it asked is not confirmed."""

from __future__ import annotations

from desks import AT_WORK, SMALL, Hand, Memory, desk_of, keeper_of, press, protocol_of
from tracker.screen.commands import Command
from tracker.theatre.desk import Desk
from tracker.theatre.keys import COMMANDS
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings


def test_enter_twice_at_once_keeps_no_figure_outside_its_bounds() -> None:
    """The question about it was not read yet."""
    desk = desk_of(keys=f"{AT_WORK} <reading>")
    press(desk, "1 3 0")
    before = len(keeper_of(desk).events)
    desk.press("enter")
    desk.press("enter")

    assert desk.hint == "Enter twice at once is one press"
    assert len(keeper_of(desk).events) == before
    press(desk, "+1 enter")
    assert len(keeper_of(desk).events) == before + 1


def test_the_key_that_opened_a_note_is_not_its_first_letter() -> None:
    """Held down it opens the note and no more; a letter twice in the note is two."""
    own = tuple(Command(c.id, "!", c.word, c.does) if c.id == "note" else c for c in COMMANDS)
    protocol = protocol_of(SMALL)
    session = Session.begin(Memory(), protocol, SMALL, "T-0001", protocol.defaults, Hand())
    desk = Desk(session, Settings(commands=own))
    for key in ("!", "!", "!", "!", "l", "l"):
        desk.press(key)

    assert list(desk.drafts.values()) == ["ll"]


def test_a_figure_twice_at_once_is_two_figures_from_the_first_on() -> None:
    """Nobody asked for 55, and it is on the screen."""
    desk = desk_of()
    desk.press("5")
    desk.press("5")

    assert desk.panel is not None
    assert desk.panel.rows()[0].text == "55_"
