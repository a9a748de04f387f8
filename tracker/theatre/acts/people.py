"""People and trouble: hand-over, change of operator, complications, pauses, leaving."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from string import ascii_lowercase, ascii_uppercase
from typing import TYPE_CHECKING, Final

from tracker.core import events as ev
from tracker.core.wording import clock_time
from tracker.screen.asking import Option, Question, keyed
from tracker.theatre.acts.changes import say_changes
from tracker.theatre.acts.screen import open_words

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk

DEALT_WITH: Final = "dealt with"
"""No id of a file has a blank in it."""
_DEALT_KEYS: Final = "zwyu" + ascii_lowercase + ascii_uppercase
"""Letters for what was dealt with, the first that no complication has. Not the key that stamps one: pressed by someone
who does not look, it would end what has only begun."""


def pause(desk: Desk) -> None:
    """Pause the operation, or let it go on."""
    paused = bool(desk.case.pauses) and desk.case.pauses[-1][1] is None
    desk.say(ev.Continued if paused else ev.Paused)


def ask_hand_over(desk: Desk) -> None:
    """Ask who takes the circulating post, or who operates from now on."""
    here = {desk.case.post("circulating"), desk.case.post("operator")}
    roles = [r for r in desk.protocol.roles if r.post in ("circulating", "operator") and r.id not in here]
    words = {"circulating": "to", "operator": "operating now:"}
    options = keyed([(f"{words[r.post]} {r.label}", None, r.id) for r in roles])
    questions = list(_unacknowledged(desk))
    if options:
        title = "Hand-over, or change of operator"
        questions.append(Question("hand_over", title, partial(_handed, desk), options))
    if questions:
        desk.ask(questions)
    else:
        desk.hint = "the file names no other role"


def _unacknowledged(desk: Desk) -> Iterator[Question]:
    last = next((p for p in reversed(desk.case.posts) if p.post == "circulating"), None)
    if last and last.counts_confirmed is not None and last.accepted is None:
        yield _acknowledge(desk, last.role, last.since.seq)


def _acknowledge(desk: Desk, incoming: str, ref: int) -> Question:
    options = (Option("y", "I have read what is open", True),)
    title = f"{desk.protocol.label(incoming)}: {open_words(desk)}"
    return Question("accept", title, partial(_accepted, desk, ref), options)


def _handed(desk: Desk, role: ev.Scalar) -> None:
    posts = {r.id: r.post for r in desk.protocol.roles}
    if posts[str(role)] == "operator":
        desk.say(ev.Operator, operator=str(role))
        return
    options = (Option("y", "yes, counts re-confirmed", True), Option("n", "not now", False))
    done = partial(_hand_over, desk, str(role))
    title = f"Hand-over to {desk.protocol.label(str(role))}: counts re-confirmed?"
    desk.ask([Question("counts_confirmed", title, done, options)])


def _hand_over(desk: Desk, incoming: str, confirmed: ev.Scalar) -> None:
    outgoing = desk.case.post("circulating") or desk.session.role
    event = desk.say(ev.HandOver, outgoing=outgoing, incoming=incoming, counts_confirmed=bool(confirmed))
    desk.session.role = incoming
    desk.ask([_acknowledge(desk, incoming, event.seq)])


def _accepted(desk: Desk, ref: int, _: ev.Scalar) -> None:
    desk.say(ev.HandOverAccepted, ref=ref)


def complication(desk: Desk) -> None:
    """Stamp a complication if none is open; then ask which it is or whether it is dealt with."""
    if all(t.stop is not None for t in desk.case.troubles):
        desk.say(ev.Complicated)
    running = next(t for t in reversed(desk.case.troubles) if t.stop is None)
    ref = running.start.seq
    known = desk.protocol.complications
    free = next(k for k in _DEALT_KEYS if k not in {c.key for c in known})
    options = keyed([("dealt with", free, DEALT_WITH), *((c.label, c.key, c.id) for c in known)])
    since = f"since {clock_time(running.start.at)}"
    if running.complication is None:
        title = f"Complication {since}: which it is, or {free} dealt with"
    else:
        title = f"{desk.protocol.label(running.complication)} {since}: {free} dealt with, or another name"
    desk.ask([Question(f"complication:{ref}", title, partial(_complicated, desk, ref), options)])


def _complicated(desk: Desk, ref: int, complication: ev.Scalar) -> None:
    if complication == DEALT_WITH:
        desk.say(ev.ComplicationClosed, ref=ref)
        return
    before = desk.case
    desk.say(ev.ComplicationDetail, ref=ref, complication=str(complication))
    say_changes(desk, before)


def ask_leave(desk: Desk) -> None:
    """Ask whether to leave, and how."""
    options = (
        Option("l", "leave the screen, the case stays open", "leave"),
        Option("e", "the operation ended early: give a reason, then leave", "end"),
    )
    waiting = len(desk.session.waiting)
    kept = f" {waiting} of the entries not on disk yet" if waiting else ""
    desk.ask([Question("leave", f"Leave?{kept} (Esc stays)", partial(_leave, desk), options)])


def _leave(desk: Desk, how: ev.Scalar) -> None:
    if how == "leave":
        desk.left = True
        return
    reasons = tuple(Option(r.key, r.label, r.id) for r in desk.protocol.reasons)
    if reasons:
        desk.ask([Question("end", "Ended early: why", partial(_ended, desk), reasons)])
    else:
        _ended(desk, "")


def _ended(desk: Desk, reason: ev.Scalar) -> None:
    desk.say(ev.StoppedEarly, reason=str(reason))
    desk.left = True
