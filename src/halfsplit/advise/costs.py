"""The table of tests: what each costs and risks."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources


@dataclass(frozen=True, slots=True)
class Cost:
    """One kind of test. minutes, risk_minutes : min; risk, caution : sentences; source : where the figures are from."""

    kind: str
    minutes: float
    risk_minutes: float
    risk: str
    caution: str
    source: str


def costs() -> dict[str, Cost]:
    """All kinds of test by name. raises KeyError for an incomplete row."""
    text = resources.files("halfsplit.advise").joinpath("tests.toml").read_text("utf-8")
    rows = tomllib.loads(text)["test"]
    return {
        row["kind"]: Cost(
            row["kind"], float(row["minutes"]), float(row["risk_minutes"]), row["risk"], row["caution"], row["source"]
        )
        for row in rows
    }
