"""A protocol file from text to values and back: what is the matter with it is findings, nothing raises."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any, Final, get_args

from msgspec import Struct
from pydantic import ValidationError

from tracker.core.findings import Finding
from tracker.core.loading.check_letters import LETTER_CHECKS
from tracker.core.loading.checks import CHECKS, KEPT_CHECKS, remarks
from tracker.core.loading.lines import Path, key_lines, line_of
from tracker.core.loading.places import Places, Raw, lost, repair, repaired, spoken, standing, value_at
from tracker.core.loading.sentences import model_sentence, quoted, toml_sentence, unknown_key
from tracker.core.loading.walk import Rule
from tracker.core.protocol import FORMAT, Part, Protocol
from tracker.core.text import shown

LIMIT: Final = 1024 * 1024
"""The most text, in bytes or characters, that is taken for a protocol file."""

_LONG: Final = 4300
_NUMBER: Final = re.compile(r"[0-9][0-9_]*+")
_GUESSES: Final = 50
_MOST: Final = 20_000
_KEY_PARTS: Final = 32
_PIECE: Final = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DOTTED: Final = re.compile(rf"{_PIECE}(?:[ \t]*+\.[ \t]*+{_PIECE})*+")


class Loaded(Struct, frozen=True, gc=False):
    """What came of a file: the protocol, or at least one finding, never both."""

    protocol: Protocol | None
    findings: tuple[Finding, ...]


class _Problem(Struct, frozen=True, gc=False):
    """A mismatch with the model, at a place in the file."""

    path: Path
    kind: str
    context: Mapping[str, Any]


Said = tuple[int, str, str, str]
"""Line, spoken path, what, mend."""


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


def _problems(raw: Raw, reason: ValidationError) -> tuple[_Problem, ...]:
    errors = reason.errors(include_url=False, include_input=False)
    located = sorted((_located(raw, error) for error in errors), key=lambda p: _order(p.path))
    return tuple(_one(list(same)) for _, same in groupby(located, key=lambda p: p.path))


def _order(path: Path) -> tuple[tuple[int, str], ...]:
    return tuple((part, "") if isinstance(part, int) else (-1, part) for part in path)


def _located(raw: Raw, error: Mapping[str, Any]) -> _Problem:
    loc: Path = error["loc"]
    path, kind = standing(raw, loc), error["type"]
    if kind == "missing" and isinstance(loc[-1], str):
        path = loc
    if kind == "too_long" or (kind == "missing" and isinstance(loc[-1], int)):
        kind = "range"
    if loc[-1] == "[key]" and loc != path:
        kind = "name"
    return _Problem(path, kind, error.get("ctx", {}))


def _one(same: list[_Problem]) -> _Problem:
    """One problem for one place: a value of several possible kinds brings one of each."""
    telling = [p for p in same if p.kind not in ("bool_type", "float_type", "string_type")]
    return (telling or same)[0] if telling or len(same) == 1 else _Problem(same[0].path, "value", {})


def _part_within(annotation: Any) -> type[Part] | None:
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    return next(filter(None, map(_part_within, get_args(annotation))), None)


def _keys_at(path: Path) -> list[str]:
    model: type[Part] = Protocol
    for key in path:
        if isinstance(key, str):
            model = _part_within(model.model_fields[key].annotation) or model
    return list(model.model_fields)


def _sayings(raw: Raw, problems: Iterable[_Problem], lines: Mapping[Path, int]) -> Iterator[Said]:
    for n, problem in enumerate(problems):
        path, key = problem.path, str(problem.path[-1])
        if problem.kind == "extra_forbidden":
            elsewhere = list(Protocol.model_fields) if len(path) > 1 else []
            what, mend = unknown_key(key, _keys_at(path[:-1]), elsewhere, n < _GUESSES)
        else:
            what, mend = model_sentence(problem.kind, key, value_at(raw, path), problem.context)
        at = path[:-1] if problem.kind == "missing" else path
        yield line_of(lines, at), spoken(raw, at), what, mend


def _checked(text: str, raw: Raw, rules: tuple[Rule, ...]) -> tuple[Protocol | None, tuple[Said, ...]]:
    made = _validated(raw)
    reason = made if isinstance(made, ValidationError) else None
    if reason and reason.error_count() > _MOST:
        what = f"differs from the format in more than {_MOST} places"
        return None, ((0, "", what, "Check that this is a protocol file"),)
    problems = _problems(raw, reason) if reason else ()
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
    return None, (*_sayings(raw, problems, lines), *checked)


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
