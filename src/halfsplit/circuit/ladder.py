"""The bare ladder of a filter between two resistances: what the drawing alone says."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.network import GROUND, factor, plan
from halfsplit.parts import Kind, Part
from halfsplit.unit import Filter

Complex = npt.NDArray[Any]


def ladder_response(chosen: Filter, f: npt.ArrayLike, z0: float = 50.0, q_coil: float | None = None) -> Complex:
    """Scattering parameters of a ladder with the losses and parasitics that its drawing states, and no others.

    f : (n_f,) Hz, above 0; z0 : ohm at both ends; q_coil : Q assumed for coils without one (None: lossless)
    returns (n_f, 2, 2)
    """
    w = 2.0 * np.pi * np.asarray(f, float)
    branches: list[tuple[int, int]] = []
    rows: list[Complex] = []
    here = 0
    for rung in chosen.rungs:
        ys = [drawn_admittance(p, w, q_coil) for p in rung.parts]
        y = ys[0] if len(ys) == 1 else ys[0] + ys[1]
        if rung.combined == "with":
            y = ys[0] * ys[1] / (ys[0] + ys[1])
        branches.append((here, here + 1) if rung.place == "series" else (here, GROUND))
        here += rung.place == "series"
        rows.append(y)
    ends = [(0, GROUND), (here, GROUND)]
    rows += [np.full(w.shape, 1.0 / z0, complex)] * 2
    if here == 0:
        z = np.repeat(factor(plan(1, branches + ends), np.array(rows)).columns(ends[:1]), 2, axis=1)
        return np.moveaxis(2.0 * np.array([z[0], z[0]]) / z0, 2, 0) - np.eye(2)
    z = factor(plan(here + 1, branches + ends, last=(0, here)), np.array(rows)).between((0, here))
    return np.moveaxis(2.0 * z / z0, 2, 0) - np.eye(2)


def drawn_admittance(part: Part, w: npt.NDArray[np.float64], q_coil: float | None = None) -> Complex:
    """Admittance of a part exactly as drawn. w : (n_f,) rad/s. returns (n_f,) siemens; raises ValueError."""
    if part.value is None:
        raise ValueError(f"{part.ref} has no value")
    lead = 1j * w * (part.lead_inductance or 0.0) + (part.loss_ohm or 0.0)
    if part.kind is Kind.CAPACITOR:
        return 1.0 / (1.0 / (w * part.value * (1j + (1.0 / part.q if part.q else 0.0))) + lead)
    if part.kind is Kind.COIL:
        q = part.q or (q_coil if part.loss_ohm is None else None)
        core = w * part.value * (1j + (1.0 / q if q else 0.0)) + (part.loss_ohm or 0.0)
        return 1.0 / core + 1j * w * (part.self_capacitance or 0.0)
    return np.asarray(1.0 / (part.value + 1j * w * (part.lead_inductance or 0.0)))
