"""What a file holds against its model: each mismatch at its place and line, in a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any, Final, get_args

from msgspec import Struct
from pydantic import ValidationError

from tracker.core.loading.lines import Path, line_of
from tracker.core.loading.places import Raw, spoken, standing, value_at
from tracker.core.loading.sentences import model_sentence, unknown_key
from tracker.core.protocol import Part

_GUESSES: Final = 50

Said = tuple[int, str, str, str]
"""Line, spoken path, what, mend."""


class Problem(Struct, frozen=True, gc=False):
    """A mismatch with the model, at a place in the file."""

    path: Path
    kind: str
    context: Mapping[str, Any]


def problems_of(raw: Raw, reason: ValidationError) -> tuple[Problem, ...]:
    """The mismatches that the model found, one a place, in the order of the file."""
    errors = reason.errors(include_url=False, include_input=False)
    located = sorted((_located(raw, error) for error in errors), key=lambda p: _order(p.path))
    return tuple(_one(list(same)) for _, same in groupby(located, key=lambda p: p.path))


def _order(path: Path) -> tuple[tuple[int, str], ...]:
    return tuple((part, "") if isinstance(part, int) else (-1, part) for part in path)


def _located(raw: Raw, error: Mapping[str, Any]) -> Problem:
    loc: Path = error["loc"]
    path, kind = standing(raw, loc), error["type"]
    if kind == "missing" and isinstance(loc[-1], str):
        path = loc
    if kind == "too_long" or (kind == "missing" and isinstance(loc[-1], int)):
        kind = "range"
    if loc[-1] == "[key]" and loc != path:
        kind = "name"
    return Problem(path, kind, error.get("ctx", {}))


def _one(same: list[Problem]) -> Problem:
    """One problem for one place: a value of several possible kinds brings one of each."""
    telling = [p for p in same if p.kind not in ("bool_type", "float_type", "string_type")]
    return (telling or same)[0] if telling or len(same) == 1 else Problem(same[0].path, "value", {})


def _part_within(annotation: Any) -> type[Part] | None:
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    return next(filter(None, map(_part_within, get_args(annotation))), None)


def _keys_at(model: type[Part], path: Path) -> list[str]:
    for key in path:
        if isinstance(key, str):
            model = _part_within(model.model_fields[key].annotation) or model
    return list(model.model_fields)


def sayings(
    model: type[Part], raw: Raw, problems: Iterable[Problem], lines: Mapping[Path, int]
) -> Iterator[Said]:
    """Each mismatch with `model` in words, with its line."""
    for n, problem in enumerate(problems):
        path, key = problem.path, str(problem.path[-1])
        if problem.kind == "extra_forbidden":
            elsewhere = list(model.model_fields) if len(path) > 1 else []
            what, mend = unknown_key(key, _keys_at(model, path[:-1]), elsewhere, n < _GUESSES)
        else:
            what, mend = model_sentence(problem.kind, key, value_at(raw, path), problem.context)
        at = path[:-1] if problem.kind == "missing" else path
        yield line_of(lines, at), spoken(raw, at), what, mend
