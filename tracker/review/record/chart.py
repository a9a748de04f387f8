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

from tracker.core.text import shown
from tracker.core.timeline import Bar, Lane, Mark, MarkKind, Timeline
from tracker.core.timeline_text import fitted
from tracker.core.wording import clock_time, span_words
from tracker.paper.drawing import Drawing, drawing
from tracker.review.record.drawing import MARK_WORDS, figure, marks, part

WIDTH: Final = 700
"""Width of the plot in pixels; labels and figures stand outside it."""

_LANE: Final = 18
_LABELS: Final = 240
_LETTERS: Final = 32  # of a label: in the widest of the usual letters they take the room that it has
_TOLD: Final = 200
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

_LOOK: Final[Mapping[MarkKind, tuple[str, str]]] = {
    "tick": ("diamond", STAGE),
    "safety": ("triangle-up", SAFETY),
    "order": ("triangle-down", ORDER),
    "note": ("circle", NOTE),
    "complication": ("cross", SAFETY),
    "bookmark": (_STAR, LANE),
}
# Shape and colour of a mark: told apart by lane and shape first.


Row = dict[str, Any]


def draw(timeline: Timeline) -> Drawing:
    """The chart of a timeline on which there is something."""
    first_t, first_at = timeline.anchors[0]
    scale = _Scale(first_t, first_at.replace(tzinfo=UTC))
    return drawing(_chart(timeline, scale).to_dict())


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
                "part": part(lane),
                **_bar_words(lane, bar),
            }


def _bar_words(lane: Lane, bar: Bar) -> Mapping[str, str]:
    stop = clock_time(bar.stop_at) if bar.stop_at else "no stop logged"
    return {
        "What": _told(bar.label),
        "Lane": _told(lane.label),
        "From": clock_time(bar.start_at),
        "To": stop,
        "Lasted": span_words(bar.stop_t - bar.start_t) + (", so far" if bar.open else ""),
        "Entry": str(bar.seq),
    }


def _marks(timeline: Timeline, scale: _Scale) -> Iterator[Row]:
    for n, lane in enumerate(timeline.lanes):
        for mark in marks(lane):
            yield {"lane": n, "start": scale.ms(mark.t), **_mark_words(lane, mark)}


def _mark_words(lane: Lane, mark: Mark) -> Mapping[str, str]:
    return {
        "Mark": MARK_WORDS[mark.kind],
        "What": _told(mark.label),
        "Lane": _told(lane.label),
        "At": clock_time(mark.at),
        "Entry": str(mark.seq),
    }


def _told(label: str) -> str:
    return shown(label)[:_TOLD]


def _figures(timeline: Timeline) -> Iterator[Row]:
    for n, lane in enumerate(timeline.lanes):
        yield {"lane": n, "figure": figure(lane)}


# -- layers


def _chart(timeline: Timeline, scale: _Scale) -> alt.LayerChart:
    start, stop = scale.ms(timeline.start_t), scale.ms(timeline.stop_t)
    margin = round((stop - start) * _MARGIN)
    params = (
        alt.param("earliest", value=start - margin),
        alt.param("latest", value=stop + margin),
        alt.param("lanes", value=[fitted(lane.label, _LETTERS).rstrip() for lane in timeline.lanes]),
    )
    y = _y(timeline)
    bars = list(_bars(timeline, scale))
    layers = [_bar_layer(bars, y), *_end_layers(bars, y)]
    layers += _mark_layers(list(_marks(timeline, scale)), y)
    layers.append(_figure_layer(timeline, y))
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
        labelLimit=0,
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
        if n and part(lane) != part(timeline.lanes[n - 1]):
            rows.append(-n)
        rows.append(n)
    return rows


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


def _end_layers(bars: list[Row], y: alt.Y) -> Iterator[alt.Chart]:
    if is_open := [bar for bar in bars if bar["open"]]:
        yield (
            alt.Chart(_data(is_open))
            .mark_text(text="▶", clip=True, align="right", color=INK, fontSize=10)
            .encode(x=_x("stop"), y=y)
        )


def _mark_layers(found: list[Row], y: alt.Y) -> Iterator[alt.Chart]:
    used = {mark["Mark"] for mark in found}
    kinds = [kind for kind, words in MARK_WORDS.items() if words in used]
    if not kinds:
        return
    words = [MARK_WORDS[kind] for kind in kinds]
    shapes, colours = [_LOOK[kind][0] for kind in kinds], [_LOOK[kind][1] for kind in kinds]
    legend = alt.Legend(title=None)
    shape, colour = alt.Scale(domain=words, range=shapes), alt.Scale(domain=words, range=colours)
    yield (
        alt.Chart(_data(found))
        .mark_point(clip=True, filled=True, size=70, opacity=1, stroke=PAGE, strokeWidth=0.7)
        .encode(
            x=_x(),
            y=y,
            shape=alt.Shape("Mark", type="nominal", scale=shape, legend=legend),
            color=alt.Color("Mark", type="nominal", scale=colour, legend=legend),
            tooltip=_tips("Mark", "What", "Lane", "At", "Entry"),
        )
    )


def _figure_layer(timeline: Timeline, y: alt.Y) -> alt.Chart:
    made: alt.Chart = (
        alt.Chart(_data(_figures(timeline)))
        .mark_text(align="right", color=INK, fontSize=12)
        .encode(x=alt.value({"expr": "width + 65"}), y=y, text=alt.Text("figure", type="nominal"))
    )
    return made
