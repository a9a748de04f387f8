"""A report as typeset pages: tagged for every reader (PDF/UA-1), and to keep (PDF/A-2b)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tracker.audit.report.as_html import Drawn
from tracker.audit.report.book import Report
from tracker.audit.report.charts import svg_width
from tracker.audit.report.sheet import Sheet
from tracker.paper.page import template
from tracker.paper.typeset import all_legible, legible, typeset


def as_pdf(report: Report, drawings: Mapping[str, tuple[Drawn, ...]]) -> bytes:
    """The pages; `drawings` are those of each sheet by its key."""
    data: dict[str, Any] = all_legible({
        "title": report.title,
        "program": report.program,
        "population": report.population,
        "made": {"year": report.made.year, "month": report.made.month, "day": report.made.day},
        "caution": report.cautions[0].partition(". Not for")[0] + ".",
        "lines": report.lines,
        "cautions": report.cautions,
        "sheets": [_sheet(sheet) for sheet in report.sheets],
    })  # fmt: skip
    for told, sheet in zip(data["sheets"], report.sheets, strict=True):
        told["drawings"] = [_drawing(d) for d in drawings[sheet.key]]
    return typeset(template("tracker.audit.report", "audit.typ").encode(), data)


def _sheet(sheet: Sheet) -> dict[str, Any]:
    grids = [
        {"title": g.title, "headings": [h or " " for h in g.headings], "rows": g.rows, "words": g.words}
        for g in sheet.grids
    ]
    return {
        "asks": sheet.asks, "definition": sheet.definition, "trust": sheet.trust, "refused": sheet.refused,
        "grids": grids, "remarks": sheet.remarks,
    }  # fmt: skip


def _drawing(drawn: Drawn) -> dict[str, Any]:
    return {
        "width": svg_width(drawn.typeset),
        "words": legible(drawn.words),
        "legend": legible(f"{drawn.title}. {drawn.legend}"),
        "svg": drawn.typeset,
    }
