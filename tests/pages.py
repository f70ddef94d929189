"""What the tests of the page share: a desk with the demo's readings, and a worker that needs no process of its own."""

from __future__ import annotations

import multiprocessing
from importlib import resources
from multiprocessing.connection import Connection
from pathlib import Path

from halfsplit import jobs
from halfsplit.page.worker import Worker

ROOT = Path(__file__).resolve().parents[1]
UNIT = ROOT / "examples" / "larkfell-tarn-40.toml"
PAGE = {"origin": "http://127.0.0.1"}
PART = {**PAGE, "hx-request": "true"}


def demo_file(name: str) -> tuple[str, bytes]:
    """A reading of the demo: name and bytes."""
    return name, resources.files("halfsplit.demo").joinpath(name).read_bytes()


def started(folder: Path, name: str = "tarn") -> Path:
    """A job without readings."""
    path = folder / f"{name}.job"
    jobs.start(path, UNIT, name, "weak on 31 m")
    return path


class Idle(Worker):
    """A worker that never answers: for tests that are not about opinions."""

    def ready(self) -> Connection:
        """A pipe with nobody at its end."""
        if self._pipe is None:
            self._pipe, self.other = multiprocessing.Pipe()
        return self._pipe

    def stop(self) -> None:
        """Nothing runs."""
