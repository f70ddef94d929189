"""The worker: long work in a process of its own, so that the page answers meanwhile and the work can be stopped."""

from __future__ import annotations

import multiprocessing
import os
import signal
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

Message = tuple[str, Any]
LATER = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def work(pipe: Connection) -> None:
    """Answer one path after another with what the job says, until the other end is gone.

    sends ("progress", (share, what)), ("so far", JobData) as results come, then ("done", JobData) or ("failed", text)
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(5)
    from halfsplit import jobs
    from halfsplit.errors import HalfsplitError

    while True:
        try:
            path = Path(pipe.recv())
            try:
                data = jobs.everything(
                    path,
                    lambda share, what: pipe.send(("progress", (share, what))),
                    lambda so_far: pipe.send(("so far", so_far)),
                )
                pipe.send(("done", data))
            except HalfsplitError as error:
                pipe.send(("failed", str(error)))
        except (EOFError, BrokenPipeError, ConnectionResetError):
            return


class Worker:
    """One process that works; stopped by ending it, and there is another at once."""

    def __init__(self) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None

    def ready(self) -> Connection:
        """The pipe of a process that waits for work."""
        if self._process is None or self._pipe is None or not self._process.is_alive():
            self.stop()
            for name in LATER:  # our matrices are small: threads of a library only wait for each other
                os.environ.setdefault(name, "1")
            ours, theirs = self._context.Pipe()
            self._process = self._context.Process(target=work, args=(theirs,), daemon=True, name="halfsplit work")
            self._process.start()
            theirs.close()
            self._pipe = ours
        return self._pipe

    def stop(self) -> None:
        """End the process, whatever it does."""
        if self._process is not None:
            self._process.kill()
            self._process.join(5.0)
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None
