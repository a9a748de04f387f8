"""The libraries of the extra `report`: loaded only by the formats that need them, missed in a clear sentence."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from record_stories import small_record
from tracker.review.record.extras import ExtraMissing, with_report
from tracker.review.record.formats import write

LIBRARIES = ("altair", "jinja2", "typst", "vl_convert")


def test_the_table_of_formats_loads_none_of_them() -> None:
    """Neither the table nor a record in the formats that need no extra loads a library of it."""
    program = f"""
import sys
from record_stories import small_record
from tracker.review.record.formats import FORMATS
for name in ("toml", "md", "csv", "json", "fhir", "xes", "sheet"):
    FORMATS[name].render(small_record("whole"))
print([name for name in {LIBRARIES} if name in sys.modules])
"""
    tests = Path(__file__).parents[1]
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=tests, check=True
    )
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("name", "what", "library"),
    [
        ("html", "HTML", "jinja2"),
        ("html", "HTML", "altair"),
        ("html", "HTML", "vl_convert"),
        ("pdf", "PDF", "typst"),
    ],
)
def test_a_missing_library_is_told_in_a_sentence(
    name: str, what: str, library: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It says which record needs what and how to install it, and nothing at all is written."""
    again = ("review.record.as_html", "review.record.as_pdf", "review.record.chart")
    for module in (*again, "paper.page", "paper.drawing", "paper.typeset"):
        monkeypatch.delitem(sys.modules, f"tracker.{module}", raising=False)
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(ExtraMissing) as told:
        write(small_record("whole"), tmp_path, ["toml", name])

    assert str(told.value) == f"The {what} record needs the report extra: pip install 'clockhour[report]'"
    assert list(tmp_path.iterdir()) == []


def test_a_module_of_our_own_that_is_missing_is_no_missing_extra() -> None:
    """A mistake in the program is not told as if something were to be installed."""
    with pytest.raises(ModuleNotFoundError):
        with_report("as_nothing", "no")(small_record("opened"))


@pytest.mark.parametrize(
    ("name", "ending"),
    [("html", ".html"), ("pdf", ".pdf"), ("fhir", ".fhir.json"), ("xes", ".xes"), ("sheet", "-sheet.txt")],
)
def test_each_format_makes_the_one_file_that_is_told(name: str, ending: str, tmp_path: Path) -> None:
    """In a folder, under the case code, with the ending that the guide gives."""
    (path,) = write(small_record("whole"), tmp_path, [name])
    assert path.name == f"A-0007{ending}"
    assert path.stat().st_mode & 0o777 == 0o600
