"""The drawings of a report as Vega charts. Colours are names of CSS, so that one serves light, dark and paper."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import chain
from typing import Any, Final

import altair as alt
from rich.cells import cell_len

from tracker.audit.report.sheet import Bars, Boxes, Drawing, Run
from tracker.paper import drawing as paper
from tracker.paper.typeset import has_all, legible
from tracker.screen.lines import wrap

WIDTH: Final = 520
INK: Final = "var(--ink)"
RULE: Final = "var(--rule)"
STAGE: Final = "var(--stage)"
LANE: Final = "var(--lane)"
MARKED: Final = "var(--safety)"
PAPER: Final[Mapping[str, str]] = {
    INK: "#1b2026", RULE: "#d3d9df", STAGE: "#1f6f8b", LANE: "#74659a", MARKED: "#b3261e",
}  # fmt: skip
"""What the names of CSS stand for where there is none."""

_WIDTH_OF: Final = re.compile(r'<svg [^>]*?\bwidth="([0-9.]+)"')
_ROW: Final = 24
_LINE: Final = 14
_LETTERS: Final = 44  # of a label on one line; what is longer goes on below
_LETTER: Final = 7.0
_RUN: Final = 260
_SLACK: Final = 30  # the typesetter's letters are wider than those that the drawing was measured with


def chart(drawing: Drawing, name: str) -> paper.Drawing:
    """A drawing as a chart; `name` begins the names of its parts."""
    return paper.drawing(specification(drawing), name)


def specification(drawing: Drawing) -> dict[str, Any]:
    """A drawing as Vega-Lite. Its form is this module's alone, so tests hold it against the schema, not each run."""
    match drawing:
        case Boxes():
            made = _boxes(drawing)
        case Bars():
            made = _bars(drawing)
        case Run():
            made = _run(drawing)
    told: dict[str, Any] = _dressed(made).to_dict(validate=False)
    return told


def _dressed(made: alt.LayerChart) -> alt.LayerChart:
    dressed: alt.LayerChart = (
        made.properties(width=WIDTH, background="transparent", padding={"left": 5, "top": 5, "bottom": 5, "right": _SLACK})
        .configure(aria=False, font="system-ui, sans-serif")
        .configure_axis(
            labelColor=INK, titleColor=INK, gridColor=RULE, domainColor=RULE, tickColor=RULE,
            labelFontSize=12, titleFontSize=12, titleFontWeight="normal",
        )
        .configure_view(stroke=RULE)
    )  # fmt: skip
    return dressed


def _y(labels: Sequence[str]) -> alt.Y:
    """A row for each label, also where two are alike; none is cut off."""
    lines = [wrap(label, _LETTERS) or ("",) for label in labels]
    extent = round(_LETTER * max(map(cell_len, chain.from_iterable(lines)), default=0)) + 8
    axis = alt.Axis(
        title=None, labelExpr=f"{json.dumps(lines)}[datum.value]", labelLineHeight=_LINE,
        labelLimit=extent, minExtent=extent, maxExtent=extent, ticks=False, domain=False,
    )  # fmt: skip
    return alt.Y("row", type="ordinal", axis=axis)


def _height(labels: Sequence[str]) -> alt.Step:
    most = max((len(wrap(label, _LETTERS)) for label in labels), default=1)
    return alt.Step(_ROW + _LINE * max(0, most - 1))


def _data(rows: list[dict[str, Any]]) -> alt.InlineData:
    return alt.InlineData(values=rows)


def _x(field: str, title: str) -> alt.X:
    return alt.X(field, type="quantitative", title=title)


def _boxes(drawing: Boxes) -> alt.LayerChart:
    rows = [
        {
            "row": row,
            "label": b.label,
            "n": b.n,
            "words": f"{b.median:,.1f}, n {b.n}",
            **{q: round(getattr(b, q), 1) for q in ("p10", "p25", "median", "p75", "p90")},
        }
        for row, b in enumerate(drawing.rows)
    ]
    labels = [b.label for b in drawing.rows]
    y, base = _y(labels), alt.Chart(_data(rows))
    tips = [
        alt.Tooltip(name, type="nominal") for name in ("label", "n", "p10", "p25", "median", "p75", "p90")
    ]
    whisker = base.mark_rule(color=STAGE).encode(x=_x("p10", drawing.unit), x2="p90", y=y)
    box = base.mark_bar(color=STAGE, opacity=0.55, height=13).encode(x="p25:Q", x2="p75", y=y, tooltip=tips)
    median = base.mark_tick(color=INK, thickness=2, size=17).encode(x="median:Q", y=y, tooltip=tips)
    said = base.mark_text(align="left", color=INK, fontSize=12).encode(
        x=alt.value({"expr": "width + 8"}), y=y, text=alt.Text("words", type="nominal")
    )
    return alt.LayerChart(layer=[whisker, box, median, said], height=_height(labels))


def _bars(drawing: Bars) -> alt.LayerChart:
    rows = [
        {
            "row": row,
            "label": b.label,
            "value": round(b.value, 2),
            "words": b.said,
            "low": None if b.low is None else round(b.low, 2),
            "high": None if b.high is None else round(b.high, 2),
        }
        for row, b in enumerate(drawing.rows)
    ]
    labels = [b.label for b in drawing.rows]
    y, base = _y(labels), alt.Chart(_data(rows))
    tips = [alt.Tooltip(name, type="nominal") for name in ("label", "value", "words")]
    bar = base.mark_bar(color=STAGE, opacity=0.75, height=14).encode(
        x=_x("value", drawing.unit), y=y, tooltip=tips
    )
    said = base.mark_text(align="left", color=INK, fontSize=12).encode(
        x=alt.value({"expr": "width + 8"}), y=y, text=alt.Text("words", type="nominal")
    )
    held = [row for row in rows if row["low"] is not None]
    interval = (
        (alt.Chart(_data(held)).mark_rule(color=INK, strokeWidth=1.5).encode(x="low:Q", x2="high", y=y),)
        if held
        else ()
    )
    return alt.LayerChart(layer=[bar, *interval, said], height=_height(labels))


def _run(drawing: Run) -> alt.LayerChart:
    log = drawing.unit.startswith("ln")
    unit = "minutes" if log else drawing.unit
    in_minutes, places = (math.exp, 1) if log else (float, 2)
    rows = [
        {"case": n, unit: round(in_minutes(v), places), "beyond": n - 1 in drawing.outside}
        for n, v in enumerate(drawing.values, start=1)
    ]
    levels = [("lower limit", drawing.low), ("centre", drawing.centre), ("upper limit", drawing.high)]
    lines = [{"level": name, unit: round(in_minutes(v), places)} for name, v in levels if v is not None]
    scale = alt.Scale(type="log" if log else "linear", nice=False, zero=False)
    y = alt.Y(unit, type="quantitative", title=unit, scale=scale)
    base = alt.Chart(_data(rows))
    x = alt.X("case", type="quantitative", title="consecutive cases", scale=alt.Scale(nice=False))
    line = base.mark_line(color=STAGE, strokeWidth=1, opacity=0.6).encode(x=x, y=y)
    points = base.mark_point(filled=True, size=30, opacity=1).encode(
        x=x, y=y,
        color=alt.condition("datum.beyond", alt.value(MARKED), alt.value(STAGE)),
        shape=alt.condition("datum.beyond", alt.value("cross"), alt.value("circle")),
        tooltip=[alt.Tooltip(name, type="nominal") for name in ("case", unit)],
    )  # fmt: skip
    rules = alt.Chart(_data(lines)).mark_rule(color=INK, strokeDash=[5, 3]).encode(y=y)
    named = (
        alt.Chart(_data(lines))
        .mark_text(align="left", color=INK, fontSize=12)
        .encode(x=alt.value({"expr": "width + 8"}), y=y, text=alt.Text("level", type="nominal"))
    )
    return alt.LayerChart(layer=[line, points, rules, named], height=_RUN)


def on_paper(svg: str) -> str:
    """A drawing with its colours written out and its letters those of the typesetter."""
    for name, colour in PAPER.items():
        svg = svg.replace(name, colour)
    named = svg.replace('font-family="system-ui, sans-serif"', 'font-family="Libertinus Serif"')
    return named.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)


def typeset(drawing: Drawing, svg: str, name: str) -> str:
    """A drawing as `svg` for typeset pages; drawn anew where a label has letters that their typefaces lack."""
    if isinstance(drawing, Run) or all(has_all(row.label) for row in drawing.rows):
        return on_paper(svg)
    # Typesetting refuses a letter it cannot show; and what stands for one is longer, so that lines break elsewhere.
    return on_paper(chart(_by_number(drawing), name).svg)


def _by_number(drawing: Boxes | Bars) -> Boxes | Bars:
    if isinstance(drawing, Boxes):
        return replace(drawing, rows=tuple(replace(row, label=_legible(row.label)) for row in drawing.rows))
    return replace(drawing, rows=tuple(replace(row, label=_legible(row.label)) for row in drawing.rows))


def _legible(label: str) -> str:
    """A label in letters that can be typeset, without the marks at which a table may break a word."""
    return legible(label).replace("\u200b", "")


def svg_width(svg: str) -> float:
    """How many pixels wide a drawing is."""
    found = _WIDTH_OF.search(svg)
    return float(found[1]) if found else float(WIDTH)


def legend(drawing: Drawing) -> str:
    """What its marks mean."""
    if isinstance(drawing, Boxes):
        return "Line: p10 to p90. Box: p25 to p75. Stroke: median, which stands on the right with n."
    if isinstance(drawing, Run):
        return "Each point a case. Broken lines: centre and limits. A cross lies beyond the limits."
    held = any(bar.low is not None for bar in drawing.rows)
    return f"Bar: the figure.{' Line on it: its interval, where it has one.' if held else ''}"


def in_words(drawing: Drawing) -> str:
    """What a drawing shows, for who cannot see it; the same figures stand in the tables."""
    if isinstance(drawing, Run):
        n, beyond = len(drawing.values), len(drawing.outside)
        return f"{drawing.title}: {n} points, {beyond} beyond the limits. The limits stand in the table."
    labels = ", ".join(row.label for row in drawing.rows)
    return f"{drawing.title}, {drawing.unit}: {labels}. The same figures stand in the table."
