"""The forms of the live case: a count, what was missed, the page of case facts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import chain

from tracker.core.events import Scalar
from tracker.core.grading import parse_grade
from tracker.core.protocol import Fact, Reading, Step
from tracker.core.wording import figure, value_words
from tracker.screen.panels import DIGITS, FIGURES, PlainPanel, Row, blanks, inside, number

_TYPED = 40
"""Longest value that is typed at a fact, in characters."""
_COUNT_LENGTH = 4
"""Most figures of a count."""


class CountSheet(PlainPanel):
    """What the count board says, line by line. Enter goes down; on the last line it is kept."""

    def __init__(
        self,
        ident: str,
        title: str,
        lines: Sequence[tuple[str, str, int | None]],
        done: Callable[[Mapping[str, int]], None],
        drafts: dict[str, str],
    ) -> None:
        """`lines` are the id and label of each line, and how many of it are expected, if that is known."""
        self.ident = ident
        self.title = title
        self.lines = tuple(lines)
        self.done = done
        self.drafts = drafts
        self.at = 0
        self.begun = False
        self.twice = False
        self.asked: tuple[int, str] | None = None
        self.says = ""
        self.open = True

    def types(self, key: str) -> bool:
        """Figures are typed here."""
        return key in DIGITS

    def doubled(self) -> None:
        """Ask before a figure is kept that came twice at once."""
        self.twice = True

    def _draft(self, i: int) -> str:
        return f"{self.ident}:{self.lines[i][0]}"

    def rows(self) -> Sequence[Row]:
        """Every line with what was typed and what is expected."""
        rows = [
            Row(
                "",
                f"{label}: {self.drafts.get(self._draft(i), '')}{'_' if i == self.at else ''}  {_expected(n)}",
                i == self.at,
            )
            for i, (_, label, n) in enumerate(self.lines)
        ]
        return [*rows[: self.at + 1], Row("", self.says), *rows[self.at + 1 :]] if self.says else rows

    def press(self, key: str) -> bool:
        """Type a number, move, keep."""
        draft = self._draft(self.at)
        typed = self.drafts.get(draft, "")
        said, self.says = self.says, ""
        if key == "escape":
            self.open = False
        elif key in DIGITS and len(typed if self.begun else "") < _COUNT_LENGTH:
            # What was left on a line before stands until a figure is typed there: then it begins anew.
            self.drafts[draft] = (typed if self.begun else "") + key
            self.begun = True
        elif key == "backspace" and any(self._draft(i) in self.drafts for i in range(len(self.lines))):
            self.drafts[draft] = typed[:-1]
            self.begun, self.twice = True, False
        elif key in ("up", "down"):
            self._go((self.at + (1 if key == "down" else -1)) % len(self.lines))
        elif key == "enter" and (why := self._questioned(typed)):
            self.says = f"{typed}: {why}. Enter again keeps it, Backspace corrects"
        elif key == "enter" and self.at < len(self.lines) - 1:
            self._go(self.at + 1)
        elif key == "enter":
            self._keep()
        else:
            self.says = said
            return False
        return True

    def _questioned(self, typed: str) -> str:
        """Why a figure is asked before it is kept, once for each figure; nothing where it is not."""
        expected, asked = self.lines[self.at][2], (self.at, typed)
        if not typed or self.asked == asked:
            return ""
        self.asked, twice, self.twice = asked, self.twice, False
        if twice:
            return "a figure came twice at once"
        return "" if expected in (None, int(typed)) else f"{expected} expected"

    def _go(self, line: int) -> None:
        self.at, self.begun, self.twice = line, False, False

    def _keep(self) -> None:
        said = {ident: self.drafts.pop(self._draft(i), "") for i, (ident, _, _) in enumerate(self.lines)}
        self.open = False
        if numbers := {ident: int(typed) for ident, typed in said.items() if typed}:
            self.done(numbers)


def _expected(count: int | None) -> str:
    return "" if count is None else f"expected {count}"


class Missed(PlainPanel):
    """What was missed: between which two entries it was, and then the key of the step."""

    @property
    def lists(self) -> bool:
        """Letters answer it."""
        return True

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


class FactsPage(PlainPanel):
    """The case facts on one page. Up and Down move, a letter answers and stays, Enter keeps them all.

    A fact without a value must be chosen first. What was answered stands in `answers` until it is kept, and what
    was typed and not taken stands at its fact, so both are found again.
    """

    @property
    def lists(self) -> bool:
        """Letters answer it."""
        return True

    def __init__(
        self,
        facts: Sequence[Fact],
        values: Mapping[str, Scalar],
        done: Callable[[Mapping[str, Scalar]], None],
        title: str = "Case facts",
        answers: dict[str, Scalar] | None = None,
        ends: str = "Enter keeps all, Esc leaves",
    ) -> None:
        """`answers` is where answers wait until they are kept, `ends` says what Enter and Esc do then."""
        self.facts = tuple(facts)
        self.answers = {} if answers is None else answers
        self.values = {**values, **self.answers}
        self.done = done
        self.title = title
        self.ends = ends
        self.at = 0
        self.typed: dict[str, str] = {}
        self.guarded = ""
        self.says = ""
        self.open = True

    def types(self, key: str) -> bool:
        """Figures and grades are typed here."""
        return bool(self.facts) and self.facts[self.at].kind in ("number", "grade") and len(key) == 1

    @property
    def how(self) -> str:
        """What the keys do now, for the foot of the page."""
        if self.facts and self.facts[self.at].id in self.typed:
            return "Enter or Down takes what is typed, Esc drops it"
        return f"Up Down move, a letter or Left Right answers, {self.ends}"

    def rows(self) -> Sequence[Row]:
        """Every fact with its value; the marked one with what may be answered."""
        rows = [Row("", self._row(i, fact), i == self.at) for i, fact in enumerate(self.facts)]
        if self.says:
            rows.insert(self.at + 1, Row("", self.says))
        return rows

    def _row(self, i: int, fact: Fact) -> str:
        typed = self.typed.get(fact.id)
        if typed is not None:
            return f"{fact.label}: {typed}{f'_ {fact.unit}'.rstrip() if i == self.at else '  (typed, not taken)'}"
        value = self._words(fact)
        return (
            f"{fact.label}: {value}   {self._help(fact)}".rstrip()
            if i == self.at
            else f"{fact.label}: {value}"
        )

    def _words(self, fact: Fact) -> str:
        if fact.id not in self.values:
            return "NOT CHOSEN"
        reading = Reading(id=fact.id, label=fact.label, unit=fact.unit, choices=fact.choices)
        return value_words(reading, self.values[fact.id])

    def _help(self, fact: Fact) -> str:
        if fact.kind == "choice":
            return "  ".join(f"{c.key} {c.label}" for c in fact.choices)
        return "y yes  n no" if fact.kind == "flag" else "(type it)"

    def press(self, key: str) -> bool:
        """Move, answer, or keep; what is no answer to the marked fact is said, and not used."""
        fact = self.facts[self.at] if self.facts else None
        if key == "escape":
            self.open = fact is not None and self.typed.pop(fact.id, None) is not None
            self.says = ""
        elif key == "enter":
            self._enter()
        else:
            return fact is not None and self._on_fact(fact, key)
        return True

    def _on_fact(self, fact: Fact, key: str) -> bool:
        if key in ("up", "down", "tab"):
            # What is typed and cannot be taken stays at its fact, and holds nobody up.
            self.says = self._taken(fact)
            self.at = (self.at + (-1 if key == "up" else 1)) % len(self.facts)
        elif key in ("left", "right") and fact.kind in ("choice", "flag"):
            self._next(fact, 1 if key == "right" else -1)
        else:
            return self._key(fact, " " if key == "space" else key)
        return True

    def _enter(self) -> None:
        """Take what is typed here; else keep all, once nothing is left open."""
        fact = self.facts[self.at] if self.facts else None
        if fact is not None and fact.id in self.typed:
            self.says = self._taken(fact)
            return
        left = next(
            (i for i, f in enumerate(self.facts) if f.id in self.typed or f.id not in self.values), None
        )
        if left is None:
            self.open = False
            self.answers.clear()
            self.done(self.values)
            return
        self.at, fact = left, self.facts[left]
        self.guarded = ""  # what was said of it was said at another fact
        self.says = (
            self._taken(fact)
            if fact.id in self.typed
            else f"{fact.label} is not chosen, and nothing is assumed: press its letter"
        )

    def _next(self, fact: Fact, by: int) -> None:
        values: list[Scalar] = [c.id for c in fact.choices] or [False, True]
        now = self.values.get(fact.id)
        self._set(fact, values[(values.index(now) + by) % len(values)] if now in values else values[0])

    def _set(self, fact: Fact, value: Scalar) -> None:
        self.values[fact.id] = self.answers[fact.id] = value

    def _key(self, fact: Fact, key: str) -> bool:
        self.says = ""
        if fact.kind == "choice":
            return self._take(fact, next((c.id for c in fact.choices if c.key == key), None), key)
        if fact.kind == "flag":
            return self._take(fact, {"y": True, "n": False}.get(key), key)
        typed = self.typed.get(fact.id)
        if key == "backspace":
            self.typed[fact.id] = (typed or "")[:-1]
        elif len(key) > 1 or (fact.kind == "number" and typed is None and key not in FIGURES):
            return self._take(fact, None, key)
        elif len(typed or "") < _TYPED:
            self.typed[fact.id] = blanks((typed or "") + key)
        return True

    def _take(self, fact: Fact, value: Scalar | None, key: str) -> bool:
        if value is None:
            self.says = f"{key} is no answer here: {self._help(fact)}"
            return False
        self._set(fact, value)
        return True

    def _taken(self, fact: Fact) -> str:
        """Take what is typed at a fact; what is the matter with it, or nothing."""
        typed = self.typed.get(fact.id)
        if typed is None:
            return ""
        if not typed.strip():
            del self.typed[fact.id]  # everything was rubbed out: the value stands as it was
            return ""
        value: Scalar | None = number(typed) if fact.kind == "number" else typed.strip().upper()
        says = self._question(fact, typed, value)
        if not says and value is not None:
            self._set(fact, value)
            del self.typed[fact.id]
        return says

    def _question(self, fact: Fact, typed: str, value: Scalar | None) -> str:
        if fact.kind == "grade":
            if parse_grade(str(value)):
                return ""
            return f"{fact.label} {typed}: a grade is A, B, CP 1 to 12 or CA 1 to 12, as CP3-CA2"
        if not isinstance(value, int | float):
            return f"{fact.label} {typed}: digits, and a point if need be"
        if fact.plausible and not inside(value, fact.plausible) and self.guarded != typed:
            self.guarded = typed
            low, high = (figure(v) for v in fact.plausible)
            return f"{fact.label} {typed} lies outside {low} to {high} {fact.unit}: Enter again keeps it"
        return ""
