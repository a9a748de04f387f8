"""What is asked after a tick, or when its key is pressed: choices, readings, counts, reasons, words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Final

from tracker.core import events as ev
from tracker.core.case import Tick, in_case, plan
from tracker.core.deviations import Deviation, open_counts, reading_of
from tracker.core.protocol import Step
from tracker.core.wording import clock_time, fact_words
from tracker.screen.asking import Option, Question, keyed, options_of, reading_question
from tracker.screen.panels import Figures, Write
from tracker.theatre.acts.changes import say_changes
from tracker.theatre.forms import CountSheet, FactsPage
from tracker.theatre.open_items import deviation_words

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk

NO_REASON: Final = "no reason"
"""No id of a file has a blank in it."""


def ask_decisions(desk: Desk) -> None:
    """Ask for the choices of decisions, those not stated first."""
    open_first = sorted(_decisions(desk), key=lambda st: (st[1].choice is not None, -st[1].seq))
    if not open_first:
        desk.hint = "no decision has been ticked yet"
        return
    desk.ask([_decision(desk, step, tick) for step, tick in open_first[:9]])


def _decisions(desk: Desk) -> Iterator[tuple[Step, Tick]]:
    for step in desk.protocol.all_steps():
        if step.shape == "decision":
            yield from ((step, t) for t in desk.case.state(step.id).ticks)


def _decision(desk: Desk, step: Step, tick: Tick) -> Question:
    stands, word = (tick.choice, "stated") if tick.choice else (plan(desk.case, step), "planned")
    words = f", {word}: {fact_words(desk.protocol, step.id, stands)}" if stands else ""
    title = f"{step.label} {clock_time(tick.start.at)}{words}"
    return Question(
        f"decision:{tick.seq}", title, lambda v: _chosen(desk, tick.seq, str(v)), options_of(step.choices)
    )


def _chosen(desk: Desk, ref: int, choice: str) -> None:
    before = desk.case
    desk.say(ev.Chosen, ref=ref, choice=choice)
    last = desk.session.last_tick()
    if last is not None and last.seq == ref and (step := desk.session.standing_step(last)):
        # The choice may bring in steps of this very stage, which the mark must not have left behind.
        desk.mark_after(step)
    elif not in_case(desk.case, desk.protocol.step[desk.marked]):
        desk.mark_after(desk.marked)
    say_changes(desk, before)


def ask_readings(desk: Desk) -> None:
    """Ask for readings: first of what was ticked last, then what was left half-done, then any other.

    Figures that nothing asked for are taken along to the first that wants figures; Enter keeps them there.
    """
    figures = desk.panel.typed if isinstance(desk.panel, Figures) else ""
    latest, older = _wanted(desk)
    drafted = [q for q in (*older, *_free_readings(desk)) if desk.drafts.get(q.id)]
    questions = {q.id: q for q in (*latest, *drafted, *older, *_free_readings(desk))}
    asked = list(questions.values())
    if figures:
        asked = [q for q in asked if not q.options]
        desk.drafts.update({q.id: figures for q in asked[:1]})
    if asked:
        desk.ask(asked)
    else:
        desk.hint = "the file names no readings"


def _wanted(desk: Desk) -> tuple[list[Question], list[Question]]:
    """The readings not entered: those of the tick touched last, and the required ones of all others."""
    ticks = [
        (t.stop or t.start, s, t) for s in desk.protocol.all_steps() for t in desk.case.state(s.id).ticks
    ]
    recent_first = sorted(ticks, key=lambda x: x[0], reverse=True)
    latest = [q for _, step, tick in recent_first[:1] for q in _of_tick(desk, step, tick, optional=True)]
    older = [q for _, step, tick in recent_first[1:] for q in _of_tick(desk, step, tick, optional=False)]
    return latest, older


def _of_tick(desk: Desk, step: Step, tick: Tick, *, optional: bool) -> Iterator[Question]:
    for wanted in sorted(step.readings, key=lambda w: not w.required):
        drafted = desk.drafts.get(_draft(wanted.id, tick.seq))
        if (wanted.required or optional or drafted) and reading_of(desk.case, tick, wanted.id) is None:
            yield _reading(desk, wanted.id, tick.seq, f"{step.label}: ")


def _free_readings(desk: Desk) -> Iterator[Question]:
    for reading in desk.protocol.readings:
        yield _reading(desk, reading.id, None, "")


def _reading(desk: Desk, ident: str, ref: int | None, before: str) -> Question:
    reading = desk.protocol.reading[ident]
    done = partial(_read, desk, ident, ref)
    return reading_question(reading, f"{before}{reading.label}", done, _draft(ident, ref))


def _draft(reading: str, ref: int | None) -> str:
    return f"reading:{reading}:{ref}"


def _read(desk: Desk, ident: str, ref: int | None, value: ev.Scalar) -> None:
    before = desk.case
    desk.say(ev.Read, reading=ident, value=value, ref=ref)
    say_changes(desk, before)


def ask_count(desk: Desk) -> None:
    """Ask what the count board says where figures are wanting, the latest count first, or which line changed."""
    wanting = [c for c in open_counts(desk.case) if c.lines]
    if not desk.protocol.counted:
        desk.hint = "the file names no counted lines"
    elif wanting:
        latest = max(wanting, key=lambda c: c.tick.start)
        _count_sheet(desk, latest.step, latest.tick)
    else:
        _ask_count_change(desk)


def _count_sheet(desk: Desk, step: Step, tick: Tick) -> None:
    lines = [(c.id, c.label, desk.case.counts[c.id].expected) for c in desk.protocol.counted]
    done = partial(_counted, desk, tick.seq)
    title = f"{step.label} {clock_time(tick.start.at)}: what the count board says"
    desk.panel = CountSheet(f"count:{tick.seq}", title, lines, done, desk.drafts)


def _counted(desk: Desk, ref: int, lines: Mapping[str, int]) -> None:
    desk.say(ev.CountSaid, ref=ref, lines=dict(lines))


def _ask_count_change(desk: Desk) -> None:
    options = keyed([(c.label, None, c.id) for c in desk.protocol.counted])
    which = "Items opened or handed off: which line"
    desk.ask([Question("counted", which, partial(_ask_delta, desk), options)], held=True)


def _ask_delta(desk: Desk, line: ev.Scalar) -> None:
    label = desk.protocol.label(str(line))
    deltas = tuple(Option(str(n), f"{n} opened", n) for n in range(1, 10))
    off = tuple(Option(k, f"{n} handed off", -n) for n, k in enumerate("abcde", 1))
    desk.ask([Question("delta", label, partial(_changed_count, desk, str(line)), (*deltas, *off))], held=True)


def _changed_count(desk: Desk, line: str, delta: ev.Scalar) -> None:
    before = desk.case
    desk.say(ev.CountChanged, line=line, delta=int(delta))
    say_changes(desk, before)


def write_note(desk: Desk) -> None:
    """Open a line for free words."""
    desk.panel = Write("note", "Note (no patient identifiers)", partial(_noted, desk), desk.drafts)


def _noted(desk: Desk, text: str) -> None:
    desk.say(ev.Note, text=text)


def ask_not_needed(desk: Desk) -> None:
    """Ask why the marked step is not needed; it is said once a reason, or that there is none yet, is chosen."""
    step = desk.protocol.step[desk.marked]
    own = [(r.label, r.key, r.id) for r in desk.protocol.reasons]
    options = keyed([*own, ("no reason for now", None, NO_REASON)])
    title = f"{step.label} is not needed: why"
    desk.ask([Question("not_needed", title, partial(_not_needed, desk, step), options)], held=True)


def _not_needed(desk: Desk, step: Step, reason: ev.Scalar) -> None:
    before = desk.case
    event = desk.say(ev.NotNeeded, step=step.id)
    if reason != NO_REASON:
        desk.say(ev.ReasonGiven, deviation=f"not_needed:{step.id}:{event.seq}", reason=str(reason))
    desk.mark_after(step.id)
    say_changes(desk, before)


def not_logged(desk: Desk) -> None:
    """Say that the marked step was done though nobody ticked it, and mark the next."""
    step, before = desk.marked, desk.case
    desk.say(ev.NotLogged, step=step)
    desk.mark_after(step)
    say_changes(desk, before)


def ask_reason(desk: Desk) -> None:
    """Ask why a deviation came about, the latest first."""
    bare = [d for d in desk.deviations() if d.given is None and d.code != "late_entry"]
    options = tuple(Option(r.key, r.label, r.id) for r in desk.protocol.reasons)
    if not bare or not options:
        desk.hint = "no deviation is without a reason" if options else "the file names no reasons"
        return
    latest = sorted(bare, key=lambda d: d.when, reverse=True)
    desk.ask([_why(desk, d, options) for d in latest])


def _why(desk: Desk, deviation: Deviation, options: tuple[Option, ...]) -> Question:
    title = f"{deviation_words(desk.protocol, deviation)}. Why"
    return Question(f"reason:{deviation.key}", title, partial(_because, desk, deviation.key), options)


def _because(desk: Desk, key: str, reason: ev.Scalar) -> None:
    desk.say(ev.ReasonGiven, deviation=key, reason=str(reason))


def ask_facts(desk: Desk) -> None:
    """Show the case facts to be changed."""
    desk.panel = FactsPage(
        desk.protocol.facts,
        desk.case.facts,
        partial(_facts_changed, desk),
        "A case fact changed",
        desk.answers,
    )


def _facts_changed(desk: Desk, values: Mapping[str, ev.Scalar]) -> None:
    changed = {k: v for k, v in values.items() if desk.case.facts.get(k) != v}
    if changed:
        before = desk.case
        desk.say(ev.Facts, values=changed)
        say_changes(desk, before)
