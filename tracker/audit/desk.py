"""The audit's screen without a screen: filters on the left, one question on the right, drawn in text.

Questions are asked beside the screen, so that no key waits for an engine; until an answer is there, that is
said in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from string import ascii_letters
from typing import Final

from tracker.audit.choices import Choice, choices, filters
from tracker.audit.keys import COMMANDS
from tracker.audit.population import Filters
from tracker.audit.report.as_text import grid_lines
from tracker.audit.report.book import QUESTIONS
from tracker.audit.report.drawn import draw
from tracker.audit.report.sheet import FEW, Run, Sheet
from tracker.audit.report.small import MOST, SOME
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.worker import Offered, Told
from tracker.screen.commands import by_key, key_words, keys_of
from tracker.screen.light import LIGHTS
from tracker.screen.lines import Line, Size, fit, foot, page, window, wrap
from tracker.screen.paint import BRIGHTNESS
from tracker.screen.panels import Row
from tracker.screen.room import set_aside

Ask = Callable[[Filters, str], "Future[Told]"]

KEYS: Final = by_key(COMMANDS)
SHOWN: Final = tuple(key for key, question in QUESTIONS.items() if not question.private)
SMALL: Final = (
    f"{FEW}, {MOST}, {SOME}: 1 to {FEWEST - 1} cases or events, and what would tell them, are kept back."
)
CAUTION: Final = "Record and learning aid. Usual ranges describe past cases here, not good practice."
_LETTERS: Final = dict(zip(ascii_letters, SHOWN, strict=False))
_LEAF: Final = 8


class AuditDesk:
    """Which question and which filters are shown; what a key does to them."""

    become = None

    def __init__(
        self,
        ask: Ask,
        offered: Offered,
        given: Filters | None = None,
        theme: str = "lamp",
        brightness: int = len(BRIGHTNESS) - 1,
    ) -> None:
        self.theme, self.brightness, self.left = theme, brightness, False
        self.says = ""
        self.question = 0
        self.marked = 0
        self._ask, self._given = ask, given or Filters()
        self.choices: tuple[Choice, ...] = choices(offered, self._given)
        self._at = [0] * len(self.choices)
        self._asked: dict[str, Future[Told]] = {}
        self._tables, self._first, self._sheet = False, 0, ""

    # -- keys

    def press(self, key: str) -> None:
        """Do what a key says; what means nothing is answered in words."""
        self.says = ""
        command = KEYS.get(key)
        if self._sheet == "list" and key in _LETTERS:
            self._show(SHOWN.index(_LETTERS[key]))
        elif self._sheet and (command is None or command.id not in LIGHTS):
            self._sheet = ""
        elif command is not None:
            _ACTS[command.id](self)
        else:
            self.says = f"{key_words(key)}: nothing here has this key. ? shows the keys"

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.says = set_aside(text)

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self.says = words

    def pulse(self) -> None:
        """Nothing is to be done: an answer that has come is drawn with the next drawing."""

    def close(self) -> str:
        """Let go of what was asked and has not begun."""
        self._let_go()
        return ""

    def _let_go(self) -> None:
        """Whoever goes through the values of a filter waits for the last one only."""
        self._asked = {name: asked for name, asked in self._asked.items() if not asked.cancel()}

    def _show(self, question: int) -> None:
        self.question, self._first, self._sheet = question % len(SHOWN), 0, ""

    def turn(self, by: int) -> None:
        """Go to another question."""
        self._show(self.question + by)

    def mark(self, by: int) -> None:
        """Mark another filter."""
        self.marked = (self.marked + by) % len(self.choices)

    def change(self, by: int) -> None:
        """Give the marked filter another value."""
        values = self.choices[self.marked].values
        self._at[self.marked] = (self._at[self.marked] + by) % len(values)
        self._first = 0

    def clear(self) -> None:
        """Take every filter back to what the command line gave."""
        self._at, self._first = [0] * len(self.choices), 0

    def other_way(self) -> None:
        """Show tables in place of drawings, or the reverse."""
        self._tables, self._first = not self._tables, 0

    def read(self, by: int) -> None:
        """Go up or down in a long figure."""
        self._first = max(0, self._first + by)

    def lay(self, sheet: str) -> None:
        """Lay a sheet over the screen."""
        self._sheet = sheet

    def leave(self) -> None:
        """Leave the screen."""
        self.left = True

    # -- what is asked

    @property
    def filters(self) -> Filters:
        """The filters as they stand."""
        chosen = {c.id: c.values[at] for c, at in zip(self.choices, self._at, strict=True)}
        return filters(self._given, chosen)

    @property
    def key(self) -> str:
        """The question shown."""
        return SHOWN[self.question]

    def told(self) -> Told | str:
        """The answer, or why there is none yet."""
        name = f"{self.filters!r} {self.key}"
        if name not in self._asked:
            self._let_go()
            self._asked[name] = self._ask(self.filters, self.key)
        asked = self._asked[name]
        if not asked.done():
            return "asking ..."
        refusal = asked.exception()
        return f"not answered: {refusal}" if refusal else asked.result()

    # -- lines

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The screen as lines."""
        if self._sheet == "list":
            rows = [Row(k, QUESTIONS[q].word, q == self.key) for k, q in _LETTERS.items()]
            return page("Questions", (), rows, "a letter goes to a question, any other key back", size)
        if self._sheet:
            rows = [Row("", f"{keys_of(c):<18} {c.does}") for c in COMMANDS]
            return page("Keys", (), rows, "any key goes back", size)
        return self._both(size)

    def _both(self, size: Size) -> tuple[Line, ...]:
        last = foot(COMMANDS, size)
        if self.says:
            last = (((f" {self.says}", "key"),),)
        room = size.height - len(last)
        left = 26 if size.width < 100 else 36
        told = self.told()
        filters_ = self._left(told, left - 1, room)
        figure = self._right(told, size.width - left - 3, room)
        lines = [
            (*fit(filters_[i] if i < len(filters_) else (), left), (" | ", "rule"),
             *fit(figure[i] if i < len(figure) else (), size.width - left - 3))
            for i in range(room)
        ]  # fmt: skip
        return tuple(fit(line, size.width) for line in (*lines, *last))

    def _left(self, told: Told | str, width: int, room: int) -> list[Line]:
        rows = [self._filter(i, c, width) for i, c in enumerate(self.choices)]
        about: list[Line] = [((" asking ...", "quiet"),)]
        if isinstance(told, Told):
            words = (told.population, *told.lines)
            about = [((f" {p}", "quiet"),) for text in words for p in wrap(text, width - 1)]
        kept = min(len(rows), max(4, room - 2 - len(about)))
        first = min(max(0, self.marked - kept + 1), len(rows) - kept)
        more = f" ({len(rows) - kept} more)" if kept < len(rows) else ""
        head: Line = ((f" Cases{more}", "large"),)
        return [head, *rows[first : first + kept], (), *about][:room]

    def _filter(self, place: int, choice: Choice, width: int) -> Line:
        value = choice.values[self._at[place]]
        marked = place == self.marked
        label = f"{'>' if marked else ' '}{choice.label}: "
        return (
            (label, "mark" if marked else "quiet"),
            (value.replace("_", " ")[: max(1, width - len(label))], "live" if self._at[place] else "plain"),
        )

    def _right(self, told: Told | str, width: int, room: int) -> list[Line]:
        asks = told.sheet.asks if isinstance(told, Told) else QUESTIONS[self.key].word
        head: list[Line] = [((p, "large"),) for p in wrap(f"{self.question + 1}/{len(SHOWN)} {asks}", width)]
        if isinstance(told, str):
            return [*head, (), ((told, "quiet"),)]
        body = list(self._body(told.sheet, width, room - len(head)))
        left = room - len(head)
        if len(body) <= left:
            return [*head, *body]
        self._first = min(self._first, len(body) - left + 1)
        first, end = window(len(body) - self._first, 0, left)
        shown_part = body[self._first + first : self._first + end]
        more = len(body) - self._first - len(shown_part)
        return [
            *head,
            *shown_part,
            ((f"({more} more lines below: .)" if more else "(end; , goes up)", "key"),),
        ]

    def _body(self, sheet: Sheet, width: int, room: int) -> Iterator[Line]:
        yield from _words((sheet.trust,), width, "plain")
        yield ()
        if sheet.refused:
            yield from _words((f"No figure: {sheet.refused}.",), width, "live")
        drawn = () if self._tables else sheet.drawings
        for drawing in drawn:
            yield from draw(drawing, width, min(20, room - 6))
            yield ()
        if not drawn or any(isinstance(drawing, Run) for drawing in drawn):
            for grid in sheet.grids:
                yield from (((line, "plain"),) for line in grid_lines(grid, width))
                yield ()
        yield from _words(sheet.remarks, width, "plain")
        yield from _words((sheet.definition, SMALL, CAUTION), width, "quiet")


def _words(texts: Sequence[str], width: int, tone: str) -> Iterator[Line]:
    return (((part, tone),) for text in texts for part in wrap(text, width))


_ACTS: Final[dict[str, Callable[[AuditDesk], object]]] = {
    "next_question": lambda d: d.turn(1), "last_question": lambda d: d.turn(-1),
    "up": lambda d: d.mark(-1), "down": lambda d: d.mark(1),
    "change": lambda d: d.change(1), "change_back": lambda d: d.change(-1), "clear": AuditDesk.clear,
    "way": AuditDesk.other_way, "read_on": lambda d: d.read(_LEAF), "read_back": lambda d: d.read(-_LEAF),
    "list": lambda d: d.lay("list"), "key_sheet": lambda d: d.lay("keys"),
    **LIGHTS,
    "leave": AuditDesk.leave,
}  # fmt: skip
