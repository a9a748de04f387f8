"""Findings in plain English: what the TOML reader and the model say, put into words for a person."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, time
from difflib import get_close_matches
from typing import Any, Final

from tracker.core.text import shown

_CUT: Final = 60
_HARMLESS: Final = str.maketrans("[]<>", "()()")
_BIG: Final = 10**15

PATTERNS: Final[Mapping[str, str]] = {
    r"^[a-z][a-z0-9_]{0,39}$": "an id: a small letter, then small letters, digits or _, 40 at most",
    r"^[a-z][a-z0-9\-]{0,39}$": "an id: a small letter, then small letters, digits or -, 40 at most",
    r"^[A-Za-z]$": "a key: a single letter",
    r"^[a-z0-9]$": "a key: a single small letter or digit",
    r"^[0-9A-Za-z][0-9A-Za-z.\-]{0,19}$": "a version: letters, digits, dots and dashes, 20 at most",
    r"^[A-Za-z0-9]{1,12}$": "the name of a source: letters and digits, 12 at most",
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$": "a day: as 2026-12-01",
    r"^([01][0-9]|2[0-3]):[0-5][0-9]$": "a time of the day: as 08:30",
    r"^[A-Z]{1,4}-[0-9]{4,9}$": "a case code: 1 to 4 capital letters, a hyphen, 4 to 9 digits, as A-0001",
}
"""The patterns of the models, in words."""

_WANTED: Final[Mapping[str, str]] = {
    "model_type": "a table",
    "dict_type": "a table",
    "tuple_type": "a list",
    "string_type": "text in quotes",
    "float_type": "a number",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "finite_number": "a number that is not nan or inf",
}
"""What each kind of mismatch wanted."""

_TOML: Final[tuple[tuple[str, str, str], ...]] = (
    ("Cannot overwrite a value", "a key stands here that already has a value", "Keep one of the two"),
    ("Duplicate inline table key", "a key stands here that already has a value", "Keep one of the two"),
    ("Cannot declare|Cannot redefine", "a table of this name stands earlier", "Keep one of the two"),
    ("Cannot mutate", "adds to a table or list that was closed earlier", "Write all of it in one place"),
    ("Expected '=' after", "a key stands here without = and a value", "Write key = value"),
    ("Expected newline", "something follows the value on the same line", "Begin a new line after the value"),
    (r"Expected '\]", "the name of a table is not closed", "Close it with square brackets as it was opened"),
    ("Expected \"?'", "a text is not closed", "Close it with the quotes that opened it"),
    ("Unterminated string", "a text is not closed", "Close it with the quotes that opened it"),
    ("Unclosed array", "a list is not closed, or lacks a comma", "Close it with a square bracket"),
    ("Unclosed inline table", "a table in curly brackets is not closed, or lacks a comma", "Close it with }"),
    ("Illegal character|Found invalid", "a character stands here that TOML does not allow", "Take it out"),
    ("Unescaped", r"a \ stands in the text that means nothing", r"Write \\ for a single \, or take it out"),
    ("Invalid hex|Escaped character", "an escape in the text stands for no character", "Take it out"),
    ("Invalid initial", "a key begins with a character that TOML does not allow", "Begin it with a letter"),
    ("Invalid statement", "this line is neither a key nor a table", "Begin it with a key, a table or #"),
    ("Invalid date", "this date or time does not exist", "Put it in quotes, or mend it"),
    (r"Invalid value \(at end", "the file ends in the middle of a value", "Close every bracket and quote"),
    ("Invalid value", "the value cannot be read", "Put text in quotes; write numbers, true or false without"),
    ("Exceeds the limit", "a number has thousands of digits", "Write a shorter number"),
)
"""How the reader's messages begin, with what and how to mend it."""

_PLACE: Final = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")


def figure(number: float) -> str:
    """A number as a person writes it: no needless decimals."""
    return f"{number:.10g}"


def quoted(value: object) -> str:
    """A value from a file for a message: harmless to any screen and at most 60 characters."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) or (isinstance(value, int) and abs(value) < _BIG):
        return figure(value)
    if isinstance(value, int):
        return "a very large number"
    if isinstance(value, str):
        flat = shown(value[: _CUT + 1]).translate(_HARMLESS)
        return f"“{flat if len(flat) <= _CUT else flat[: _CUT - 1] + '…'}”"
    if isinstance(value, date | time):
        return "a date or a time"
    return "a list" if isinstance(value, list) else "a table"


def bare(word: str) -> str:
    """A key or an id from a file as part of a key path, as harmless and short as `quoted` makes it."""
    return quoted(word)[1:-1]


def toml_sentence(message: str) -> tuple[int, str, str]:
    """The TOML reader's message as (line, what, mend); line 0 stands for the end of the file."""
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else 0
    for start, what, mend in _TOML:
        if re.match(start, message):
            return line, what, mend
    return line, "this cannot be read as TOML", "Compare it with another protocol file"


def _size(value: object, limits: Mapping[str, Any]) -> tuple[str, str]:
    name, limit = next(iter(limits.items()))
    words = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}
    wanted = f"{words[name]} {figure(limit)}"
    return f"wants {wanted}, and has {quoted(value)}", f"Write a number that is {wanted}"


def unknown_key(key: str, known: Sequence[str], elsewhere: Sequence[str], guess: bool) -> tuple[str, str]:
    """What to say of a key that the format does not know at its place, with the nearest it does know."""
    near = get_close_matches(key, known, n=1) if guess else []
    if key in elsewhere:
        return "this key belongs at the top of the file", "Move it there, above the first table"
    if near:
        return "this key is not known here", f"Write {near[0]}, or take it out"
    return "this key is not known here", f"Take it out; known here are {', '.join(known)}"


def model_sentence(kind: str, key: str, value: object, context: Mapping[str, Any]) -> tuple[str, str]:
    """A mismatch between the file and the model as (what, mend).

    `kind` and `context` are those of the model, and beside them `range` (not two numbers), `value` (no
    kind of value that a fact may have) and `name` (of the key, not of its value); `key` and `value` are
    what stands in the file.
    """
    if kind == "range":
        return "wants two numbers, low and high", "Write two numbers in square brackets, the low one first"
    if kind == "value":
        wanted = "true or false, a number, or text in quotes"
        return f"wants {wanted}, and has {quoted(value)}", f"Write {wanted}"
    if kind == "missing":
        return f"has no {key}", f"Add {key}"
    if kind == "value_error":
        what, _, mend = str(context["error"]).partition("; ")
        return what, mend.capitalize() or "Take that out"
    if kind == "literal_error":
        words = context["expected"].replace("'", "")
        return f"is {quoted(value)}, not one of {words}", f"Write {words}, in quotes"
    if kind in ("string_pattern_mismatch", "name"):
        wanted = PATTERNS.get(context["pattern"], "of the form the format asks for")
        odd = quoted(key if kind == "name" else value)
        return f"{odd} is not {wanted.split(':')[0]}", f"Write {wanted}"
    if kind == "string_too_short":
        return "is empty", "Write some text"
    if kind == "string_too_long":
        return f"is longer than {context['max_length']} characters", "Shorten it"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return _size(value, context)
    wanted = _WANTED.get(kind, "something else")
    return f"wants {wanted}, and has {quoted(value)}", f"Write {wanted}"
