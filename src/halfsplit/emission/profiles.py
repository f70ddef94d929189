"""Emission limits as profiles: which attenuation a rule asks of a line, from the package's dated and sourced table."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from halfsplit.errors import InputError, Mistake

Basis = Literal["mean", "PEP"]

DECIDES = "A help only: the licence, the local codes and whoever is licensed to apply them decide."


@dataclass(frozen=True, slots=True)
class Term:
    """One demand. db, log10p : attenuation db + log10p log10(P/W), in dB; or watt : not more than this, W."""

    db: float = 0.0
    log10p: float = 0.0
    watt: float | None = None

    def attenuation(self, watts: float) -> float:
        """dB below a power in W."""
        if self.watt is not None:
            return 10.0 * math.log10(watts / self.watt)
        return self.db + self.log10p * math.log10(watts)

    def words(self) -> str:
        """The demand as it is printed."""
        if self.watt is not None:
            return f"not over {1e6 * self.watt:g} \u00b5W" if self.watt < 1e-3 else f"not over {1e3 * self.watt:g} mW"
        return f"{self.db:g} dB" + (f" + {self.log10p:g} log10 P" if self.log10p else "")


@dataclass(frozen=True, slots=True)
class Rule:
    """What is asked where.

    terms, strictest : all of the terms (True) or the least strict of them
    offset : from the carrier in units of the bandwidth; distance : at least this, Hz; line, power : Hz and W
    never_below : W, what need not be gone below
    where : "seen" or "memory"
    """

    terms: tuple[Term, ...]
    strictest: bool
    source: str
    where: Literal["seen", "memory"]
    offset: tuple[float, float] = (0.0, math.inf)
    distance: float = 0.0
    line: tuple[float, float] = (0.0, math.inf)
    power: tuple[float, float] = (0.0, math.inf)
    from_included: bool = False
    up_to_excluded: bool = False
    never_below: float | None = None

    def attenuation(self, watts: float) -> float:
        """dB below the power of the emission, W, that this rule asks."""
        asked = [t.attenuation(watts) for t in self.terms]
        db = max(asked) if self.strictest else min(asked)
        return db if self.never_below is None else min(db, 10.0 * math.log10(watts / self.never_below))

    def covers_power(self, watts: float) -> bool:
        """Whether the rule is written for this power."""
        low, high = self.power
        above = watts >= low if self.from_included else watts > low
        return above and (watts < high if self.up_to_excluded else watts <= high)

    def words(self) -> str:
        """The demand as it is printed."""
        joined = (" and " if self.strictest else " or ").join(t.words() for t in self.terms)
        tail = "" if self.strictest or len(self.terms) == 1 else ", the less strict"
        floor = "" if self.never_below is None else f", need not be below {1e6 * self.never_below:g} \u00b5W"
        return joined + tail + floor


@dataclass(frozen=True, slots=True)
class Profile:
    """One set of limits. basis : the power that is meant; carrier : Hz covered; bandwidth : Hz, the usual one

    reference_bandwidth : broad emissions are to be measured in 1, 10, 100 kHz (below 0.15, 30, 1000 MHz)
    """

    key: str
    title: str
    document: str
    dated: str
    basis: Basis
    carrier: tuple[float, float]
    bandwidth: float
    scope: str
    rules: tuple[Rule, ...]
    reference_bandwidth: bool = False

    def where(self) -> str:
        """Whether its rows were seen in print or are from memory."""
        kinds = {r.where for r in self.rules}
        return "seen" if kinds == {"seen"} else "from memory" if kinds == {"memory"} else "partly from memory"


@dataclass(frozen=True, slots=True)
class Asked:
    """What a profile asks of one line: rule and dB, or None and the reason why nothing is asked."""

    rule: Rule | None
    db: float | None
    why_not: str = ""


def _rule(row: dict[str, Any]) -> Rule:
    """A rule from its row."""
    rest = dict(row)
    strictest = "all" in rest
    listed = rest.pop("all", None) or rest.pop("any")
    for key in ("offset", "line", "power"):
        if key in rest:
            rest[key] = tuple(float(x) for x in rest[key])
    return Rule(tuple(Term(**t) for t in listed), strictest, **rest)


@cache
def profiles() -> tuple[Profile, ...]:
    """All profiles of the package, in the order of its table."""
    text = files("halfsplit.emission").joinpath("profiles.toml").read_text(encoding="utf-8")
    out = []
    for row in tomllib.loads(text)["profile"]:
        rules = tuple(_rule(r) for r in row.pop("rule"))
        out.append(Profile(**{**row, "carrier": tuple(row["carrier"])}, rules=rules))
    return tuple(out)


def profile(key: str) -> Profile:
    """The profile of that key. raises InputError that lists the known ones"""
    known = {p.key: p for p in profiles()}
    if key not in known:
        raise InputError(
            Mistake("--profile", repr(key), f"one of: {', '.join(known)} (halfsplit limits says what each is)")
        )
    return known[key]


def covered(chosen: Profile, carrier: float, watts: float | None) -> str:
    """Why a profile does not cover a carrier (Hz) of a power (W, None not known); "" where it does."""
    low, high = chosen.carrier
    if not low <= carrier <= high:
        return f"{chosen.key} covers carriers from {low / 1e6:g} to {high / 1e6:g} MHz, not {carrier / 1e6:.6g} MHz"
    if watts is not None and not any(r.covers_power(watts) for r in chosen.rules):
        return f"{chosen.key} has no row for {watts:.3g} W"
    return ""


def asked(chosen: Profile, carrier: float, line: float, watts: float | None, bandwidth: float | None = None) -> Asked:
    """What a profile asks of a line.

    carrier, line : Hz; watts : of the emission, in the basis of the profile, None not known; bandwidth : Hz
    """
    why = covered(chosen, carrier, watts)
    if why:
        return Asked(None, None, why)
    width = bandwidth or chosen.bandwidth
    away = abs(line - carrier)
    here = [
        r for r in chosen.rules
        if r.offset[0] <= away / width < r.offset[1] and away >= r.distance and r.line[0] <= line < r.line[1]
    ]  # fmt: skip
    if not here:
        return Asked(None, None, f"{chosen.key} has no row for a line {away / 1e3:.4g} kHz from the carrier")
    if watts is None:
        fixed = [
            r for r in here if all(t.watt is None and not t.log10p for t in r.terms) and r.power == (0.0, math.inf)
        ]
        if not fixed:
            return Asked(None, None, f"{chosen.key} asks by power, and the power is not known: say --power")
        return Asked(fixed[0], fixed[0].attenuation(1.0))
    found = next((r for r in here if r.covers_power(watts)), None)
    if found is None:
        return Asked(None, None, f"{chosen.key} has no row for {watts:.3g} W")
    return Asked(found, found.attenuation(watts))


def reference_bandwidth(f: float) -> float:
    """Hz in which broad emissions are measured at f (Hz). source: RR Appendix 3, SM.329 section 4.1, seen at craf.eu"""
    return 1e3 if f < 150e3 else 10e3 if f < 30e6 else 100e3 if f < 1e9 else 1e6
