"""A real terminal for tests: a program in a pseudo-terminal, its screen kept by a terminal emulator."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

import pyte

from tracker.theatre.keys import COMMANDS

ROOT = Path(__file__).resolve().parent.parent
F4, F6, F10 = "\x1bOS", "\x1b[17~", "\x1b[21~"
"""Function keys as a terminal sends them: the note, the bookmark, what is open."""


class Terminal:
    """A program on a pseudo-terminal of `columns` by `lines` cells."""

    def __init__(
        self,
        words: Sequence[str],
        *,
        columns: int = 80,
        lines: int = 24,
        env: Mapping[str, str] | None = None,
        hang_ups: bool = True,
    ) -> None:
        """`hang_ups` false ignores them, as `nohup` does; else they are heeded, whatever the tests run under."""
        self.screen = pyte.Screen(columns, lines)
        self.stream = pyte.ByteStream(self.screen)
        self.raw = bytearray()
        self.master, slave = pty.openpty()
        self._size(columns, lines)
        variables = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor", **(env or {})}
        variables.pop("NO_COLOR", None)
        if env and "NO_COLOR" in env:
            variables["NO_COLOR"] = env["NO_COLOR"]
        self.process = subprocess.Popen(
            words, stdin=slave, stdout=slave, stderr=slave, env=variables, cwd=ROOT, start_new_session=True,
            preexec_fn=partial(_before, hang_ups),
        )  # fmt: skip
        os.close(slave)

    def _size(self, columns: int, lines: int) -> None:
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))

    def resize(self, columns: int, lines: int) -> None:
        """Make the terminal another size; the program is told."""
        self._size(columns, lines)
        self.screen.resize(lines, columns)

    def send(self, keys: str | bytes) -> None:
        """Press keys."""
        os.write(self.master, keys.encode() if isinstance(keys, str) else keys)

    def send_all(self, sent: bytes) -> None:
        """Send more than the line holds at a time, reading what the program writes meanwhile."""
        while sent:
            _, writable, _ = select.select([], [self.master], [], 0)
            if writable:
                sent = sent[os.write(self.master, sent[:1024]) :]
            self.read(0 if writable else 0.01)

    def read(self, patience_s: float) -> bytes:
        """What the program writes next, at most `patience_s` from now; nothing if it writes nothing."""
        ready, _, _ = select.select([self.master], [], [], patience_s)
        if not ready:
            return b""
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return b""
        self.raw += data
        self.stream.feed(data)
        return data

    def text(self) -> str:
        """The screen as text."""
        return "\n".join(self.screen.display)

    def read_for(self, seconds: float) -> None:
        """Take what the program writes in so much time: as a hand rests between two keys."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            self.read(left)

    def until(self, there: str | Callable[[str], bool], patience_s: float = 20.0) -> str:
        """Read until the screen shows something.

        Raises:
            AssertionError: it does not in time; the screen is in the message.
        """
        shows = there if callable(there) else lambda text: there in text
        end = time.monotonic() + patience_s
        while not shows(self.text()):
            left = end - time.monotonic()
            if left <= 0 or (not self.read(left) and self.process.poll() is not None):
                raise AssertionError(f"never showed {there!r}; the screen:\n{self.text()}")
        return self.text()

    def kill(self, how: int = signal.SIGKILL) -> int:
        """End the program with a signal; its exit status."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, how)
        return self.wait()

    def wait(self, patience_s: float = 20.0) -> int:
        """Wait for the program to end by itself, reading what it still writes."""
        end = time.monotonic() + patience_s
        while self.process.poll() is None and time.monotonic() < end:
            self.read(0.05)
        return self.process.wait(timeout=1)

    def hang_up(self, patience_s: float = 20.0) -> int:
        """Take the terminal away; the exit status that the program then ends with."""
        os.close(self.master)
        self.master = os.open(os.devnull, os.O_RDWR)
        return self.process.wait(timeout=patience_s)

    def close(self) -> None:
        """End the program if it still runs, and let go of the terminal."""
        self.kill()
        os.close(self.master)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _before(hang_ups: bool) -> None:
    """What is done in the child before the program: the terminal is its own, and hang-ups are as they are to be."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    signal.signal(signal.SIGHUP, signal.SIG_DFL if hang_ups else signal.SIG_IGN)


_F_KEYS = ("OP", "OQ", "OR", "OS", *(f"[{n}~" for n in (15, 17, 18, 19, 20, 21, 23, 24)))
_SENT = {"enter": "\r", "tab": "\t", "space": " ", "backspace": "\x7f", "escape": "\x1b"}


def sent(command: str) -> str:
    """What a terminal sends for the key of a command of the live screen."""
    key = next(c.key for c in COMMANDS if c.id == command)
    if key[:1] == "f" and key[1:].isdigit():
        return f"\x1b{_F_KEYS[int(key[1:]) - 1]}"
    return _SENT.get(key, key)


def clockhour(*words: str) -> list[str]:
    """The words that start this checkout's program."""
    return [sys.executable, "-m", "tracker", *words]
