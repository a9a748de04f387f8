"""The same expressions, asked of DuckDB and of a real Apache Spark, give the same answers."""

from __future__ import annotations

import math
import shutil
from datetime import date

import pytest

from audit_archives import SHIPPED
from tracker.audit import outcomes, questions
from tracker.audit.answers.form import audit_of
from tracker.audit.engine import connected
from tracker.audit.invented.truth import Truth
from tracker.audit.outcomes import BANDS, LAST, WINDOWS
from tracker.audit.population import Filters, population, rows
from tracker.audit.questions import Sessions
from tracker.audit.report.flat import write_flat
from tracker.audit.synthesis import synthesise
from tracker.audit.tables import FOLDER
from tracker.journal.archive import Archive

pytestmark = pytest.mark.spark

CLOSE = 1e-9
UNTIL = date(2025, 6, 1)
"""Some of the windows of some of the cases have not closed by then."""
EVERY = Filters(completed=False)
FILTERS = Filters(
    protocol="complex-pvr", first_version="2026.1", facts={"lens": ["pseudophakic"], "macula": ["on", "off"]}
)

ASKED = {
    "stages": questions.stage_lengths,
    "steps": questions.step_lengths,
    "cases": questions.case_lengths,
    "stages by fact": lambda tables: questions.stage_lengths(tables, "anaesthetic"),
    "steps by a fact without a column": lambda tables: questions.step_lengths(tables, "axial_length"),
    "cases by flag": lambda tables: questions.case_lengths(tables, "pvr_c"),
    "minutes of a stage": lambda tables: questions.minutes_of(tables, stage="exchange"),
    "minutes of a step": lambda tables: questions.minutes_of(tables, step="peel_post"),
    "minutes of cases": questions.minutes_of,
    "minutes of the latest cases": lambda tables: questions.latest_minutes(tables, 50),
    "lengths by": lambda tables: questions.lengths_by(tables, "stage", "laser", "operator"),
    "completeness": questions.completeness,
    "completeness by role": lambda tables: questions.completeness(tables, "circulating"),
    "deviations": questions.deviation_counts,
    "cases with a deviation": lambda tables: questions.deviation_cases(tables, "complication"),
    "inversions": lambda tables: questions.inversions(
        tables, [("sign_in", "patient_in"), ("time_out", "ports")]
    ),
    "precedence": lambda tables: questions.precedence(tables, 100),
    "clocks": questions.clocks,
    "pairs": questions.unmatched,
    "lists": lambda tables: questions.lists(tables, Sessions(starts=(510.0, 780.0))),
    "case mix": lambda tables: questions.case_mix(tables, 200),
    "stage minutes": lambda tables: questions.stage_minutes(tables, 200),
    "attached": lambda tables: outcomes.reattachment(tables, (*WINDOWS, LAST), UNTIL),
    "failures": lambda tables: outcomes.failures(tables, UNTIL),
    "acuity": lambda tables: outcomes.acuities(tables, WINDOWS, UNTIL),
    "pressure": lambda tables: outcomes.pressures(tables, BANDS, UNTIL),
    "pressure twice": outcomes.twice,
    "unreadable acuity": outcomes.unreadable,
    "oil": outcomes.oil_times,
    "followed": outcomes.followed,
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Three hundred invented cases with slips, late entries and midnights."""
    made = tmp_path_factory.mktemp("engines")
    truth = Truth(slip=0.6, lapse=0.03, evening=0.3)
    synthesise(Archive(made), SHIPPED, 300, 11, truth, as_journals=False)
    return made / FOLDER


@pytest.fixture(scope="module")
def embedded(folder):
    """The tables, asked through DuckDB."""
    with connected(folder) as tables:
        yield tables


@pytest.fixture(scope="module")
def cluster(folder):
    """The tables, asked through Spark on two threads of this machine."""
    if shutil.which("java") is None:
        pytest.fail("These tests need a Java of 17 or later on this machine; CI installs one.")
    with connected(folder, "spark") as tables:
        yield tables


def alike(one, other):
    """Whether two values are the same, numbers to a billionth."""
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=CLOSE, abs_tol=CLOSE)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(alike, one, other))
    return one == other and type(one) is type(other)


def in_order(found):
    """Rows by what they are about: words, flags, whole numbers, and what is not there."""
    return sorted(
        found, key=lambda row: [str(v) for v in row.values() if isinstance(v, str | bool | int | None)]
    )


@pytest.mark.parametrize(
    ("name", "filters"), [*((name, FILTERS) for name in ASKED), ("stages", EVERY), ("lists", EVERY)]
)
def test_both_engines_give_the_same_rows(embedded, cluster, name, filters):
    """Every expression, on the same population: as many rows, and every value the same to 1e-9."""
    here, there = (population(tables, filters) for tables in (embedded, cluster))
    mine, its = (rows(ASKED[name](held.tables)) for held in (here, there))
    if name not in ("lists", "case mix", "failures") and not name.startswith("minutes"):
        mine, its = in_order(mine), in_order(its)

    assert (here.n, here.exclusions) == (there.n, there.exclusions)
    assert len(mine) == len(its) > 0
    for one, other in zip(mine, its, strict=True):
        assert one.keys() == other.keys()
        assert all(alike(one[key], other[key]) for key in one), (one, other)


def test_both_engines_write_the_same_flat_files(folder, embedded, cluster, tmp_path):
    """What is streamed out of either engine is the same to the byte."""
    for name, tables in (("here", embedded), ("there", cluster)):
        (tmp_path / name).mkdir()
        list(write_flat(audit_of(tables, folder, FILTERS), tmp_path / name))

    for path in sorted((tmp_path / "here").glob("*.csv")):
        assert path.read_bytes() == (tmp_path / "there" / path.name).read_bytes()
