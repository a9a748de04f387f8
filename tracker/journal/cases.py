"""From the lines of journals to what they tell; the protocol comes from line 1, never from a file that changed."""

from __future__ import annotations

from hashlib import sha256

from tracker.core.beside import begun_on
from tracker.core.case import Case
from tracker.core.debrief import NO_DEBRIEF, bond, fold_debrief
from tracker.core.events import Opened
from tracker.core.fold import fold
from tracker.core.follow_up import NO_FOLLOW_UP, FollowUp, fold_follow_up
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.core.reviewed import Reviewed, reviewed
from tracker.journal.lines import Read
from tracker.journal.trouble import Damaged, Trouble


class NotReadable(Trouble):
    """A journal is sound, and its first line is not what it must be: no protocol to be read, or another case."""


def protocol_within(first: Opened) -> Protocol:
    """The protocol that the first line of a case holds.

    Raises:
        NotReadable: its text is not what its digest says, or this program cannot read it.
    """
    if sha256(first.protocol.encode()).hexdigest() != first.digest:
        raise NotReadable(f"The protocol text in case {first.code} is not what its digest says.")
    loaded = load_protocol(first.protocol, f"{first.code}, line 1", kept=True)
    if loaded.protocol is None:
        raise NotReadable(" ".join(str(f) for f in loaded.findings))
    return loaded.protocol


def case_of(read: Read, code: str | None = None) -> Case:
    """The case that a journal tells; `code` is the one that its file is named for, if it has a name.

    Raises:
        Damaged: a line of it cannot be verified.
        NotReadable: it has no first line, one of another case, or one whose protocol cannot be read.
    """
    if read.broken is not None:
        raise Damaged(read.broken)
    first = read.events[0] if read.events else None
    if not isinstance(first, Opened):
        raise NotReadable("The case has no first line: nothing was entered in it.")
    if code is not None and first.code != code:
        raise NotReadable(f"The file of case {code} holds another case.")
    return fold(protocol_within(first), read.events)


def reviewed_of(log: Read, debrief: Read | None, code: str | None = None) -> Reviewed:
    """The case that a log and its debrief tell; without a debrief, what the log tells. `code` as above.

    Raises:
        Damaged: a line of either cannot be verified.
        NotReadable: as of the log alone.
    """
    logged = case_of(log, code)
    if debrief is None or (not debrief.events and debrief.broken is None):
        return reviewed(logged, NO_DEBRIEF, "as debriefed")
    if debrief.broken is not None:
        raise Damaged(debrief.broken)
    said = fold_debrief(debrief.events)
    if said.opened is None or said.opened.code != logged.code:
        return reviewed(logged, said, "another log")
    return reviewed(logged, said, bond(said.opened, log.hashes))


def follow_up_of(log: Read, read: Read | None, code: str) -> FollowUp:
    """What the follow-up of a case tells; nothing without one.

    Raises:
        Damaged: a line of it cannot be verified.
        NotReadable: it is not the follow-up of this log.
    """
    if read is None or (not read.events and read.broken is None):
        return NO_FOLLOW_UP
    if read.broken is not None:
        raise Damaged(read.broken)
    told = fold_follow_up(read.events)
    if told.opened is None or told.opened.code != code or not begun_on(told.opened, log.hashes):
        raise NotReadable(f"The follow-up of case {code} was begun on another log than this one.")
    return told
