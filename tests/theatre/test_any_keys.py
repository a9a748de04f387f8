"""Whatever is pressed: nothing raises, no key is swallowed in silence, every entry is kept first.

And nothing is written at a step that was not on the screen, unless its key was pressed once more after a moment.
"""

from __future__ import annotations

import string

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from desks import SMALL, Memory, clock_of, desk_of, keeper_of, lines, protocol_of, shipped
from tracker.core.events import Event, NotLogged, NotNeeded, StageClosed, Start, Stop, Tick
from tracker.core.fold import fold
from tracker.screen.lines import Size
from tracker.screen.panels import FIGURES
from tracker.screen.touch import ONE_PRESS_MS
from tracker.theatre.desk import LAPSE_MS, Desk
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
    st.sampled_from([0.05, 0.6, 1, 29, 31, 59.5, 61, 300, 4000]).map(lambda s: ("wait", s)),
    st.just(("again", 0)),
    st.just(("again", 0)),
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
    elif what == "key":
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


class Watcher:
    """Presses keys and holds each entry against what was on the screen when its key was pressed."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.last = ""
        self.since_ms = 0
        self.first_ms = 0
        """When the last key came, and when it was first pressed in a row of presses that wrote nothing."""

    def press(self, key: str) -> None:
        """Press a key, and see what came of it."""
        desk, now = self.desk, self.desk.session.clock().elapsed_ms
        seen, bare, stage = self._seen(), desk.panel is None, desk.stage
        at_once = key == self.last and now - self.since_ms < ONE_PRESS_MS
        again = key == self.last and ONE_PRESS_MS <= now - self.first_ms <= LAPSE_MS and not at_once
        before = len(desk.case.events)

        desk.press(key)

        new = desk.case.events[before:]
        at_steps = [e.step for e in new if isinstance(e, _AT_A_STEP)]
        unseen = [step for step in at_steps if step not in seen]
        assert again or not unseen, (key, unseen)
        if bare and (key in FIGURES or key == "enter"):
            assert new == (), (key, new)
        if at_once:
            assert not at_steps, (key, at_steps)
        if desk.stage != stage and key not in (*desk.keys_of("stage_on"), *desk.keys_of("stage_back")):
            assert at_steps or [e for e in new if isinstance(e, StageClosed)], key
        self.first_ms = now if key != self.last or new or again else self.first_ms
        self.last, self.since_ms = key, now

    def _seen(self) -> set[str]:
        """The steps that are on the screen: of the board, of no stage, named by what lies over the board."""
        desk, protocol = self.desk, self.desk.protocol
        over = [desk.panel.title, *(row.text for row in desk.panel.rows())] if desk.panel else []
        named = {s.id for s in protocol.all_steps() if any(s.label in text for text in over)}
        return {*desk.on_screen().steps, *(s.id for s in protocol.anytime), *named}


_AT_A_STEP = (Tick, Start, Stop, NotNeeded, NotLogged)


def _watch_all(text: str, moves: list[tuple[str, object]]) -> None:
    desk = desk_of(text)
    watcher = Watcher(desk)
    for what, how in moves:
        if what == "step":
            watcher.press(_key_of_a_step(desk, int(str(how))))
        elif what == "key":
            watcher.press(str(how))
        elif what == "again" and watcher.last:
            watcher.press(watcher.last)
        else:
            _do(desk, (what, how))
        if desk.left:
            break


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(MOVES, max_size=60))
def test_nothing_is_written_that_was_not_on_the_screen(moves: list[tuple[str, object]]) -> None:
    """On a small file: what is not shown wants its key twice, half a second apart; figures and Enter write nothing."""
    _watch_all(SMALL, moves)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(MOVES, max_size=60))
def test_nothing_is_written_that_was_not_on_the_screen_of_the_whole_operation(
    moves: list[tuple[str, object]],
) -> None:
    """The same holds on the shipped file, with its loops and eleven stages."""
    _watch_all(shipped(), moves)
