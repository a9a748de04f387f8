"""On which line of a TOML file each key and each list item stands.

The standard reader keeps no lines, so this walks over the text once more, taking only keys and brackets
from it. It expects text that the standard reader has accepted.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Final

Path = tuple[str | int, ...]
"""A place in the file: keys, and list indexes from 0."""

_TOKEN: Final = re.compile(
    r"""(?P<text>\"{3}(?:[^\\]|\\.)*?\"{3,5}|'{3}.*?'{3,5}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')
      |(?P<skip>\#[^\n]*|[ \t\r]+)
      |(?P<mark>[\[\]{}=.,\n])
      |(?P<word>[^\s\[\]{}=.,"'#]+)""",
    re.VERBOSE | re.DOTALL,
)
_END: Final = ""


def _spelt(piece: str) -> str:
    """The key that a piece of text spells."""
    if piece[0] not in "\"'":
        return piece
    return next(iter(tomllib.loads(f"{piece}=0"))) if "\\" in piece else piece[1:-1]


class _Scan:
    """One walk over a text; `lines` fills on the way."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Path, int] = {(): 1}
        self._items: dict[Path, int] = {}
        self._line = 1
        self._pieces = self._read(text)
        base: Path = ()
        while (piece := self._next()) != _END:
            if piece == "[":
                base = self._header()
            elif piece != "\n":
                self._pair(base, piece, ("\n", _END))

    def _read(self, text: str) -> Iterator[str]:
        line = 1
        for found in _TOKEN.finditer(text):
            if found.lastgroup != "skip":
                self._line = line
                yield found[0]
            line += found[0].count("\n")

    def _next(self) -> str:
        return next(self._pieces, _END)

    def _note(self, path: Path) -> Path:
        self.lines.setdefault(path, self._line)
        return path

    def _key(self, piece: str, stop: str) -> list[str]:
        parts = []
        while piece not in (stop, _END):
            if piece != ".":
                parts.append(_spelt(piece))
            piece = self._next()
        return parts

    def _header(self) -> Path:
        piece = self._next()
        many = piece == "["
        parts = self._key(self._next() if many else piece, "]")
        path: Path = ()
        for n, part in enumerate(parts, 1):
            path = self._note((*path, part))
            if many and n == len(parts):
                self._items[path] = self._items.get(path, -1) + 1
                self._next()  # the second closing bracket
            if path in self._items:
                path = self._note((*path, self._items[path]))
        return path

    def _pair(self, base: Path, piece: str, stops: tuple[str, ...]) -> str:
        path = base
        for part in self._key(piece, "="):
            path = self._note((*path, part))
        self._value(path, self._next())
        while (piece := self._next()) not in stops:
            pass
        return piece

    def _value(self, path: Path, piece: str) -> None:
        if piece == "[":
            self._list(path)
        elif piece == "{":
            self._table(path)

    def _list(self, path: Path) -> None:
        count, fresh = 0, True
        while (piece := self._next()) not in ("]", _END):
            if piece == ",":
                fresh = True
            elif fresh and piece != "\n":
                self._value(self._note((*path, count)), piece)
                count, fresh = count + 1, False

    def _table(self, path: Path) -> None:
        piece = self._next()
        while piece not in ("}", _END):
            fresh = piece not in (",", "\n")
            piece = self._pair(path, piece, (",", "}", _END)) if fresh else self._next()


def key_lines(text: str) -> Mapping[Path, int]:
    """The line, from 1, of every key and list item of a TOML text, the whole file being `()`.

    A table's line is that of its header.
    """
    return _Scan(text.replace("\r\n", "\n")).lines


def line_of(lines: Mapping[Path, int], path: Path) -> int:
    """The line of `path`, or of the nearest thing round it that has one."""
    return next(lines[path[:n]] for n in range(len(path), -1, -1) if path[:n] in lines)
