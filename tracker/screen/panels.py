"""What may lie over the foot of the board: a question, a count, a line of text, a sheet to read.

A panel never holds the assistant up. A key it does not use falls through to the board, which leaves the
panel and does what the key says; whatever was typed is kept as a draft and found again. Keys are named as by
Textual, a printable one by its character.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from string import ascii_lowercase, ascii_uppercase
from typing import Protocol

from tracker.core.events import Scalar
from tracker.core.grading import parse_grade
from tracker.core.protocol import RESERVED_KEYS, Choice, Fact, Reading, Step
from tracker.core.text import identifying, shown
from tracker.core.wording import figure, value_words

NOTE_LENGTH = 2000
"""Longest note that is kept, in characters."""
TAIL = 240
"""How much of its end is shown while it is written."""
LARGEST = 1e9
"""No number larger than this is taken, as in a protocol file."""
LEAF = 4
"""Rows that Up and Down turn a sheet by."""
_DIGITS = tuple("0123456789")


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a panel: the key that picks it, its words, whether it is marked."""

    key: str
    text: str
    marked: bool = False


class Panel(Protocol):
    """Something over the foot of the board."""

    open: bool

    @property
    def title(self) -> str:
        """Its heading."""

    def rows(self) -> Sequence[Row]:
        """Its lines."""

    def press(self, key: str) -> bool:
        """Use a key; false lets it fall through to the board."""


@dataclass(frozen=True, slots=True)
class Option:
    """One answer; `also` are further keys that give it."""

    key: str
    label: str
    value: Scalar
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """Something asked: one of `options`, or a number for `reading`; `id` names its draft."""

    id: str
    title: str
    done: Callable[[Scalar], None]
    options: tuple[Option, ...] = ()
    reading: Reading | None = None
    marked: int = 0


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


class Ask:
    """One or more questions, one at a time; left and right change between them."""

    def __init__(self, questions: Sequence[Question], drafts: dict[str, str]) -> None:
        self.questions = tuple(questions)
        self.drafts = drafts
        self.at = 0
        self.mark = self.questions[0].marked
        self.guarded = ""
        self.says = ""
        self.open = True

    @property
    def question(self) -> Question:
        """The question that is asked now."""
        return self.questions[self.at]

    @property
    def title(self) -> str:
        """The question's words, and which of how many it is."""
        many = f"  ({self.at + 1} of {len(self.questions)}, Left Right)" if len(self.questions) > 1 else ""
        return self.question.title + many

    def rows(self) -> Sequence[Row]:
        """The options, or the number typed so far with what the file says of it."""
        if self.question.options:
            return [Row(o.key, o.label, i == self.mark) for i, o in enumerate(self.question.options)]
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
        self.mark, self.guarded, self.says = self.question.marked, "", ""

    def _answer(self, value: Scalar) -> None:
        # One answer and it closes: a question that stayed would take the next step's key for an answer.
        self.drafts.pop(self.question.id, None)
        self.open = False
        self.question.done(value)

    def _choose(self, key: str) -> bool:
        options = self.question.options
        if key in ("up", "down"):
            self.mark = (self.mark + (1 if key == "down" else -1)) % len(options)
            return True
        if key == "enter":
            self._answer(options[self.mark].value)
            return True
        chosen = next((o for o in options if o.key and key in (o.key, *o.also)), None)
        if chosen is not None:
            self._answer(chosen.value)
        return chosen is not None

    def _type(self, key: str) -> bool:
        typed = self.drafts.get(self.question.id, "")
        reading = self.question.reading
        if key == "up" and reading and reading.usual:
            self.drafts[self.question.id] = figure(reading.usual[0])
        elif key == "backspace" and self.question.id in self.drafts:
            # Also once nothing is left of it: one backspace too many must not strike an entry.
            self.drafts[self.question.id] = typed[:-1]
        elif key == "enter" and not typed:
            self.open = False  # left open for later; it must not stop or start a span
        elif key == "enter":
            self._enter(typed)
        elif (key in _DIGITS or (key == "." and "." not in typed)) and len(typed) < 9:
            self.drafts[self.question.id] = typed + key
            self.says = ""
        elif key == "-" and not typed and reading and reading.plausible and reading.plausible[0] < 0:
            self.drafts[self.question.id] = key
        else:
            return False
        return True

    def _enter(self, typed: str) -> None:
        value = number(typed)
        reading = self.question.reading
        if value is None:
            self.says = "digits, and a point if need be"
        elif (
            reading and reading.plausible and self.guarded != typed and not _inside(value, reading.plausible)
        ):
            low, high = (figure(v) for v in reading.plausible)
            self.guarded = typed
            self.says = f"outside {low} to {high} {reading.unit}: Enter again keeps it, Backspace corrects"
        else:
            self.guarded = ""
            self._answer(value)


def number(typed: str) -> int | float | None:
    """The number that was typed, whole if it is; None where it is none, or one that no file could hold."""
    try:
        value = float(typed)
    except ValueError:
        return None
    if not abs(value) <= LARGEST:
        return None
    return int(value) if value.is_integer() else value


def _inside(value: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] <= value <= bounds[1]


def _blanks(text: str) -> str:
    """Text with blanks as the board shows them: none at the beginning, one between words."""
    return re.sub(r"\s+", " ", text).lstrip()


class Write:
    """A line of free words. Everything printable goes into it; Enter keeps it, Esc leaves it as a draft."""

    def __init__(self, ident: str, title: str, done: Callable[[str], None], drafts: dict[str, str]) -> None:
        self.ident = ident
        self.title = title
        self.done = done
        self.drafts = drafts
        self.questioned = ""
        self.says = ""
        self.open = True

    def rows(self) -> Sequence[Row]:
        """What is written so far."""
        text = self.drafts.get(self.ident, "")
        before = len(text) - TAIL
        tail = f"({before} characters before) {text[-TAIL:]}" if before > 0 else text
        rows = [Row("", f"{shown(tail)}_", marked=True)]
        return [*rows, Row("", self.says or "Enter keeps it, Esc leaves it")]

    def press(self, key: str) -> bool:
        """Write, correct, keep or leave."""
        text = self.drafts.get(self.ident, "")
        if key == "escape":
            self.open = False
        elif key == "backspace":
            self.drafts[self.ident] = text[:-1]
        elif key == "enter":
            self._keep(text.strip())
        elif key == "space":
            self.paste(" ")
        elif len(key) == 1:
            self.paste(key)
        return True

    def paste(self, more: str) -> None:
        """Add text; what is over the longest length is cut, and said."""
        text = _blanks(self.drafts.get(self.ident, "") + shown(more))
        self.drafts[self.ident] = text[:NOTE_LENGTH]
        self.says = (
            f"a note holds {NOTE_LENGTH} characters: the rest was cut" if len(text) > NOTE_LENGTH else ""
        )

    def _keep(self, text: str) -> None:
        person = identifying(text)
        if person and self.questioned != text:
            self.questioned = text
            self.says = f"looks like {' and '.join(person)}: no patient identifiers. Enter again keeps it"
            return
        self.open = False
        self.drafts.pop(self.ident, None)
        if text:
            self.done(text)


class CountSheet:
    """What the count board says, line by line. Enter goes down; on the last line it is kept."""

    def __init__(
        self,
        ident: str,
        title: str,
        lines: Sequence[tuple[str, str, str]],
        done: Callable[[Mapping[str, int]], None],
        drafts: dict[str, str],
    ) -> None:
        self.ident = ident
        self.title = title
        self.lines = tuple(lines)
        self.done = done
        self.drafts = drafts
        self.at = 0
        self.open = True

    def _draft(self, i: int) -> str:
        return f"{self.ident}:{self.lines[i][0]}"

    def rows(self) -> Sequence[Row]:
        """Every line with what was typed and what is expected."""
        return [
            Row(
                "",
                f"{label}: {self.drafts.get(self._draft(i), '')}{'_' if i == self.at else ''}  {hint}",
                i == self.at,
            )
            for i, (_, label, hint) in enumerate(self.lines)
        ]

    def press(self, key: str) -> bool:
        """Type a number, move, keep."""
        draft = self._draft(self.at)
        typed = self.drafts.get(draft, "")
        if key == "escape":
            self.open = False
        elif key in _DIGITS and len(typed) < 4:
            self.drafts[draft] = typed + key
        elif key == "backspace" and any(self._draft(i) in self.drafts for i in range(len(self.lines))):
            self.drafts[draft] = typed[:-1]
        elif key in ("up", "down"):
            self.at = (self.at + (1 if key == "down" else -1)) % len(self.lines)
        elif key == "enter" and self.at < len(self.lines) - 1:
            self.at += 1
        elif key == "enter":
            self._keep()
        else:
            return False
        return True

    def _keep(self) -> None:
        said = {ident: self.drafts.pop(self._draft(i), "") for i, (ident, _, _) in enumerate(self.lines)}
        self.open = False
        if numbers := {ident: int(typed) for ident, typed in said.items() if typed}:
            self.done(numbers)


class Sheet:
    """Something to read; Esc and the keys that opened it close it, all others fall through to the board."""

    def __init__(self, title: str, told: Callable[[], Sequence[Row]], own: Sequence[str] = ()) -> None:
        self.title = title
        self.told = told
        self.closing = ("escape", *own)
        self.at = 0
        self.open = True

    def rows(self) -> Sequence[Row]:
        """What there is to read; the row that was turned to is marked, and so is always in view."""
        return [replace(row, marked=0 < self.at == i) for i, row in enumerate(self.told())]

    def press(self, key: str) -> bool:
        """Leave, or turn over a long sheet."""
        if key in self.closing:
            self.open = False
        elif key in ("up", "down"):
            self.at = min(max(0, self.at + (LEAF if key == "down" else -LEAF)), max(0, len(self.told()) - 1))
        return key in (*self.closing, "up", "down")


class Missed:
    """What was missed: between which two entries it was, and then the key of the step."""

    title = "Missed: Up and Down choose where, then the step's key; Left and Right show other stages"

    def __init__(
        self,
        places: Sequence[tuple[float, str]],
        done: Callable[[str, float], None],
        steps: Callable[[], Sequence[Step]],
        turn: Callable[[int], None],
    ) -> None:
        self.places = tuple(places)
        self.done = done
        self.steps = steps
        self.turn = turn
        self.at = max(0, len(self.places) - 2)
        self.open = True

    def rows(self) -> Sequence[Row]:
        """The places about the chosen one, then the steps that may go there."""
        if not self.places:
            return [Row("", "nothing was entered yet")]
        near = range(max(0, self.at - 1), min(len(self.places), self.at + 2))
        places = [Row("", f"between {self.places[i][1]}", i == self.at) for i in near]
        return [*places, *(Row(s.key, s.label) for s in self.steps() if s.key)]

    def press(self, key: str) -> bool:
        """Choose a place, or the step that belongs there; Left and Right show the steps of other stages."""
        if key in ("up", "down") and self.places:
            self.at = (self.at + (1 if key == "down" else -1)) % len(self.places)
            return True
        if key in ("left", "right") and self.places:
            self.turn(1 if key == "right" else -1)
            return True
        step = next((s for s in self.steps() if s.key == key), None)
        if step is not None and self.places:
            self.open = False
            self.done(step.id, self.places[self.at][0])
            return True
        self.open = key != "escape"
        return key == "escape"


class FactsPage:
    """The case facts on one page, each with its default. Enter starts; Up and Down move; keys answer."""

    def __init__(
        self,
        facts: Sequence[Fact],
        values: Mapping[str, Scalar],
        done: Callable[[Mapping[str, Scalar]], None],
        title: str = "Case facts",
    ) -> None:
        self.facts = tuple(facts)
        self.values = dict(values)
        self.done = done
        self.title = title
        self.at = 0
        self.typed: str | None = None
        self.guarded = ""
        self.says = ""
        self.open = True

    def rows(self) -> Sequence[Row]:
        """Every fact with its value; the marked one with what may be answered."""
        rows = [Row("", self._row(i, fact), i == self.at) for i, fact in enumerate(self.facts)]
        if self.says:
            rows.insert(self.at + 1, Row("", self.says))
        return rows

    def _row(self, i: int, fact: Fact) -> str:
        value = self._words(fact)
        if i != self.at:
            return f"{fact.label}: {value}"
        if self.typed is not None:
            return f"{fact.label}: {self.typed}_ {fact.unit}".rstrip()
        return f"{fact.label}: {value}   {self._help(fact)}".rstrip()

    def _words(self, fact: Fact) -> str:
        reading = Reading(id=fact.id, label=fact.label, unit=fact.unit, choices=fact.choices)
        return value_words(reading, self.values[fact.id])

    def _help(self, fact: Fact) -> str:
        if fact.kind == "choice":
            return "  ".join(f"{c.key} {c.label}" for c in fact.choices)
        return "y n" if fact.kind == "flag" else "(type it)"

    def press(self, key: str) -> bool:
        """Move, answer, or start."""
        if key == "escape":
            self.open = self.typed is not None
            self.typed = None
        elif key == "enter":
            self._enter()
        elif self.facts:
            self._on_fact(self.facts[self.at], key)
        return True

    def _on_fact(self, fact: Fact, key: str) -> None:
        if key in ("up", "down", "tab"):
            self._move(-1 if key == "up" else 1)
        elif key in ("left", "right") and fact.kind in ("choice", "flag"):
            self._next(fact, 1 if key == "right" else -1)
        elif len(key) == 1 or key in ("backspace", "space"):
            self._key(fact, " " if key == "space" else key)

    def _enter(self) -> None:
        if self.typed is None:
            self.open = False
            self.done(self.values)
        elif self._typed_in():
            self._move(1)

    def _move(self, by: int) -> None:
        if self._typed_in():
            self.at = (self.at + by) % len(self.facts)

    def _next(self, fact: Fact, by: int) -> None:
        values: list[Scalar] = [c.id for c in fact.choices] or [False, True]
        now = self.values[fact.id]
        self.values[fact.id] = values[(values.index(now) + by) % len(values)] if now in values else values[0]

    def _key(self, fact: Fact, key: str) -> None:
        self.says = ""
        if fact.kind == "choice":
            chosen = next((c.id for c in fact.choices if c.key == key), None)
            self._take(fact, chosen, key)
        elif fact.kind == "flag":
            self._take(fact, {"y": True, "n": False}.get(key), key)
        elif key == "backspace":
            self.typed = (self.typed or "")[:-1]
        elif len(self.typed or "") < 40:
            self.typed = _blanks((self.typed or "") + key)

    def _take(self, fact: Fact, value: Scalar | None, key: str) -> None:
        if value is None:
            self.says = f"{key} is no answer here: {self._help(fact)}"
        else:
            self.values[fact.id] = value
            self._move(1)

    def _typed_in(self) -> bool:
        fact, typed = self.facts[self.at], self.typed
        if typed is None:
            return True
        value: Scalar | None = number(typed) if fact.kind == "number" else typed.strip().upper()
        self.says = self._question(fact, typed, value)
        if not self.says and value is not None:
            self.values[fact.id] = value
            self.typed = None
        return not self.says

    def _question(self, fact: Fact, typed: str, value: Scalar | None) -> str:
        if fact.kind == "grade":
            return "" if parse_grade(str(value)) else "grade as A, B, CP 1 to 12 or CA 1 to 12, as CP3-CA2"
        if not isinstance(value, int | float):
            return "digits, and a point if need be"
        if fact.plausible and not _inside(value, fact.plausible) and self.guarded != typed:
            self.guarded = typed
            low, high = (figure(v) for v in fact.plausible)
            return f"outside {low} to {high} {fact.unit}: Enter again keeps it"
        return ""
