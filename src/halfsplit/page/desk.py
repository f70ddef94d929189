"""The desk: the one folder whose jobs and unit files the page may touch, and how it is reached."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from halfsplit.errors import JobFileError
from halfsplit.journal import Clock, utc_now

JOB, UNIT = ".job", ".toml"
NAME = re.compile(r"[^/\\\x00-\x1f\x7f]{1,100}")
"""What a file on the desk may be called: no folders, no control characters."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What one server serves.

    folder : its jobs and unit files; first : name of the job that `/` opens, or ""
    hosts : what the Host header may say; token : wanted from every browser, "" for loopback only
    """

    folder: Path
    first: str = ""
    hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "[::1]")
    token: str = ""
    clock: Clock = utc_now

    def jobs(self) -> tuple[str, ...]:
        """Names of the jobs, without their ending."""
        return tuple(sorted(p.stem for p in self.folder.glob(f"*{JOB}") if p.is_file() and plain(p.stem)))

    def units(self) -> tuple[str, ...]:
        """Names of the unit files, without their ending."""
        return tuple(sorted(p.stem for p in self.folder.glob(f"*{UNIT}") if p.is_file() and plain(p.stem)))

    def job(self, name: str) -> Path:
        """The file of a job of this desk. raises JobFileError where the name is none of them"""
        if name not in self.jobs():
            raise JobFileError(f"no job {name!r} on this desk; it has: {', '.join(self.jobs()) or 'none'}")
        return self.folder / (name + JOB)


def plain(name: str) -> bool:
    """True for a name that stays in its folder and can be shown."""
    return NAME.fullmatch(name) is not None and not name.startswith(".") and name == name.strip()
