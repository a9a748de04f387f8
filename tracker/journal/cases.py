"""From the lines of a journal to a case: the protocol comes from line 1, never from a file that may have changed."""

from __future__ import annotations

from hashlib import sha256

from tracker.core.case import Case
from tracker.core.events import Opened
from tracker.core.fold import fold
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.journal.lines import Read
from tracker.journal.trouble import Damaged, Trouble


class NotReadable(Trouble):
    """The first line of a case does not tell its protocol."""


def protocol_within(first: Opened) -> Protocol:
    """The protocol that the first line of a case holds.

    Raises:
        NotReadable: its text is not what its digest says, or this program cannot read it.
    """
    if sha256(first.protocol.encode()).hexdigest() != first.digest:
        raise NotReadable(f"The protocol text in case {first.code} is not what its digest says.")
    loaded = load_protocol(first.protocol, f"{first.code}, line 1")
    if loaded.protocol is None:
        raise NotReadable(" ".join(str(f) for f in loaded.findings))
    return loaded.protocol


def case_of(read: Read) -> Case:
    """The case that a journal tells.

    Raises:
        Damaged: a line of it cannot be verified.
        NotReadable: it has no first line, or one whose protocol cannot be read.
    """
    if read.broken is not None:
        raise Damaged(read.broken)
    first = read.events[0] if read.events else None
    if not isinstance(first, Opened):
        raise NotReadable("The case has no first line: nothing was entered in it.")
    return fold(protocol_within(first), read.events)
