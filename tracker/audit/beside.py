"""The bytes of a journal, and the follow-up beside it: what there is of it, and why any of it is left out."""

from __future__ import annotations

import errno
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

from tracker.core.follow_up import NO_FOLLOW_UP, FollowUp
from tracker.journal.books import FOLLOW_UP, Book
from tracker.journal.cases import follow_up_of
from tracker.journal.disk import RealDisk
from tracker.journal.files import LARGEST, case_path
from tracker.journal.lines import Read, read_lines
from tracker.journal.trouble import OutOfReach, Trouble, plainly

UNFINISHED: Final = "Its last line was unfinished and is left out."
_DISK: Final = RealDisk()


def bytes_of(archive: Path, code: str, book: Book) -> bytes:
    """The bytes of a journal.

    Raises:
        OutOfReach: it cannot be read, or is larger than any case.
    """
    path = case_path(archive, code, book)
    with plainly(OutOfReach, f"{book.called(code)} cannot be read"):
        if _DISK.stamp_of(path).size > LARGEST:
            raise OSError(errno.EFBIG, "the file is larger than any case")
        return _DISK.read(path)


class Beside(NamedTuple):
    """The follow-up of a case as it lies there: digest and lines, if there is one, or why it cannot be read."""

    digest: str = ""
    read: Read | None = None
    why: str = ""

    @classmethod
    def of(cls, archive: Path, code: str) -> Beside:
        """What lies beside a case; nothing, with an empty digest, where there is no follow-up."""
        if _DISK.kind(case_path(archive, code, FOLLOW_UP)) is None:
            return cls()
        try:
            data = bytes_of(archive, code, FOLLOW_UP)
        except Trouble as trouble:
            return cls(sha256(str(trouble).encode()).hexdigest(), None, str(trouble))
        return cls(sha256(data).hexdigest(), read_lines(data, f"{code}{FOLLOW_UP.suffix}"))

    def told(self, code: str, log: Read) -> tuple[FollowUp, str]:
        """What the follow-up tells, and why some of it or all is left out."""
        try:
            told = follow_up_of(log, self.read, code)
        except Trouble as trouble:
            return NO_FOLLOW_UP, str(trouble)
        torn = self.read is not None and self.read.torn is not None
        return told, self.why or (UNFINISHED if torn else "")
