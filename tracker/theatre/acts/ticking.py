"""Ticking steps and moving the mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracker.core import events as ev
from tracker.core.protocol import Step
from tracker.screen.commands import key_words
from tracker.theatre.acts.changes import say_changes
from tracker.theatre.acts.corrections import late_burst
from tracker.theatre.acts.questions import ask_count, ask_decisions, ask_readings
from tracker.theatre.path import is_expected
from tracker.theatre.reach import doubt

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk


def doing(desk: Desk, step: Step) -> str:
    """What the key of a step does now, in words."""
    if step.shape != "span":
        return f"tick {step.label}"
    return f"{'stop' if desk.session.running(step.id) else 'start'} {step.label}"


def act(desk: Desk, step: Step, back_s: float = 0.0) -> None:
    """Do the natural next thing to a step, as of `back_s` seconds ago, and what follows from it."""
    before = desk.case
    stays = step.id not in desk.protocol.stage_of or step.id in desk.on_screen().beside
    event = desk.session.natural(step.id, back_s)
    if not stays:
        # A step of a later stage moves the board there; one behind, a further cut say, leaves it where it is.
        desk.stage = max(desk.stage, desk.stage_of(step.id))
    _mark_after(desk, step, event)
    if step.shape == "reading" or not desk.complicated():
        follow_up(desk, step, event)
    if not desk.complicated():
        say_changes(desk, before)
        offer_spread(desk)


def offer_spread(desk: Desk) -> None:
    """Offer to spread a burst of late ticks; it is never done unasked."""
    if burst := late_burst(desk):
        key = desk.keys_of("spread")[0]
        offer = f"{len(burst)} ticks at once after a gap: {key_words(key)} spreads them over it"
        desk.hint = f"{offer}. {desk.hint}" if desk.hint else offer


def _mark_after(desk: Desk, step: Step, event: ev.Event) -> None:
    if step.id not in desk.protocol.stage_of:
        return
    if isinstance(event, ev.Start):
        desk.mark(step.id)
    else:
        desk.mark_after(step.id)


def mark_by(desk: Desk, by: int) -> None:
    """Mark the step before or after on the screen."""
    ids = desk.on_screen().steps
    at = ids.index(desk.marked) + by if desk.marked in ids else 0
    desk.marked = ids[at % len(ids)]


def stage_by(desk: Desk, by: int) -> None:
    """Show the stage before or after."""
    desk.stage = (desk.stage + by) % len(desk.protocol.stages)
    steps = desk.stage_steps()
    desk.mark(next((s.id for s in steps if is_expected(desk.case, s)), steps[0].id))


def onward(desk: Desk, back_s: float) -> None:
    """Stop the marked span and start the next step if that is a span on the screen; tick anything else."""
    marked, shown = desk.protocol.step[desk.marked], desk.on_screen().steps
    stops = desk.session.running(marked.id) is not None
    act(desk, marked, back_s)
    following = desk.protocol.step[desk.marked]
    if not stops or following.shape != "span" or following.id not in shown or desk.panel is not None:
        return
    if following.id != marked.id and not doubt(desk.case, desk.on_screen(), following):
        act(desk, following, back_s)


def follow_up(desk: Desk, step: Step, event: ev.Event) -> None:
    """Ask for what belongs to a tick."""
    if isinstance(event, ev.Stop):
        return
    if step.shape == "decision":
        ask_decisions(desk)
    elif step.shape == "reading":
        ask_readings(desk)
    elif step.shape == "count":
        ask_count(desk)


def close_stage(desk: Desk) -> None:
    """Say that the team is through with the stage shown, and show the next one."""
    desk.say(ev.StageClosed, stage=desk.protocol.stages[desk.stage].id)
    if desk.stage < len(desk.protocol.stages) - 1:
        stage_by(desk, by=1)
