"""The keys of terminals: what each sends, and the name that the program knows it by.

Named as Textual names them. The forms are those of xterm, the Linux console, rxvt and the VT220, with cursor keys in
both of their modes and the numeric keypad in its own. A key with Shift, Alt or Ctrl held has other forms; it is none of
ours, but for Shift with Tab.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

CONTROLS: Final[Mapping[str, str]] = {
    "\x00": "ctrl+@",
    **{chr(n): f"ctrl+{chr(n + 96)}" for n in range(1, 27)},
    "\x08": "backspace",
    "\x09": "tab",
    "\x0d": "enter",
    "\x1c": "ctrl+backslash",
    "\x1d": "ctrl+right_square_bracket",
    "\x1e": "ctrl+circumflex_accent",
    "\x1f": "ctrl+underscore",
    "\x7f": "backspace",
}
"""Keys that are one control character. Esc is none of them: a sequence may begin with it."""

_MOVES: Final = {"A": "up", "B": "down", "C": "right", "D": "left", "H": "home", "F": "end"}
_NUMBERED: Final = {
    1: "home", 2: "insert", 3: "delete", 4: "end", 5: "pageup", 6: "pagedown", 7: "home", 8: "end",
    11: "f1", 12: "f2", 13: "f3", 14: "f4", 15: "f5", 17: "f6", 18: "f7", 19: "f8", 20: "f9", 21: "f10",
    23: "f11", 24: "f12",
}  # fmt: skip

SEQUENCES: Final[Mapping[str, str]] = {
    **{f"{begin}{letter}": name for begin in "[O" for letter, name in _MOVES.items()},
    **{f"[{number}~": name for number, name in _NUMBERED.items()},
    **{f"O{letter}": f"f{n}" for n, letter in enumerate("PQRS", 1)},
    **{f"[[{letter}": f"f{n}" for n, letter in enumerate("ABCDE", 1)},
    **dict(zip((f"O{letter}" for letter in "jkmnopqrstuvwxy"), "*+-./0123456789", strict=True)),
    "OM": "enter",
    "[Z": "shift+tab",
}
"""Keys that are Esc and more, by what stands behind the Esc: `[` begins a CSI, `O` an SS3."""
