"""Cases of a transmitter and the layout of its nuisances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.amplifier import Chain
from halfsplit.expect import level_noise as noise
from halfsplit.expect.level_rows import Figure, Look

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, eq=False)
class Cases:
    """What each of K cases departs by from a sound transmitter.

    drive (K, B), gain, most (K, S, B) dB added; volts, standing (K, 1) factors; supply_ohm (K, 1) ohm added
    efficiency, hold, load_scale (K, B) factors; moment (K, 1) factor on what looks differ by; meter (K,) factor on the
    wattmeter's scale error; compound (K,) factor; s (K, B, 2, 2) of the path; node (K, N, 2); wide (K, N) dB or K of
    1 sigma more for each figure
    """

    drive: Real
    gain: Real
    most: Real
    volts: Real
    standing: Real
    supply_ohm: Real
    efficiency: Real
    hold: Real
    load_scale: Real
    moment: Real
    meter: Real
    compound: Real
    s: Complex
    node: Complex
    wide: Real

    @staticmethod
    def sound(k: int, b: int, stages: int, n: int, s: Complex, node: Complex) -> Cases:
        """k sound cases. s : (B, 2, 2); node : (N, 2)"""

        def full(value: float, *shape: int) -> Real:
            return np.full((k, *shape), value)

        return Cases(
            full(0.0, b), full(0.0, stages, b), full(0.0, stages, b), full(1.0, 1), full(1.0, 1), full(0.0, 1),
            full(1.0, b), full(1.0, b), full(1.0, b), full(1.0, 1), full(1.0), full(1.0),
            np.repeat(s[None], k, axis=0), np.repeat(node.reshape(1, n, 2), k, axis=0), full(0.0, n),
        )  # fmt: skip

    def __len__(self) -> int:
        return len(self.drive)

    def picked(self, index: npt.NDArray[np.intp]) -> Cases:
        """Some cases, in the order of the index, repeated where it repeats."""
        return Cases(*(getattr(self, f.name)[index] for f in fields(self)))

    @staticmethod
    def joined(parts: Sequence[Cases]) -> Cases:
        """Cases one after the other."""
        return Cases(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Cases)))


class Layout:
    """Where each nuisance stands in the vector u, standard normal a priori."""

    def __init__(self, chain: Chain, looks: Sequence[Look], ways: int, figures: Sequence[Figure]) -> None:
        self.bands = tuple(dict.fromkeys(x.band.name for x in looks))
        self.band_of = np.array([self.bands.index(x.band.name) for x in looks], int)
        b, s, bands = len(looks), len(chain.stages), len(self.bands)
        loads = tuple(dict.fromkeys((x.band.name, x.load) for x in looks))
        self.load_of = np.array([loads.index((x.band.name, x.load)) for x in looks], int)
        self.stages = s
        sizes = {
            "drive": 1, "moment": b, "gain": s, "band gain": s * bands, "most": s, "band most": bands, "volts": 1,
            "supply": 1, "rest": 1, "standing": 1, "efficiency": 1, "band efficiency": bands, "best": 1, "source": 1,
            "source reactance": 1, "hold": 1, "load in phase": len(loads), "load across": len(loads), "path": ways,
            "wattmeter": 1,
            "ammeter": 1, "voltmeter": 1, "probe": 1,
        }  # fmt: skip
        self.at: dict[str, slice] = {}
        self.size = 0
        for name, n in sizes.items():
            self.at[name] = slice(self.size, self.size + n)
            self.size += n
        self.gain_sigma = np.array(chain.gain_sigma)[:, None]
        self.load_sigma = np.array(
            [noise.DUMMY_GAMMA if x.load == "dummy load" else noise.ANTENNA_GAMMA for x in looks]
        )
        stated = chain.stated
        self.rest_ln = noise.REST_LN_STATED if "rest" in stated else noise.REST_LN
        self.standing_ln = noise.STANDING_LN_STATED if "standing" in stated else noise.STANDING_LN
        self.efficiency_ln = noise.EFFICIENCY_LN_STATED if "efficiency" in stated else noise.EFFICIENCY_LN
        self.figures = len(figures)

    def split(self, u: Real) -> dict[str, Real]:
        """The nuisances by name, (K, n) each."""
        return {name: u[:, at] for name, at in self.at.items()}

    def by_band(self, x: Real) -> Real:
        """(K, S * bands) to (K, S, B)."""
        return x.reshape(len(x), self.stages, len(self.bands))[:, :, self.band_of]

    def by_band1(self, x: Real) -> Real:
        """(K, bands) to (K, B)."""
        return x[:, self.band_of]

    def name(self, i: int) -> str:
        """Name of one nuisance, in words."""
        return next(name for name, at in self.at.items() if at.start <= i < at.stop)
