"""Whether what a file holds can be taken at its word: findings of a log, of a book beside it, of a copy."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from typing import Final

from tracker.core.beside import begun_on
from tracker.core.debrief_events import Debriefed
from tracker.core.events import Event, Opened
from tracker.core.findings import Finding
from tracker.core.follow_up_events import Followed
from tracker.journal.books import CASE, DEBRIEF, FOLLOW_UP, Book
from tracker.journal.lines import Read
from tracker.journal.trouble import Trouble

_SHA256_LINE: Final = re.compile(r"([0-9a-f]{64}) [ *]\S+\s*")
_COPY: Final = "Look for the copy that this file was made from"
_OPENS: Final[Mapping[Book, type[Debriefed | Followed]]] = {DEBRIEF: Debriefed, FOLLOW_UP: Followed}
"""How the first line of each book beside a log must begin it."""


class NotSound(Trouble):
    """A copy that is to be taken in is not what its digest or its lines say."""


def findings(code: str, read: Read) -> tuple[Finding, ...]:
    """What is the matter with a log: its first line, and its first broken or unfinished one."""
    name = f"{code}{CASE.suffix}"
    found = list(_first_line(name, code, read.events[0])) if read.events else []
    if read.broken is not None:
        found.append(read.broken)
    if read.torn is not None:
        found.append(_unfinished(name, read, read.torn))
    return tuple(found)


def _unfinished(name: str, read: Read, torn: bytes) -> Finding:
    number = len(read.events) + 1
    what = f"Line {number} is unfinished ({len(torn)} bytes)"
    return Finding(name, number, "", what, "It is set aside when the case is next opened")


def _first_line(name: str, code: str, first: Event) -> Iterator[Finding]:
    mend = _COPY
    if not isinstance(first, Opened):
        yield Finding(name, 1, "kind", "Line 1 does not open a case", mend)
        return
    if first.code != code:
        yield Finding(name, 1, "code", "Line 1 opens another case than the file is named for", mend)
    if hashlib.sha256(first.protocol.encode()).hexdigest() != first.digest:
        yield Finding(name, 1, "digest", "The protocol text in line 1 does not match its digest", mend)


def beside_findings(code: str, log: Read, read: Read | None, book: Book) -> tuple[Finding, ...]:
    """What is the matter with a book beside a log; whether it is of this log counts only while the log holds."""
    if read is None:
        return ()
    name = f"{code}{book.suffix}"
    found = list(_beside_first(name, code, log, read.events[0], book)) if read.events else []
    if read.broken is not None:
        found.append(read.broken)
    if read.torn is not None:
        found.append(_unfinished(name, read, read.torn))
    return tuple(found)


def _beside_first(name: str, code: str, log: Read, first: Event, book: Book) -> Iterator[Finding]:
    if not isinstance(first, _OPENS[book]):
        yield Finding(name, 1, "kind", f"Line 1 does not open a {book.thing}", _COPY)
    elif first.code != code:
        yield Finding(name, 1, "code", f"Line 1 opens the {book.thing} of another case", _COPY)
    elif not begun_on(first, log.hashes) and log.broken is None:
        yield Finding(name, 1, "log_hash", f"The log is not the one that the {book.thing} is of", _COPY)


def check_copy(
    code: str, data: bytes, found: tuple[Finding, ...], read: Read, seal: str, book: Book = CASE
) -> None:
    """Hold a copy against its digest, `seal` as `sha256sum` writes it, and against what its lines say.

    Raises:
        NotSound: it is not what one of the two says.
    """
    named, form = book.named(code), _SHA256_LINE.fullmatch(seal)
    if form is None:
        raise NotSound(f"The digest beside the copy of {named} is not readable; it was not taken in.")
    if form[1] != hashlib.sha256(data).hexdigest():
        raise NotSound(f"The copy of {named} does not match the digest beside it; it was not taken in.")
    if found or not read.events:
        why = f": {found[0].what}" if found else " and holds no entry"
        raise NotSound(f"The copy of {named} matches its digest but does not verify{why}.")
