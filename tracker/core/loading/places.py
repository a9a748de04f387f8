"""Places in a file as read: from the model's paths to a person's and back, and what to leave out.

The cross-checks want a whole protocol. Where parts of the file are amiss, those parts are left out or
given a stand-in, so that the rest can be checked in the same go.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import Any, Final

from tracker.core.loading.lines import Path
from tracker.core.loading.sentences import bare
from tracker.core.protocol import FORMAT

Raw = dict[str, Any]
"""A file as the TOML reader gives it."""

LEFT_OUT: Final = object()
"""The repair of a part that is left out."""

_STAND_INS: Final[Mapping[str, Any]] = {
    "format": FORMAT,
    "id": "unnamed",
    "version": "0",
    "title": "?",
    "stages": [],
}
_TEXTS: Final = frozenset({"label", "reason", "source", "remark", "unit", "open_word", "closed_word"})
_LIMITS: Final = frozenset({"plausible", "usual", "caution_below", "caution_above", "caution_total_above"})
_ALONE: Final = _LIMITS | {
    "key",
    "minutes",
    "min_s",
    "amber_s",
    "red_s",
    "repeats",
    "starts_case",
    "ends_case",
}
_KEYED: Final = frozenset({"choices", "reasons"})


def _child(node: object, part: object) -> tuple[bool, Any]:
    if isinstance(node, dict) and part in node:
        return True, node[part]
    if isinstance(node, list) and isinstance(part, int) and part < len(node):
        return True, node[part]
    return False, None


def value_at(raw: Raw, path: Path) -> Any:
    """What stands at `path`; None where nothing does."""
    node: Any = raw
    for part in path:
        _, node = _child(node, part)
    return node


def standing(raw: Raw, path: Path) -> Path:
    """As much of `path` as there is in the file."""
    node: Any = raw
    for n, part in enumerate(path):
        there, node = _child(node, part)
        if not there:
            return path[:n]
    return path


def _name(item: object, index: int) -> str:
    ident = item.get("id") if isinstance(item, dict) else None
    return bare(ident) if isinstance(ident, str) and ident else str(index + 1)


def spoken(raw: Raw, path: Path) -> str:
    """`path` as a person reads it: items by their ids, or by their number from 1."""
    words, node = [], raw
    for part in path:
        _, node = _child(node, part)
        words.append(bare(part) if isinstance(part, str) else _name(node, part))
    return ".".join(words)


def _dispensable(raw: Raw, path: Path) -> bool:
    """Whether an item is sound without this key, and no other check asks after the key."""
    must = path[-1] == "key" and not _KEYED.isdisjoint(path[-3:-2])
    return path[-1] in _ALONE and not must and value_at(raw, path) is not None


def repair(raw: Raw, path: Path, kind: str) -> tuple[Path, Any]:
    """What to put where so that the rest stands: a stand-in, or `LEFT_OUT` for a key or a whole item.

    `kind` is the model's word for what is amiss at `path`.
    """
    if kind == "extra_forbidden":
        return path, LEFT_OUT
    if len(path) == 1:
        return path, _STAND_INS.get(str(path[0]), LEFT_OUT)
    if path[-1] in _TEXTS:
        return path, "?"
    key = path[:-1] if isinstance(path[-1], int) and kind != "model_type" else path
    if _dispensable(raw, key):
        return key, LEFT_OUT
    for n in range(len(path), 0, -1):
        whole = isinstance(value_at(raw, path[:n]), dict) or (n == len(path) and kind == "model_type")
        if isinstance(path[n - 1], int) and whole:
            return path[:n], LEFT_OUT
    return path, LEFT_OUT


def repaired(raw: Raw, repairs: Mapping[Path, Any]) -> Raw:
    """A copy of the file with the repairs made; the later items of a list first, so that indexes hold."""
    copy = deepcopy(raw)
    for path in sorted(repairs, reverse=True):
        parent = value_at(copy, path[:-1])
        if repairs[path] is not LEFT_OUT:
            parent[path[-1]] = repairs[path]
        else:
            del parent[path[-1]]
    return copy


def _names(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (value[key] for key in ("id", "group") if isinstance(value.get(key), str))
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    for item in inner:
        yield from _names(item)


def lost(raw: Raw, repairs: Mapping[Path, Any]) -> frozenset[str]:
    """What the repairs took away: ids, groups, spoken paths, and `list.*` for a list that lost an item."""
    found: set[str] = set()
    for path, put in repairs.items():
        if put is LEFT_OUT or len(path) == 1:
            found |= {spoken(raw, path), f"{spoken(raw, path[:-1])}.*", *_names(value_at(raw, path))}
    return frozenset(found)


class Places:
    """Finds spoken paths again in the file as it stood before the repairs."""

    def __init__(self, raw: Raw, repairs: Mapping[Path, Any]) -> None:
        """`repairs` are those made before the paths were spoken; numbers count what they left."""
        self._raw = raw
        self._gone = {path for path, put in repairs.items() if put is LEFT_OUT}
        self._known: dict[Path, dict[str, int]] = {}

    def _index(self, at: Path, items: list[Any]) -> dict[str, int]:
        if at not in self._known:
            kept = [n for n in range(len(items)) if (*at, n) not in self._gone]
            names = {str(count): n for count, n in enumerate(kept, 1)}
            self._known[at] = names | {_name(items[n], n): n for n in kept if isinstance(items[n], dict)}
        return self._known[at]

    def find(self, path: str) -> Path:
        """The place of a spoken path, of several items of one id the last; keys not there stay at the end."""
        at: Path = ()
        node: Any = self._raw
        for word in path.split("."):
            part = self._index(at, node).get(word, word) if isinstance(node, list) else word
            at, (_, node) = (*at, part), _child(node, part)
        return at
