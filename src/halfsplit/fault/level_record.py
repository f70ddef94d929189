"""Level readings beside the causes of a job, as the ranking uses them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from halfsplit.expect.levels import LevelBench
from halfsplit.fault.level_causes import LevelCause
from halfsplit.fault.level_evidence import Said, apart, reasons, size_range


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Level readings beside the causes of a job.

    bench : the readings; said : by key of a hypothesis; outside : the causes outside the path by key; rest : (name, in
    words, share) of what a sound path and sound figures may still hide
    """

    bench: LevelBench
    said: Mapping[str, Said]
    outside: Mapping[str, LevelCause]
    rest: tuple[tuple[str, str, float], ...]

    def apart(self, a: str, b: str) -> float:
        """How far two causes are apart in what they predict; one in the path and one outside it are never one group."""
        if (a in self.outside) != (b in self.outside):
            return np.inf
        if a not in self.said or b not in self.said:
            return 0.0
        return apart(self.bench, self.said[a], self.said[b])

    def reasons(self, key: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What level readings say for and against a cause."""
        if key not in self.said or key == "sound" or key.endswith("unlisted"):
            return (), ()
        return reasons(self.bench, self.said["sound"], self.said[key])

    def size(self, key: str) -> tuple[float | None, str]:
        """Size of a cause outside the path, and its text."""
        cause = self.outside.get(key)
        if cause is None or not cause.unit or len(cause.sizes) < 2:
            return None, ""
        said = self.said[key]
        low, high = size_range(said)
        if cause.unit == "share":
            return said.best, f"by {100 * said.best:.0f} % ({100 * low:.0f} to {100 * high:.0f} %)"
        if cause.unit == "times":
            return said.best, f"{said.best:.1f} times the drawn thermal resistance ({low:.1f} to {high:.1f})"
        return said.best, f"by {said.best:.1f} dB ({low:.1f} to {high:.1f} dB)"

    def remaining(self, sound: float) -> tuple[tuple[str, str, float], ...]:
        """(name, in words, probability) of what sound figures may still hide. sound : of all together"""
        whole = sum(p for _, _, p in self.rest)
        return tuple(sorted(((n, t, sound * p / whole) for n, t, p in self.rest), key=lambda r: -r[2]))

    def victim(self, key: str) -> bool:
        """True for a final stage that is dead, wholly or one device of it: it may be the victim of something else."""
        return key in self.outside and "dead" in key and self.bench.chain.final.name in key
