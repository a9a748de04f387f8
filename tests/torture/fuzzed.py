"""One target of the fuzzer, in a process of its own: `fuzzed.py NAME LIBFUZZER-WORDS...`."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

import atheris  # noqa: E402 - only once its neighbours are to be found

with atheris.instrument_imports(include=["tracker", "tomllib"]):
    import strangers
    import wires


def _text(data: bytes) -> str:
    return data.decode("utf-8", "replace")


def words(data: bytes) -> None:
    """A case code, and a note."""
    text = _text(data)
    strangers.take_code(text)
    strangers.take_note(text)


TARGETS = {
    "settings": lambda data: strangers.take_settings(_text(data)),
    "words": words,
    "protocol": lambda data: strangers.take_protocol(_text(data)),
    "lines": strangers.take_journal,
    "entries": strangers.take_entries,
    "debrief": strangers.take_debrief,
    "follow_up": strangers.take_follow_up,
    "terminal": wires.take_bytes,
}

if __name__ == "__main__":
    target = TARGETS[sys.argv.pop(1)]
    atheris.Setup(sys.argv, target)
    atheris.Fuzz()
