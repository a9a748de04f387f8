"""What a terminal may send, on a real one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from terminal import Terminal, clockhour

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal is of Unix")


@pytest.mark.parametrize("sent", [b"\xff", b"\x9b", b"\xe9", b"\xc3(", b"\x1b[M \xa0\xa0", b"\xf0\x9f"])
def test_a_byte_that_is_no_utf_8_ends_nothing(sent: bytes, tmp_path: Path) -> None:
    """Of an 8-bit keyboard, of half a letter, of an old mouse: the next keys are taken as ever."""
    with Terminal(clockhour("--archive", str(tmp_path))) as live:
        live.until("start: ")
        live.send(sent)
        live.send("Z")
        live.until("Z: no line has this key")
        live.send("Q")

        assert live.wait() == 0
