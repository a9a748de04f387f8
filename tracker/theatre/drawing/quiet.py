"""The quiet lines under the steps: what runs, what is due, what is open, what differs; the rest counted."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from tracker.screen.lines import Line, flow_within, least, width_of, wrap
from tracker.theatre.scene import Due, Running

DIFFERS = 3
"""Lines that what differs may take, however many there are: it is for the debrief, and never pushes keys away."""


class Quiet:
    """What is told quietly, once what is told large has been taken out: what is due first, what differs last."""

    def __init__(
        self,
        running: Sequence[Running],
        due: Sequence[Due],
        is_open: tuple[str, ...],
        differs: tuple[str, ...],
    ) -> None:
        self.running: list[Line] = [
            ((f"{r.label} ", "plain"), (r.time, r.tone), (f" {r.word}" if r.word else "", r.tone))
            for r in running
        ]
        self.texts: list[tuple[str, tuple[str, ...], str, int]] = [
            (_due_word(due), tuple(f"{d.label}: {d.reason}" for d in due), "amber", 2 * len(due)),
            ("running", tuple(r.label for r in running), "", len(running)),
            ("open", is_open, "plain", len(is_open)),
            ("differs", differs[::-1], "quiet", DIFFERS),
        ]
        self.texts = [part for part in self.texts if part[1]]

    @property
    def least(self) -> int:
        """Lines that it takes at least to say something of each."""
        return len(self.texts)

    def lines(self, width: int, most: int, more: Sequence[str] = ()) -> list[Line]:
        """In at most `most` lines: those of each kind that do not fit are counted, or all of the last kinds.

        `more` are counts of what found no room elsewhere.
        """
        told = self.texts if most >= self.least + bool(more) else self.texts[: max(0, most - 1)]
        lines: list[Line] = []
        for i, (word, texts, tone, cap) in enumerate(told):
            last = bool(more) or self.least > len(told)
            share = max(1, (most - len(lines) - last) // (len(told) - i))
            if word == "running":
                lines += flow_within(word, self.running, width, share)
            else:
                drawn = _told(f"{word:<9}", texts, tone, width, min(share, cap))
                lines += [((" ", "plain"), *line) for line in drawn]
        counts = [f"{len(texts)} {word}" for word, texts, _, _ in self.texts[len(told) :]]
        words = ", ".join([*counts, *more])
        return [*lines, ((f" {words}", "quiet"),)] if words and most > 0 else lines


def _due_word(due: Sequence[Due]) -> str:
    """A word that is true of all that a trigger asks for."""
    return "due" if any(d.word == "due" for d in due) else "due again"


def _told(word: str, texts: tuple[str, ...], tone: str, width: int, most: int) -> tuple[Line, ...]:
    """A word, then texts, each on lines of its own; those over `most` lines are counted."""
    # No more texts than lines can be shown, however many there are, nor are more of them remembered.
    return _first_told(word, texts[: most + 1], len(texts), tone, width, most)


@lru_cache(maxsize=64)
def _first_told(
    word: str, texts: tuple[str, ...], total: int, tone: str, width: int, most: int
) -> tuple[Line, ...]:
    """The first of `total` texts as lines, the others counted."""
    label = f"{word} "
    told = [[((part, tone),) for part in wrap(text, width - len(label))] for text in texts]

    def counted(left_out: int) -> list[Line]:
        parts = told[: max(0, total - left_out)]
        return _with_count([p for lines in parts for p in lines], left_out, width)

    fewest = total - len(told)
    left_out = fewest + least(len(told), lambda n: len(counted(fewest + n)) <= most)
    return tuple(
        ((" " * len(label) if i else label, "quiet"), *line) for i, line in enumerate(counted(left_out))
    )


def _with_count(lines: list[Line], more: int, width: int) -> list[Line]:
    """The lines, and how many more there are: behind the last one if it fits, else under it."""
    if not more:
        return lines
    tail = (f"+ {more} more", "quiet")
    if lines and width_of(lines[-1]) + 2 + len(tail[0]) <= width - 10:
        return [*lines[:-1], (*lines[-1], ("  ", "plain"), tail)]
    return [*lines, (tail,)]
