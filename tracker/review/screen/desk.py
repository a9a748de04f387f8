"""Where a key goes at a review: the surgeon's desk, without a screen.

The cursor stands on a lane and an entry of it. A command looks, or says something at the debrief; a panel may
use the key first, and a key that means nothing is answered in words. What is begun is never lost: answers
and half-typed words stay until they are said or dropped on purpose.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final, TypeVar

from tracker.core.case import Case
from tracker.core.debrief import Debrief
from tracker.core.deviations import Deviation
from tracker.core.events import Scalar
from tracker.core.reviewed import Reviewed
from tracker.core.usual import Usual
from tracker.core.wording import span_words
from tracker.journal.trouble import Trouble
from tracker.review.debriefing import REVIEWER, Debriefing
from tracker.review.recordings import aligned
from tracker.review.screen import board
from tracker.review.screen.acts import ACTS
from tracker.review.screen.axis import View, whole_of
from tracker.review.screen.comparing import Comparison
from tracker.review.screen.forms import Typed, begun
from tracker.review.screen.keys import COMMANDS
from tracker.review.screen.lanes import Drawing, Item, Row, drawing
from tracker.review.screen.telling import NEEDS_NONE, Around, about
from tracker.review.video.maps import Alignment
from tracker.screen.commands import Command, by_key, key_words
from tracker.screen.lines import Line, Size
from tracker.screen.paint import BRIGHTNESS
from tracker.screen.panels import Panel, Sheet, Write
from tracker.screen.room import set_aside
from tracker.screen.touch import AT_ANY_RATE, Heard, OnePress

T = TypeVar("T")
_BOND: Final[Mapping[str, str]] = {
    "as debriefed": "",
    "the log has gone on": "the log has gone on since",
    "another log": "debrief of another log: nothing of it is taken in",
}
_GOES_ON: Final = frozenset({
    "closer", "wider", "pan_back", "pan_on", "deviation", "deviation_back", "bookmark", "longest",
    "dimmer", "brighter", "theme",
})  # fmt: skip
"""Commands that may well be meant twice at once: going on by more than one."""


class ReviewDesk:
    """The state of the screen that is not the case: the view, the cursor, the panel open, what is begun."""

    become = None

    def __init__(
        self,
        debriefing: Debriefing,
        usual: Mapping[str, Usual] | None = None,
        theme: str = "lamp",
        brightness: int = len(BRIGHTNESS) - 1,
        commands: tuple[Command, ...] = COMMANDS,
    ) -> None:
        """`usual` is the usual range of a stage's minutes by its id, where enough cases are known.

        `commands` are those of the screen with the keys that they have here.
        """
        self.commands, self.by_key = commands, by_key(commands)
        self.debriefing = debriefing
        self.usual = usual or {}
        self.theme, self.brightness, self.left = theme, brightness, False
        self.panel: Panel | None = None
        self.comparison: Comparison | None = None
        self.drafts: dict[str, str] = {}
        self.held: dict[str, dict[str, Scalar]] = {}
        self.hint = (
            f"What went well is asked first: {self.key('went_well')} says it."
            f" {self.key('deviation')} goes to the first deviation"
        )
        self.drawn: Drawing
        self.film: Alignment
        self._seen: Reviewed | None = None
        self._one_press = OnePress()
        self.row, self.place = 0, 0
        self._look_again()
        self.row = next((n for n, row in enumerate(self.drawn.rows) if row.kind == "stage"), 0)
        self.view: View = self.whole
        self.nth_longest = 0

    # -- what there is

    @property
    def review(self) -> Reviewed:
        """The case and its debrief as they stand."""
        return self.debriefing.review

    @property
    def case(self) -> Case:
        """The case with what the debrief amends."""
        return self.review.case

    @property
    def debrief(self) -> Debrief:
        """What was said so far."""
        return self.review.debrief

    @property
    def whole(self) -> View:
        """The view of the whole case."""
        return whole_of(self.drawn.axis)

    @property
    def here(self) -> Row:
        """The lane under the cursor."""
        return self.drawn.rows[self.row]

    @property
    def item(self) -> Item | None:
        """The entry under the cursor."""
        return self.here.items[self.place] if self.here.items else None

    @property
    def around(self) -> Around:
        """What an entry is told from."""
        return Around(self.review, self.drawn, self.film, self.key("reason"))

    @property
    def without_reason(self) -> tuple[Deviation, ...]:
        """The deviations that ask for a reason and have none."""
        return tuple(d for d in self.drawn.found if d.given is None and d.code not in NEEDS_NONE)

    # -- moving

    def go(self, row: int, place: int) -> None:
        """Put the cursor on an entry, and bring it into view."""
        self.row = min(max(0, row), len(self.drawn.rows) - 1)
        self.place = min(max(0, place), max(0, len(self.here.items) - 1))
        if self.item is not None:
            self.view = self.view.showing(self.item.start_t, self.whole)

    def _look_again(self) -> None:
        """Draw anew what the debrief may have changed; the cursor stays on its entry."""
        if self._seen is self.review:
            return
        was = (self.here, self.item) if self._seen is not None else None
        self._seen = self.review
        self.drawn, self.film = drawing(self.review, self.usual), aligned(self.review)
        if was is not None:
            self._stay(*was)

    def _stay(self, row: Row, item: Item | None) -> None:
        rows = self.drawn.rows
        same = (n for n, r in enumerate(rows) if (r.kind, r.ident) == (row.kind, row.ident))
        self.row = next(same, min(self.row, len(rows) - 1))
        items = self.here.items
        alike = (
            n
            for n, i in enumerate(items)
            if item and (i.seq, i.shape, i.keys) == (item.seq, item.shape, item.keys)
        )
        by_entry = (n for n, i in enumerate(items) if item and i.seq == item.seq)
        self.place = next(alike, next(by_entry, min(self.place, max(0, len(items) - 1))))

    # -- keys

    def keys_of(self, ident: str) -> tuple[str, ...]:
        """The keys of a command."""
        return next((c.key, *c.also) for c in self.commands if c.id == ident)

    def key(self, ident: str) -> str:
        """The key of a command that is printed."""
        return key_words(self.keys_of(ident)[0])

    def press(self, key: str) -> None:
        """Do what a key says; nothing is swallowed silently."""
        heard = self._heard(key)
        if heard == "same":
            self.hint = f"{key_words(key)} twice at once is one press"
            return
        before, self.hint = self._told(), ""
        if self.panel is not None:
            panel = self.panel
            used = panel.press(key)
            if heard == "twice" and panel.types(key):
                panel.doubled()
            if self.panel is panel and not panel.open:
                self.panel = None
            if used:
                self._look_again()
                self._or_say(before, f"{key_words(key)} changes nothing here; Esc goes back")
                return
            if self.panel is panel and not isinstance(panel, Sheet):
                self.hint = f"{key_words(key)} is no answer here; Esc goes back"
                return
            self.panel = None
        if self.comparison is not None and self.comparison.press(self, key):
            return
        command = self.by_key.get(key)
        if command is not None:
            ACTS[command.id](self)
            self._look_again()
            same = "that is what is shown" if self.panel else "nothing more to see that way"
            self._or_say(before, f"{key_words(key)}: {same}")
        elif key == "escape":
            self.hint = f"nothing lies over the timeline; {self.key('leave')} leaves"
        else:
            self.hint = f"{key_words(key)}: nothing here has this key. {self.key('key_sheet')} shows the keys"

    def _heard(self, key: str) -> Heard:
        command = self.by_key.get(key)
        goes_on = AT_ANY_RATE if command is not None and command.id in _GOES_ON else None
        return self._one_press.heard(key, self.debriefing.clock().elapsed_ms, self.panel, goes_on)

    def _or_say(self, before: object, words: str) -> None:
        if not self.hint and self._told() == before:
            self.hint = words

    def _told(self) -> object:
        """What a key could have changed."""
        rows = tuple(self.panel.rows()) if self.panel else ()
        title = self.panel.title if self.panel else ""
        look = (self.row, self.place, self.view, self.theme, self.brightness, self.left)
        return look, len(self.debrief.events), title, rows, self.comparison

    def tried(self, say: Callable[[], object], *, kept: bool) -> bool:
        """Whether something could be said; why not is shown, and whether what was begun is `kept`."""
        try:
            say()
        except Trouble as refusal:
            self.hint = f"{refusal} {'What was begun is kept.' if kept else 'Nothing was said.'}"
            return False
        return True

    def tell(self, read: Callable[[], T]) -> T | None:
        """What was read; why it could not be is shown."""
        try:
            return read()
        except Trouble as refusal:
            self.hint = str(refusal)
            return None

    def paste(self, text: str) -> None:
        """Take pasted text into words being written; anywhere else it is set aside, and said."""
        if isinstance(self.panel, Write | Typed):
            self.panel.paste(text)
        else:
            self.hint = f"{set_aside(text)}; only words being written take them"

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self.hint = words

    def pulse(self) -> None:
        """Try again to put on disk what waits."""
        self.debriefing.keep_waiting()

    def close(self) -> str:
        """Let go of the debrief's journal; what the disk did not take of it is said."""
        self.debriefing.close()
        lost = len(self.debriefing.waiting)
        return f"{lost} entries of the debrief are not kept. {self.debriefing.trouble}" if lost else ""

    # -- drawing

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The screen as lines."""
        if self.comparison is not None and self.panel is None:
            return self.comparison.draw(self, size)
        return board.draw(self.scene(), size, self.commands)

    def scene(self) -> board.Scene:
        """What the screen shows now."""
        around = self.around
        waiting = len(self.debriefing.waiting)
        trouble = f"{waiting} not on disk, kept in memory. {self.debriefing.trouble}" if waiting else ""
        return board.Scene(
            title=self._title(),
            status=self._status(),
            drawn=self.drawn,
            view=self.view,
            row=self.row,
            item=self.item,
            told=about(around, self.here, self.item),
            hint=self.hint,
            trouble=trouble,
            panel=self.panel.title if self.panel else "",
            choices=tuple(self.panel.rows()) if self.panel else (),
            entry_key=self.key("entry"),
        )

    def _title(self) -> str:
        case = self.case
        kind, ended = " (invented)" if case.invented else "", "" if case.end else ", no end logged"
        return f"{case.code}{kind}  {case.protocol.title}{ended}"

    def _status(self) -> tuple[str, ...]:
        bare, found, left = len(self.without_reason), len(self.drawn.found), begun(self)
        role = self.debriefing.role
        return (
            self._when(),
            "whole case" if self.view == self.whole else f"{span_words(self.view.seconds)} in view",
            f"debrief {self.debrief.state}",
            _BOND[self.review.bond],
            f"{found} deviations, {bare} without a reason",
            "" if self.usual else "usual range: n too small",
            "" if role == REVIEWER else f"writing: {self.case.protocol.label(role)}",
            f"{len(left)} begun, not said" if left else "",
        )

    def _when(self) -> str:
        axis = self.drawn.axis
        if not axis.anchors:
            return ""
        start, stop = axis.at(axis.start_t), axis.at(axis.stop_t)
        return f"{start:%Y-%m-%d %H:%M} to {stop:%H:%M}"
