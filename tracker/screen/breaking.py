"""Where a text may be broken into lines: between words, but not between a figure and what it counts."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

_FIGURE: Final = re.compile(r"[(+\-]?\d[\d.,]*")
_COUNTED: Final = re.compile(r"[^\W\d]|[%°µ]")


@lru_cache(maxsize=1024)
def units(text: str) -> tuple[str, ...]:
    """The words of `text`, a figure and the word behind it as one: `45 mmHg`, `2 min`."""
    found: list[str] = []
    figure = False
    for word in text.split():
        if figure and _COUNTED.match(word):
            found[-1] += f" {word}"
            figure = False
        else:
            found.append(word)
            figure = _FIGURE.fullmatch(word) is not None
    return tuple(found)
