"""Headless Chromium over its own pipe (DevTools protocol), and axe-core from npm: what tests of pages use."""

from __future__ import annotations

import json
import os
import select
import shutil
import subprocess
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

NO_CHROMIUM = (
    "Chromium is needed for this test: install Debian's package chromium, or put a chromium on the path."
)
NO_NPM = "npm is needed for this test, to install axe-core: install Debian's package npm."
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
WORDS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
    "--disable-background-networking", "--remote-debugging-pipe", "--hide-scrollbars",
)  # fmt: skip
PATIENCE_S = 60


def chromium() -> str:
    """Where Chromium is."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.fail(NO_CHROMIUM, pytrace=False)
    return found


def axe(folder: Path) -> str:
    """The script of axe-core, installed by npm into `folder` at the version that tests/tools names."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.fail(NO_NPM, pytrace=False)
    shutil.copy(Path(__file__).parent / "tools" / "package.json", folder)
    words = ["install", "--no-package-lock", "--no-audit", "--no-fund", "--ignore-scripts"]
    done = subprocess.run(
        [npm, *words], cwd=folder, capture_output=True, text=True, timeout=300, check=False,
        env={**os.environ, "npm_config_cache": str(folder / "cache")},
    )  # fmt: skip
    assert done.returncode == 0, f"npm could not install axe-core: {done.stderr[-1500:]}"
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text("utf-8")


class Page:
    """One tab. Whatever it asked the network for, and whatever it said, is kept."""

    def __init__(self, send: int, receive: int) -> None:
        self._send, self._receive, self._held = send, receive, b""
        self._last, self._session, self._loaded = 0, "", False
        self.asked: list[str] = []
        self.said: list[str] = []

    def open_tab(self) -> None:
        """Make the tab and listen to it."""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for part in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{part}.enable")

    def call(self, method: str, **params: object) -> dict[str, Any]:
        """One command and its result."""
        self._last += 1
        words: dict[str, Any] = {"id": self._last, "method": method, "params": params}
        if self._session:
            words["sessionId"] = self._session
        os.write(self._send, json.dumps(words).encode() + b"\0")
        while True:
            message = self._next()
            if message.get("id") == self._last:
                assert "error" not in message, message
                result: dict[str, Any] = message["result"]
                return result

    def _next(self) -> dict[str, Any]:
        deadline = time.monotonic() + PATIENCE_S
        while b"\0" not in self._held:
            ready, _, _ = select.select([self._receive], [], [], max(0.0, deadline - time.monotonic()))
            assert ready, "Chromium does not answer."
            part = os.read(self._receive, 1 << 20)
            assert part, "Chromium has gone."
            self._held += part
        first, _, self._held = self._held.partition(b"\0")
        message: dict[str, Any] = json.loads(first)
        self._note(message.get("method", ""), message.get("params", {}))
        return message

    def _note(self, method: str, params: Mapping[str, Any]) -> None:
        if method == "Network.requestWillBeSent":
            self.asked.append(params["request"]["url"])
        elif method == "Log.entryAdded":
            self.said.append(params["entry"]["text"])
        elif method == "Runtime.exceptionThrown":
            self.said.append(params["exceptionDetails"]["text"])
        elif method == "Runtime.consoleAPICalled":
            self.said += [str(a.get("value", a.get("description"))) for a in params["args"]]
        elif method == "Page.javascriptDialogOpening":
            self.said.append(f"dialog: {params['message']}")
        elif method == "Page.loadEventFired":
            self._loaded = True

    def look(self, path: Path, *, script: bool = True, width: int = 1280, **features: str) -> None:
        """Open a file as a window of that width shows it, with or without script, until it has loaded."""
        self.asked, self.said, self._loaded = [], [], False
        self.call("Emulation.setScriptExecutionDisabled", value=not script)
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1, mobile=False
        )
        wanted = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
        self.call("Emulation.setEmulatedMedia", features=wanted)
        self.call("Page.navigate", url=path.as_uri())
        while not self._loaded:
            self._next()

    def wait(self, expression: str) -> None:
        """Until an expression holds in a page with script."""
        turn = "new Promise(done => setTimeout(done, 20))"
        deadline = time.monotonic() + PATIENCE_S
        while not self.run(expression):
            assert time.monotonic() < deadline, f"never came true: {expression}"
            self.run(turn)

    def run(self, expression: str) -> Any:
        """The value of an expression in the page."""
        done = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in done, done
        return done["result"].get("value")

    def key(self, name: str) -> None:
        """Press a key: `Tab` or `Enter`."""
        code, text = {"Tab": (9, ""), "Enter": (13, "\r")}[name]
        for kind in ("keyDown", "keyUp"):
            said = {"text": text} if text and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=name, windowsVirtualKeyCode=code, **said)


@contextmanager
def browser(folder: Path) -> Iterator[Page]:
    """A tab of a Chromium of its own, whose profile is in `folder`."""
    to_it, from_us = os.pipe()
    to_us, from_it = os.pipe()

    def as_three_and_four() -> None:
        # Neither copy may land on the other's number.
        a, b = os.dup(to_it), os.dup(from_it)
        os.dup2(a, 3)
        os.dup2(b, 4)

    running = subprocess.Popen(
        [chromium(), *WORDS, f"--user-data-dir={folder}", "about:blank"],
        pass_fds=(3, 4, to_it, from_it), preexec_fn=as_three_and_four,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    for ours in (to_it, from_it):
        os.close(ours)
    try:
        page = Page(from_us, to_us)
        page.open_tab()
        yield page
        page._session = ""
        page.call("Browser.close")
        running.wait(PATIENCE_S)
    finally:
        running.kill()
        running.wait()
        os.close(from_us)
        os.close(to_us)
