"""Rows of figures from outside, and what the tests do with each: the frame that the four areas share."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Row:
    """One published figure. value, tolerance : as printed; right : the right figures of a trap."""

    id: str
    what: str
    value: tuple[float, ...]
    unit: str
    kind: str
    source: str
    where: str
    verified: str
    trap: bool
    tolerance: tuple[float, ...]
    right: tuple[float, ...]
    inputs: Mapping[str, Any]
    is_text: bool


class Status(StrEnum):
    """What becomes of a row."""

    COMPUTED = "passes"
    TRAP = "trap refused"
    FORMULA = "formula, held by other rows"
    INPUT = "values used by other rows"
    TEXT = "text or data sheet figure, nothing to compute"
    LATER = "belongs to a later issue"


@dataclass(frozen=True)
class Check:
    """How the package computes a row.

    by : the functions, in words; compute : row to figures in the row's unit
    picked : which of the row's figures are compared (None: all)
    relative : compare by ratio to this, instead of the row's own tolerance (fits to a table, with their residuals)
    """

    by: str
    compute: Callable[[Row], Sequence[float] | npt.NDArray[np.float64]]
    picked: tuple[int, ...] | None = None
    relative: float | None = None


@dataclass(frozen=True)
class Aside:
    """A row that is not computed, and why."""

    status: Status
    why: str


def rows_of(name: str) -> tuple[Row, ...]:
    """The rows of one area. raises KeyError for a row without id, source or where."""
    text = (HERE / f"{name}.toml").read_text(encoding="utf-8")
    return tuple(_row(raw) for raw in tomllib.loads(text)["row"])


def _row(raw: Mapping[str, Any]) -> Row:
    value = raw["value"]
    is_text = isinstance(value, str)
    numbers = () if is_text else _numbers(value)
    tolerance = _numbers(raw.get("tolerance", []))
    if len(tolerance) == 1:
        tolerance = tolerance * len(numbers)
    return Row(
        raw["id"],
        raw["what"],
        numbers,
        raw["unit"],
        raw["kind"],
        raw["source"],
        raw["where"],
        raw["verified"],
        bool(raw.get("trap", False)),
        tolerance,
        _numbers(raw.get("right", [])),
        raw.get("inputs", {}),
        is_text,
    )


def _numbers(value: Any) -> tuple[float, ...]:
    return tuple(float(v) for v in value) if isinstance(value, list) else (float(value),)


def misses(row: Row, check: Check, against: Sequence[float]) -> npt.NDArray[np.float64]:
    """How far the computation lies from `against`, in tolerances (1 or less agrees), for the figures compared."""
    ours = np.asarray(check.compute(row), float)
    picked = list(check.picked if check.picked is not None else range(len(against)))
    wanted = np.asarray(against, float)[picked]
    if ours.shape != wanted.shape:
        raise AssertionError(f"{row.id}: {ours.size} figures computed, {wanted.size} printed")
    if check.relative is not None:
        return np.abs(ours / wanted - 1.0) / check.relative
    allowed = np.asarray(row.tolerance, float)[picked]
    return np.abs(ours - wanted) / np.maximum(allowed, 1e-9 * np.maximum(np.abs(wanted), 1e-300))
