"""Typeset pages: PDF/A-2b for the archive and PDF/UA-1 for every reader, in one.

Only typefaces that the typesetter carries are used, so that the same words give the same file on every
machine; a character that they lack is written as its number.
"""

from __future__ import annotations

import json
import re
import unicodedata
from typing import Any, Final

import typst

LETTERS: Final = (
    (0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0x2FF), (0x370, 0x377), (0x37A, 0x37F), (0x384, 0x3FF), (0x400, 0x482),
    (0x48A, 0x4FF), (0x5D0, 0x5EA), (0x621, 0x63A), (0x640, 0x64A), (0x660, 0x66D), (0x1E00, 0x1EFF),
    (0x2010, 0x2027), (0x2030, 0x2040), (0x2070, 0x2071), (0x2074, 0x208E), (0x20A0, 0x20C0),
    (0x2100, 0x211E), (0x2190, 0x23FF), (0x2500, 0x25FF), (0xFFFD, 0xFFFD),
)  # fmt: skip
"""Ranges, ends included, that the typesetter's own typefaces cover, bold too; a test holds it to that."""

_LONGEST: Final = 24
_LONG_WORD: Final = re.compile(rf"\S{{{_LONGEST + 1},}}")
_HASH: Final = re.compile(r"[0-9a-f]{64}\)?")


def typeset(template: bytes, data: object) -> bytes:
    """The PDF of a template that reads `data` as JSON under the name `record`."""
    made: bytes = typst.compile(
        template, format="pdf", pdf_standards=["a-2b", "ua-1"], ignore_system_fonts=True, timestamp=0,
        sys_inputs={"record": json.dumps(data)},
    )  # fmt: skip
    return made


def legible(text: str) -> str:
    """`text` in letters that the typefaces have, any other as `[U+XXXX]`, and no word too long for a line."""
    composed = unicodedata.normalize("NFC", text)
    told = "".join(c if has(c) else f"[U+{ord(c):04X}]" for c in composed)
    return _LONG_WORD.sub(_breakable, told)


def _breakable(found: re.Match[str]) -> str:
    word = found[0]
    if _HASH.fullmatch(word):  # stands in a wide column, and must be copied whole
        return word
    return "\u200b".join(word[n : n + _LONGEST] for n in range(0, len(word), _LONGEST))


def has(letter: str) -> bool:
    """Whether the typefaces have a letter."""
    return any(first <= ord(letter) <= last for first, last in LETTERS)


def has_all(text: str) -> bool:
    """Whether the typefaces have every letter of `text`."""
    return all(map(has, unicodedata.normalize("NFC", text)))


def all_legible(value: Any) -> Any:
    """The same with every text in it made legible."""
    match value:
        case str():
            return legible(value)
        case dict():
            return {key: all_legible(held) for key, held in value.items()}
        case list() | tuple():
            return [all_legible(held) for held in value]
    return value
