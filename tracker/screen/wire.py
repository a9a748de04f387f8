"""The wire from the terminal: a byte that is no UTF-8 is a key that means nothing, never the end of a case.

Textual decodes what is typed strictly and has no way to say otherwise, so one byte of an 8-bit keyboard, a serial
line or a torn paste would end the program. Its decoder is exchanged for the same one that puts U+FFFD in place.
"""

from __future__ import annotations

import sys
from codecs import IncrementalDecoder, getincrementaldecoder
from collections.abc import Callable
from functools import partial
from importlib import import_module


def take_any_byte() -> None:
    """From now on read whatever the terminal sends."""
    if sys.platform != "win32":  # there the system hands over text
        vars(import_module("textual.drivers.linux_driver"))["getincrementaldecoder"] = _forgiving


def _forgiving(encoding: str) -> Callable[[], IncrementalDecoder]:
    return partial(getincrementaldecoder(encoding), "replace")
