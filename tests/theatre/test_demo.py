"""The invented case as it is shown: which moments, for how long, in which words, and what the keys of the show do."""

from __future__ import annotations

import re
import shlex
import subprocess
from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from desks import lines, protocol_of, shipped
from terminal import ROOT, Terminal, clockhour
from tracker.core import events as ev
from tracker.core.case import status
from tracker.core.deviations import deviations
from tracker.journal.archive import Archive
from tracker.screen.app import TheatreApp
from tracker.screen.lines import Size
from tracker.theatre.demo import Demo, Script, begin, read, script
from tracker.theatre.show import QUIET_S, WORDS_A_S, Show, Whole, beats, length_s

PERIOD_S = 0.1
SMALL = Size(80, 24)
SHORT = """
08:00:00 team_brief                # before the first moment
> "Words that tell what comes."
08:40:00 :bookmark
08:40:30 :bookmark
09:10:00 :bookmark
>
09:30:00 :bookmark
> "And then the last of them."
10:00:00 :bookmark
>
10:05:00 :bookmark
"""
"""Two moments with a quiet half hour in the first, and something before, between and after them."""


@pytest.fixture
def demo(tmp_path: Path) -> Demo:
    """The invented case, nothing of it played yet."""
    text = shipped()
    return begin(protocol_of(text), text, Archive(tmp_path))


def foot(show: Show | Whole, size: Size = SMALL) -> str:
    """What stands under the board."""
    drawn = lines(show.draw(size))
    assert len(drawn) == size.height
    assert all(len(line) == size.width for line in drawn)
    return "\n".join(line.rstrip() for line in drawn[size.height - len(show.foot(size.width)) :])


def go_on(show: Show | Whole, seconds: float) -> None:
    """Let so much time of the show pass."""
    for _ in range(round(seconds / PERIOD_S)):
        show.pulse()


def kept(demo: Demo) -> Sequence[ev.Event]:
    """The entries of the whole case, what is left of it played now."""
    demo.play()
    demo.close()
    return demo.desk.case.events


# -- the script


def test_every_key_of_the_demo_does_what_it_is_pressed_for(demo: Demo) -> None:
    """No key is refused, taken for one press with another, or left waiting to be pressed once more."""
    refused = re.compile(
        r"no answer here|one press|no step within reach|changes nothing|not done:|nothing to"
    )
    said = []
    for count in range(1, len(demo.cues) + 1):
        demo.play_cues(count)
        said.append((demo.cues[count - 1].does, demo.desk.hint, demo.desk.scene().ask))
    demo.close()

    assert [s for s in said if refused.search(s[1])] == []
    assert [s for s in said if s[2]] == []


def test_the_demo_is_a_whole_case_and_a_hard_one(demo: Demo) -> None:
    """Begun and ended, every stage reached, nothing left open; two dyes, a further cut, bleeding, a relief, a fellow."""
    kept(demo)
    case = demo.desk.case
    kinds = Counter(e.kind for e in case.events)
    cuts = [t.stop.at - t.start.at for t in case.state("rx_cut").ticks if t.stop]

    assert case.started and case.end
    staged = case.protocol.stage_of
    assert {staged[e.step] for e in case.log if e.step and e.step in staged} == set(staged.values())
    assert [s.id for s in case.protocol.all_steps() if status(case, s) == "running"] == []
    assert [p for p, state in case.pairs.items() if state.open] == []
    assert len(case.state("dye_in").ticks) == len(cuts) == 2
    assert (kinds["complication"], kinds["complication_closed"]) == (1, 1)
    assert (kinds["handover"], kinds["handover_accepted"], kinds["strike"], kinds["back_stamp"]) == (
        1,
        1,
        1,
        6,
    )
    assert [e.operator for e in case.events if isinstance(e, ev.Operator)] == ["consultant", "fellow"]
    assert {"plan_changed", "clock_over"} <= {d.code for d in deviations(case, case.last_t)}


def test_the_same_key_again_takes_the_hand_a_moment(demo: Demo) -> None:
    """Two keys of a cue are never at one time, and the same key twice is half a second apart."""
    pressed: list[tuple[str, int]] = []
    press = demo.desk.press

    def noted(key: str) -> None:
        pressed.append((key, demo.clock().elapsed_ms))
        press(key)

    demo.desk.press = noted  # type: ignore[method-assign]
    kept(demo)

    assert all(after - before >= 300 for (_, before), (_, after) in pairwise(pressed))
    again = [after - before for (key, before), (same, after) in pairwise(pressed) if key == same]
    assert again
    assert min(again) >= 500


# -- the show, without a clock


def seconds_of(made: Script) -> float:
    """How long the show of a script lasts."""
    return length_s(beats(made.cues, made.moments))


def test_the_show_lasts_a_minute_and_a_half() -> None:
    """It follows from the script alone, with as many moments as the README says."""
    assert len(script().moments) == 10
    assert 80 <= seconds_of(script()) <= 100


def test_words_stand_until_they_are_read_before_anything_is_pressed() -> None:
    """At three words a second and a second to find them; each tells its moment on one line of a small screen."""
    made = script()
    shown = beats(made.cues, made.moments)
    for n, moment in enumerate(made.moments):
        first = next(b for b in shown if b.moment == n)
        assert first.done == moment.first
        assert first.stands_s >= 1 + len(moment.words.split()) / WORDS_A_S
    assert WORDS_A_S <= 3


def test_the_words_fit_the_foot_of_a_small_screen(demo: Demo) -> None:
    """One line each at 80 columns, its keys named as they are now: none is left as `<command>`."""
    show = Show(demo, PERIOD_S)
    for _ in demo.moments:
        words, bar = foot(show).split("\n")
        assert words.endswith(".")
        assert "<" not in words
        assert "Space holds  Right next  Esc ends" in bar
        show.press("right")
    demo.close()

    assert show.left


def test_a_quiet_time_is_jumped_over_but_for_its_ends() -> None:
    """Half an hour without a key is told in seconds; the clock jumps as far as it is told, and never goes back."""
    made = read(SHORT)
    shown = beats(made.cues, made.moments)

    assert [round(b.jumped / timedelta(minutes=1), 1) for b in shown if b.jumped] == [29.5, 49.9]
    assert all(after.at == before.until + after.jumped for before, after in pairwise(shown))
    assert all(
        b.until >= b.at and b.stands_s <= QUIET_S for b in shown if b.done > made.moments[b.moment].first
    )
    assert seconds_of(made) < 25


def test_no_part_of_the_demo_is_dead() -> None:
    """Once its words are read, nothing of the shipped show stands for longer than five seconds."""
    made = script()
    shown = beats(made.cues, made.moments)

    assert max(b.stands_s for b in shown if b.done > made.moments[b.moment].first) <= QUIET_S
    assert all(after.at == before.until + after.jumped for before, after in pairwise(shown))
    assert all(b.jumped >= timedelta() for b in shown)


# -- the show, on its screen


def test_the_show_begins_at_the_staining(demo: Demo) -> None:
    """What came before it is there at once: the old oil is out, and the dye is next."""
    show = Show(demo, PERIOD_S)

    assert status(demo.desk.case, demo.desk.protocol.step["oil_out"]) == "ticked"
    assert not demo.desk.case.state("dye_in").ticks
    assert "Dye goes in: d" in foot(show)
    demo.close()


def test_what_is_pressed_and_what_is_skipped_is_said(demo: Demo) -> None:
    """After the words the keys of the first cue; at the next moment how far the clock jumped."""
    show = Show(demo, PERIOD_S)
    assert "pressed" not in foot(show)
    go_on(show, show.beat.stands_s + PERIOD_S)
    assert "pressed d" in foot(show)
    assert demo.desk.panel is not None
    assert demo.desk.panel.title.startswith("Dye in 09:30:40")
    show.press("right")
    assert "21 min skipped" in foot(show)
    demo.close()


def test_the_clock_that_the_words_speak_of_is_seen_on_a_small_screen(demo: Demo) -> None:
    """The dye's clock, which has figures in the file, comes before the light's, which has none, and the recorder."""
    show = Show(demo, PERIOD_S)
    while demo.desk.panel is None:
        show.pulse()
    while demo.desk.panel is not None:
        show.pulse()
    labels = [r.label for r in demo.desk.scene().running]
    small = "\n".join(lines(show.draw(SMALL)))
    demo.close()

    assert labels == ["Brilliant blue in", "Chandelier light in the eye", "Recording"]
    assert "running   Brilliant blue in" in small


def test_space_holds_the_show(demo: Demo) -> None:
    """Nothing moves while it is held, and it goes on from there."""
    show = Show(demo, PERIOD_S)
    show.press("space")
    before = demo.clock.now
    go_on(show, 60)
    assert (demo.clock.now, show.beat.moment) == (before, 0)
    assert "Space goes on" in foot(show)

    show.press("space")
    go_on(show, 60)
    assert show.beat.moment > 0
    demo.close()


def test_the_clock_never_goes_back_and_the_show_ends_by_itself(demo: Demo) -> None:
    """Pulse by pulse from the staining to the end, in the time that the script says."""
    show = Show(demo, PERIOD_S)
    told: list[datetime] = []
    while not show.left:
        show.pulse()
        told.append(demo.clock.now)
    demo.close()

    assert told == sorted(told)
    assert len(told) * PERIOD_S == pytest.approx(seconds_of(script()), abs=1)


@pytest.mark.parametrize("key", ["escape", "Q"])
def test_esc_ends_it_at_once(demo: Demo, key: str) -> None:
    """It is left with that key, and no other key takes that back."""
    show = Show(demo, PERIOD_S)
    show.press(key)
    show.press("x")
    assert show.left
    demo.close()


@pytest.mark.parametrize("how", ["shown", "skipped", "left", "whole"])
def test_the_same_case_is_kept_however_it_is_shown(demo: Demo, tmp_path: Path, how: str) -> None:
    """Shown to its end, moment after moment, left in the middle or played as a whole: entry for entry the same."""
    text = shipped()
    straight = kept(begin(protocol_of(text), text, Archive(tmp_path / "straight")))
    show = Whole(demo, PERIOD_S, 300) if how == "whole" else Show(demo, PERIOD_S)
    if how == "left":
        go_on(show, 40)
        show.press("escape")
    while not show.left:
        show.pulse()
        if how == "skipped":
            show.press("right")

    assert kept(demo) == straight


async def test_its_keys_reach_the_show(demo: Demo) -> None:
    """Space, Right and Esc as a terminal sends them."""
    show = Show(demo, PERIOD_S)
    app = TheatreApp(show, period_s=3600)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("space", "right")
        await pilot.pause()
        assert (show.held, show.beat.moment) == (True, 1)
        await pilot.press("escape")
    assert show.left
    demo.close()


# -- the command


def test_the_demo_in_a_terminal_ends_with_the_timeline_and_what_to_try_next(tmp_path: Path) -> None:
    """Esc leaves the show for the timeline, the record and three commands."""
    words = clockhour("demo", "--to", str(tmp_path / "made"))
    with Terminal(words, columns=120, lines=90) as live:
        live.until("1 of 10  Space holds  Right next  Esc ends")
        live.send("\x1b")
        told = live.until("log a case by hand")
        assert live.wait() == 0
    assert "Flatten and laser" in told
    assert "Operator: Fellow" in told


def test_what_the_demo_says_to_try_next_works_when_it_is_pasted(tmp_path: Path) -> None:
    """A review and a sheet are made by the printed lines; a case to log by hand wants a terminal, and says so."""
    folder = tmp_path / "with a blank"
    made = _run(clockhour("demo", "--to", str(folder)))
    lines_ = [line for line in made.stdout.splitlines() if "--archive" in line]
    review, record, theatre = (_run(shlex.split(line)) for line in lines_)

    assert (made.returncode, review.returncode, record.returncode) == (0, 0, 0)
    assert "DEMO-0001" in review.stdout
    assert Path(record.stdout.strip()).read_text("utf-8")
    assert "terminal" in theatre.stderr
    assert "usage" not in theatre.stderr


def _run(words: Sequence[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        words, cwd=ROOT, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False, timeout=120
    )
