"""Sheets about how long things take, and what goes with it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from tracker.audit.answers import courses, lengths
from tracker.audit.answers.courses import Shift
from tracker.audit.answers.form import Audit
from tracker.audit.answers.lengths import Compared, Of
from tracker.audit.report import sheet as form
from tracker.audit.report import small
from tracker.audit.report.sheet import Bar, Bars, Grid, Run, Sheet
from tracker.audit.statistics.drivers import Effect
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.statistics.summary import FEWEST_TO_COMPARE, MedianDifference

NOT_GIVEN: Final = "not given"
ASSOCIATION: Final = (
    "An association among the cases done here, with what else differed between them; not a cause."
)


def case_lengths(audit: Audit) -> Sheet:
    """How long whole cases take."""
    return _lengths(audit, "case", "Whole case")


def stage_lengths(audit: Audit) -> Sheet:
    """How long each stage takes."""
    return _lengths(audit, "stage", "Stage")


def step_lengths(audit: Audit) -> Sheet:
    """How long each step takes."""
    return _lengths(audit, "step", "Step")


def _lengths(audit: Audit, of: Of, what: str) -> Sheet:
    answer = lengths.lengths(audit, of)
    seen = [row for row in answer.result if row.summary.n + row.summary.missing]
    unseen = [row.label for row in answer.result if not row.summary.n + row.summary.missing]
    rows = tuple((row.label, *form.lengths(row.summary)) for row in seen)
    drawing = form.boxes(what, [(row.label, row.summary) for row in seen])
    return form.sheet(
        answer,
        [Grid(f"{what}, minutes", (what, *form.LENGTHS), rows)],
        [drawing],
        [
            f"Nobody logged, and no case asked for: {', '.join(unseen)}." if unseen else "",
            small.unsaid([row.summary.n for row in seen]),
            form.OF_LENGTHS,
        ],
    )


# -- parted by a case fact


def by_operator(audit: Audit) -> Sheet:
    """Whole cases by the grade of the operator at the start; posts, never people."""
    return _compared(audit, "operator", "operator at the start")


def by_anaesthetic(audit: Audit) -> Sheet:
    """Whole cases by anaesthetic."""
    return _compared(audit, "anaesthetic", "anaesthetic")


def by_lens(audit: Audit) -> Sheet:
    """Whole cases by lens."""
    return _compared(audit, "lens", "lens")


def by_grade_c(audit: Audit) -> Sheet:
    """Whole cases by grade C or not."""
    return _compared(audit, "pvr_c", "grade C")


def _compared(audit: Audit, by: str, what: str) -> Sheet:
    answer = lengths.compared(audit, by)
    named = [(_group(audit, by, row.stratum), row) for row in answer.result]
    sizes = [row.summary.n for _, row in named]
    said = small.apart(sizes)
    rows = tuple(
        (name, *form.lengths(row.summary, n), *_against(row))
        for (name, row), n in zip(named, said, strict=True)
    )
    headings = (what[:1].upper() + what[1:], *form.LENGTHS, "difference", "95 % interval")
    return form.sheet(
        answer,
        [Grid(f"Whole case by {what}, minutes", headings, rows)],
        [form.boxes(f"Whole case by {what}", [(name, row.summary) for name, row in named], said)],
        [ASSOCIATION, *_not_given(answer.result), small.unsaid(sizes), form.OF_LENGTHS],
        key=f"by_{by}",
        asks=f"Do whole cases differ in length by {what}?",
    )


def _group(audit: Audit, fact: str, value: str) -> str:
    """The words of a fact's value: an id may be a choice of a fact here and a step there."""
    known = audit.protocol.fact.get(fact) if audit.protocol else None
    return next((c.label for c in known.choices if c.id == value), value) if known else value


def _against(row: Compared) -> tuple[str, str]:
    found: MedianDifference | None = row.difference
    if found is None:
        return "the largest", form.UNKNOWN
    if found.difference is None:
        return NOT_GIVEN, NOT_GIVEN
    return form.signed(found.difference, 1), f"{form.minutes(found.low)} to {form.minutes(found.high)}"


def _not_given(told: Sequence[Compared]) -> Iterator[str]:
    """Why differences are not given; not by the size of a group, which may be kept back."""
    refused = [d for row in told if (d := row.difference) is not None and d.refused]
    few = [min(d.n_first, d.n_second) < FEWEST_TO_COMPARE for d in refused]
    if any(few):
        yield f"{NOT_GIVEN.capitalize()}: a difference needs at least {FEWEST_TO_COMPARE} cases in either group."
    if not all(few):
        yield f"{NOT_GIVEN.capitalize()}: {refused[few.index(False)].refused}."


# -- what goes with long cases


def drivers(audit: Audit) -> Sheet:
    """What goes with a longer case."""
    answer = lengths.drivers(audit)
    found = answer.result.effects
    told = [e for e in found.effects if e.n >= FEWEST]
    rows = tuple((e.term, f"{form.signed(e.percent, 1)} %", _between(e.low, e.high)) for e in told)
    bars = tuple(Bar(e.term, e.percent, f"{form.signed(e.percent, 1)} %", e.low, e.high) for e in told)
    left_out = ", ".join(answer.result.left_out)
    return form.sheet(
        answer,
        [Grid("Per cent of the minutes of a case", ("Term", "effect", "95 % interval"), rows)],
        [Bars("Effect on the minutes of a case, with its interval", "%", bars)],
        [
            f"From {found.n} complete cases; {found.dropped} left out for want of a value.",
            f"R squared of ln minutes {form.number(found.explained)}.",
            _untold(found.effects),
            f"The same in every case, so left out: {left_out}." if left_out else "",
            ASSOCIATION,
        ],
    )


def _untold(effects: Sequence[Effect]) -> str:
    few = ", ".join(e.term for e in effects if e.n < FEWEST)
    return f"Held in the model but not told, as fewer than {FEWEST} cases differ in it: {few}." if few else ""


def _between(low: float, high: float) -> str:
    return f"{form.signed(low, 1)} to {form.signed(high, 1)} %"


def variance(audit: Audit) -> Sheet:
    """In which stage the difference between cases lies."""
    answer = lengths.variance(audit)
    rows = tuple(
        (audit.label(s.stage), form.percent(s.share), form.minutes(s.iqr)) for s in answer.result.shares
    )
    bars = tuple(
        Bar(audit.label(s.stage), 100 * s.share, form.percent(s.share)) for s in answer.result.shares
    )
    return form.sheet(
        answer,
        [Grid("Share of the variance of a case", ("Stage", "share", "own IQR, min"), rows)],
        [Bars("Share of the variance of a case", "%", bars)],
        [f"From {answer.result.n} cases; {answer.result.dropped} left out for want of a time."],
    )


# -- from case to case


def course(audit: Audit) -> Sheet:
    """Whether the length of a case changed."""
    answer = courses.course(audit)
    chart = answer.result.chart
    if chart.centre is None or chart.low is None or chart.high is None:
        return form.sheet(answer)
    run = Run(
        "Whole case, ln minutes, consecutive cases", "ln min",
        chart.values, chart.centre, chart.low, chart.high, chart.outside,
    )  # fmt: skip
    found = chart.runs
    signals = [
        ("points outside the limits", str(len(chart.outside)), "none expected"),
        ("ranges from one case to the next beyond theirs", str(len(chart.ranges_outside)), "none expected"),
    ]
    if found is not None and not found.refused:
        signals += [
            ("longest run on one side", str(found.longest), f"usual up to {found.longest_usual}"),
            ("crossings of the centre", str(found.crossings), f"usual from {found.crossings_usual}"),
        ]
    limits = tuple((name, form.number(value), form.minutes(math.exp(value))) for name, value in (
        ("lower limit", chart.low), ("centre", chart.centre), ("upper limit", chart.high),
    ))  # fmt: skip
    return form.sheet(
        answer,
        [
            Grid("Limits", ("", "ln minutes", "minutes"), limits),
            Grid("Signals by the stated rules", ("", "found", "rule"), tuple(signals)),
        ],
        [run],
        [
            f"The latest {chart.n} cases that have a length are charted; {chart.baseline} set the limits.",
            "A signal asks for a look at those cases and says no more.",
        ],
    )


def shift(audit: Audit) -> Sheet:
    """Whether the length of a case changed a little and lastingly."""
    answer = courses.shift(audit)
    found, sums, means = answer.result, answer.result.sums, answer.result.means
    set_by = (
        ("target", form.number(found.target), form.minutes(math.exp(found.target))),
        ("spread", form.number(found.spread), form.UNKNOWN),
    )
    signals = (
        _signal("CUSUM: longer than the target", sums.reached_above),
        _signal("CUSUM: shorter than the target", sums.reached_below),
        _signal("EWMA beyond its limits", means.reached),
    )
    return form.sheet(
        answer,
        [
            Grid(f"Set by the first {courses.BASELINE} cases", ("", "ln minutes", "minutes"), set_by),
            Grid("Signals by the stated rules", ("Chart", "points signalling", "first at point"), signals),
        ],
        _sums(found) if not answer.refused else (),
        [
            f"The latest {len(found.codes)} cases that have a length are charted.",
            "By chance alone a CUSUM of this limit signals about once in 470 cases, where its target is true.",
            "A signal asks for a look at those cases and says no more.",
        ],
    )


def _signal(name: str, places: tuple[int, ...]) -> tuple[str, str, str]:
    return name, str(len(places)), str(places[0] + 1) if places else form.UNKNOWN


def _sums(found: Shift) -> tuple[Run, Run]:
    sums, means = found.sums, found.means
    larger = (up if up >= down else -down for up, down in zip(sums.upper, sums.lower, strict=True))
    scale = found.spread or 1.0
    return (
        Run(
            "CUSUM of ln minutes, the larger of the two sums, below 0 the one of shorter cases", "spreads",
            tuple(value / scale for value in larger), 0.0, -courses.LIMIT, courses.LIMIT,
            tuple(sorted({*sums.reached_above, *sums.reached_below})),
        ),
        Run(
            "EWMA of ln minutes", "ln min", means.series, found.target, means.low or 0.0, means.high or 0.0,
            means.reached,
        ),
    )  # fmt: skip


def learning(audit: Audit) -> Sheet:
    """Whether the cases that a fellow began grow quicker; asked for by name alone."""
    answer = courses.learning(audit, "fellow")
    found = answer.result
    row = ("slope of ln minutes on ln case number", form.number(found.slope),
           f"{form.number(found.low)} to {form.number(found.high)}")  # fmt: skip
    return form.sheet(
        answer,
        [Grid("Learning", ("", "estimate", "95 % interval"), (row,))],
        (),
        ["For the fellow and the trainer: where one person holds the post, this is about a person."],
    )
