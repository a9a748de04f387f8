"""What a hand cannot have typed: many characters at once are a paste that the terminal did not mark as one.

A hand makes at most some twenty keys a second, and five fingers may come down together. How long a read may have
gathered is known: since the moment at which there surely was nothing to read. On a machine at rest that is a tenth of a
second at most, so more than five to seven characters at once are no typing; when the machine stood still for 0.3 s,
eleven may be. The same key again and again is a key held down, and counts once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from tracker.screen.wire import PASTE_MOST, Heard, Key, Pasted

FINGERS: Final = 5
"""So many keys may come at the same time."""
KEY_S: Final = 0.05
"""A key more may have been typed in each such time. A good typist takes twice as long."""
STILL_S: Final = 0.5
"""A machine that stood still for longer allows no more: nobody types on and on before a dead screen."""


class Hand:
    """Sets aside what came faster than a hand types; it is told as pasted once no more of it comes."""

    def __init__(self, at: float = 0.0) -> None:
        self._free = float(FINGERS)
        self._quiet = at
        self._before = ""
        self._aside: list[str] = []
        self._many = 0
        self._last = 0.0

    def take(self, heard: Sequence[Heard], asked: float, at: float) -> list[Heard]:
        """What one read brought, asked for at `asked` and there by `at`; without what no hand has typed."""
        typed = self._typed(heard)
        told = self._over() if self._many and asked - self._last >= KEY_S else []
        allowed = self._free + min(max(0.0, at - self._quiet), STILL_S) / KEY_S
        self._quiet = max(asked, self._quiet)
        if not self._many and typed <= allowed:
            self._free = min(FINGERS, allowed - typed)
            return [*told, *heard]
        for one in heard:
            if isinstance(one, Key) and one.typed:
                self._put_aside(one.typed, at)
            else:
                told += [*self._over(), one]
        return told

    def tick(self, at: float) -> list[Heard]:
        """What it means that there surely was nothing to read at `at`."""
        self._free = min(FINGERS, self._free + max(0.0, at - self._quiet) / KEY_S)
        self._quiet = max(at, self._quiet)
        due = self.due()
        return self._over() if due is not None and at >= due else []

    def due(self) -> float | None:
        """When `tick` is to be asked next, if nothing comes until then."""
        return self._last + KEY_S if self._many else None

    def _typed(self, heard: Sequence[Heard]) -> int:
        """How many keys were typed, one held down counted once."""
        count = 0
        for one in heard:
            if isinstance(one, Key) and one.typed:
                count += one.typed != self._before
                self._before = one.typed
        return count

    def _put_aside(self, sign: str, at: float) -> None:
        if len(self._aside) < PASTE_MOST:
            self._aside.append(sign)
        self._many += 1
        self._last = at

    def _over(self) -> list[Heard]:
        """The burst is over."""
        if not self._many:
            return []
        told = Pasted("".join(self._aside), self._many - len(self._aside))
        self._aside, self._many = [], 0
        return [told]
