"""What the board shows, as plain values: made from a case, drawn by `board`, live and when watching."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from msgspec import Struct

from tracker.core import events as ev
from tracker.core.case import Case, ClockRun, Trouble, due_marks, status
from tracker.core.deviations import Deviation
from tracker.core.durations import case_seconds, stage_seconds
from tracker.core.entries import Entry
from tracker.core.forecast import Forecast
from tracker.core.protocol import Step
from tracker.core.text import shown
from tracker.core.wording import SPREAD, clock_time, fact_words, hms, side_words, span_words, value_words
from tracker.screen.lettering import SIGNS
from tracker.screen.panels import Row
from tracker.theatre.open_items import deviation_words, due_word, pair_words

_FIRST = ("red", "amber")


class StepLine(Struct, frozen=True, gc=False):
    """A step on the screen: its key, its label, how it stands in words, and the tone of the words.

    `state` is the word without its time, `time` that of a step that runs, `stage` the short name of a stage that is
    not the one shown.
    """

    step: str
    key: str
    label: str
    word: str
    tone: str
    marked: bool
    state: str = ""
    time: str = ""
    stage: str = ""


class Running(Struct, frozen=True, gc=False):
    """A span or clock that runs: label, time, the word that a reached figure adds, its tone, its step if it has one."""

    label: str
    time: str
    word: str
    tone: str
    step: str = ""


class Due(Struct, frozen=True, gc=False):
    """A step that something that happened asks for: due, or due again, and why."""

    step: str
    label: str
    word: str
    reason: str


class Scene(Struct, frozen=True, gc=False):
    """Everything the board shows at one moment.

    `beside` are steps of other stages that are on the screen, `ahead` those of the next stage, offered. `ask` is asked
    once more, in place of the marked step.
    """

    code: str
    side: str
    title: str
    review: str
    wall: str
    clock: str
    clock_word: str
    marked: StepLine
    stage: str
    stage_time: str
    finish: str
    steps: tuple[StepLine, ...]
    anytime: tuple[StepLine, ...]
    echo: str
    echo_word: str
    echo_sign: str
    echo_at: str
    ago: str
    running: tuple[Running, ...]
    due: tuple[Due, ...]
    open: tuple[str, ...]
    deviations: tuple[str, ...]
    beside: tuple[StepLine, ...] = ()
    ahead: tuple[StepLine, ...] = ()
    ahead_stage: str = ""
    ask: str = ""
    hint: str = ""
    trouble: str = ""
    panel: str = ""
    rows: tuple[Row, ...] = ()


class Look(Struct, frozen=True, gc=False):
    """What of a case is looked at: the stage by its place, the step marked, and the steps of other stages, by id."""

    stage: int
    marked: str
    beside: tuple[str, ...] = ()
    ahead: tuple[str, ...] = ()


def scene(
    case: Case,
    now_t: float,
    now_at: datetime,
    look: Look,
    differs: tuple[str, ...],
    forecast: Forecast | None = None,
) -> Scene:
    """The scene of a case at case second `now_t`, told as `now_at`; `differs` are its deviations in words."""
    stage, step = case.protocol.stages[look.stage], case.protocol.step
    steps, anytime, beside, ahead = (
        tuple(_step_line(case, s, now_t, look) for s in part)
        for part in (
            stage.steps, case.protocol.anytime, [step[s] for s in look.beside], [step[s] for s in look.ahead]
        )
    )  # fmt: skip
    taken = stage_seconds(case, stage, now_t)
    echo, echo_word, echo_at = _echo(case)
    started = case_seconds(case, now_t)
    return Scene(
        code=case.code,
        side=side_words(case.protocol, case.facts).upper(),
        title=case.protocol.title,
        review=f"reviewed by {case.protocol.reviewed_by}"
        if case.protocol.reviewed_by
        else "not reviewed locally",
        wall=clock_time(now_at),
        clock=hms(started or 0.0),
        clock_word=_clock_word(case),
        marked=next((s for s in (*steps, *beside) if s.marked), None)
        or _step_line(case, step[look.marked], now_t, look),
        stage=f"{stage.label} ({look.stage + 1} of {len(case.protocol.stages)})",
        stage_time="" if taken is None else hms(taken),
        finish=_finish(case, now_at, forecast),
        steps=steps,
        anytime=anytime,
        echo=echo,
        echo_word=", ".join(filter(None, (echo_word, _echo_stage(case, look)))),
        echo_sign=SIGNS.get(case.events[-1].kind, "") if case.events else "",
        echo_at=echo_at,
        ago=f"{span_words(max(0.0, now_t - _echo_t(case)))} ago" if case.events else "",
        running=tuple(_running(case, now_t)),
        due=tuple(_due(case)),
        open=tuple(pair_words(p, case.pairs[p.id]) for p in case.protocol.pairs if case.pairs[p.id].open),
        deviations=differs,
        beside=beside,
        ahead=ahead,
        ahead_stage=_short(case, look.ahead[0]) if look.ahead else "",
    )


def differing(case: Case, found: Sequence[Deviation]) -> tuple[str, ...]:
    """The deviations that are shown while a case goes on, as quiet lines: those that nobody gave a reason."""
    return tuple(
        deviation_words(case.protocol, d)
        for d in found
        if d.given is None and d.code not in ("complication", "late_entry")
    )


def _finish(case: Case, now_at: datetime, forecast: Forecast | None) -> str:
    if case.end or not case.started or forecast is None:
        return ""
    if not forecast.enough:
        return f"end expected: n too small ({forecast.n})"
    if forecast.outlasted:
        return f"end expected: longer than all {forecast.n} past cases"
    ends = [now_at + timedelta(minutes=m) for m in (forecast.p10, forecast.median, forecast.p90)]
    early, middle, late = (clock_time(at)[:5] for at in ends)
    return f"end expected {middle} ({early} to {late}, n {forecast.n})"


def _clock_word(case: Case) -> str:
    if case.end:
        return "ended" if case.end.how == "normal" else "stopped early"
    if case.pauses and case.pauses[-1][1] is None:
        return f"paused since {clock_time(case.pauses[-1][0].at)}"
    return "in theatre" if case.started else "not started"


# -- steps


def _step_line(case: Case, step: Step, now_t: float, look: Look) -> StepLine:
    state, time, tone = _standing(case, step, now_t)
    word = f"{state} {time}" if time else state
    stage = _elsewhere(case, step.id, look)
    running = time if state == "running" else ""
    return StepLine(
        step.id, step.key or " ", step.label, word, tone, step.id == look.marked, state, running, stage
    )


def _standing(case: Case, step: Step, now_t: float) -> tuple[str, str, str]:
    """How a step stands in a word, the time that goes with it, and the tone of both."""
    state, how = case.state(step.id), status(case, step)
    last = state.last
    if how == "running" and last:
        return "running", hms(now_t - last.start.t), "live"
    if how == "due":
        return (due_word(case, step), "", "amber") if state.due_again else ("due", "", "plain")
    if how == "ticked" and last:
        times = f" x{len(state.ticks)}" if len(state.ticks) > 1 else ""
        return "ticked", f"{clock_time((last.stop or last.start).at)[:5]}{times}", "done"
    if how == "not_reached":
        return "if used" if step.occurrence == "optional" else "", "", "quiet"
    return _QUIETLY.get(how, how), "", "quiet"


def _elsewhere(case: Case, step: str, look: Look) -> str:
    """The short name of a step's stage, empty if that is the one shown or the step has none."""
    at = case.protocol.stage_index.get(case.protocol.stage_of.get(step, ""), look.stage)
    return "" if at == look.stage else f"stage {at + 1}"


def _short(case: Case, step: str) -> str:
    """A step's stage by its place and what it begins with: "8 Flatten and laser"."""
    stage = case.protocol.stages[case.protocol.stage_index[case.protocol.stage_of[step]]]
    return f"{case.protocol.stage_index[stage.id] + 1} {stage.label.partition(',')[0]}"


_QUIETLY = {
    "not_needed": "not needed",
    "not_logged": "done, not logged",
    "not_in_case": "not in this case",
    "struck": "struck",
}


def _due(case: Case) -> Iterator[Due]:
    """The steps that a trigger asks for, and why."""
    for ident, state in case.steps.items():
        step = case.protocol.step[ident]
        if state.due_again and (marks := due_marks(case, step)):
            yield Due(ident, step.label, due_word(case, step), marks[-1].reason)


# -- what runs


def _running(case: Case, now_t: float) -> Sequence[Running]:
    # What is past the file's figure comes first. If room is short, what is left out first is the recorder and its like,
    # spans of no stage, then clocks without a figure.
    clocks = [run for run in case.clocks if run.stop is None]
    limited, free = (
        [_clock(case, r, now_t) for r in clocks if _limited(case, r) is has] for has in (True, False)
    )
    spans = [
        Running(step.label, hms(now_t - last.start.t), "", "live", ident)
        for ident, state in case.steps.items()
        if state.ticks
        and (last := state.ticks[-1]).stop is None
        and (step := case.protocol.step[ident]).shape == "span"
    ]
    staged, stageless = (
        [s for s in spans if (s.step in case.protocol.stage_of) is has] for has in (True, False)
    )
    troubles = [_trouble(case, t, now_t) for t in case.troubles if t.stop is None]
    pauses = [
        Running("Paused", hms(now_t - p.t), "", "amber") for p, stop in case.pauses[-1:] if stop is None
    ]
    running = (*pauses, *troubles, *staged, *limited, *free, *stageless)
    return sorted(running, key=lambda r: _FIRST.index(r.tone) if r.tone in _FIRST else len(_FIRST))


def _limited(case: Case, run: ClockRun) -> bool:
    """Whether the file has a figure for a clock."""
    clock = case.protocol.clock[run.clock]
    return any(figure is not None for figure in (clock.amber_s, clock.red_s, clock.min_s))


def _trouble(case: Case, trouble: Trouble, now_t: float) -> Running:
    time = hms(now_t - trouble.start.t)
    if trouble.complication is None:
        return Running("Complication", time, "not yet named", "amber")
    return Running(case.protocol.label(trouble.complication), time, "complication", "amber")


def _clock(case: Case, run: ClockRun, now_t: float) -> Running:
    clock, seconds = case.protocol.clock[run.clock], run.seconds(now_t)
    if run.spread:
        return Running(clock.label, hms(seconds), SPREAD, "plain")
    if clock.min_s is not None:
        left = clock.min_s - seconds
        if left > 0:
            return Running(clock.label, hms(left), f"to {span_words(clock.min_s)}", "plain")
        return Running(clock.label, hms(seconds), f"{span_words(clock.min_s)} reached", "done")
    reached = [
        (s, tone) for s, tone in ((clock.red_s, "red"), (clock.amber_s, "amber")) if s and seconds >= s
    ]
    if reached:
        limit, tone = reached[0]
        return Running(
            clock.label, hms(seconds), f"{tone}: {span_words(limit)} reached, figure in your file", tone
        )
    return Running(clock.label, hms(seconds), "", "plain")


# -- the last entry


def _echo(case: Case) -> tuple[str, str, str]:
    """What was entered last, what was said of it, and the time told for it."""
    if not case.events:
        return "", "", ""
    event = case.events[-1]
    if isinstance(event, ev.Strike | ev.Move | ev.BackStamp | ev.Chosen):
        return _corrected(case, event)
    entry = _entry(case, event.seq)
    return (
        (*entry_words(case, entry), clock_time(entry.at)) if entry else ("", event.kind, clock_time(event.at))
    )


def _echo_stage(case: Case, look: Look) -> str:
    """The stage of the step that was entered last, if it is not the one shown."""
    event = case.events[-1] if case.events else None
    if event is not None and event.ref is not None:
        event = _original(case, event)
    step = getattr(event, "step", None)
    return _elsewhere(case, step, look) if step else ""


def _echo_t(case: Case) -> float:
    """The case second of what was entered last, or of what it corrects."""
    event = case.events[-1]
    entry = _entry(case, event.seq) or _entry(case, event.ref)
    return entry.t if entry else case.bases.entered_t(_original(case, event))


def _entry(case: Case, seq: int | None) -> Entry | None:
    """What stands of an entry; looked for from the end, where the last one mostly is."""
    return next((e for e in reversed(case.log) if e.seq == seq), None)


def _original(case: Case, event: ev.Event) -> ev.Event:
    """What an event speaks of, as written; itself if it speaks of none."""
    return next((e for e in reversed(case.events) if e.seq == event.ref), event)


def _corrected(case: Case, event: ev.Event) -> tuple[str, str, str]:
    about = _entry(case, event.ref)
    if isinstance(event, ev.Strike) or about is None:
        original = _original(case, event)
        step = getattr(original, "step", None)
        return case.protocol.label(step) if step else original.kind, "struck", clock_time(original.at)
    what, word = entry_words(case, about)
    if isinstance(event, ev.BackStamp):
        word = ", ".join(filter(None, (word, f"back-stamped {span_words(about.late_s)}")))
    elif isinstance(event, ev.Move):
        word = f"moved here, {word}"
    return what, word, clock_time(about.at)


_SAID = {
    "opened": "case opened",
    "resumed": "resumed",
    "facts": "case facts",
    "note": "note kept",
    "bookmark": "bookmark",
    "paused": "paused",
    "continued": "goes on",
    "complication": "complication",
    "complication_detail": "complication named",
    "complication_closed": "complication dealt with",
    "handover": "hand-over",
    "handover_accepted": "hand-over acknowledged",
    "reason": "reason kept",
    "count": "count said",
    "stopped_early": "stopped early",
}
_EDGE = {
    "tick": "ticked",
    "start": "started",
    "stop": "stopped",
    "not_needed": "not needed",
    "not_logged": "not logged",
}


def entry_words(case: Case, entry: Entry) -> tuple[str, str]:
    """What an entry is about, and what was done or said there."""
    event, label = entry.event, case.protocol.label
    if isinstance(event, ev.Read):
        reading = case.protocol.reading.get(event.reading)
        return label(event.reading), value_words(reading, event.value) if reading else shown(str(event.value))
    if isinstance(event, ev.Complicated | ev.ComplicationDetail) and event.complication:
        return label(event.complication), "complication"
    if isinstance(event, ev.Bookmark):
        return "bookmark", f"number {sum(said.kind == 'bookmark' for said in case.said)}"
    if isinstance(event, ev.CountChanged):
        return label(event.line), f"{event.delta:+d}"
    if isinstance(event, ev.Operator):
        return label(event.operator), "operating"
    if isinstance(event, ev.StageClosed):
        return label(event.stage), "closed"
    if entry.step:
        choice = f": {fact_words(case.protocol, entry.step, entry.choice)}" if entry.choice else ""
        return label(entry.step), f"{_EDGE.get(event.kind, '')}{choice}"
    return _SAID.get(event.kind, event.kind.replace("_", " ")), ""
