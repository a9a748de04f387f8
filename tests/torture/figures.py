"""One line of the table that `make torture` prints."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """What was tried, how often, and what came of it in words."""

    part: str
    what: str
    tried: int
    came: str

    def line(self) -> str:
        """The figure as the table prints it."""
        return f"| {self.part} | {self.what} | {self.tried:,} | {self.came} |"


HEAD = "| part | what | how often | what came of it |\n|---|---|---:|---|"
