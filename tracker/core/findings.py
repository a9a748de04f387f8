"""What is the matter with a file: a value that says where, what and how to mend it."""

from __future__ import annotations

from msgspec import Struct


class Finding(Struct, frozen=True, order=True, gc=False):
    """One thing found in a file from outside.

    `line` counts from 1, 0 where no line is known; `path` is the key path, as `stages.ports.key`.
    """

    source: str
    line: int
    path: str
    what: str
    mend: str

    def __str__(self) -> str:
        where = f"{self.source}:{self.line}" if self.line else self.source
        at = f" {self.path}:" if self.path else ""
        return f"{where}:{at} {self.what}. {self.mend}."
