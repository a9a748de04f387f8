"""Sheets about what differs from the file, and how far the logs can be trusted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from tracker.audit.answers import courses, order, trust
from tracker.audit.answers.form import Audit
from tracker.audit.answers.order import ClockRow, PairRow
from tracker.audit.answers.trust import CompletenessRow
from tracker.audit.report import sheet as form
from tracker.audit.report import small
from tracker.audit.report.sheet import Bar, Bars, Grid, Sheet
from tracker.audit.statistics.enough import FEWEST
from tracker.audit.statistics.precedence import Inversion
from tracker.audit.statistics.rates import Pareto, ParetoRow
from tracker.core.wording import CODE_WORDS

MOST_ROWS: Final = 15
MOST_PAIRS: Final = 25

HOW_WORDS: Final[Mapping[str, str]] = {
    "oversight": "oversight",
    "finding_forced": "forced by a finding",
    "not_logged": "done, not logged",
    "intended": "intended",
    "none given": "no reason given yet",
}


def deviations(audit: Audit) -> Sheet:
    """Which deviations there are most of."""
    answer = order.deviations(audit)
    grids, drawings = [], []
    remarks: list[str] = []
    for how, found in answer.result.items():
        words = HOW_WORDS.get(how, how).capitalize()
        grid, bars = _of_one_kind(audit, words, found)
        grids.append(grid)
        drawings.append(bars)
        remarks += _not_shown(words, found)
    if not answer.result and not answer.refused:
        remarks.append("No deviation in these cases.")
    return form.sheet(answer, grids, drawings, remarks)


_PARETO: Final = ("Deviation", "about", "reason", "n", "in 100 cases", "share", "added")


def _of_one_kind(audit: Audit, words: str, found: Pareto) -> tuple[Grid, Bars]:
    """The kinds that came about in one way; without their sum where it would tell a number kept back."""
    rows = _kept(found)
    summed = len(rows) > MOST_ROWS or small.safe([r.count for r in found.rows if small.is_few(r.count)])
    title = f"{words}: {found.total:,} in all" if summed else words
    bars = tuple(Bar(_kind(audit, r, rows), r.per_100, _said(r, summed)) for r in rows[:MOST_ROWS])
    heading = f"{words}, in 100 cases{', and the shares added' if summed else ''}"
    return (
        Grid(title, _PARETO, tuple(_pareto(audit, r, summed) for r in rows[:MOST_ROWS]), words=3),
        Bars(heading, "in 100 cases", bars),
    )


def _kept(found: Pareto) -> Sequence[ParetoRow]:
    return [row for row in found.rows if row.count >= FEWEST]


def _not_shown(words: str, found: Pareto) -> Iterator[str]:
    kept = len(_kept(found))
    if hidden := len(found.rows) - kept:
        yield f"{words}: {hidden} kind{'s' if hidden > 1 else ''} with fewer than {FEWEST} not shown."
    if kept > MOST_ROWS:
        yield f"{words}: the {MOST_ROWS} commonest of {kept} kinds are shown."


def _kind(audit: Audit, row: ParetoRow, among: Sequence[ParetoRow]) -> str:
    """What a bar is of; its reason too where another bar differs in nothing else."""
    alike = sum((r.code, r.step) == (row.code, row.step) for r in among)
    words = f"{CODE_WORDS.get(row.code, row.code)}: {audit.label(row.step)}"
    return f"{words} ({_reason(audit, row.reason)})" if alike > 1 else words


def _said(row: ParetoRow, summed: bool) -> str:
    return f"{row.per_100:.1f}, to {100 * row.cumulative:.0f} %" if summed else f"{row.per_100:.1f}"


def _pareto(audit: Audit, row: ParetoRow, summed: bool) -> tuple[str, ...]:
    shares = (row.share, row.cumulative) if summed else (None, None)
    return (
        CODE_WORDS.get(row.code, row.code), audit.label(row.step), _reason(audit, row.reason),
        form.few(row.count), form.number(row.per_100, 1), *map(form.percent, shares),
    )  # fmt: skip


def _reason(audit: Audit, reason: str) -> str:
    known = audit.protocol.reasons if audit.protocol else ()
    return next((r.label for r in known if r.id == reason), reason)


def inversions(audit: Audit) -> Sheet:
    """Which steps most often come the other way round than the file has them."""
    answer = order.inversions(audit)
    told = [r for r in answer.result if r.inversion.n >= FEWEST and r.inversion.inverted]
    rows = tuple(
        (
            r.sooner_label, r.later_label, r.level, form.few(r.inversion.n),
            small.count(r.inversion.inverted, r.inversion.n),
            form.percent(r.inversion.share) if _told(r.inversion) else form.UNKNOWN,
        )
        for r in told
    )  # fmt: skip
    bars = tuple(
        Bar(
            f"{r.later_label} before {r.sooner_label}",
            100 * (r.inversion.share or 0.0),
            form.percent(r.inversion.share),
        )
        for r in told
        if _told(r.inversion)
    )
    headings = ("Sooner in the file", "later in the file", "level", "n having both", "inverted", "share")
    return form.sheet(
        answer,
        [Grid("Pairs that came the other way round", headings, rows, words=3)],
        [Bars("Share of cases in which the later one came first", "%", bars)],
        ["" if told else "In no pair did the later step come first."],
    )


def _told(pair: Inversion) -> bool:
    return not small.is_few(pair.inverted) and not small.is_few(pair.n - pair.inverted)


def precedence(audit: Audit) -> Sheet:
    """In which order the steps really come."""
    answer = order.precedence(audit)
    found = answer.result
    if answer.refused:
        return form.sheet(answer)
    pairs = sorted(_close(found.steps, found.first, found.both), key=lambda p: (abs(p[2] - 0.5), p[:2]))
    rows = tuple(
        (audit.label(a), audit.label(b), form.few(n), form.percent(share))
        for a, b, share, n in pairs[:MOST_PAIRS]
    )
    headings = ("Step", "against", "n having both", "came first")
    return form.sheet(
        answer,
        [Grid("Pairs whose order is least settled", headings, rows, words=2)],
        (),
        [
            f"{len(found.steps)} steps; of all pairs, those in which either came first in a tenth of cases"
            f"{'' if rows else ': none'}.",
            "The whole matrix is precedence.csv, which lies beside a report in files.",
        ],
    )


def _close(
    steps: Sequence[str], first: Sequence[Sequence[int]], both: Sequence[Sequence[int]]
) -> Iterator[tuple[str, str, float, int]]:
    """Pairs in which neither step nearly always came first, and either did in enough cases to tell."""
    for i, one in enumerate(steps):
        for j in range(i + 1, len(steps)):
            n, sooner, later = both[i][j], first[i][j], first[j][i]
            if n and min(sooner, later) >= FEWEST and 0.1 <= sooner / n <= 0.9:
                yield one, steps[j], sooner / n, n


# -- clocks and pairs


def clocks(audit: Audit) -> Sheet:
    """Which clocks reached the figures of the file."""
    answer = order.clocks(audit)
    runs = tuple((r.label, form.few(r.runs), *form.lengths(r.summary)) for r in answer.result)
    figures = tuple(
        (
            r.label, small.share_of(r.reached, "no figure"), _red(r), small.share_of(r.short, "no figure"),
            form.minutes(r.beyond if r.reached and not small.is_few(r.reached.events) else None),
        )
        for r in answer.result
    )  # fmt: skip
    headings = ("Clock", "reached amber or red", "reached red", "too short", "min past")
    drawing = form.boxes("Runs of each clock", [(r.label, r.summary) for r in answer.result])
    return form.sheet(
        answer,
        [
            Grid("Runs of each clock, minutes", ("Clock", "runs", *form.LENGTHS), runs),
            Grid("Runs that reached the figures of the file", headings, figures),
        ],
        [drawing],
    )


def _red(row: ClockRow) -> str:
    """Those that reached red, who all reached amber: where 1 to 4 reached amber alone, they would tell it."""
    between = row.reached.events - row.red.events if row.reached and row.red else 0
    return form.UNKNOWN if small.is_few(between) else small.share_of(row.red, "no figure")


def unmatched(audit: Audit) -> Sheet:
    """What went in and was not matched when the file asked."""
    answer = order.unmatched(audit)
    rows = tuple(
        (r.label, r.level, form.few(r.unmatched.n), *small.events(r.unmatched), _resolved(r))
        for r in answer.result
    )
    bars = tuple(b for r in answer.result if (b := small.rate_bar(r.label, r.unmatched)) is not None)
    headings = (
        "Pair",
        "level",
        "n that used it",
        "unmatched",
        "share",
        "95 % interval",
        "matched by the end",
    )
    return form.sheet(
        answer,
        [Grid("Not matched when the file asked", headings, rows, words=2)],
        [Bars("Not matched, with Wilson's interval", "%", bars)],
    )


def _resolved(row: PairRow) -> str:
    """Of the unmatched ones those matched by the end; they would tell a number of unmatched ones kept back."""
    _, share, _ = small.events(row.unmatched)
    return share if share == form.UNKNOWN else small.count(row.resolved, row.unmatched.events)


# -- rare


def complications(audit: Audit) -> Sheet:
    """How often there is a complication, and how many cases lie between."""
    return _rare(audit, "complication")


def counts(audit: Audit) -> Sheet:
    """How often a count differed, and how many cases lie between."""
    return _rare(audit, "count_discrepancy")


def _rare(audit: Audit, deviation: str) -> Sheet:
    answer = courses.rare(audit, deviation)
    r, g = answer.result.rate, answer.result.gaps
    said, share, interval = small.events(r)
    few = small.is_few(r.events)
    between = form.UNKNOWN if g.refused or few else form.number(g.mean, 1)
    since = form.UNKNOWN if few else form.few(g.since)
    row = (form.few(r.n), said, share, interval, between, since)
    headings = ("n cases", "cases with it", "share", "95 % interval", "mean cases between", "since the last")
    return form.sheet(
        answer,
        [Grid("Cases with it", headings, (row,), words=0)],
        (),
        ["Never a chart of per cent for so rare an event: cases between are the measure."],
        key=deviation,
    )


# -- trust


def completeness(audit: Audit) -> Sheet:
    """How complete the logs are."""
    return _completeness(audit, None)


def completeness_by_role(audit: Audit) -> Sheet:
    """How complete the logs are by the role that circulated; nobody is named."""
    return _completeness(audit, "circulating")


_SHARES: Final = (
    ("required steps", "required_steps"), ("spans with both ends", "spans_with_both_ends"),
    ("required readings", "required_readings"), ("late > 60 s", "late"),
    ("> 20 min", "low_confidence"), ("back-stamped", "back_stamped"),
)  # fmt: skip


def _completeness(audit: Audit, by: str | None) -> Sheet:
    answer = trust.completeness(audit, by)
    sizes = [row.n for row in answer.result]
    rows = tuple(_trusted(r, n) for r, n in zip(answer.result, small.apart(sizes), strict=True))
    headings = ("Cases", "n", *(words for words, _ in _SHARES), "corrections a case")
    bars = tuple(
        Bar(words, 100 * share, form.percent(share))
        for row in answer.result[:1]
        for words, name in _SHARES
        if by is None and (share := getattr(row, name)) is not None
    )
    return form.sheet(
        answer,
        [Grid("Completeness", headings, rows), *(map(_beside, answer.result) if by is None else ())],
        [Bars("Shares of what the file asks for, and of entries", "%", bars)],
        [small.unsaid(sizes)],
        key="completeness_by_role" if by else "completeness",
        asks="How complete are the logs, by the role that circulated?" if by else "",
    )


def _trusted(row: CompletenessRow, n: str) -> tuple[str, ...]:
    shares = (form.percent(getattr(row, name)) for _, name in _SHARES)
    return (row.label, n or form.few(row.n), *shares, form.number(row.amendments_a_case, 1))


def _beside(row: CompletenessRow) -> Grid:
    """What else a log may lack, told of all cases alone: by role, one group would tell another's."""
    n, gaps = form.few(row.n), row.gaps or 0
    counted = (
        ("steps said to be done, not logged", row.not_logged or 0), ("gaps, the journal not open", gaps),
        ("entries the program could not use", row.unknown or 0),
    )  # fmt: skip
    minutes = form.UNKNOWN if small.is_few(gaps) else form.minutes(row.gap_minutes)
    rows = (*((words, n, form.few(count)) for words, count in counted), ("minutes of gaps", n, minutes))
    return Grid("Beside it", ("In these logs", "n", "number"), rows)
