"""A real browser and a real server for the tests of the page."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

COMMAND = "import sys; from halfsplit.cli import main; main(sys.argv[1:], prog_name='halfsplit')"
HOW = "no Chromium; install it with: apt-get install -y chromium"


def chromium() -> str:
    """The browser of the machine; where it is missing the test is skipped, in CI it fails."""
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None and os.environ.get("CI"):
        pytest.fail(HOW)
    if found is None:
        pytest.skip(HOW)
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser without a window."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    with sync_playwright() as play:
        made = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox"] if root else [])
        try:
            yield made
        finally:
            made.close()


class Server:
    """`halfsplit bench` in a process of its own, on any free port."""

    def __init__(self, folder: Path, job: str = "", port: int = 0) -> None:
        words = ["bench", *([f"{job}.job"] if job else []), "--no-browser", "--port", str(port)]
        self.process = subprocess.Popen(
            [sys.executable, "-c", COMMAND, *words], cwd=folder, stdout=subprocess.PIPE, text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )  # fmt: skip
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        assert found, line
        self.address, self.port = found.group().rstrip("/"), int(found[1])

    def kill(self) -> None:
        """End it at once, as a power cut would."""
        self.process.kill()
        self.process.wait()
        self.process.communicate()

    def end(self) -> None:
        """End it as Ctrl-C does."""
        if self.process.returncode is not None:
            return
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
        self.process.communicate()


def strict(page: Page) -> list[str]:
    """What a page does that it should not: errors, refusals by its own policy, requests that leave the machine."""
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
    page.on("console", lambda m: wrong.append(m.text) if m.type == "error" and "ERR_CONN" not in m.text else None)
    page.on("request", lambda r: None if r.url.startswith(("http://127.0.0.1:", "data:")) else wrong.append(r.url))
    return wrong


def settled(page: Page, seconds: float = 90.0) -> None:
    """Wait until the work on a job is done."""
    end = time.monotonic() + seconds
    while page.locator("#progress.done").count() == 0:
        assert time.monotonic() < end, page.inner_text("#progress")
        page.wait_for_timeout(200)
