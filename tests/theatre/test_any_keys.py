"""Whatever is pressed: nothing raises, no key is swallowed in silence, every entry is kept first."""

from __future__ import annotations

import string

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from desks import SMALL, Memory, clock_of, desk_of, keeper_of, lines, protocol_of, shipped
from tracker.core.events import Event
from tracker.core.fold import fold
from tracker.screen.lines import Size
from tracker.theatre.desk import Desk
from tracker.theatre.keys import COMMANDS

NAMED = [
    "space", "enter", "escape", "backspace", "tab", "shift+tab", "up", "down", "left", "right", "home", "end",
    "pageup", "pagedown", "insert", "delete", "ctrl+a", "ctrl+z", "alt+x", *(f"f{n}" for n in range(1, 13)),
]  # fmt: skip
ANY_KEY = st.one_of(
    st.sampled_from([c.key for c in COMMANDS]),
    st.sampled_from(string.ascii_letters),
    st.sampled_from(string.digits + "." + "-"),
    st.sampled_from(["escape", "enter", "space", "backspace", "up", "down"]),
    st.sampled_from([*NAMED, *string.printable.strip()]),
    st.characters(exclude_categories=("Cs", "Cc")),
)
MOVES = st.one_of(
    ANY_KEY.map(lambda key: ("key", key)),
    st.integers(0, 99).map(lambda n: ("step", n)),
    st.integers(0, 99).map(lambda n: ("step", n)),
    st.sampled_from([0.05, 1, 59.5, 61, 300, 4000]).map(lambda s: ("wait", s)),
    st.text(max_size=40).map(lambda text: ("paste", text)),
)


def _key_of_a_step(desk: Desk, n: int) -> str:
    keys = [s.key for s in (*desk.stage_steps(), *desk.protocol.anytime) if s.key]
    return keys[n % len(keys)]


def _do(desk: Desk, move: tuple[str, object]) -> None:
    what, how = move
    if what == "wait":
        clock_of(desk).on(float(str(how)))
        desk.pulse()
    elif what == "paste":
        desk.paste(str(how))
    elif what == "step":
        desk.press(_key_of_a_step(desk, int(str(how))))
    else:
        desk.press(str(how))


def _seen(desk: Desk) -> tuple[object, ...]:
    """What shows that a key arrived: the entries, the panel, the board with its hint, the light."""
    drawn = lines(desk.draw(Size(80, 24)))
    assert {cell_len(line) for line in drawn} == {80}
    return len(desk.case.events), desk.panel, drawn, desk.theme, desk.brightness


def _press_all(text: str, moves: list[tuple[str, object]]) -> None:
    keeper = Memory()
    desk = desk_of(text, keeper=keeper)

    def kept_first(event: Event) -> None:
        assert event.seq == len(desk.case.events) + 1

    keeper.before_each = kept_first
    before = _seen(desk)
    for move in moves:
        _do(desk, move)
        after = _seen(desk)
        if move[0] in ("key", "step"):
            assert after != before or desk.hint, f"{move} was swallowed in silence"
        before = after
        if desk.left:
            break

    assert tuple(keeper_of(desk).events) == desk.case.events
    assert fold(protocol_of(text), keeper.events) == desk.case


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(MOVES, max_size=45))
def test_any_keys_on_a_small_file(moves: list[tuple[str, object]]) -> None:
    """Any keys, pastes and pauses: each key shows, each entry is kept before it counts, all refold alike."""
    _press_all(SMALL, moves)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(MOVES, max_size=45))
def test_any_keys_on_the_shipped_file(moves: list[tuple[str, object]]) -> None:
    """The same holds on the file of the whole operation."""
    _press_all(shipped(), moves)
