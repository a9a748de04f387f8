"""What is said to the person about what they gave: values with a sentence, never an exception."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Remark:
    """A sentence for the screen; `code` is a stable word, `about` the file or piece it speaks of."""

    code: str
    about: str
    text: str


def some(n: int, one: str) -> str:
    """A number with its noun: `1 bookmark`, `3 bookmarks`."""
    return f"{n} {one if n == 1 else one + 's'}"
