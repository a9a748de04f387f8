"""Keys of one's own for the commands of a screen: a table of the settings, checked; clashes are named."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from tracker.core.findings import Finding
from tracker.screen.commands import Command, key_words

Keys = Mapping[str, tuple[str, ...]]
"""Keys by the id of their command; the first is the one that is shown."""

NAMED: Final = frozenset(
    ["space", "enter", "tab", "backspace", "insert", "delete", "home", "end", "pageup", "pagedown"]
    + ["up", "down", "left", "right"]
    + [f"f{n}" for n in range(1, 13)]
)
"""Keys that every terminal passes on, by their names."""


class Table(Struct, frozen=True):
    """A table of the settings: its name, the commands it binds, which keys they may have, and that in words."""

    name: str
    commands: tuple[Command, ...]
    may_bind: Callable[[str], bool]
    how: str


def bound(
    table: Table, raw: Any, source: str, presets: Keys | None = None
) -> tuple[tuple[Command, ...], tuple[Finding, ...]]:
    """The commands with the keys of `raw` laid over `presets`; where two share a key, those they came with."""
    wanted, said = _wanted(table, raw, source)
    keys = {**(presets or {}), **wanted}
    commands = tuple(
        replace(c, key=keys[c.id][0], also=keys[c.id][1:]) if c.id in keys else c for c in table.commands
    )
    clashes = tuple(_clashes(table, commands, source))
    return (table.commands if clashes else commands), (*said, *clashes)


def _wanted(table: Table, raw: Any, source: str) -> tuple[Keys, tuple[Finding, ...]]:
    if not isinstance(raw, dict):
        return {}, (Finding(source, 0, table.name, "is no table", f"Write [{table.name}] and keys under it"),)
    wanted: dict[str, tuple[str, ...]] = {}
    said: list[Finding] = []
    for ident, value in raw.items():
        keys, place = tuple(value) if isinstance(value, list) else (value,), f"{table.name}.{ident}"
        if ident not in {c.id for c in table.commands}:
            said.append(Finding(source, 0, place, "is no command", "The key sheet's commands have ids"))
        elif not keys or not all(isinstance(k, str) and table.may_bind(k) for k in keys):
            said.append(Finding(source, 0, place, "is no key for a command", table.how))
        else:
            wanted[ident] = keys
    return wanted, tuple(said)


def _clashes(table: Table, commands: tuple[Command, ...], source: str) -> Iterator[Finding]:
    owners: dict[str, str] = {}
    for command in commands:
        for key in (command.key, *command.also):
            if key in owners:
                what = f"{key_words(key)} is already the key of {owners[key]}"
                mend = "Give one of them another key; defaults are used"
                yield Finding(source, 0, f"{table.name}.{command.id}", what, mend)
            owners.setdefault(key, command.id)
