"""The forms of the live case: a count, what was missed, the page of case facts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import chain

from tracker.core.events import Scalar
from tracker.core.grading import parse_grade
from tracker.core.protocol import Fact, Reading, Step
from tracker.core.wording import figure, value_words
from tracker.screen.panels import DIGITS, Row, blanks, inside, number

NUMBER = (*DIGITS, ".", "-")


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
        elif key in DIGITS and len(typed) < 4:
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


class Missed:
    """What was missed: between which two entries it was, and then the key of the step."""

    def __init__(
        self,
        places: Sequence[tuple[float, str]],
        done: Callable[[str, float], None],
        stages: Sequence[tuple[str, Sequence[Step]]],
        stage: int,
    ) -> None:
        """`stages` are the labels and steps of each and at last of any time, `stage` the one to begin with."""
        self.places = tuple(places)
        self.done = done
        self.stages = tuple(stages)
        self.stage = stage
        self.at = max(0, len(self.places) - 2)
        self.open = True

    @property
    def title(self) -> str:
        """The place that is chosen, whole on any screen, and how to choose another."""
        if not self.places:
            return "Missed: nothing was entered yet"
        how = "Up Down another place, Left Right another stage"
        return f"Missed between {self.places[self.at][1]}: {self.stages[self.stage][0]}. {how}"

    def rows(self) -> Sequence[Row]:
        """The steps that may go there."""
        return [Row(s.key, s.label) for s in self.stages[self.stage][1] if s.key and self.places]

    def press(self, key: str) -> bool:
        """Choose a place, or the step that belongs there; Left and Right show the steps of other stages."""
        if key in ("up", "down") and self.places:
            self.at = (self.at + (1 if key == "down" else -1)) % len(self.places)
            return True
        if key in ("left", "right") and self.places:
            self.stage = (self.stage + (1 if key == "right" else -1)) % len(self.stages)
            return True
        steps = chain(self.stages[self.stage][1], self.stages[-1][1])
        step = next((s for s in steps if s.key == key), None)
        if step is not None and self.places:
            self.open = False
            self.done(step.id, self.places[self.at][0])
            return True
        self.open = key != "escape"
        return key == "escape"


class FactsPage:
    """The case facts on one page, each with its default. Enter keeps them; Up and Down move; keys answer.

    What was answered stands in `answers` until it is kept, and so is found again.
    """

    def __init__(
        self,
        facts: Sequence[Fact],
        values: Mapping[str, Scalar],
        done: Callable[[Mapping[str, Scalar]], None],
        title: str = "Case facts",
        answers: dict[str, Scalar] | None = None,
    ) -> None:
        self.facts = tuple(facts)
        self.answers = {} if answers is None else answers
        self.values = {**values, **self.answers}
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
        """Move, answer, or keep; what is no answer to the marked fact is said, and not used."""
        if key == "escape":
            self.open = self.typed is not None
            self.typed = None
        elif key == "enter":
            self._enter()
        else:
            return bool(self.facts) and self._on_fact(self.facts[self.at], key)
        return True

    def _on_fact(self, fact: Fact, key: str) -> bool:
        if key in ("up", "down", "tab"):
            self._move(-1 if key == "up" else 1)
        elif key in ("left", "right") and fact.kind in ("choice", "flag"):
            self._next(fact, 1 if key == "right" else -1)
        else:
            return self._key(fact, " " if key == "space" else key)
        return True

    def _enter(self) -> None:
        if self.typed is None:
            self.open = False
            self.answers.clear()
            self.done(self.values)
        elif self._typed_in():
            self._move(1)

    def _move(self, by: int) -> None:
        if self._typed_in():
            self.at = (self.at + by) % len(self.facts)

    def _next(self, fact: Fact, by: int) -> None:
        values: list[Scalar] = [c.id for c in fact.choices] or [False, True]
        now = self.values[fact.id]
        self._set(fact, values[(values.index(now) + by) % len(values)] if now in values else values[0])

    def _set(self, fact: Fact, value: Scalar) -> None:
        self.values[fact.id] = self.answers[fact.id] = value

    def _key(self, fact: Fact, key: str) -> bool:
        self.says = ""
        if fact.kind == "choice":
            return self._take(fact, next((c.id for c in fact.choices if c.key == key), None), key)
        if fact.kind == "flag":
            return self._take(fact, {"y": True, "n": False}.get(key), key)
        if key == "backspace":
            self.typed = (self.typed or "")[:-1]
        elif len(key) > 1 or (fact.kind == "number" and self.typed is None and key not in NUMBER):
            return self._take(fact, None, key)
        elif len(self.typed or "") < 40:
            self.typed = blanks((self.typed or "") + key)
        return True

    def _take(self, fact: Fact, value: Scalar | None, key: str) -> bool:
        if value is None:
            self.says = f"{key} is no answer here: {self._help(fact)}"
            return False
        self._set(fact, value)
        self._move(1)
        return True

    def _typed_in(self) -> bool:
        fact, typed = self.facts[self.at], self.typed
        if typed is None:
            return True
        value: Scalar | None = number(typed) if fact.kind == "number" else typed.strip().upper()
        self.says = self._question(fact, typed, value)
        if not self.says and value is not None:
            self._set(fact, value)
            self.typed = None
        return not self.says

    def _question(self, fact: Fact, typed: str, value: Scalar | None) -> str:
        if fact.kind == "grade":
            return "" if parse_grade(str(value)) else "grade as A, B, CP 1 to 12 or CA 1 to 12, as CP3-CA2"
        if not isinstance(value, int | float):
            return "digits, and a point if need be"
        if fact.plausible and not inside(value, fact.plausible) and self.guarded != typed:
            self.guarded = typed
            low, high = (figure(v) for v in fact.plausible)
            return f"outside {low} to {high} {fact.unit}: Enter again keeps it"
        return ""
