"""The table of tests: what each costs and risks."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources
from typing import Any

from halfsplit.errors import InputError, Mistake

FIGURES = {"minutes", "risk_minutes"}
WORDS = {"kind", "risk", "caution", "source"}
KEYS = ("kind", "minutes", "risk_minutes", "risk", "caution", "source")


@dataclass(frozen=True, slots=True)
class Cost:
    """One kind of test. minutes, risk_minutes : min; risk, caution : sentences; source : where the figures are from."""

    kind: str
    minutes: float
    risk_minutes: float
    risk: str
    caution: str
    source: str


def costs(own: str = "", name: str = "table of tests") -> dict[str, Cost]:
    """All kinds of test by name.

    own : text of a table of the same form; its rows take the place of the package's, what a row leaves out stays
    name : of that table, for its mistakes
    raises InputError with every mistake of the own table
    """
    text = resources.files("halfsplit.advise").joinpath("tests.toml").read_text("utf-8")
    rows: dict[str, dict[str, Any]] = {row["kind"]: row for row in tomllib.loads(text)["test"]}
    for row in checked(own, name, set(rows)) if own else ():
        rows[row["kind"]] |= {"source": name, **row}
    return {
        kind: Cost(kind, float(r["minutes"]), float(r["risk_minutes"]), r["risk"], r["caution"], r["source"])
        for kind, r in rows.items()
    }


def checked(own: str, name: str, kinds: set[str]) -> list[dict[str, Any]]:
    """The rows of a table. raises InputError with every mistake"""
    try:
        rows = tomllib.loads(own).get("test", [])
    except tomllib.TOMLDecodeError as error:
        raise InputError(Mistake(name, str(error), "TOML with [[test]] tables")) from error
    mistakes, good = [], isinstance(rows, list) and all(isinstance(r, dict) for r in rows)
    for n, row in enumerate(rows if good else [], 1):
        if row.get("kind") not in kinds:
            mistakes.append(Mistake(f"{name}: test {n}: kind", repr(row.get("kind")), f"one of: {', '.join(kinds)}"))
        for key, value in row.items():
            if key not in FIGURES | WORDS:
                mistakes.append(Mistake(f"{name}: test {n}", f"the key {key!r}", "one of: " + ", ".join(KEYS)))
            elif key in FIGURES and not plausible(value, least=0.0 if key == "risk_minutes" else 0.1):
                mistakes.append(Mistake(f"{name}: test {n}: {key}", repr(value), "minutes, a plain number above zero"))
            elif key in WORDS and not isinstance(value, str):
                mistakes.append(Mistake(f"{name}: test {n}: {key}", repr(value), "a text"))
    if not good or not rows:
        mistakes.append(Mistake(name, "no [[test]] table", "one for each kind of test to be changed"))
    if mistakes:
        raise InputError(*mistakes)
    return list(rows)


def plausible(value: object, least: float) -> bool:
    """True for a number of minutes."""
    return isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= 1e4
