"""Looking: lanes, entries, zoom, jumps, the light of the screen, leaving."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracker.core.wording import span_words
from tracker.review.screen.forms import begun, choice
from tracker.review.screen.lanes import spans
from tracker.screen.asking import Option, Question
from tracker.screen.light import LIGHTS

if TYPE_CHECKING:
    from tracker.core.events import Scalar
    from tracker.review.screen.desk import ReviewDesk

_NONE = {"deviation": "nothing differs from the file", "bookmark": "no bookmark was set in this case"}


def lane_by(desk: ReviewDesk, by: int) -> None:
    """Go to the lane above or below, to its entry nearest in time."""
    row = (desk.row + by) % len(desk.drawn.rows)
    t = desk.item.start_t if desk.item else (desk.view.start_t + desk.view.stop_t) / 2
    items = desk.drawn.rows[row].items
    nearest = min(range(len(items)), key=lambda n: abs(items[n].start_t - t), default=0)
    desk.go(row, nearest)


def entry_by(desk: ReviewDesk, by: int) -> None:
    """Go to the entry before or after on this lane."""
    place = desk.place + by
    if not 0 <= place < len(desk.here.items):
        desk.hint = f"{desk.here.label}: no entry further that way"
        return
    desk.go(desk.row, place)


def zoom(desk: ReviewDesk, factor: float) -> None:
    """Look closer, or wider, about the cursor."""
    view = desk.view
    about_t = desk.item.start_t if desk.item else (view.start_t + view.stop_t) / 2
    desk.view = view.showing(about_t, desk.whole).zoomed(factor, about_t, desk.whole)
    if desk.view == view:
        desk.hint = "this is the whole case" if factor > 1 else "a minute is as close as it goes"


def whole(desk: ReviewDesk) -> None:
    """Look at the whole case."""
    desk.view = desk.whole
    desk.hint = "the whole case"


def pan(desk: ReviewDesk, share: float) -> None:
    """Move the view by a share of its length; the cursor goes to the entry of its lane nearest to it."""
    moved = desk.view.moved(desk.view.seconds * share, desk.whole)
    if moved == desk.view:
        desk.hint = (
            f"the whole case is in view: {desk.key('closer')} looks closer"
            if moved == desk.whole
            else "no further that way"
        )
        return
    desk.view = moved
    middle = (moved.start_t + moved.stop_t) / 2
    inside = [n for n, i in enumerate(desk.here.items) if moved.start_t <= i.start_t <= moved.stop_t]
    if inside:
        desk.place = min(inside, key=lambda n: abs(desk.here.items[n].start_t - middle))


def next_of(desk: ReviewDesk, kind: str, by: int) -> None:
    """Go to the next mark of a kind after the cursor in time, or the one before; round the ends."""
    row = next((n for n, r in enumerate(desk.drawn.rows) if r.kind == kind), None)
    if row is None:
        desk.hint = _NONE[kind]
        return
    items = desk.drawn.rows[row].items
    if row == desk.row:
        place = desk.place + by
    else:
        t = desk.item.start_t if desk.item and desk.here.kind != "stage" else desk.view.start_t
        after = [n for n, i in enumerate(items) if i.start_t >= t]
        before = [n for n, i in enumerate(items) if i.start_t <= t]
        place = min(after, default=len(items)) if by > 0 else max(before, default=-1)
    if not 0 <= place < len(items):
        desk.hint = "from the beginning again" if by > 0 else "from the end again"
    desk.go(row, place % len(items))


def longest(desk: ReviewDesk) -> None:
    """Go to the longest span of a stage; pressed there again, to the next longest."""
    found = spans(desk.drawn)
    if not found:
        desk.hint = "no span was logged"
        return
    places = [(row, place) for row, place, _ in found]
    here = (desk.row, desk.place)
    nth = (places.index(here) + 1) % len(found) if here in places and desk.nth_longest else 0
    desk.nth_longest = nth + 1
    row, place, item = found[nth]
    desk.go(row, place)
    desk.hint = f"{nth + 1} of {len(found)} spans by length: {item.label}, {span_words(item.seconds)}"


def light(desk: ReviewDesk, command: str) -> None:
    """Dim or brighten the screen by one step, or wear the next theme."""
    desk.hint = LIGHTS[command](desk)


def leave(desk: ReviewDesk) -> None:
    """Leave; where something is begun or not on disk, ask first."""
    left, waiting = begun(desk), len(desk.debriefing.waiting)
    if not left and not waiting:
        desk.left = True
        return
    told = [f"{len(left)} begun and not said"] if left else []
    told += [f"{waiting} entries not on disk"] if waiting else []
    options = (Option("l", "leave all the same", "leave"),)
    question = Question("leave", f"{' and '.join(told)} (Esc stays)", lambda v: _gone(desk, v), options)
    desk.panel = choice(desk, question)


def _gone(desk: ReviewDesk, _: Scalar) -> None:
    desk.left = True
