"""The real program on a pseudo-terminal, started by a fork of a process that has loaded it already.

What runs in the child is what `clockhour` runs: `tracker.cli.main` with words, on a terminal of its own.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
import traceback
from collections.abc import Callable, Sequence

import pyte

import tracker.commands.theatre
import tracker.screen.app  # noqa: F401 - loaded before the fork
from tracker.cli import main

SIZE = (24, 80)


class Live:
    """A forked program on a terminal of 80 by 24 cells; `screen` is what it has painted so far."""

    def __init__(self, words: Sequence[str]) -> None:
        self.screen = pyte.Screen(SIZE[1], SIZE[0])
        self._stream = pyte.ByteStream(self.screen)
        self._late = b""
        self.master, slave = pty.openpty()
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", *SIZE, 0, 0))
        self.pid = os.fork()
        if self.pid == 0:
            _child(slave, self.master, words)
        os.close(slave)

    def send(self, keys: str) -> None:
        """Press keys."""
        os.write(self.master, keys.encode())

    def read(self, patience_s: float) -> bool:
        """Take what the program writes next; whether there was anything.

        What follows the last escape sequence waits for its rest: a program that is killed may leave half a
        word there.
        """
        ready, _, _ = select.select([self.master], [], [], patience_s)
        try:
            data = os.read(self.master, 65536) if ready else b""
        except OSError:
            data = b""
        whole = self._late + data
        cut = max(whole.rfind(b"\x1b"), 0)
        self._stream.feed(whole[:cut])
        self._late = whole[cut:]
        return bool(data)

    def read_for(self, seconds: float) -> None:
        """Take what the program writes in so much time."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            self.read(left)

    def text(self) -> str:
        """The screen as text."""
        return "\n".join(self.screen.display)

    def until(self, shows: Callable[[str], bool], patience_s: float = 30.0) -> str:
        """Read until the screen shows something.

        Raises:
            AssertionError: it does not in time.
        """
        end = time.monotonic() + patience_s
        while not shows(self.text()):
            if not self.read(max(0.0, end - time.monotonic())) and time.monotonic() >= end:
                raise AssertionError(f"never shown; the screen:\n{self.text()}\n{self._late!r}")
        return self.text()

    def kill_after(self, seconds: float) -> None:
        """Let it run so long, taking what it writes; then kill -9, and take what it had still written."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            self.read(left)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        while self.read(0.0):
            pass
        os.close(self.master)


def _child(slave: int, master: int, words: Sequence[str]) -> None:
    code = 1
    try:
        os.close(master)
        os.setsid()
        fcntl.ioctl(slave, termios.TIOCSCTTY, 0)
        for handle in (0, 1, 2):
            os.dup2(slave, handle)
        sys.stdin = sys.__stdin__ = os.fdopen(0, closefd=False)  # a pool has closed its own
        sys.stdout, sys.stderr = sys.__stdout__, sys.__stderr__
        code = main(words)
    except BaseException:
        traceback.print_exc()  # on its own terminal, where the test reads it
    finally:
        os._exit(code)
