"""What every book beside a log shares: a first line that says which log it is of.

A debrief and a follow-up are journals of their own. Nothing in the log is touched by them, and one that was begun
on another log changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol


class Begun(Protocol):
    """The first line of a book: the last hash and the number of entries of the log as it then was."""

    @property
    def log_hash(self) -> str:
        """The hash of the log's last line."""

    @property
    def log_entries(self) -> int:
        """How many entries the log had."""


def begun_on(opened: Begun, hashes: Sequence[str]) -> bool:
    """Whether the log, given by the hash of each of its lines, is the one that a book was begun on.

    It may have gone on since.
    """
    entries = opened.log_entries
    return 0 < entries <= len(hashes) and hashes[entries - 1] == opened.log_hash
