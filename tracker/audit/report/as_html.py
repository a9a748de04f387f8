"""A report as one page that needs nothing else: no network, no further file, no script to be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from tracker.audit.report.book import Report
from tracker.audit.report.charts import chart, in_words, legend, typeset
from tracker.audit.report.sheet import Drawing as Told
from tracker.audit.report.sheet import Sheet
from tracker.paper.drawing import Drawing
from tracker.paper.page import bundle, environment, policy, template

_HERE: Final = "tracker.audit.report"


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart of a sheet: its own name, heading and legend, what it shows in words, and how it is typeset."""

    name: str
    title: str
    legend: str
    words: str
    chart: Drawing
    typeset: str


def drawn(sheet: Sheet) -> tuple[Drawn, ...]:
    """The drawings of a sheet as charts."""
    names = ((f"{sheet.key}-{n}", d) for n, d in enumerate(sheet.drawings, start=1))
    return tuple(_drawn(name, each) for name, each in names)


def _drawn(name: str, each: Told) -> Drawn:
    made = chart(each, name)
    return Drawn(name, each.title, legend(each), in_words(each), made, typeset(each, made.svg, name))


def as_html(report: Report, drawings: Mapping[str, tuple[Drawn, ...]]) -> bytes:
    """The page; `drawings` are those of each sheet by its key."""
    scripts = (bundle(), template(_HERE, "audit.js"))
    text = (
        environment(_HERE)
        .get_template("audit.html")
        .render(
            report=report,
            drawings=drawings,
            charts={d.name: d.chart.vega for its in drawings.values() for d in its},
            policy=policy(scripts),
            style=template(_HERE, "audit.css"),
            bundle=scripts[0],
            script=scripts[1],
        )
    )
    return f"{text}\n".encode()
