"""The questions of an audit in the order they are read, and how they are put together as one report."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Final

from tracker import __version__
from tracker.audit.answers.form import Audit
from tracker.audit.population import Filters, Population, rows
from tracker.audit.report import of_eyes, of_failures, of_lengths, of_lists, of_order, small
from tracker.audit.report.sheet import FEW, SMALL_CELLS, Sheet, few
from tracker.audit.statistics.enough import FEWEST
from tracker.core.wording import CAUTIONS

Ask = Callable[[Audit], Sheet]


@dataclass(frozen=True, slots=True)
class Question:
    """A question by its key: a few words for a list, and who answers it; `private` ones are asked by name."""

    word: str
    ask: Ask
    private: bool = False


QUESTIONS: Final[Mapping[str, Question]] = MappingProxyType({
    "completeness": Question("completeness", of_order.completeness),
    "case_lengths": Question("case lengths", of_lengths.case_lengths),
    "stage_lengths": Question("stage lengths", of_lengths.stage_lengths),
    "step_lengths": Question("step lengths", of_lengths.step_lengths),
    "by_operator": Question("by operator grade", of_lengths.by_operator),
    "by_anaesthetic": Question("by anaesthetic", of_lengths.by_anaesthetic),
    "by_lens": Question("by lens", of_lengths.by_lens),
    "by_pvr_c": Question("by grade C", of_lengths.by_grade_c),
    "drivers": Question("what goes with length", of_lengths.drivers),
    "variance": Question("stages and variance", of_lengths.variance),
    "course": Question("run of cases", of_lengths.course),
    "shift": Question("small shifts", of_lengths.shift),
    "starts": Question("late starts", of_lists.starts),
    "gaps": Question("turnovers", of_lists.gaps),
    "times": Question("time in theatre", of_lists.times_in_theatre),
    "use": Question("session use", of_lists.use),
    "booking": Question("booking", of_lists.booked),
    "deviations": Question("deviations", of_order.deviations),
    "inversions": Question("order of pairs", of_order.inversions),
    "precedence": Question("order of steps", of_order.precedence),
    "clocks": Question("clocks", of_order.clocks),
    "unmatched": Question("unmatched pairs", of_order.unmatched),
    "complication": Question("complications", of_order.complications),
    "count_discrepancy": Question("counts", of_order.counts),
    "reattachment": Question("retina attached", of_eyes.reattachment),
    "failures": Question("failures over time", of_failures.failures),
    "acuity": Question("acuity", of_eyes.acuity),
    "pressure": Question("pressure of the eye", of_eyes.pressure),
    "oil": Question("oil in the eye", of_eyes.oil),
    "completeness_by_role": Question("completeness by role", of_order.completeness_by_role),
    "learning": Question("a fellow's cases", of_lengths.learning, private=True),
})  # fmt: skip
"""Every question by its key, in the order of a report. None of them ranks people."""

Told = Callable[[int, int], None]
"""What hears how far the work is: questions done, questions in all."""


@dataclass(frozen=True, slots=True)
class Report:
    """What was asked and answered, and on which day; `population` is said first, with `lines` of what it rests on."""

    title: str
    population: str
    lines: tuple[str, ...]
    cautions: tuple[str, ...]
    sheets: tuple[Sheet, ...]
    invented: bool
    made: date
    program: str = __version__


def keys(asked: Sequence[str] = ()) -> tuple[str, ...]:
    """The questions of a report: those asked for, or all but the private ones.

    Raises:
        KeyError: there is no such question.
    """
    for key in asked:
        QUESTIONS[key]
    return tuple(asked) or tuple(key for key, q in QUESTIONS.items() if not q.private)


def report(
    audit: Audit, made: date, asked: Sequence[str] = (), lines: Sequence[str] = (), told: Told | None = None
) -> Report:
    """Ask the questions of an audit on the day `made`; `lines` are added to what is said of the population."""
    wanted, sheets = keys(asked), []
    for done, key in enumerate(wanted, start=1):
        sheets.append(QUESTIONS[key].ask(audit))
        if told:
            told(done, len(wanted))
    return Report(
        title="Audit of invented cases" if audit.population.invented else "Audit",
        population=sentence(audit.population),
        lines=(*about(audit), *lines, SMALL_CELLS),
        cautions=CAUTIONS,
        sheets=tuple(sheets),
        invented=audit.population.invented,
        made=made,
    )


def sentence(population: Population) -> str:
    """How many cases of how many; of 1 to 4 what was left out, and no number that tells them."""
    if not small.is_few(population.n):
        return population.sentence
    kind = "invented cases" if population.invented else "cases"
    out = ", ".join(e.why for e in population.exclusions)
    of = "" if small.is_few(population.of) else f" of {few(population.of)}"
    return f"{FEW}{of} {kind}{f'; left out: {out}' if out else ''}"


def about(audit: Audit) -> Iterator[str]:
    """What the population rests on: what was asked for, months, protocols and versions."""
    if asked := ", ".join(_asked_for(audit.population.filters)):
        yield f"Asked for: {asked}."
    if audit.population.n >= FEWEST:
        yield f"Cases {_months(audit)}."
    said = small.apart([version.n for version in audit.versions])
    for version, n in zip(audit.versions, said, strict=True):
        known = audit.protocols.get(version.digest)
        reviewed = (
            f"reviewed by {known.reviewed_by}" if known and known.reviewed_by else "not reviewed locally"
        )
        yield f"{n or few(version.n)} by {version.protocol}, version {version.version} ({reviewed})."
    if audit.population.invented:
        yield "No theatre saw these cases: they were invented."


def _asked_for(filters: Filters) -> Iterator[str]:
    """The filters in words, also where they left nothing out."""
    if filters.protocol is not None:
        yield f"protocol {filters.protocol}"
    if filters.first_version is not None:
        yield f"version {filters.first_version} to {filters.last_version}"
    if filters.first_day is not None:
        yield f"from {filters.first_day.isoformat()}"
    if filters.last_day is not None:
        yield f"until {filters.last_day.isoformat()}"
    for fact, values in filters.facts.items():
        yield f"{fact.replace('_', ' ')} {' or '.join(values)}"
    if not filters.completed:
        yield "open or stopped too"


def _months(audit: Audit) -> str:
    """The months of the first and the last case: a day would tell whose they were."""
    cases = audit.asked.cases
    (row,) = rows(cases.aggregate(first=cases.day.min(), last=cases.day.max()))
    first, last = (f"{row[name]:%B %Y}" for name in ("first", "last"))
    return f"of {first}" if first == last else f"from {first} to {last}"
