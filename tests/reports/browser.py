"""A headless Chromium driven over its debugging pipe: messages of JSON, each ended by a zero byte."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage", "--remote-debugging-pipe",
)
# The browser expects the pipe on descriptors 3 and 4.
_STARTER = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(end), fcntl.F_DUPFD, 10) for end in sys.argv[1:3]]
os.dup2(ends[0], 3)
os.dup2(ends[1], 4)
os.execvp(sys.argv[3], sys.argv[3:])
"""
NAMES = ("chromium", "chromium-browser", "google-chrome")


class Browser:
    """One tab; `events` are all that it has reported so far."""

    def __init__(self, writer: int, reader: int) -> None:
        self._writer, self._reader = writer, reader
        self._buffer = b""
        self._number = 0
        self._session: str | None = None
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send a command and wait for its answer; events that come meanwhile are kept."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._writer, json.dumps(message).encode() + b"\0")
        while (answer := self._next()).get("id") != self._number:
            self.events.append(answer)
        assert "error" not in answer, answer
        result: dict[str, Any] = answer["result"]
        return result

    def open(self, page: Path, width: int, dark: bool = False) -> None:
        """Load a file in a window of `width` pixels, and forget the events of the page before."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1, mobile=False)
        scheme = "dark" if dark else "light"
        self.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
        self.events.clear()
        self.call("Page.navigate", url=page.as_uri())
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next())

    def evaluate(self, script: str) -> Any:
        """The value of a JavaScript expression in the page."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            piece = os.read(self._reader, 1 << 20)
            if not piece:
                raise EOFError("the browser has gone")
            self._buffer += piece
        message, self._buffer = self._buffer.split(b"\0", 1)
        answer: dict[str, Any] = json.loads(message)
        return answer


@contextlib.contextmanager
def browser(profile: Path) -> Iterator[Browser]:
    """A browser with an empty profile, ended with the block."""
    program = next(filter(None, map(shutil.which, NAMES)))
    commands_in, commands_out = os.pipe()
    answers_in, answers_out = os.pipe()
    with open(profile / "messages.txt", "wb") as messages:
        process = subprocess.Popen(
            [sys.executable, "-c", _STARTER, str(commands_in), str(answers_out), program, *FLAGS,
             f"--user-data-dir={profile / 'profile'}"],
            pass_fds=(commands_in, answers_out), stdout=messages, stderr=messages, stdin=subprocess.DEVNULL,
        )
        os.close(commands_in)
        os.close(answers_out)
        try:
            yield Browser(commands_out, answers_in)
        finally:
            process.terminate()
            process.wait()
            os.close(commands_out)
            os.close(answers_in)
