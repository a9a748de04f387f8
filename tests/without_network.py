"""Run commands of the program with the network refused: `python tests/without_network.py JSON`.

JSON is a list of lists of words. Twice refused: by the interpreter's own audit events, and on Linux by the
kernel, which ends the process at the first socket to anywhere but this machine, whichever library asks for it.
"""

from __future__ import annotations

import ctypes
import json
import platform
import sys
from collections.abc import Sequence

SOCKET_CALL = {"x86_64": 41, "aarch64": 198}
_LOCAL = 1  # AF_UNIX: an event loop wakes itself by a pair of these
_NO_NEW_PRIVILEGES, _SET_SECCOMP, _FILTER = 38, 22, 2


class _Step(ctypes.Structure):
    _fields_ = (
        ("code", ctypes.c_ushort), ("yes", ctypes.c_ubyte), ("no", ctypes.c_ubyte), ("k", ctypes.c_uint32),
    )  # fmt: skip


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("steps", ctypes.POINTER(_Step)))


def refuse_by_kernel() -> bool:
    """Let the kernel end this process, and those it starts, at a socket to elsewhere; whether it can."""
    call = SOCKET_CALL.get(platform.machine()) if sys.platform == "linux" else None
    if call is None:
        return False
    # seccomp(2): load the number of the call; if it is socket, its first argument; allow only the local family.
    steps = (_Step * 6)(
        _Step(0x20, 0, 0, 0), _Step(0x15, 0, 3, call), _Step(0x20, 0, 0, 16), _Step(0x15, 1, 0, _LOCAL),
        _Step(0x06, 0, 0, 0x8000_0000), _Step(0x06, 0, 0, 0x7FFF_0000),
    )  # fmt: skip
    libc, program = ctypes.CDLL(None, use_errno=True), _Program(6, steps)
    if libc.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0) != 0:
        return False
    return bool(libc.prctl(_SET_SECCOMP, _FILTER, ctypes.byref(program), 0, 0) == 0)


def refuse_by_interpreter() -> None:
    """Raise at every audit event about sockets but the making of a local one."""

    def refuse(event: str, args: Sequence[object]) -> None:
        if event == "socket.__new__" and args[1] in (-1, _LOCAL):
            return
        if event.startswith("socket."):
            raise RuntimeError(f"the network was asked for: {event} {args}")

    sys.addaudithook(refuse)


def main() -> int:
    """Run the commands, one after the other, to the first that does not end with 0."""
    print(f"kernel: {refuse_by_kernel()}", file=sys.stderr)
    refuse_by_interpreter()
    from tracker.cli import main as run

    for words in json.loads(sys.argv[1]):
        if code := run(words):
            print(f"{words} ended with {code}", file=sys.stderr)
            return code
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
