"""The wire from the terminal: no byte ends a case, Esc is a key of its own, nothing pasted is a key.

Textual decodes what is typed strictly and has no way to say otherwise, so one byte of an 8-bit keyboard, a serial
line or a torn paste would end the program. It takes Esc with a key right behind it for a chord, so that the key would
answer what Esc was to close; and an Esc in pasted text lets the rest of the paste be keys. Its decoder is exchanged for
one that puts U+FFFD in place of the byte, parts Esc from the key, and takes every Esc out of what is pasted.
"""

from __future__ import annotations

import re
import sys
from codecs import IncrementalDecoder, getincrementaldecoder
from collections.abc import Callable
from functools import partial
from importlib import import_module
from typing import Final

ESC: Final = "\x1b"
NOTHING: Final = f"{ESC}[G"
"""A sequence that Textual reads and drops: an Esc before it is over."""
PASTED: Final = f"{ESC}[200~"
PASTED_END: Final = f"{ESC}[201~"
_CHORD: Final = re.compile(rf"(?<={ESC})(?=[^\x00-\x1f\x7f\[O])")
"""Between an Esc and what prints, but for the `[` and `O` that sequences begin with."""


def take_any_byte() -> None:
    """From now on read whatever the terminal sends."""
    if sys.platform != "win32":  # there the system hands over text
        vars(import_module("textual.drivers.linux_driver"))["getincrementaldecoder"] = _forgiving


def _forgiving(encoding: str) -> Callable[[], IncrementalDecoder]:
    return partial(Wire, getincrementaldecoder(encoding)("replace"))


class Wire(IncrementalDecoder):
    """A decoder of what the terminal sends, in pieces of any size."""

    def __init__(self, decoder: IncrementalDecoder) -> None:
        super().__init__()
        self._decoder = decoder
        self._pasting = False
        self._begun = ""
        """Of a paste: the beginning of its end, not handed on yet; of keys: that of a paste, handed on."""

    def decode(self, data: bytes, final: bool = False) -> str:  # type: ignore[override]
        """What some bytes say, made fit for Textual."""
        text, told = self._decoder.decode(data, final), ""
        while text:
            piece, text = self._pasted(text) if self._pasting else self._typed(text)
            told += piece
        return told

    def _typed(self, text: str) -> tuple[str, str]:
        """Keys up to the next paste, and what is left; a key waits for nothing."""
        keys, paste, rest = (self._begun + text).partition(PASTED)
        told = _CHORD.sub(NOTHING, keys + paste)[len(self._begun) :]
        self._pasting, self._begun = bool(paste), "" if paste else _begun(keys, PASTED)
        return told, rest

    def _pasted(self, text: str) -> tuple[str, str]:
        """Pasted text up to its end, without an Esc, and what is left."""
        inside, end, rest = (self._begun + text).partition(PASTED_END)
        self._pasting, self._begun = not end, "" if end else _begun(inside, PASTED_END)
        return inside.removesuffix(self._begun).replace(ESC, "") + end, rest


def _begun(text: str, mark: str) -> str:
    """How much of `mark` stands at the end of `text`, short of all of it."""
    return next((mark[:n] for n in range(len(mark) - 1, 0, -1) if text.endswith(mark[:n])), "")
