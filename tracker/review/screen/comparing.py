"""A case beside earlier ones: the minutes of each stage, side by side. No ranking; the cases differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

from tracker.core import durations
from tracker.core.case import Case
from tracker.core.events import Scalar
from tracker.core.protocol import Stage
from tracker.core.timeline_text import fitted
from tracker.core.wording import fact_words
from tracker.journal.books import DEBRIEF
from tracker.journal.cases import reviewed_of
from tracker.review.record.plain import minutes, tenths
from tracker.review.screen import forms
from tracker.review.screen.forms import Typed
from tracker.screen.asking import Option, Question, keyed
from tracker.screen.lines import Line, Size, fit, wrap

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

OFFERED: Final = 20
COLUMN: Final = 13
MOST: Final = 8
"""Cases that may stand beside this one."""
FOOT: Final = (
    "Minutes, first start to last stop, pauses out; + where a span has no stop."
    " {} another case, Backspace one less, Left Right turn, Up Down scroll, Esc back"
)
_OTHER: Final = "another code"
"""No code has a blank in it."""


@dataclass(frozen=True, slots=True)
class Column:
    """One case: its code and protocol, the minutes of each stage by its id and of the whole, its facts."""

    code: str
    protocol: str
    version: str
    minutes: Mapping[str, float]
    open: frozenset[str]
    whole: float | None
    facts: Mapping[str, str]


def column(case: Case, now_t: float) -> Column:
    """The stage minutes of a case, first start to last stop, pauses out."""
    end_t = durations.until_t(case, now_t)
    seconds = {s.id: durations.stage_seconds(case, s, end_t) for s in case.protocol.stages}
    whole_s = durations.case_seconds(case, end_t) if case.end else None
    return Column(
        code=case.code,
        protocol=case.protocol.id,
        version=case.protocol.version,
        minutes={stage: minutes(s) for stage, s in seconds.items() if s is not None},
        open=frozenset(s.id for s in case.protocol.stages if _open(case, s)),
        whole=None if whole_s is None else minutes(whole_s),
        facts={k: fact_words(case.protocol, k, v) for k, v in case.facts.items()},
    )


def _open(case: Case, stage: Stage) -> bool:
    spans = (step for step in stage.steps if step.shape == "span")
    return any(tick.stop is None for step in spans for tick in case.state(step.id).ticks)


@dataclass(frozen=True, slots=True)
class Comparison:
    """The page of columns, this case first; `first` is the first of the others in view, `top` the line."""

    columns: tuple[Column, ...]
    first: int = 0
    top: int = 0

    def press(self, desk: ReviewDesk, key: str) -> bool:
        """Turn, scroll, add, take away, leave; whether the key was used."""
        if key == "escape":
            desk.comparison = None
        elif key in desk.keys_of("compare"):
            ask_compare(desk)
        elif key == "backspace":
            fewer = replace(self, columns=self.columns[:-1], first=0)
            desk.comparison = fewer if len(fewer.columns) > 1 else None
        elif key in ("left", "right") and len(self.columns) > 2:
            by = 1 if key == "right" else -1
            desk.comparison = replace(self, first=(self.first + by) % (len(self.columns) - 1))
        elif key in ("up", "down"):
            desk.comparison = replace(self, top=max(0, self.top + (1 if key == "down" else -1)))
        else:
            return False
        return True

    def draw(self, desk: ReviewDesk, size: Size) -> tuple[Line, ...]:
        """The page, exactly as large as the screen."""
        others = ", ".join(c.code for c in self.columns[1:])
        title = f"{self.columns[0].code} beside {others}: past cases here, not good practice"
        head = _told(title, "live", size)
        last = [*_told(desk.hint, "echo", size), *_told(FOOT.format(desk.key("compare")), "key", size)]
        room = max(0, size.height - len(head) - len(last))
        body = _scrolled(list(_table(self, desk, size)), self.top, room)
        lines: list[Line] = [*head, *body, *[()] * (room - len(body)), *last]
        return tuple(fit(line, size.width) for line in lines[: size.height])


def _told(words: str, tone: str, size: Size) -> list[Line]:
    return [((f" {part}", tone),) for part in wrap(words, size.width - 2)]


def _scrolled(lines: list[Line], top: int, room: int) -> list[Line]:
    if len(lines) <= room:
        return lines
    first = min(top, len(lines) - room + 1)
    left = len(lines) - first - (room - 1)
    more = f" + {left} more lines: Down" if left else " the end; Up goes back"
    return [*lines[first : first + max(0, room - 1)], ((more, "key"),)]


def _table(page: Comparison, desk: ReviewDesk, size: Size) -> Iterator[Line]:
    left = max(14, min(36, size.width * 3 // 10))
    own, *others = page.columns
    room = max(1, (size.width - left - 1) // COLUMN - 2)
    turned = [*others[page.first :], *others[: page.first]]
    columns = [own, *turned[:room]]
    yield _row("", [c.code for c in columns], "usual here", left, "live")
    for stage in desk.case.protocol.stages:
        yield _row(stage.label, [_minutes(c, stage.id) for c in columns], _usual(desk, stage.id), left)
    whole = ["no end" if c.whole is None else tenths(c.whole) for c in columns]
    yield _row("Whole case", whole, "", left)
    yield _row("Version of the file", [c.version for c in columns], "", left, "quiet")
    if len(others) > room:
        yield ((f" + {len(others) - room} more beside: Right", "key"),)
    foreign = ", ".join(c.code for c in columns if c.protocol != own.protocol)
    if foreign:
        words = f"of another protocol, so only stages of the same id stand beside: {foreign}"
        yield from _told(words, "echo", size)
    yield from _facts(desk, columns, left)


def _facts(desk: ReviewDesk, columns: Sequence[Column], left: int) -> Iterator[Line]:
    """The case facts in which the cases differ, so that unlike cases are seen to be unlike."""
    own = columns[0].facts
    differing = [k for k in own if len({c.facts.get(k) for c in columns}) > 1]
    if differing:
        yield ()
        yield ((" Case facts in which they differ", "live"),)
    for k in differing:
        yield _row(desk.case.protocol.label(k), [c.facts.get(k, "-") for c in columns], "", left, "quiet")


def _minutes(one: Column, stage: str) -> str:
    if stage not in one.minutes:
        return "-"
    return f"{tenths(one.minutes[stage])}{'+' if stage in one.open else ''}"


def _usual(desk: ReviewDesk, stage: str) -> str:
    known = desk.usual.get(stage)
    return "n too small" if known is None else f"{tenths(known.low)} to {tenths(known.high)}"


def _row(label: str, cells: Sequence[str], last: str, left: int, tone: str = "plain") -> Line:
    told = "".join(f" {fitted(cell, COLUMN - 1).rstrip():>{COLUMN - 1}}" for cell in cells)
    return ((f" {fitted(label, left)}", tone), (told, tone), (f" {last:>{COLUMN - 1}}", "quiet"))


# -- choosing


def ask_compare(desk: ReviewDesk) -> None:
    """Ask which earlier case to put beside this one."""
    there = {c.code for c in desk.comparison.columns} if desk.comparison else {desk.case.code}
    if len(there) > MOST:
        desk.hint = f"{MOST} cases are beside this one; Backspace takes one away"
        return
    codes = desk.tell(desk.debriefing.archive.codes)
    others = [c for c in codes or () if c not in there][-OFFERED:][::-1]
    if not others:
        desk.hint = desk.hint or "there is no other case in this folder"
        return
    options = (*keyed([(code, None, code) for code in others]), Option("=", "another code", _OTHER))
    question = Question("compare", "Put beside this case", partial(_chosen, desk), options)
    desk.panel = forms.choice(desk, question)


def _chosen(desk: ReviewDesk, code: Scalar) -> None:
    if code != _OTHER:
        _add(desk, code)
        return
    title, check = "The code of the case, like A-0001", partial(_not_there, desk)
    desk.panel = Typed(forms.draft("compare", "code"), title, check, partial(_add, desk), desk.drafts)


def _not_there(desk: ReviewDesk, code: str) -> str:
    codes = desk.tell(desk.debriefing.archive.codes)
    return "" if code in (codes or ()) else "there is no case of that code in this folder"


def _add(desk: ReviewDesk, code: Scalar) -> None:
    archive = desk.debriefing.archive

    def read() -> Column:
        other = reviewed_of(archive.read(str(code)), archive.read_beside(str(code), DEBRIEF), str(code))
        return column(other.case, other.logged.last_t)

    added = desk.tell(read)
    if added is not None:
        own = column(desk.case, desk.review.logged.last_t)
        had = desk.comparison or Comparison((own,))
        desk.comparison = replace(had, columns=(own, *had.columns[1:], added))
