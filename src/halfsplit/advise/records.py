"""What the advice says, as records."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.hookup import Hookup


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a test would show if a group of causes were the truth."""

    group: str
    probability: float
    shows: str


@dataclass(frozen=True, slots=True)
class Advice:
    """One test worth doing.

    kind : row of the table of tests; hookup : for sweeps, ready to be used, else None
    minutes : work; information_bits : expected drop of uncertainty about the part; score : bits per minute, risk
    counted as minutes
    splits : in one sentence, what it tells apart; subject : the place that it is about, "" for a sweep
    minutes_to_go : estimated minutes until one part holds 90 %, this test first; None where that was not looked at
    """

    title: str
    connect: str
    kind: str
    hookup: Hookup | None
    minutes: float
    risk: str
    information_bits: float
    score: float
    splits: str
    outcomes: tuple[Outcome, ...]
    cautions: tuple[str, ...]
    subject: str = ""
    minutes_to_go: float | None = None
