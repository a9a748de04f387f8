"""A protocol file from text to values and back: what is the matter with it is findings, nothing raises."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from typing import Final

from msgspec import Struct
from pydantic import ValidationError

from tracker.core.findings import Finding
from tracker.core.loading.check_letters import LETTER_CHECKS
from tracker.core.loading.checks import CHECKS, KEPT_CHECKS, remarks
from tracker.core.loading.lines import key_lines, line_of
from tracker.core.loading.mismatch import Said, problems_of, sayings
from tracker.core.loading.places import Places, Raw, lost, repair, repaired, spoken
from tracker.core.loading.sentences import quoted, toml_sentence
from tracker.core.loading.walk import Rule
from tracker.core.protocol import FORMAT, Protocol
from tracker.core.text import shown

LIMIT: Final = 1024 * 1024
"""The most text, in bytes or characters, that is taken for a protocol file."""

_LONG: Final = 4300
_NUMBER: Final = re.compile(r"[0-9][0-9_]*+")
_MOST: Final = 20_000
_KEY_PARTS: Final = 32
_PIECE: Final = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DOTTED: Final = re.compile(rf"{_PIECE}(?:[ \t]*+\.[ \t]*+{_PIECE})*+")


class Loaded(Struct, frozen=True, gc=False):
    """What came of a file: the protocol, or at least one finding, never both."""

    protocol: Protocol | None
    findings: tuple[Finding, ...]


def _line_at(text: str, position: int) -> int:
    return text.count("\n", 0, position) + 1


def _refusals(text: str) -> Iterator[Said]:
    """What is the matter with a text that is best not even parsed."""
    if len(text) > LIMIT:
        yield 0, "", "holds more than 1 MiB of text", "Check that this is a protocol file"
        return
    if odd := re.search("[\ud800-\udfff]", text):
        yield _line_at(text, odd.start()), "", "holds half a character", "Save the file as UTF-8 text"
    # the TOML reader's time grows with the square of the parts of one dotted key
    if long := next((m for m in _DOTTED.finditer(text) if m[0].count(".") > _KEY_PARTS), None):
        yield _line_at(text, long.start()), "", "holds a key of very many parts", "Write keys of one part"


def toml_table(text: str) -> tuple[Raw, tuple[Said, ...]]:
    """The table that a text of TOML holds, or what is the matter with it, never both.

    Raises:
        RecursionError: it nests too deeply.
    """
    if refused := tuple(_refusals(text)):
        return {}, refused
    try:
        return tomllib.loads(text), ()
    except ValueError as reason:
        line, what, mend = toml_sentence(str(reason))
        return {}, ((line or _last_line(text), "", what, mend),)


def _last_line(text: str) -> int:
    """The line of the last thing in the text, or of its longest number where there is one too long."""
    digits = next((m for m in _NUMBER.finditer(text) if len(m[0]) > _LONG), None)
    return _line_at(text, digits.start() if digits else len(text.rstrip()))


def _validated(raw: Raw) -> Protocol | ValidationError:
    try:
        return Protocol.model_validate(raw)
    except ValidationError as reason:
        return reason


def _checked(text: str, raw: Raw, rules: tuple[Rule, ...]) -> tuple[Protocol | None, tuple[Said, ...]]:
    made = _validated(raw)
    reason = made if isinstance(made, ValidationError) else None
    if reason and reason.error_count() > _MOST:
        what = f"differs from the format in more than {_MOST} places"
        return None, ((0, "", what, "Check that this is a protocol file"),)
    problems = problems_of(raw, reason) if reason else ()
    repairs = dict(repair(raw, p.path, p.kind) for p in problems)
    whole = _validated(repaired(raw, repairs)) if reason else made
    gone = lost(raw, repairs)
    found = (
        [r for r in remarks(whole, rules) if gone.isdisjoint(r.hinges)] if isinstance(whole, Protocol) else []
    )
    if isinstance(made, Protocol) and not found:
        return made, ()
    lines, places = key_lines(text), Places(raw, repairs)
    at = [places.find(remark.path) for remark in found]
    checked = ((line_of(lines, p), spoken(raw, p), r.what, r.mend) for p, r in zip(at, found, strict=True))
    return None, (*sayings(Protocol, raw, problems, lines), *checked)


def _newer(raw: Raw) -> bool:
    made_for = raw.get("format")
    return isinstance(made_for, int) and made_for > FORMAT


def _load(text: str, rules: tuple[Rule, ...]) -> tuple[Protocol | None, tuple[Said, ...]]:
    raw, said = toml_table(text)
    if said:
        return None, said
    if _newer(raw):
        what = f"is made for a newer Clockhour: format {quoted(raw['format'])}; this one reads up to {FORMAT}"
        return None, ((line_of(key_lines(text), ("format",)), "format", what, "Update the program"),)
    return _checked(text, raw, rules)


def load_protocol(text: str, source: str, *, kept: bool = False) -> Loaded:
    """The protocol that a file's text holds, or everything that is the matter with it.

    `kept` is for the text that a journal holds: rules about keys do not apply to a case already logged.

    `source` is the file's name for the findings, which stand in the order of their lines. Raises nothing,
    whatever the text. Text over `LIMIT` is refused unread.
    """
    try:
        protocol, said = _load(text, KEPT_CHECKS if kept else CHECKS)
    except RecursionError:
        protocol, said = None, ((0, "", "nests brackets too deeply", "Write it flatter"),)
    return Loaded(protocol, _findings(said, source))


def letter_remarks(text: str, source: str) -> tuple[Finding, ...]:
    """What is to be said of the letters of a sound file: it can be used as it is."""
    return _findings(_load(text, LETTER_CHECKS)[1], source)


def _findings(said: Iterable[Said], source: str) -> tuple[Finding, ...]:
    return tuple(sorted({Finding(shown(source), *each) for each in said}))
