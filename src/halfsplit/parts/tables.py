"""The package's tables of cables, cores and ways to fail; every row names its source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class CableType:
    """One type of coax.

    z0 : ohm; velocity_factor : 1; k1, k2 : loss in dB per 100 m = k1 sqrt(f/MHz) + k2 f/MHz
    """

    name: str
    z0: float
    velocity_factor: float
    k1: float
    k2: float
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Core:
    """One toroid core. al : H per turn squared."""

    name: str
    al: float
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class FailureRow:
    """How likely one way to fail is, before any reading.

    kind : kind of part, joint, contact or mistake; mode : the way to fail
    weight : relative chance per item of that kind; only ratios mean something, to a factor of 3 at best
    """

    kind: str
    mode: str
    weight: float
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Dielectric:
    """One dielectric of capacitors. q : to reckon with at HF; fit : for the path of a transmitter"""

    name: str
    q: float
    fit: bool
    source: str
    note: str = ""


def table_rows(name: str) -> list[dict[str, object]]:
    """The rows of one table file of this package."""
    text = files("halfsplit.parts").joinpath(name).read_text(encoding="utf-8")
    rows = tomllib.loads(text)["row"]
    assert isinstance(rows, list)
    return rows


@cache
def _cables() -> Mapping[str, CableType]:
    return {str(row["name"]): CableType(**row) for row in table_rows("cables.toml")}  # type: ignore[arg-type]


@cache
def _cores() -> Mapping[str, Core]:
    """The makers print A_L of iron powder in uH per 100 turns, which is 0.1 nH per turn squared."""
    return {
        str(r["name"]): Core(
            str(r["name"]), float(str(r["uh_per_100_turns"])) * 1e-10, str(r["source"]), str(r["note"])
        )
        for r in table_rows("cores.toml")
    }


@cache
def dielectrics() -> Mapping[str, Dielectric]:
    """The dielectrics that a unit file may name, with a Q to reckon with."""
    return {str(row["name"]): Dielectric(**row) for row in table_rows("dielectrics.toml")}  # type: ignore[arg-type]


def cable_names() -> tuple[str, ...]:
    """Names of the coax types in the table."""
    return tuple(_cables())


def core_names() -> tuple[str, ...]:
    """Names of the cores in the table."""
    return tuple(_cores())


def cable_type(name: str) -> CableType:
    """The coax type of that name. raises KeyError where the table has none."""
    return _cables()[name]


def core(name: str) -> Core:
    """The core of that name. raises KeyError where the table has none."""
    return _cores()[name]


@cache
def failure_weights() -> tuple[FailureRow, ...]:
    """The prior weights of all kinds of part and ways to fail, in the order of the table."""
    return tuple(FailureRow(**row) for row in table_rows("failures.toml"))  # type: ignore[arg-type]
