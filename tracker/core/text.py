"""Text from strangers: what may be shown, and what looks like a person.

Every string that reaches a screen, a file or a page passes through here once.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

# Control, format (bidirectional overrides, zero-width), lone surrogates, private, unassigned, separators.
_UNSHOWABLE: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_MARKUP: Final = re.compile(r"\[[^\[\]]*\]|<\s*[/!?A-Za-z]")
_TITLED_NAME: Final = re.compile(
    r"\b(?:Mr|Mrs|Ms|Miss|Mx|Dr|Prof|Professor|Sir|Dame|Master|Baby)\b\.?\s+[A-Z][\w'\-]+"
)
_BIRTH_DATE: Final = re.compile(
    r"\b(?:\d{1,2}[/.\- ]\d{1,2}[/.\- ](?:19|20)?\d{2}|(?:19|20)\d{2}[/.\-]\d{1,2}[/.\-]\d{1,2}"
    r"|\d{1,2}\s+(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*\s+(?:19|20)\d{2})\b",
    re.IGNORECASE,
)
_TEN_DIGITS: Final = re.compile(r"(?<!\d)\d{3}[ \-]?\d{3}[ \-]?\d{4}(?!\d)")


def unshowable(text: str) -> tuple[str, ...]:
    """The characters in `text` that no terminal should be sent, as `U+XXXX`, each once."""
    if text.isascii() and text.isprintable():
        return ()
    return tuple(dict.fromkeys(f"U+{ord(c):04X}" for c in text if unicodedata.category(c) in _UNSHOWABLE))


def shown(text: str) -> str:
    """`text` made harmless for a terminal: what cannot be shown becomes `�`, line breaks a blank."""
    if text.isprintable():  # then it holds nothing of these categories, in whatever script
        return text
    flat = text.replace("\r\n", " ").replace("\n", " ").replace("\t", " ")
    return "".join("\ufffd" if unicodedata.category(c) in _UNSHOWABLE else c for c in flat)


def looks_like_markup(text: str) -> bool:
    """Whether `text` holds square-bracket or angle-bracket markup that a renderer might obey."""
    return _MARKUP.search(text) is not None


def valid_health_number(digits: str) -> bool:
    """Whether ten digits carry the modulus-11 check digit of an NHS number.

    The first nine digits are weighted 10 down to 2; 11 minus the remainder of their sum is the tenth
    digit, 11 standing for 0 and 10 for "no such number" (NHS Data Dictionary, attribute NHS NUMBER).
    """
    if len(digits) != 10 or not (digits.isascii() and digits.isdigit()):
        return False
    total = sum(int(d) * w for d, w in zip(digits, range(10, 1, -1), strict=False))
    return (11 - total % 11) % 11 == int(digits[9])


def identifying(text: str) -> tuple[str, ...]:
    """What in `text` looks like a person, in words for the screen; empty when nothing does.

    Looks for a title with a name, a date that could be a date of birth, and a ten-digit health
    number with a valid check digit. It cannot see a bare surname: it questions, it does not prove.
    """
    found = []
    if _TITLED_NAME.search(text):
        found.append("a title with a name")
    if _BIRTH_DATE.search(text):
        found.append("a date that could be a date of birth")
    if any(valid_health_number(re.sub(r"\D", "", m)) for m in _TEN_DIGITS.findall(text)):
        found.append("a ten-digit health number")
    return tuple(found)
