"""Saying: reasons, what went well, what to change, who took part, sign-off, taking back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING, Final

from tracker.core import debrief_events as db
from tracker.core.debrief import may_withdraw, needs_why
from tracker.core.deviations import Deviation
from tracker.core.events import Event, Scalar
from tracker.core.wording import CODE_WORDS
from tracker.review.record.debrief import TAG_WORDS, entry_words
from tracker.review.screen import forms
from tracker.review.screen.forms import Answers, Field, Form
from tracker.review.screen.telling import reason_words
from tracker.screen.asking import Option, Question, keyed

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

HOWS: Final = (
    Option("i", "intended", "intended"),
    Option("f", "finding forced it", "finding_forced"),
    Option("o", "oversight", "oversight"),
    Option("n", "not logged at the time", "not_logged"),
)
_TAG_KEYS: Final = {"kit": "k", "drill": "d", "teaching": "t", "protocol_file": "p"}
TAGS: Final = (
    *(Option(_TAG_KEYS[tag], words, tag) for tag, words in TAG_WORDS.items()),
    Option("n", "none of these", ""),
)
_NOBODY: Final = Option("=", "nobody yet", "")
_SIGNS: Final = Option("y", "yes, sign it off", True)
_TYPED: Final = "typed"
_LATEST: Final = 12
"""Entries that may be taken back from the screen: the latest so many."""


# -- reasons


def ask_reason(desk: ReviewDesk) -> None:
    """Ask why the deviation under the cursor came about, or the strongest one without a reason."""
    found = _deviation(desk)
    if found is None:
        return
    about = f"{desk.case.protocol.label(found.step)}: {CODE_WORDS[found.code]}"
    reasons = [Option(r.key, r.label, r.id) for r in desk.case.protocol.reasons]

    def fields(_: Answers) -> Sequence[Field]:
        why = [forms.ask(desk, "reason", f"{about} ({found.found}). Why", reasons)] if reasons else []
        return [*why, forms.ask(desk, "how", f"{about}. How it came about", HOWS)]

    form = Form(f"reason:{found.key}", f"Why {about}", fields, partial(_reasoned, desk, found))
    forms.start(desk, form)


def _deviation(desk: ReviewDesk) -> Deviation | None:
    here = [desk.drawn.by_key[key] for key in (desk.item.keys if desk.item else ())]
    bare = next((d for d in here if d.given is None), None)
    found = bare or next(iter(here), None) or next(iter(desk.without_reason), None)
    if found is None:
        desk.hint = "every deviation has a reason" if desk.drawn.found else "nothing differs from the file"
    return found


def _reasoned(desk: ReviewDesk, found: Deviation, answers: Answers) -> None:
    reason, how = str(answers.get("reason", "")), answers["how"]
    text = found.given.text if found.given else ""
    forms.say(desk, db.Reasoned, answers, deviation=found.key, reason=reason, how=how, text=text)
    left = len([d for d in desk.without_reason if d.key != found.key])
    desk.hint = f"kept; {left} deviations without a reason. {desk.key('words')} adds words to it"


def write_words(desk: ReviewDesk) -> None:
    """Write words to the reason of the deviation under the cursor."""
    found = _deviation(desk)
    if found is None:
        return
    about = f"{desk.case.protocol.label(found.step)}: {CODE_WORDS[found.code]}"
    form = f"words:{found.key}"
    field = forms.write(desk, form, "text", f"{about}; {reason_words(desk.case, found)}. Words to it")
    forms.start(desk, Form(form, f"Words to {about}", lambda _: [field], partial(_worded, desk, found)))


def _worded(desk: ReviewDesk, found: Deviation, answers: Answers) -> None:
    given, text = found.given, str(answers["text"])
    reason, how = (given.reason, given.how) if given else ("", None)
    forms.say(desk, db.Reasoned, answers, deviation=found.key, reason=reason, how=how, text=text)
    desk.hint = "kept"


# -- notes


def went_well(desk: ReviewDesk) -> None:
    """Write what went well."""
    field = forms.write(desk, "went_well", "text", "What went well (no patient identifiers)")

    def done(answers: Answers) -> None:
        forms.say(desk, db.WentWell, answers, text=str(answers["text"]))
        desk.hint = f"kept; {desk.key('went_well')} says another"

    forms.start(desk, Form("went_well", "What went well", lambda _: [field], done))


def to_change(desk: ReviewDesk) -> None:
    """Ask what to change: the action, who owns it, by when, what it belongs to."""
    form, today = "to_change", desk.debriefing.clock().at.date()

    def fields(answers: Answers) -> Sequence[Field]:
        day = [forms.typed(desk, form, "day", "By which date: YYYY-MM-DD", _no_date)]
        return [
            forms.write(desk, form, "action", "What to change: the action (no patient identifiers)"),
            forms.ask(desk, "owner", "Who owns it, by role", (*_roles(desk), _NOBODY)),
            forms.ask(desk, "due", "By when", _dates(today)),
            *(day if answers.get("due") == _TYPED else []),
            forms.ask(desk, "tag", "What it belongs to", TAGS),
        ]

    forms.start(desk, Form(form, "What to change", fields, partial(_to_change, desk)))


def _to_change(desk: ReviewDesk, answers: Answers) -> None:
    due = str(answers["day"] if answers["due"] == _TYPED else answers["due"])
    action, owner, tag = str(answers["action"]), str(answers["owner"]), answers["tag"] or None
    forms.say(desk, db.ToChange, answers, action=action, owner=owner, due=due, tag=tag)
    desk.hint = f"kept; {desk.key('to_change')} says another"


def _dates(today: date) -> tuple[Option, ...]:
    spans = (("w", "in a week", 7), ("f", "in four weeks", 28), ("q", "in thirteen weeks", 91))
    days = [(key, words, (today + timedelta(days=n)).isoformat()) for key, words, n in spans]
    told = [Option(key, f"{words}, {day}", day) for key, words, day in days]
    return (*told, Option("d", "on a date", _TYPED), Option("n", "no date", ""))


def _no_date(text: str) -> str:
    wanted = "a date as YYYY-MM-DD, like 2026-05-04"
    try:
        date.fromisoformat(text)
    except ValueError:
        return wanted
    return "" if len(text) == len("2026-05-04") else wanted


# -- people


def _roles(desk: ReviewDesk) -> tuple[Option, ...]:
    return keyed([(r.label, None, r.id) for r in desk.case.protocol.roles])


def _ask_role(
    desk: ReviewDesk, form: str, title: str, options: Sequence[Option], done: Callable[[Answers], None]
) -> None:
    if not options:
        desk.hint = "the file names no roles"
        return
    asked = forms.ask(desk, "who", title, options)
    forms.start(desk, Form(form, title, lambda _: [asked], done, changes=False))


def attended(desk: ReviewDesk) -> None:
    """Ask which role took part; one that is entered is taken back."""
    there = {e.who for e in desk.debrief.standing(db.Attended)}
    roles = desk.case.protocol.roles
    labels = keyed([(f"{r.label}{': took part' if r.id in there else ''}", None, r.id) for r in roles])
    _ask_role(desk, "attended", "Who took part, by role", labels, partial(_attended, desk))


def _attended(desk: ReviewDesk, answers: Answers) -> None:
    who = str(answers["who"])
    before = next((e for e in desk.debrief.standing(db.Attended) if e.who == who), None)
    if before is None:
        forms.say(desk, db.Attended, answers, who=who)
    else:
        desk.debriefing.say(db.Withdrawn, ref=before.seq)
    there = [desk.case.protocol.label(e.who) for e in desk.debrief.standing(db.Attended)]
    desk.hint = f"took part: {', '.join(there) or 'nobody entered'}. {desk.key('attended')} enters another"


def sign(desk: ReviewDesk) -> None:
    """Ask which role signs the debrief off, say back what that is, and ask for a second act.

    What was answered is not kept when it is left: a sign-off is never half begun.
    """
    roles = _roles(desk)
    if not roles:
        desk.hint = "the file names no roles"
        return
    title = f"Sign the debrief off as it stands{_left(desk)}"

    def fields(answers: Answers) -> Sequence[Field]:
        who = desk.case.protocol.label(str(answers.get("who", "")))
        said_back = f"You sign off as: {who}{_left(desk)}. From then on every change asks for its reason"
        return [forms.ask(desk, "who", f"{title}. As", roles), forms.ask(desk, "sure", said_back, (_SIGNS,))]

    forms.start(desk, Form("sign", title, fields, partial(_signed, desk), changes=False, kept=False))


def _left(desk: ReviewDesk) -> str:
    """What a sign-off leaves as it is."""
    bare, unsaid = len(desk.without_reason), len(forms.begun(desk))
    without = f"; {bare} deviations have no reason yet" if bare else ""
    return f"{without}; {unsaid} begun and not said" if unsaid else without


def _signed(desk: ReviewDesk, answers: Answers) -> None:
    forms.say(desk, db.Signed, answers, who=str(answers["who"]))
    who = desk.case.protocol.label(str(answers["who"]))
    desk.hint = f"signed off: {who}. What is said from now on asks for its reason"


def writer(desk: ReviewDesk) -> None:
    """Ask which role writes from now on; nothing is said by it."""
    options = _roles(desk)
    if not options:
        desk.hint = "the file names no roles"
        return
    question = Question("writer", "Who writes, by role", partial(_writes, desk), options)
    desk.panel = forms.choice(desk, question)


def _writes(desk: ReviewDesk, role: Scalar) -> None:
    desk.debriefing.role = str(role)
    desk.hint = f"what is said from now on is written by: {desk.case.protocol.label(str(role))}"


# -- taking back


def withdraw(desk: ReviewDesk) -> None:
    """Ask whether to take the latest entry of the debrief back; Left and Right go to those before."""
    standing = [e for e in desk.debrief.events if may_withdraw(e) and e.seq not in desk.debrief.void]
    back = [e for e in reversed(standing) if not isinstance(e, db.Withdrawn)][:_LATEST]
    if not back:
        desk.hint = "the debrief has no entry to take back"
        return
    options = (Option("y", "yes, take it back; it stays legible", True),)
    asked = [Question(f"back:{e.seq}", _back(desk, e), partial(_take_back, desk, e), options) for e in back]
    desk.panel = forms.choice(desk, *asked)


def _back(desk: ReviewDesk, event: Event) -> str:
    told = entry_words(desk.case, event)
    short = told if len(told) <= 160 else f"{told[:159]}…"
    return f"Take back: {event.kind.replace('_', ' ')}, {short}"


def _take_back(desk: ReviewDesk, event: Event, _: Scalar) -> None:
    def done(answers: Answers) -> None:
        forms.say(desk, db.Withdrawn, answers, ref=event.seq)
        desk.hint = "taken back; it stays legible in the debrief's journal"

    changes = isinstance(event, db.Signed) or needs_why(event)
    forms.start(desk, Form(f"withdraw:{event.seq}", "Take back", lambda _: [], done, changes))
