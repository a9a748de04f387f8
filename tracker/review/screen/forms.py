"""What is said at a debrief in more than one answer: a form asks field by field, and loses none of them.

A form that was left keeps its answers under its id, its half-typed words as drafts; its key goes on with it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from tracker.core.debrief_events import DebriefEvent
from tracker.core.events import Scalar
from tracker.core.protocol import Reading
from tracker.core.text import shown
from tracker.screen.asking import Ask, Option, Question, reading_question
from tracker.screen.panels import Panel, PlainPanel, Row, Write

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

Answers = Mapping[str, Scalar]
Done = Callable[[Scalar], None]

WHY: Final = "why"
LONGEST: Final = 400
_PART: Final = "|"
_SHORT: Final = 60


@dataclass(frozen=True, slots=True)
class Field:
    """One question of a form: its id, and the panel that asks it."""

    id: str
    panel: Callable[[Done], Panel]


@dataclass(frozen=True, slots=True)
class Form:
    """Questions in order, and what is said once all are answered; later ones may hang on earlier answers.

    `changes` is whether it changes what was signed: after a sign-off it then asks why. One that is not `kept` forgets its
    answers when it is left, and begins at its first question again.
    """

    id: str
    title: str
    fields: Callable[[Answers], Sequence[Field]]
    done: Callable[[Answers], None]
    changes: bool = True
    kept: bool = True


class Typed(PlainPanel):
    """A short line, looked at before it is taken: a time, a length, a date, a file name."""

    def __init__(
        self,
        ident: str,
        title: str,
        check: Callable[[str], str],
        done: Done,
        drafts: dict[str, str],
    ) -> None:
        """`check` says what is amiss with a text, or nothing."""
        self.ident, self.title, self.check, self.done, self.drafts = ident, title, check, done, drafts
        self.says = "Enter takes it, Esc leaves it"
        self.open = True

    def rows(self) -> Sequence[Row]:
        """What is typed so far."""
        return [Row("", f"{shown(self.drafts.get(self.ident, ''))}_", marked=True), Row("", self.says)]

    def press(self, key: str) -> bool:
        """Type, correct, take or leave."""
        if key == "escape":
            self.open = False
        elif key == "backspace":
            self.drafts[self.ident] = self.drafts.get(self.ident, "")[:-1]
        elif key == "enter":
            self._take(self.drafts.get(self.ident, "").strip())
        else:
            self.paste(" " if key == "space" else key if len(key) == 1 else "")
        return True

    def types(self, key: str) -> bool:
        """Whatever prints is typed here."""
        return len(key) == 1 or key == "space"

    def paste(self, more: str) -> None:
        """Add text, as far as there is room."""
        self.drafts[self.ident] = (self.drafts.get(self.ident, "") + shown(more)).lstrip()[:LONGEST]

    def _take(self, text: str) -> None:
        self.says = self.check(text)
        if not self.says:
            self.open = False
            self.drafts.pop(self.ident, None)
            self.done(text)


# -- fields


def draft(form: str, field: str) -> str:
    """The name under which half-typed words of a field are kept."""
    return f"{form}{_PART}{field}"


def write(desk: ReviewDesk, form: str, field: str, title: str) -> Field:
    """A field of free words."""
    ident = draft(form, field)
    return Field(field, lambda done: Write(ident, title, done, desk.drafts))


def typed(desk: ReviewDesk, form: str, field: str, title: str, check: Callable[[str], str]) -> Field:
    """A field of a short line that is looked at."""
    ident = draft(form, field)
    return Field(field, lambda done: Typed(ident, title, check, done, desk.drafts))


def choice(desk: ReviewDesk, *questions: Question) -> Ask:
    """Questions as the review asks them: a letter marks, Enter takes.

    So words that were meant for another page never answer one.
    """
    return Ask(questions, desk.drafts, held=True)


def ask(desk: ReviewDesk, field: str, title: str, options: Sequence[Option]) -> Field:
    """A field of one key."""
    asked = tuple(options)
    return Field(field, lambda done: choice(desk, Question(field, title, done, asked)))


def reading(desk: ReviewDesk, form: str, field: str, asked: Reading) -> Field:
    """A field of a reading's value."""
    ident = draft(form, field)
    return Field(field, lambda done: choice(desk, reading_question(asked, asked.label, done, ident)))


# -- filling in


def start(desk: ReviewDesk, form: Form) -> None:
    """Fill in a form from its beginning; where it was begun before, ask whether to go on."""
    if not form.kept:
        fill(desk, form, {})
        return
    if not desk.held.get(form.id):
        fill(desk, form, desk.held.setdefault(form.id, {}))
        return
    told = "; ".join(_short(value) for value in desk.held[form.id].values())
    options = (
        Option("g", "go on with it", value=True),
        Option("n", "begin anew; what was begun goes", value=False),
    )
    done = partial(_again, desk, form)
    desk.panel = choice(desk, Question("again", f"{form.title}, begun: {told}", done, options))


def _short(value: Scalar) -> str:
    text = "yes" if value is True else "no" if value is False else str(value)
    return text if len(text) <= _SHORT else f"{text[: _SHORT - 1]}…"


def _again(desk: ReviewDesk, form: Form, go_on: Scalar) -> None:
    if not go_on:
        desk.held.pop(form.id, None)
    fill(desk, form, desk.held.setdefault(form.id, {}))


def fill(desk: ReviewDesk, form: Form, answers: dict[str, Scalar]) -> None:
    """Ask what is not answered yet; once all is, say it."""
    open_field = next((f for f in _fields(desk, form, answers) if f.id not in answers), None)
    if open_field is not None:
        desk.panel = open_field.panel(partial(_answered, desk, form, answers, open_field.id))
    elif desk.tried(lambda: form.done(answers), kept=form.kept):
        desk.held.pop(form.id, None)


def _fields(desk: ReviewDesk, form: Form, answers: Answers) -> Sequence[Field]:
    fields = form.fields(answers)
    if form.changes and desk.review.debrief.signed_seq is not None:
        return [*fields, write(desk, form.id, WHY, "The debrief is signed off: why this now")]
    return fields


def _answered(desk: ReviewDesk, form: Form, answers: dict[str, Scalar], field: str, value: Scalar) -> None:
    answers[field] = value
    fill(desk, form, answers)


def begun(desk: ReviewDesk) -> tuple[str, ...]:
    """The forms that were begun and not said."""
    words = {ident.partition(_PART)[0] for ident, text in desk.drafts.items() if text.strip()}
    return tuple(sorted({form for form, answers in desk.held.items() if answers} | words))


def say(desk: ReviewDesk, kind: type[DebriefEvent], answers: Answers, **fields: object) -> None:
    """Say what a form holds, with its reason if it came after the sign-off."""
    desk.debriefing.say(kind, why=str(answers.get(WHY, "")), **fields)
