"""The terminal of a Unix: read without the toolkit's parser, and let go of when it is gone."""

from __future__ import annotations

import os
import selectors
import stat
import sys
import time
from codecs import getincrementaldecoder
from io import TextIOWrapper
from typing import Any, Final, cast

from textual.drivers.linux_driver import LinuxDriver

from tracker.screen.reading import HungUp, Reading

_AT_ONCE: Final = 4096
"""So many bytes are read at a time."""


class TerminalDriver(LinuxDriver):
    """The toolkit's driver with a reading of our own."""

    def __init__(self, app: Any, **how: Any) -> None:
        super().__init__(app, **how)
        self._file = cast(TextIOWrapper, Outlet(self._file))

    def _query_in_band_window_resize(self) -> None:
        """Never asked: the system tells of another size by a signal, and no bytes that say so are believed."""

    def _run_input_thread(self) -> None:
        """Read, in a thread of its own; what goes wrong there ends the program as anywhere else."""
        try:
            self.run_input_thread()
        except Exception as wrong:
            self._loop.call_soon_threadsafe(self._app._handle_exception, wrong)

    def run_input_thread(self) -> None:
        """Wait for what the terminal sends, and pass on what is a key; its end is a hang-up."""
        reading, clock = Reading(), time.monotonic
        decode = getincrementaldecoder("utf-8")("replace").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                asked = clock()
                patience = reading.patience(asked)
                if not selector.select(patience):
                    # Until then there surely was nothing. The clock may be further: a machine can stand still.
                    self._pass_on(reading.quiet(asked + patience))
                    continue
                asked = clock()
                data = self._read()
                if data is None:
                    let_go()
                    self.send_message(HungUp())
                    return
                self._pass_on(reading.heard(decode(data), asked, clock()))

    def _pass_on(self, told: Any) -> None:
        for message in told:
            self.process_message(message)

    def _read(self) -> bytes | None:
        """What is there; None at the end of the terminal."""
        try:
            return os.read(self.fileno, _AT_ONCE) or None
        except BlockingIOError:
            return b""
        except OSError:
            return None


class Outlet:
    """Where the screen is written to. Once the terminal is gone nothing is, and nobody waits for it."""

    def __init__(self, file: Any) -> None:
        self._file = file

    def write(self, text: str) -> None:
        """Write, if there is still somebody to read it."""
        try:
            self._file.write(text)
        except OSError:
            let_go()

    def flush(self) -> None:
        """Let what was written out."""
        try:
            self._file.flush()
        except OSError:
            let_go()

    def fileno(self) -> int:
        """The system's number for it."""
        return int(self._file.fileno())


def let_go() -> None:
    """Read from nowhere and write to nowhere from now on: the terminal is gone."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (sys.__stdin__, sys.__stdout__, sys.__stderr__):
        # A terminal that is gone says that it is none; a file is no device of signs.
        if stream is not None and stat.S_ISCHR(os.fstat(stream.fileno()).st_mode):
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
