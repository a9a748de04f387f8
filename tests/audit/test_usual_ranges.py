"""What stages usually take here: from comparable cases that came to their end, said with n."""

from __future__ import annotations

from pathlib import Path

import pytest

from desks import Hand, press, protocol_of
from tracker.audit.usual_ranges import usual_ranges
from tracker.core.usual import Usual
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.files import Journal
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session

FILE = """
format = 1
id = "short"
version = "1"
title = "A short operation"

[[stages]]
id = "work"
label = "Work"
steps = [{ id = "peel", label = "Peel", key = "p", shape = "span", starts_case = true }]

[[stages]]
id = "leave"
label = "Leave"
steps = [{ id = "out", label = "Out", key = "o", ends_case = true }]
"""


def log(
    folder: Path, number: int, keys: str, *, invented: bool = False, text: str = FILE, site: str = "A"
) -> None:
    """A case on disk: what was pressed in it."""
    code = f"{site}-{number:04d}"
    journal = Journal.create(folder, code)
    session = Session.begin(journal, protocol_of(text), text, code, {}, Hand(), invented=invented)
    desk = Desk(session)
    press(desk, keys)
    desk.close()


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    """Twenty-one ended cases whose work took 1 to 21 minutes, and some that are not to be compared."""
    for minutes in range(1, 22):
        log(tmp_path, minutes, f"p +{60 * minutes} p o")
    log(tmp_path, 90, "p +60000 p")  # still open
    log(tmp_path, 91, "p +60000 p o", invented=True)
    log(tmp_path, 92, "p +60000 p o", text=FILE.replace('"short"', '"other"'))
    log(tmp_path, 99, "p +300 p o")
    return Archive(tmp_path)


def test_the_range_is_that_of_the_other_comparable_cases(archive: Archive) -> None:
    """Of 1 to 21, p10 is 3 and p90 is 19: 1 + 0.1 x 20 and 1 + 0.9 x 20 (Hyndman and Fan 1996, type 7)."""
    ranges = usual_ranges(archive, case_of(archive.read("A-0099")))

    assert ranges == {"work": Usual(3.0, 19.0, 21)}


def test_the_cases_of_another_site_displace_none(
    archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So many of the latest cases are read of each site, whatever letter its codes begin with."""
    monkeypatch.setattr("tracker.audit.usual_ranges.MOST", 25)
    for minutes in range(1, 27):
        log(tmp_path, minutes, f"p +{60 * minutes} p", site="B")  # all of them still open

    assert usual_ranges(archive, case_of(archive.read("A-0099"))) == {"work": Usual(3.0, 19.0, 21)}


def test_too_few_cases_have_no_usual_range(archive: Archive) -> None:
    """Under the least n nothing is said to be usual."""
    assert usual_ranges(archive, case_of(archive.read("A-0099")), least=22) == {}
    assert usual_ranges(archive, case_of(archive.read("A-0091"))) == {}


def test_a_damaged_case_is_left_out(archive: Archive) -> None:
    """A journal that cannot be verified informs nothing, and stops nothing."""
    path = archive.folder / "A-0001.case.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"kind":"facts"', b'"kind":"ficts"'))

    assert usual_ranges(archive, case_of(archive.read("A-0099")))["work"].n == 20
