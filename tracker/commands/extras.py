"""What a command needs that only an extra installs: a sentence instead of a traceback."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from tracker.journal.trouble import Trouble


@contextmanager
def needing(extra: str) -> Iterator[None]:
    """Say which extra brings a library that is not there.

    Raises:
        Trouble: with that sentence.
    """
    try:
        yield
    except ModuleNotFoundError as missing:
        if (missing.name or "").startswith("tracker"):
            raise
        name = (missing.name or "a library").partition(".")[0]
        raise Trouble(f"{name} is not installed: pip install 'clockhour[{extra}]' brings it.") from missing
