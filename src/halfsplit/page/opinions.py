"""What the tool thinks of each job: computed again for every state of the job file, the last good result kept."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from halfsplit.jobs import JobData
from halfsplit.page.worker import Message, Worker

State = Literal["idle", "working", "done", "stopped", "failed"]
PATIENCE_S = 0.05


@dataclass(frozen=True, slots=True)
class Opinion:
    """What is thought of one job, as it stands now.

    state : of the work; revision : of the job file that it is about, its number of acts
    data : the last good result, parts of it from an earlier revision while the work goes on; None before the first
    fresh : which parts of `data` are of this revision: "verdicts", "ranking", "tests"
    share, what : progress, 0 to 1; trouble : why it failed
    version : counts every change of what is shown; ticks : counts every change of the progress
    """

    state: State = "idle"
    revision: int = 0
    data: JobData | None = None
    fresh: frozenset[str] = frozenset()
    share: float = 0.0
    what: str = ""
    trouble: str = ""
    version: int = 0
    ticks: int = 0


ALL = frozenset({"verdicts", "ranking", "tests"})


def merged(old: JobData | None, new: JobData) -> tuple[JobData, frozenset[str]]:
    """What there is so far, with the ranking and the tests of before where the new ones are not there yet."""
    fresh = {"verdicts"} | ({"ranking"} if new.ranking else set()) | ({"tests"} if new.advice else set())
    if old is None:
        return new, frozenset(fresh)
    ranking, advice = new.ranking or old.ranking, new.advice or old.advice
    return replace(new, ranking=ranking, advice=advice), frozenset(fresh)


class Opinions:
    """The opinions on the jobs of a desk. Every method may be called from any thread."""

    def __init__(self, worker: Callable[[], Worker] = Worker) -> None:
        self._worker = worker()
        self._changed = threading.Condition()
        self._opinions: dict[str, Opinion] = {}
        self._queue: list[tuple[str, Path, int]] = []
        self._busy: tuple[str, int] | None = None
        self._drop = False
        self._closed = False
        self._thread = threading.Thread(target=self._run, daemon=True, name="opinions")
        self._thread.start()

    def of(self, name: str) -> Opinion:
        """The opinion on a job as it stands."""
        with self._changed:
            return self._opinions.get(name, Opinion())

    def want(self, name: str, path: Path, revision: int, *, again: bool = False) -> Opinion:
        """Have a state of a job thought about, unless it was or is already. again : also where it was stopped"""
        with self._changed:
            now = self._opinions.get(name, Opinion())
            if now.revision == revision and now.state != "idle" and not (again and now.state in ("stopped", "failed")):
                return now
            self._drop_work_on(name)
            self._queue.append((name, path, revision))
            return self._set(
                name,
                replace(now, state="working", revision=revision, fresh=frozenset(), share=0.0, what="", trouble=""),
            )

    def stop(self, name: str) -> Opinion:
        """Stop thinking about a job; what was there before stays."""
        with self._changed:
            now = self._opinions.get(name, Opinion())
            if now.state != "working":
                return now
            self._drop_work_on(name)
            return self._set(name, replace(now, state="stopped"))

    def close(self) -> None:
        """End all work."""
        with self._changed:
            self._closed = self._drop = True
            self._changed.notify_all()
        self._thread.join(10.0)
        self._worker.stop()

    def _drop_work_on(self, name: str) -> None:
        self._queue = [task for task in self._queue if task[0] != name]
        self._drop = self._drop or (self._busy is not None and self._busy[0] == name)

    def _set(self, name: str, now: Opinion) -> Opinion:
        self._opinions[name] = replace(now, version=now.version + 1)
        self._changed.notify_all()
        return self._opinions[name]

    def _run(self) -> None:
        self._worker.ready()
        while True:
            with self._changed:
                self._busy, self._drop = None, self._closed
                while not self._queue and not self._closed:
                    self._changed.wait()
                if self._closed:
                    return
                name, path, revision = self._queue.pop(0)
                self._busy = (name, revision)
            self._think(name, path, revision)

    def _think(self, name: str, path: Path, revision: int) -> None:
        """One job, until it is done or dropped."""
        try:
            pipe = self._worker.ready()
            pipe.send(str(path))
            while not self._drop:
                if pipe.poll(PATIENCE_S) and self._heard(name, revision, pipe.recv()):
                    return
            self._worker.stop()
            self._worker.ready()
        except (EOFError, OSError):
            self._worker.stop()
            self._heard(name, revision, ("failed", "the work was ended from outside; ask for it again"))

    def _heard(self, name: str, revision: int, message: Message) -> bool:
        """Take in one message. returns whether it was the last one"""
        kind, told = message
        with self._changed:
            now = self._opinions.get(name, Opinion())
            if self._drop or now.revision != revision:
                return False
            if kind == "progress":
                share, what = told
                self._opinions[name] = replace(now, share=max(now.share, share), what=what, ticks=now.ticks + 1)
            elif kind == "so far":
                data, fresh = merged(now.data, told)
                self._set(name, replace(now, data=data, fresh=fresh))
            elif kind == "done":
                self._set(name, replace(now, state="done", data=told, fresh=ALL, share=1.0))
            else:
                self._set(name, replace(now, state="failed", trouble=told))
            return kind in ("done", "failed")
