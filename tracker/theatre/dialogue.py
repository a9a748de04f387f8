"""A few questions one after another on the first screen; nothing is entered before the last is answered.

A question takes its own keys and refuses all others in words; nothing is preselected. A dialogue is a generator that
yields questions and is sent their answers; what it returns is said.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from typing import Any

from tracker.core.events import Scalar
from tracker.core.protocol import Protocol
from tracker.core.text import identifying
from tracker.journal.trouble import Trouble
from tracker.screen.asking import Option
from tracker.screen.commands import key_words
from tracker.screen.panels import Row, number
from tracker.theatre.forms import FactsPage

LONGEST = 40


class Pick:
    """One of a closed list, by its letter."""

    def __init__(self, title: str, options: Sequence[Option]) -> None:
        self.title = title
        self.options = tuple(options)
        self.says = ""
        self.answer: Scalar | None = None
        self.done = False

    def rows(self) -> Sequence[Row]:
        """The options, none of them marked."""
        rows = [Row(o.key, o.label) for o in self.options]
        return [*rows, Row("", self.says)] if self.says else rows

    def press(self, key: str) -> None:
        """Answer, or say that the key is none of the list's."""
        chosen = next((o for o in self.options if o.key and o.key == key), None)
        if chosen is None:
            self.says = f"{key_words(key)} is not in this list; Esc leaves it"
            return
        self.answer, self.done = chosen.value, True


class Typed:
    """A figure or a time, typed and kept by Enter; `read` gives what it says, or a sentence why it says nothing."""

    def __init__(self, title: str, read: Callable[[str], tuple[Any, str]], hint: str) -> None:
        self.title = title
        self.read = read
        self.hint = hint
        self.typed = ""
        self.says = ""
        self.answer: Any = None
        self.done = False

    def rows(self) -> Sequence[Row]:
        """What is typed so far, and what is wanted."""
        return [Row("", f"{self.typed}_", marked=True), Row("", self.says or self.hint)]

    def press(self, key: str) -> None:
        """Type, correct, or keep."""
        if key == "backspace":
            self.typed, self.says = self.typed[:-1], ""
        elif key == "enter":
            self.answer, self.says = self.read(self.typed.strip())
            self.done = not self.says
        elif len(key) == 1 and len(self.typed) < LONGEST:
            self.typed, self.says = self.typed + key, ""
        else:
            self.says = f"{key_words(key)} is not typed here; Esc leaves"


class Known:
    """The facts that are known of a case: those answered on the page, and no default. Enter keeps them."""

    def __init__(self, title: str, protocol: Protocol) -> None:
        self.title = title
        self.answer: dict[str, Scalar] = {}
        self.done = False
        told = {protocol.planned_minutes_fact, protocol.list_position_fact}
        asked = [f for f in protocol.facts if f.id not in told]
        usual = {f.id: f.default for f in asked if f.default is not None}
        self._page = FactsPage(asked, usual, self._never, answers=self.answer)

    def _never(self, _: Mapping[str, Scalar]) -> None:
        """The page itself keeps nothing: a list holds what was answered, not what is usual."""

    def rows(self) -> Sequence[Row]:
        """The facts; only what is answered goes on the list."""
        known = ", ".join(self.answer) or "none yet"
        hint = f"known so far: {known}; Enter keeps these, the others are asked at the start"
        return [*self._page.rows(), Row("", hint)]

    def press(self, key: str) -> None:
        """Answer on the page, or keep what is known."""
        if key == "enter" and not self._page.typed:
            self.done = True
        else:
            self._page.press(key)


Asked = Pick | Typed | Known
Questions = Generator[Asked, Any, str]


class Dialogue:
    """Questions while they are asked; `said` is what is to be said once it is over."""

    def __init__(self, questions: Questions) -> None:
        self._questions = questions
        self.said = ""
        self.over = False
        self.asked: Asked | None = None
        self._go_on(None)

    def _go_on(self, answer: object) -> None:
        try:
            self.asked = self._questions.send(answer)
        except StopIteration as end:
            self.over, self.said, self.asked = True, str(end.value or ""), None
        except Trouble as refusal:
            self.over, self.said, self.asked = True, str(refusal), None

    @property
    def title(self) -> str:
        """What is asked."""
        return self.asked.title if self.asked else ""

    def rows(self) -> Sequence[Row]:
        """The rows of the question."""
        return self.asked.rows() if self.asked else ()

    def press(self, key: str) -> None:
        """Answer; Esc leaves with nothing entered."""
        if key == "escape":
            self._questions.close()
            self.over, self.said, self.asked = True, "left: nothing was entered", None
        elif self.asked:
            self.asked.press(key)
            if self.asked.done:
                self._go_on(self.asked.answer)


# -- what a typed answer may be


def minutes(typed: str) -> tuple[float | None, str]:
    """Whole minutes of a day, or nothing typed for not planned."""
    value = number(typed) if typed else None
    if typed and (value is None or not 1 <= value <= 1440):
        return None, "minutes from 1 to 1440, or nothing"
    return value, ""


def clock(typed: str) -> tuple[str, str]:
    """A time of the day from 0830 or 08:30."""
    digits = typed.replace(":", "").replace(".", "")
    if len(digits) == 3:
        digits = f"0{digits}"
    if len(digits) == 4 and digits.isdigit() and digits < "2400" and digits[2:] < "60":
        return f"{digits[:2]}:{digits[2:]}", ""
    return "", "a time of the day, as 0830"


def clock_or_nothing(typed: str) -> tuple[str | None, str]:
    """A time of the day, or nothing typed for not planned."""
    return clock(typed) if typed else (None, "")


def words(typed: str) -> tuple[str, str]:
    """A short name of a place, of no person."""
    found = identifying(typed)
    return typed, f"holds {' and '.join(found)}: no patient identifiers" if found else ""
