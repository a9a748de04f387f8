"""The timeline as a Vega chart: bars and marks on lanes along one axis, which a reader may zoom and move.

The axis follows the case clock, told as the first entry's station told the time, so that neither summer time
nor a clock that was set bends it. Colours are names of CSS, so that one drawing serves light, dark and paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

import altair as alt
import vl_convert

from tracker.core.text import shown
from tracker.core.timeline import Bar, Lane, Mark, Timeline
from tracker.core.wording import clock_time, span_words
from tracker.review.record.tables import tenths

WIDTH: Final = 700
"""Width of the plot in pixels; labels and figures stand outside it."""

_LANE: Final = 18
_LABELS: Final = 240
_SLACK: Final = 0.85  # a browser's letters may be wider than those that the labels were measured with
_MARGIN: Final = 0.01
_STAR: Final = (
    "M0,-1.3L0.3,-0.4L1.24,-0.4L0.47,0.16L0.76,1.05L0,0.5L-0.76,1.05L-0.47,0.16L-1.24,-0.4L-0.3,-0.4Z"
)

INK: Final = "var(--ink)"
PAGE: Final = "var(--page)"
RULE: Final = "var(--rule)"
STAGE: Final = "var(--stage)"
LANE: Final = "var(--lane)"
SAFETY: Final = "var(--safety)"
ORDER: Final = "var(--order)"
NOTE: Final = "var(--note)"

MARKS: Final[Mapping[str, tuple[str, str, str]]] = {
    "tick": ("a tick", "diamond", STAGE),
    "safety": ("deviation, safety", "triangle-up", SAFETY),
    "order": ("deviation, order", "triangle-down", ORDER),
    "note": ("deviation, note", "circle", NOTE),
    "complication": ("complication", "cross", SAFETY),
    "bookmark": ("bookmark", _STAR, LANE),
}
"""What each kind of mark is called, its shape and its colour: told apart by shape and lane first."""

_FAINTEST: Final = ("tick", "bookmark", "complication", "note", "order", "safety")
_COUNTED: Final = frozenset({"deviation", "complication", "bookmark"})

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart as a Vega specification and as it looks before anybody has touched it, an SVG."""

    vega: Mapping[str, Any]
    svg: str


def draw(timeline: Timeline) -> Drawing:
    """The chart of a timeline on which there is something."""
    first_t, first_at = timeline.anchors[0]
    scale = _Scale(first_t, first_at.replace(tzinfo=UTC))
    vega: dict[str, Any] = vl_convert.vegalite_to_vega(_chart(timeline, scale).to_dict())
    del vega["$schema"]
    return Drawing(vega, vl_convert.vega_to_svg(vega))


@dataclass(frozen=True, slots=True)
class _Scale:
    """Case seconds as milliseconds of a day without zones."""

    first_t: float
    first_at: datetime

    def ms(self, t: float) -> int:
        at = self.first_at + timedelta(seconds=t - self.first_t)
        return round(at.timestamp() * 1000)


# -- rows


def _bars(timeline: Timeline, scale: _Scale) -> Iterator[Row]:
    for n, lane in enumerate(timeline.lanes):
        for bar in lane.bars:
            yield {
                "lane": n,
                "start": scale.ms(bar.start_t),
                "stop": scale.ms(bar.stop_t),
                "open": bar.open,
                "part": _part(lane),
                **_bar_words(lane, bar),
            }


def _bar_words(lane: Lane, bar: Bar) -> Mapping[str, str]:
    stop = clock_time(bar.stop_at) if bar.stop_at else "no stop logged"
    return {
        "What": shown(bar.label),
        "Lane": shown(lane.label),
        "From": clock_time(bar.start_at),
        "To": stop,
        "Lasted": span_words(bar.stop_t - bar.start_t) + (", so far" if bar.open else ""),
        "Entry": str(bar.seq),
    }


def _marks(timeline: Timeline, scale: _Scale) -> Iterator[Row]:
    for n, lane in enumerate(timeline.lanes):
        for mark in sorted(lane.marks, key=lambda m: _FAINTEST.index(m.kind)):
            yield {
                "lane": n,
                "start": scale.ms(mark.t),
                "kind": MARKS[mark.kind][0],
                **_mark_words(lane, mark),
            }


def _mark_words(lane: Lane, mark: Mark) -> Mapping[str, str]:
    return {
        "What": shown(mark.label),
        "Lane": shown(lane.label),
        "At": clock_time(mark.at),
        "Entry": str(mark.seq),
    }


def _figures(timeline: Timeline) -> Iterator[Row]:
    for n, lane in enumerate(timeline.lanes):
        if lane.kind in _COUNTED:
            yield {"lane": n, "figure": f"{len(lane.marks)} ×"}
        elif lane.seconds is not None:
            yield {"lane": n, "figure": f"{tenths(round(lane.seconds / 60, 3))} min"}


# -- layers


def _chart(timeline: Timeline, scale: _Scale) -> alt.LayerChart:
    start, stop = scale.ms(timeline.start_t), scale.ms(timeline.stop_t)
    margin = round((stop - start) * _MARGIN)
    params = (
        alt.param("earliest", value=start - margin),
        alt.param("latest", value=stop + margin),
        alt.param("lanes", value=[shown(lane.label) for lane in timeline.lanes]),
    )
    y = _y(timeline)
    bars = list(_bars(timeline, scale))
    marks = list(_marks(timeline, scale))
    layers = (_bar_layer(bars, y), _end_layer(bars, y), _mark_layer(marks, y), _figure_layer(timeline, y))
    made: alt.LayerChart = (
        alt.layer(*layers)
        .resolve_scale(color="independent", shape="independent")
        .add_params(*params)
        .properties(width=WIDTH, height=alt.Step(_LANE), background="transparent")
        .configure(aria=False, font="system-ui, sans-serif")
        .configure_axis(labelColor=INK, gridColor=RULE, domainColor=RULE, tickColor=RULE, labelFontSize=12)
        .configure_legend(labelColor=INK, labelFontSize=12, orient="bottom", columns=6, columnPadding=28)
        .configure_view(stroke=RULE)
    )
    return made


def _data(rows: Iterable[Row]) -> alt.InlineData:
    return alt.InlineData(values=list(rows))


def _x(field: str = "start") -> alt.X:
    ends = {"domainMin": alt.ExprRef("earliest"), "domainMax": alt.ExprRef("latest")}
    axis = alt.Axis(format="%H:%M", orient="top", title=None, tickCount=10, labelOverlap=True)
    return alt.X(field, type="temporal", scale=alt.Scale(type="utc", nice=False, **ends), axis=axis)


def _y(timeline: Timeline) -> alt.Y:
    axis = alt.Axis(
        labelExpr="datum.value < 0 ? '' : lanes[datum.value]",
        labelLimit=round(_LABELS * _SLACK),
        minExtent=_LABELS,
        maxExtent=_LABELS,
        title=None,
        ticks=False,
        domain=False,
        grid=True,
        gridOpacity=alt.condition("datum.value < 0", alt.value(0), alt.value(1)),
    )
    return alt.Y("lane", type="ordinal", scale=alt.Scale(domain=_rows(timeline), padding=0.2), axis=axis)


def _rows(timeline: Timeline) -> list[int]:
    """The lanes by number, a negative one for the space between stages, lanes and single marks."""
    rows: list[int] = []
    for n, lane in enumerate(timeline.lanes):
        if n and _part(lane) != _part(timeline.lanes[n - 1]):
            rows.append(-n)
        rows.append(n)
    return rows


def _part(lane: Lane) -> str:
    return "single" if lane.kind in _COUNTED else "stage" if lane.kind == "stage" else "lane"


def _tips(*names: str) -> list[alt.Tooltip]:
    return [alt.Tooltip(name, type="nominal") for name in names]


def _bar_layer(bars: list[Row], y: alt.Y) -> alt.Chart:
    colours = alt.Scale(domain=["stage", "lane", "single"], range=[STAGE, LANE, LANE])
    made: alt.Chart = (
        alt.Chart(_data(bars))
        .mark_bar(clip=True, strokeWidth=0.8)
        .encode(
            x=_x(),
            x2="stop",
            y=y,
            fill=alt.Fill("part", type="nominal", scale=colours, legend=None),
            stroke=alt.Stroke("part", type="nominal", scale=colours, legend=None),
            opacity=alt.condition("datum.open", alt.value(0.5), alt.value(1)),
            tooltip=_tips("What", "Lane", "From", "To", "Lasted", "Entry"),
        )
    )
    return made


def _end_layer(bars: list[Row], y: alt.Y) -> alt.Chart:
    made: alt.Chart = (
        alt.Chart(_data(bar for bar in bars if bar["open"]))
        .mark_text(text="▶", clip=True, align="right", color=INK, fontSize=10)
        .encode(x=_x("stop"), y=y)
    )
    return made


def _mark_layer(marks: list[Row], y: alt.Y) -> alt.Chart:
    used = {mark["kind"] for mark in marks}
    words, shapes, colours = zip(*(told for told in MARKS.values() if told[0] in used), strict=True)
    kinds, legend = list(words), alt.Legend(title=None)
    shape = alt.Scale(domain=kinds, range=list(shapes))
    colour = alt.Scale(domain=kinds, range=list(colours))
    made: alt.Chart = (
        alt.Chart(_data(marks))
        .mark_point(clip=True, filled=True, size=70, opacity=1, stroke=PAGE, strokeWidth=0.7)
        .encode(
            x=_x(),
            y=y,
            shape=alt.Shape("kind", type="nominal", scale=shape, legend=legend),
            color=alt.Color("kind", type="nominal", scale=colour, legend=legend),
            tooltip=_tips("What", "Lane", "At", "Entry"),
        )
    )
    return made


def _figure_layer(timeline: Timeline, y: alt.Y) -> alt.Chart:
    made: alt.Chart = (
        alt.Chart(_data(_figures(timeline)))
        .mark_text(align="right", color=INK, fontSize=12)
        .encode(x=alt.value({"expr": "width + 65"}), y=y, text=alt.Text("figure", type="nominal"))
    )
    return made
