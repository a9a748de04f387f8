"""Questions over the foot of a screen: one of some options, or a number for a reading."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from string import ascii_lowercase, ascii_uppercase
from typing import Final

from msgspec import Struct

from tracker.core.events import Scalar
from tracker.core.protocol import RESERVED_KEYS, Choice, Reading
from tracker.core.text import shown
from tracker.core.wording import figure
from tracker.screen.panels import DIGITS, FIGURE_LENGTH, FIGURES, PlainPanel, Row, inside, number


class Option(Struct, frozen=True, gc=False):
    """One answer; `also` are further keys that give it."""

    key: str
    label: str
    value: Scalar
    also: tuple[str, ...] = ()


class Question(Struct, frozen=True):
    """Something asked: one of `options`, or a number for `reading`; `id` names its draft."""

    id: str
    title: str
    done: Callable[[Scalar], None]
    options: tuple[Option, ...] = ()
    reading: Reading | None = None


def options_of(choices: Sequence[Choice]) -> tuple[Option, ...]:
    """The options of a closed list of the file."""
    return tuple(Option(c.key, c.label, c.id) for c in choices)


def keyed(labels: Sequence[tuple[str, str | None, Scalar]]) -> tuple[Option, ...]:
    """Options of (label, own key, value); those without a key get the first free letter or digit."""
    taken = {key for _, key, _ in labels if key}
    free = iter([k for k in ascii_lowercase + ascii_uppercase if k not in taken | RESERVED_KEYS])
    return tuple(Option(key or next(free, ""), label, value) for label, key, value in labels)


YES_NO = (Option("y", "yes", True), Option("n", "no", False))


def reading_question(reading: Reading, title: str, done: Callable[[Scalar], None], ident: str) -> Question:
    """The question that a reading asks."""
    if reading.kind == "choice":
        return Question(ident, title, done, options_of(reading.choices), reading)
    if reading.kind == "flag":
        return Question(ident, title, done, YES_NO, reading)
    return Question(ident, title, done, (), reading)


NOTHING: Final = -1
"""No answer is marked: what is not chosen is never taken."""
_SHOWN: Final = 40
"""Most letters typed at a list that it remembers and shows."""


class Ask(PlainPanel):
    """One or more questions, one at a time; left and right change between them.

    Nothing is marked at first. A letter answers. Where the answer is `held`, its letter marks it and Enter takes it, and
    only a letter by itself marks: whatever else comes with it makes words, which were meant for somewhere else.
    """

    def __init__(self, questions: Sequence[Question], drafts: dict[str, str], *, held: bool = False) -> None:
        self.questions = tuple(questions)
        self.drafts = drafts
        self.held = held
        self.at = 0
        self.mark = NOTHING
        self.typed = ""
        self.among = False
        self.twice = False
        self.begun = False
        self.guarded = ""
        self.says = ""
        self.open = True

    @property
    def question(self) -> Question:
        """The question that is asked now."""
        return self.questions[self.at]

    @property
    def lists(self) -> bool:
        """Whether letters answer what is asked now."""
        return bool(self.question.options)

    def types(self, key: str) -> bool:
        """Whether a figure is typed in."""
        return not self.question.options and key in FIGURES

    def doubled(self) -> None:
        """Ask before a figure is kept that came twice at once."""
        self.twice = True

    @property
    def title(self) -> str:
        """The question's words, and which of how many it is."""
        many = f"  ({self.at + 1} of {len(self.questions)}, Left Right)" if len(self.questions) > 1 else ""
        return self.question.title + many

    def rows(self) -> Sequence[Row]:
        """The options, or the number typed so far with what the file says of it."""
        if self.question.options:
            rows = [Row(o.key, o.label, i == self.mark) for i, o in enumerate(self.question.options)]
            if self.typed and self.mark == NOTHING:
                rows.append(Row("", f"{shown(self.typed)}_", marked=True))
            says = self.says or (self._how() if self.held else "")
            return [*rows, Row("", says)] if says else rows
        reading = self.question.reading
        typed = self.drafts.get(self.question.id, "")
        unit = reading.unit if reading else ""
        rows = [Row("", f"{typed}_ {unit}".rstrip(), marked=True)]
        if reading and reading.usual:
            low, high = (figure(v) for v in reading.usual)
            words = low if low == high else f"{low} to {high}"
            rows.append(Row("", f"usual in your file {words} {unit}; Up takes {low}".rstrip()))
        return [*rows, Row("", self.says)] if self.says else rows

    def press(self, key: str) -> bool:
        """Answer, correct, or change the question."""
        if key == "escape":
            self.open = False
            return True
        if key in ("left", "right") and len(self.questions) > 1:
            self._turn(1 if key == "right" else -1)
            return True
        return self._choose(key) if self.question.options else self._type(key)

    def _turn(self, by: int) -> None:
        self.at = (self.at + by) % len(self.questions)
        self.mark, self.typed, self.guarded, self.says = NOTHING, "", "", ""
        self.begun = self.twice = self.among = False

    def _how(self) -> str:
        """How an answer is given that is held."""
        if self.mark != NOTHING:
            return "Enter takes what is marked, Backspace unmarks it, Esc leaves"
        if self.typed:
            return "That is no answer. Backspace takes letters back, Up and Down mark an answer, Esc leaves"
        return "Its letter marks an answer, Enter takes it; Esc leaves"

    def _answer(self, value: Scalar) -> None:
        # One answer and it closes: a question that stayed would take the next step's key for an answer.
        self.drafts.pop(self.question.id, None)
        self.open = False
        self.question.done(value)

    def _choose(self, key: str) -> bool:
        self.says = ""
        if key in ("up", "down"):
            self._mark(max(self.mark, 0 if key == "up" else NOTHING) + (1 if key == "down" else -1))
        elif key == "enter":
            self._take_marked()
        elif self.held:
            return self._hold(" " if key == "space" else key)
        else:
            return self._take(key)
        return True

    def _place(self, key: str) -> int:
        options = self.question.options
        return next((i for i, o in enumerate(options) if o.key and key in (o.key, *o.also)), NOTHING)

    def _take(self, key: str) -> bool:
        """Answer by a letter; one that is no answer takes the mark away."""
        chosen = self._place(key)
        if chosen == NOTHING:
            self.mark = NOTHING
            return False
        self._answer(self.question.options[chosen].value)
        return True

    def _hold(self, key: str) -> bool:
        """Mark an answer by its letter, as long as that is all that was typed."""
        if key == "backspace" and (self.typed or self.mark != NOTHING):
            self.typed = self.typed[:-1]
        elif len(key) == 1 and self.typed != key:  # once more the same letter says the same
            self.typed = (self.typed + key)[:_SHOWN]
        elif len(key) != 1:
            return self._named(key)
        self.mark = self._place(self.typed) if len(self.typed) == 1 else NOTHING
        return key == "backspace" or self._place(key) != NOTHING

    def _named(self, key: str) -> bool:
        """Mark an answer by a key that prints nothing, as F7; where it is none, nothing changes."""
        chosen = self._place(key)
        if chosen != NOTHING and not self.typed:
            self.mark = chosen
        return chosen != NOTHING

    def _mark(self, at: int) -> None:
        self.mark, self.typed = at % len(self.question.options), ""
        self.says = "" if self.held else "Enter takes the marked answer"

    def _take_marked(self) -> None:
        if self.mark != NOTHING:
            self._answer(self.question.options[self.mark].value)
        elif self.typed:
            self.says = "Nothing is taken: no answer is marked. Backspace takes letters back, Esc leaves"
        else:
            self.says = "No answer is marked: Up and Down mark one, or press its letter"

    def _type(self, key: str) -> bool:
        typed = self.drafts.get(self.question.id, "")
        reading = self.question.reading
        if key == "up" and reading and reading.usual:
            self.drafts[self.question.id] = figure(reading.usual[0])
        elif key == "backspace" and self.question.id in self.drafts:
            # Also once nothing is left of it: one backspace too many must not strike an entry.
            self.drafts[self.question.id] = typed[:-1]
            self.begun, self.twice, self.among = True, False, False
        elif key == "enter" and not typed:
            self.open = False  # left open for later; it must not stop or start a span
        elif key == "enter":
            self._enter(typed)
        elif (
            key in DIGITS
            or key == "."
            or (key == "-" and reading and reading.plausible and reading.plausible[0] < 0)
        ):
            # What was left here before is kept by Enter; the first figure begins anew, for nobody remembers it.
            fresh = typed if self.begun else ""
            self.begun, self.says = True, ""
            if (key == "." and "." in fresh) or (key == "-" and fresh) or len(fresh) >= FIGURE_LENGTH:
                return False
            self.drafts[self.question.id] = fresh + key
        else:
            self.among = True
            return False
        return True

    def _enter(self, typed: str) -> None:
        value = number(typed)
        reading = self.question.reading
        if value is None:
            self.says = "digits, and a point if need be"
        elif self.twice:
            self.twice = False
            self.says = f"{typed}: a figure came twice at once. Enter again keeps it, Backspace corrects"
        elif self.among:
            self.among = False
            self.says = f"other keys came with {typed}: Enter again keeps it, Backspace corrects"
        elif reading and reading.plausible and self.guarded != typed and not inside(value, reading.plausible):
            low, high = (figure(v) for v in reading.plausible)
            self.guarded = typed
            self.says = f"outside {low} to {high} {reading.unit}: Enter again keeps it, Backspace corrects"
        else:
            self.guarded = ""
            self._answer(value)
