"""What may stand in the way of a record, each as a sentence that a screen can show as it is."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from tracker.core.findings import Finding

_WHY: Final = {
    "ENOSPC": "the disk is full",
    "EDQUOT": "the disk space allowed here is used up",
    "EROFS": "the disk is read-only",
    "EACCES": "the folder may not be written",
    "EPERM": "the folder may not be written",
    "EIO": "the disk does not answer",
    "ESTALE": "the disk does not answer",
    "ETIMEDOUT": "the disk does not answer",
    "ENOENT": "the file or its folder is gone",
    "ENOTDIR": "the folder is not a folder",
    "EISDIR": "it is not a plain file",
    "EEXIST": "there is already a file of that name",
    "ELOOP": "it is a link, and links are not followed",
    "EFBIG": "the file is larger than any case",
    "EBUSY": "the file is being changed by someone else",
    "ENOLCK": "this folder cannot be locked; use one on this machine's own disk",
}


class Trouble(Exception):  # noqa: N818 - a fact about the outside world
    """Something outside the program stands in the way; the text is a sentence for the screen."""


class BadCode(Trouble):
    """The text cannot be a case code."""


class NoSuchCase(Trouble):
    """There is no journal of that code."""


class Taken(Trouble):
    """There is already a case of that code."""


class InUse(Trouble):
    """Another program writes that journal."""


class OutOfReach(Trouble):
    """The disk refused."""


class NotKept(Trouble):
    """An entry did not reach the disk; it counts as not made, and may be tried again."""


class Disturbed(NotKept):
    """The file was changed by someone else, so nothing may be appended to it."""


class Damaged(Trouble):
    """A line cannot be verified; `finding` names it."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(str(finding))
        self.finding = finding


@contextmanager
def plainly(kind: type[Trouble], what: str) -> Iterator[None]:
    """Turn an OSError inside into `kind`, with the sentence "`what`: why."."""
    try:
        yield
    except OSError as refusal:
        name = errno.errorcode.get(refusal.errno or 0, "no reason given")
        raise kind(f"{what}: {_WHY.get(name, f'the disk refused ({name})')}.") from refusal
