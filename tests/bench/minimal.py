"""The floor: a minimal Textual app that appends and syncs a line, then repaints one cell of text."""

from __future__ import annotations

import os
import sys

from textual.app import App, ComposeResult
from textual.widgets import Static


class Minimal(App[None]):
    """One Static; every key is appended, synced, shown."""

    ENABLE_COMMAND_PALETTE = False

    def __init__(self, path: str) -> None:
        super().__init__()
        self.file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self.count = 0

    def compose(self) -> ComposeResult:
        """One widget."""
        yield Static("ready", id="cell")

    def on_key(self) -> None:
        """Append, sync, show."""
        self.count += 1
        os.write(self.file, b"x" * 299 + b"\n")
        os.fsync(self.file)
        self.query_one("#cell", Static).update(f"key {self.count}", layout=False)


if __name__ == "__main__":
    Minimal(sys.argv[1]).run()
