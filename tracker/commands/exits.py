"""Exit codes: one table, which the guide prints."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from tracker.journal.cases import NotReadable
from tracker.journal.shelf import ProtocolUnreadable
from tracker.journal.trouble import Damaged, InUse, NotKept, OutOfReach, Trouble

DONE: Final = 0
FINDINGS: Final = 1
USAGE: Final = 2
DAMAGED: Final = 3
IN_USE: Final = 4
NOT_KEPT: Final = 5
WENT_WRONG: Final = 6
HUNG_UP: Final = 7
ENDED: Final = 8

EXIT_CODES: Final[Mapping[int, str]] = {
    DONE: "done",
    FINDINGS: "findings: the file was read, and something in it is to be mended",
    USAGE: "usage: the command's words, or a name that is not there",
    DAMAGED: "damaged or unreadable input",
    IN_USE: "the case is in use: another Clockhour writes it",
    NOT_KEPT: "the disk is out of reach, or did not take everything",
    WENT_WRONG: "Clockhour itself went wrong; what was entered before is on disk",
    HUNG_UP: "the terminal was closed; what was entered is on disk",
    ENDED: "the system asked the program to end (SIGTERM); what was entered is on disk",
}

_KINDS: Final[Mapping[type[Trouble], int]] = {
    InUse: IN_USE,
    Damaged: DAMAGED,
    NotReadable: DAMAGED,
    ProtocolUnreadable: DAMAGED,
    NotKept: NOT_KEPT,
    OutOfReach: NOT_KEPT,
    Trouble: USAGE,
}


def exit_code(refusal: Trouble) -> int:
    """The exit code of something that stands in the way."""
    return next(code for kind, code in _KINDS.items() if isinstance(refusal, kind))
