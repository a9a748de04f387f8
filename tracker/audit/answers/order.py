"""What differs from the file: deviations, order, clocks, what goes in and comes out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from tracker.audit import questions
from tracker.audit.answers.form import Answer, Audit, answer
from tracker.audit.answers.lengths import summary_of
from tracker.audit.engine import Tables
from tracker.audit.population import rows
from tracker.audit.statistics.enough import FEWEST, too_few
from tracker.audit.statistics.precedence import Inversion, Precedence
from tracker.audit.statistics.rates import Pareto, Rate, pareto, rate
from tracker.audit.statistics.summary import Summary
from tracker.core.protocol import Protocol

HOWS: Final = ("oversight", "finding_forced", "not_logged", "intended", "none given")
MOST_FOR_ORDER: Final = 1_000
TOP: Final = 10


def deviations(audit: Audit) -> Answer[Mapping[str, Pareto]]:
    """Which deviations there are most of, apart for each way in which they came about."""
    found = rows(questions.deviation_counts(audit.asked))
    result = {}
    for how in HOWS:
        counts: Counter[tuple[str, str, str]] = Counter()
        for row in found:
            if row["how"] == how:
                counts[row["deviation"], row["about"], row["reason"]] += row["n"]
        if counts:
            result[how] = pareto(counts, audit.trust.n)
    definition = """
        Deviations by code, what they are about and reason, in 100 cases, commonest first, each with its
        share and the shares down to it added; apart by how they came about, so that an oversight is
        never ranked with a forced choice. A deviation is a difference from the file, not a fault.
    """
    refused = too_few(audit.trust.n, FEWEST)
    return answer(audit, "deviations", "Which deviations are the most frequent?", definition, result, refused)


# -- order


@dataclass(frozen=True, slots=True)
class InversionRow:
    """A pair of steps the file puts in order, with their labels and the level of the need."""

    inversion: Inversion
    sooner_label: str
    later_label: str
    level: str


def inversions(audit: Audit, most: int = TOP) -> Answer[tuple[InversionRow, ...]]:
    """Which pairs of steps that the file puts in order most often come the other way round."""
    counts: dict[tuple[str, str], tuple[int, int]] = {}
    levels: dict[tuple[str, str], str] = {}
    for needs, asked in _by_order(audit):
        (row,) = rows(questions.inversions(asked, list(needs)))
        for n, (pair, level) in enumerate(needs.items()):
            both, inverted = counts.get(pair, (0, 0))
            counts[pair] = both + (row[f"n_{n}"] or 0), inverted + (row[f"inverted_{n}"] or 0)
            levels.setdefault(pair, level)
    told = [_inversion(audit, pair, levels[pair], *found) for pair, found in counts.items() if found[0]]
    told.sort(key=lambda r: (r.inversion.share is None, -(r.inversion.share or 0.0), r.inversion.sooner))
    definition = f"""
        For each pair that the file of a case puts in order, the cases with both steps in which the later one
        came first, by the first time of each; the {most} largest shares, with at least {FEWEST} cases having
        both.
    """
    asks = "Which steps are most often out of the usual order?"
    refused = "" if levels else "no protocol with steps in an order is known for these cases"
    return answer(audit, "inversions", asks, definition, tuple(told[:most]), refused)


def _by_order(audit: Audit) -> Iterator[tuple[Mapping[tuple[str, str], str], Tables]]:
    """The pairs that files put in order, with their levels, and the cases of the files that have just those."""
    files: dict[tuple[tuple[tuple[str, str], str], ...], list[str]] = {}
    for version in audit.versions:
        if known := audit.protocols.get(version.digest):
            files.setdefault(tuple(_needs(known)), []).append(version.digest)
    cases = audit.asked.cases
    # Of one order alone nothing is picked out: a million cases then need no table beside the steps.
    whole = sum(map(len, files.values())) == len(audit.versions) and len(files) == 1
    for needs, digests in files.items():
        if needs:
            yield (
                dict(needs),
                audit.asked if whole else audit.asked.of(cases.filter(cases.digest.isin(digests))),
            )


def _needs(protocol: Protocol) -> Iterator[tuple[tuple[str, str], str]]:
    for step in protocol.all_steps():
        for need in step.needs:
            if need.step is not None and need.step != step.id:
                yield (need.step, step.id), need.level


def _inversion(audit: Audit, pair: tuple[str, str], level: str, n: int, inverted: int) -> InversionRow:
    refused = too_few(n, FEWEST, "cases having both")
    inversion = Inversion(*pair, n, inverted, refused, None if refused else inverted / n)
    sooner, later = map(audit.label, pair)
    return InversionRow(inversion, sooner, later, level)


def precedence(audit: Audit) -> Answer[Precedence]:
    """In which order the steps really come, for every pair, in the latest cases."""
    found = rows(questions.precedence(audit.asked, MOST_FOR_ORDER))
    met = {row[end] for row in found for end in ("one_step", "other_step")}
    file = [s.id for s in audit.protocol.all_steps()] if audit.protocol else []
    steps = (*(s for s in file if s in met), *sorted(met - set(file)))
    n = min(audit.trust.n, MOST_FOR_ORDER)
    refused = too_few(n, FEWEST)
    result = Precedence(n, refused, steps) if refused else _matrix(n, steps, found)
    definition = f"""
        For each pair of steps, the cases in which the one came before the other of those having both,
        by the first time of each; asked of the latest {MOST_FOR_ORDER} cases.
    """
    asks = "In which order do the steps really come?"
    return answer(audit, "precedence", asks, definition, result, refused)


def _matrix(n: int, steps: tuple[str, ...], found: list[dict[str, Any]]) -> Precedence:
    place = {step: i for i, step in enumerate(steps)}
    first = [[0] * len(steps) for _ in steps]
    both = [[0] * len(steps) for _ in steps]
    for row in found:
        i, j = place[row["one_step"]], place[row["other_step"]]
        first[i][j], first[j][i] = row["sooner"], row["later"]
        both[i][j] = both[j][i] = row["n"]
    return Precedence(n, "", steps, tuple(map(tuple, first)), tuple(map(tuple, both)))


# -- clocks and pairs


@dataclass(frozen=True, slots=True)
class ClockRow:
    """Runs of one clock: their lengths in minutes, those that reached the file's figures, those too short.

    `beyond` is the minutes past the first figure, all runs together. A share is None where the file has no
    such figure.
    """

    clock: str
    label: str
    runs: int
    summary: Summary
    reached: Rate | None
    red: Rate | None
    beyond: float | None
    short: Rate | None


@dataclass(frozen=True, slots=True)
class PairRow:
    """One matched pair: in how many cases it was unmatched when the file asked, of those that used it.

    `resolved` are the unmatched ones that were matched by the end of the log.
    """

    pair: str
    label: str
    level: str
    unmatched: Rate
    resolved: int


def clocks(audit: Audit) -> Answer[tuple[ClockRow, ...]]:
    """Whether the clocks of the file reached its figures."""
    found = {row["clock"]: row for row in rows(questions.clocks(audit.asked))}
    file = [c.id for c in audit.protocol.clocks] if audit.protocol else []
    order = [*(c for c in file if c in found), *sorted(found.keys() - set(file))]
    definition = """
        Runs of each clock; a run without a stop, or stopped by something not logged, has no length and is missing.
        Late is the share of n that an entry made more than 60 s late started or stopped.
        Reached means that the figure in the file was reached, nothing more; it is told of the runs but for those
        stopped by something not logged.
    """
    asks = "Which clocks reached the figures of the file?"
    return answer(audit, "clocks", asks, definition, tuple(_clock(audit, found[c]) for c in order))


def _clock(audit: Audit, row: Mapping[str, Any]) -> ClockRow:
    limited, least = row["with_limit"], row["with_least"]
    return ClockRow(
        clock=row["clock"],
        label=audit.label(row["clock"]),
        runs=row["runs"],
        summary=summary_of(row),
        reached=rate(row["reached"], limited) if limited else None,
        red=rate(row["red"], limited) if limited else None,
        beyond=row["beyond"] if limited else None,
        short=rate(row["short"], least) if least else None,
    )


def unmatched(audit: Audit) -> Answer[tuple[PairRow, ...]]:
    """How often something was not matched when the file asked for it."""
    found = sorted(rows(questions.unmatched(audit.asked)), key=lambda row: (row["level"], row["pair"]))
    told = tuple(
        PairRow(r["pair"], audit.label(r["pair"]), r["level"], rate(r["unmatched"], r["n"]), r["resolved"])
        for r in found
    )
    definition = """
        Cases with something still in, or not closed, at the step that the file names or else at the
        end, of the cases that used the pair; Wilson's 95 % interval.
    """
    return answer(audit, "unmatched", "What went in and was not matched?", definition, told)
