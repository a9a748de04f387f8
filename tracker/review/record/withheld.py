"""What a record may leave out before it leaves the department: free words, and who of the team it was.

Nothing is left out silently: the record says so among its cautions. The journal keeps everything, and the
record's last hash and number of entries stay those of the journal.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from tracker.core import events as ev
from tracker.core.debrief import fold_debrief
from tracker.core.fold import fold
from tracker.core.protocol import Protocol
from tracker.core.reviewed import Reviewed, reviewed
from tracker.core.timeline import Lane, Timeline
from tracker.review.record.debrief_structure import DebriefSection
from tracker.review.record.plain_values import Plain
from tracker.review.record.structure import Record

LEFT_OUT: Final = "(left out)"
_FREE: Final = ("text", "reason", "action", "why", "file", "words")
NO_NOTES: Final = "Free words are left out of this record; the journal has them."
NO_ROLES: Final = "Roles are told in general in this record; the journal has them."


# -- free words


def without_notes(review: Reviewed) -> Reviewed:
    """The case as if every free word had been `(left out)`; times, kinds and closed lists stay."""
    protocol = review.logged.protocol
    logged = fold(protocol, tuple(_wordless(protocol, event) for event in review.logged.events))
    said = fold_debrief(tuple(_wordless(protocol, event) for event in review.debrief.events))
    return reviewed(logged, said, review.bond)


def _wordless(protocol: Protocol, event: ev.Event) -> ev.Event:
    if isinstance(event, ev.Unknown):
        return ev.Unknown(**{key: getattr(event, key) for key in ev.Event.model_fields})
    said = {key: getattr(event, key, "") for key in _FREE}
    free = {key: LEFT_OUT for key, words in said.items() if words and words not in protocol.labels}
    return event.model_copy(update=free)


# -- who it was

_GENERAL: Final = {"circulating": "circulating practitioner", "operator": "operator"}
_OTHER: Final = "another role"
_FIELDS: Final[Mapping[str, tuple[str, ...]]] = {
    "staff": ("role", "label"),
    "operated": ("role", "role_label"),
    "spans": ("operator", "operators"),
    "steps": ("ticks",),
    "ticks": ("operator",),
    "amendments": ("role", "original", "became"),
    "events": ("role", "value", "detail"),
    "facts": ("asked", "now", "asked_words", "now_words"),
    "changes": ("was", "now"),
    "deviations": ("expected", "found"),
    "unknown": ("content",),
}
"""Where in each section a role may be told."""
_OF_DEBRIEF: Final[Mapping[str, tuple[str, ...]]] = {
    "attended": ("role", "label"),
    "signed": ("role", "label"),
    "to_change": ("owner", "owner_label"),
    "amendments": ("role", "original", "became"),
    "lines": ("role", "words"),
}
"""The same in the debrief."""


def roles_general(record: Record, protocol: Protocol) -> Record:
    """The record with every role told by its post alone: circulating practitioner, operator, another role."""
    general = _General(protocol)
    sections = {name: general.section(name, getattr(record, name)) for name in _FIELDS if name != "ticks"}
    said = record.debrief and _debrief(_General(protocol, everybody=True), record.debrief)
    return record.model_copy(update={**sections, "debrief": said, "timeline": _drawing(record.timeline)})


def _debrief(general: _General, said: DebriefSection) -> DebriefSection:
    told = {name: general.lines(getattr(said, name), fields) for name, fields in _OF_DEBRIEF.items()}
    return said.model_copy(update=told)


class _General:
    """Roles of a protocol and the posts they are told by.

    At a debrief everybody may sit, in theatre only two posts are told of; elsewhere words like those of a
    third role mean something else.
    """

    def __init__(self, protocol: Protocol, *, everybody: bool = False) -> None:
        self.posts = {r.id: _GENERAL.get(r.post, _OTHER) for r in protocol.roles}
        self.naming = {f.id for f in protocol.facts if {c.id for c in f.choices} & self.posts.keys()}
        told = [r for r in protocol.roles if everybody or r.post in _GENERAL]
        words = {name: self.posts[r.id] for r in told for name in (r.label, r.id)}
        words |= {c.label: _GENERAL["operator"] for f in self.naming for c in protocol.fact[f].choices}
        self.words = {name.casefold(): post for name, post in words.items()}
        names = "|".join(map(re.escape, sorted(self.words, key=len, reverse=True)))
        self.named = re.compile(rf"(?<!\w)(?:{names})(?!\w)" if names else "(?!)", re.IGNORECASE)

    def section(self, name: str, lines: tuple[Plain, ...]) -> tuple[Plain, ...]:
        """A section with its roles in general."""
        return tuple(self._line(name, line) for line in lines)

    def _line(self, section: str, line: Plain) -> Plain:
        about = next((getattr(line, key) for key in ("fact", "what", "about") if hasattr(line, key)), None)
        if section in ("facts", "changes", "deviations") and about not in self.naming:
            return line
        return self._told(line, _FIELDS[section])

    def lines(self, lines: tuple[Plain, ...], fields: tuple[str, ...]) -> tuple[Plain, ...]:
        """Lines with the roles in these fields in general."""
        return tuple(self._told(line, fields) for line in lines)

    def _told(self, line: Plain, fields: tuple[str, ...]) -> Plain:
        return line.model_copy(update={name: self._value(name, getattr(line, name)) for name in fields})

    def _value(self, field: str, value: Any) -> Any:
        if field == "ticks":
            return self.section("ticks", value)
        if field == "content":
            return LEFT_OUT
        if field == "operators":
            return tuple(dict.fromkeys(map(self._in_general, value)))
        if field in ("role", "operator", "owner") and value:
            return self.posts.get(value, _OTHER)
        return self._in_general(value) if isinstance(value, str) else value

    def _in_general(self, text: str) -> str:
        return self.named.sub(lambda found: self.words[found[0].casefold()], text)


def _drawing(timeline: Timeline) -> Timeline:
    """The drawing with one lane for whoever operated."""
    held = [lane for lane in timeline.lanes if lane.kind == "operator"]
    bars = tuple(
        replace(bar, ident="operator", label="Operator")
        for bar in sorted((b for lane in held for b in lane.bars), key=lambda b: b.start_t)
    )
    one = [Lane("operator", "operator", "Operator", bars, seconds=sum(lane.seconds or 0 for lane in held))]
    others = [lane for lane in timeline.lanes if lane.kind != "operator"]
    return replace(timeline, lanes=(*others, *(one if held else ())))
