"""Clocks and matched pairs over many cases, from journals told minute by minute."""

from __future__ import annotations

import pytest

from audit_archives import SMALL, write
from tracker.audit.answers import order
from tracker.audit.answers.form import audit_of
from tracker.audit.engine import connected
from tracker.audit.tables import bring_up_to_date
from tracker.journal.archive import Archive

DYE = (
    SMALL
    + """
[[stages]]
id = "dye"
label = "Dye"
[[stages.steps]]
id = "dye_in"
label = "Dye in"
occurrence = "optional"
[[stages.steps]]
id = "dye_out"
label = "Dye out"
occurrence = "optional"

[[clocks]]
id = "dye_time"
label = "Dye in the eye"
start = [{{ step = "dye_in" }}]
stop = [{{ step = "dye_out" }}]
amber_s = 120
red_s = 240

[[clocks]]
id = "dye_least"
label = "Dye in at least"
start = [{{ step = "dye_in" }}]
stop = [{{ step = "dye_out" }}]
min_s = 60

[[pairs]]
id = "dye_pair"
label = "Dye"
opens = [{{ step = "dye_in" }}]
closes = [{{ step = "dye_out" }}]
by = "peel"
"""
)


def _case(*dye: str) -> str:
    return "\n".join((
        "08:30:00 open", "08:30:30 facts anaesthetic=block", "08:40:00 tick patient_in",
        "08:41:00 start core", "08:50:00 stop core", *dye, "09:30:00 tick out_theatre",
    ))  # fmt: skip


def _dye(seconds: int, began: str = "", stopped: str = "", peeled: str = "") -> str:
    return _case(
        f"08:51:00 {began} tick dye_in",
        f"08:{51 + seconds // 60:02d}:{seconds % 60:02d} {stopped} tick dye_out",
        f"09:10:00 {peeled} start peel", "09:20:00 stop peel",
    )  # fmt: skip


STORIES = (
    _dye(30), _dye(90, began="+61"), _dye(120, stopped="+60"), _dye(150, peeled="+90"),
    _dye(240, stopped="+61"), _dye(300),
    _case("08:51:00 +90 tick dye_in", "09:10:00 start peel", "09:20:00 stop peel"),
    _case("08:51:00 tick dye_in", "09:10:00 start peel", "09:11:00 tick dye_out", "09:20:00 stop peel"),
    _case("08:51:00 tick dye_in", "08:52:00 not_logged dye_out", "09:10:00 start peel", "09:20:00 stop peel"),
    _case("09:10:00 start peel", "09:20:00 stop peel"),
)  # fmt: skip
"""Six runs of known length, one never stopped, one stopped late, one stopped unseen, and a case without dye.

Of those with a length one was started by an entry 61 s late, one stopped by one; one stopped by an entry 60 s late.
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """What the two questions come to."""
    folder = tmp_path_factory.mktemp("dye")
    for n, story in enumerate(STORIES, start=1):
        write(folder, f"A-00{n:02d}", story, text=DYE)
    made = bring_up_to_date(Archive(folder))
    assert made.left_out == ()
    with connected(made.folder) as tables:
        audit = audit_of(tables, made.folder)
        return order.clocks(audit).result, order.unmatched(audit).result


def test_a_clock_is_told_by_its_runs(told):
    """Nine runs, seven of a known length; of the eight not stopped unseen six reached 2 min, four 4 min."""
    clock, least = told[0]

    assert (clock.runs, clock.summary.n, clock.summary.missing) == (9, 7, 2)
    assert clock.summary.median == 2.5
    # 120, 150, 240, 300 s, 20 min, and the one that ran until the patient left, 39 min.
    assert (clock.reached.events, clock.reached.n) == (6, 8)
    assert (clock.red.events, clock.red.n) == (4, 8)
    assert (least.short.events, least.short.n, least.reached, clock.short) == (1, 7, None, None)
    # 0 + 0.5 + 2 + 3 + 18 min beyond two minutes, of runs with a length.
    assert clock.beyond == pytest.approx(23.5)


def test_a_run_is_late_if_the_entry_at_either_end_was(told):
    """Two of the seven runs with a length; not that of 60 s, nor one with a late peel, nor a late start without a stop."""
    assert [(row.summary.n, row.summary.late) for row in told[0]] == [(7, 2), (7, 2)]


def test_a_pair_is_told_by_the_cases_that_used_it(told):
    """Of nine cases with dye one never had it out and one had it out after the peel began."""
    (pair,) = told[1]

    assert (pair.unmatched.events, pair.unmatched.n, pair.resolved) == (2, 9, 1)
