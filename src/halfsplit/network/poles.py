"""Natural frequencies of a network of resistances, inductances, capacitances and nullors, and whether it is stable.

The node equations (rows and columns merged as the nullors ask) and one equation for each inductance read
(G + s C) x = 0. C has no inverse; with K = (G + s0 C)^-1 C any finite s is s0 - 1/mu for an eigenvalue mu of K that is
not zero. The zeros are taken off first, by singular values, level by level: in floating point a double zero would
otherwise come out as a pair of very fast poles of either sign.
source: Moler & Stewart 1973, SIAM J. Numer. Anal. 10(2), 241-256 (the pencil); Golub & Van Loan, Matrix Computations,
ch. 7.7 (deflation of infinite eigenvalues); both from memory.

An ideal amplifier does not know its inputs apart: positive feedback round it looks as good as negative feedback. The
verdict is that of the network as drawn with perfect amplifiers.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.network.nullor import ActivePlan
from halfsplit.network.plan import GROUND
from halfsplit.network.solve import SingularNetwork

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

NOTHING = 1e-12  # singular values below this share of the largest are zero
DECAYS = 1e-9  # a pole must lie this share of its size inside the left half plane
SHIFT = 1.2345  # in units of the network's own frequency: no pole of a network in use sits just there


class UnstableNetwork(ValueError):
    """A natural frequency of the network does not decay: its steady state is not what an instrument would read."""


def natural_frequencies(layout: ActivePlan, siemens: Real, farad: Real, henry: Real) -> Complex:
    """The finite natural frequencies.

    layout : from `plan_active` (nullors may be none)
    siemens, farad : (n_branch,) conductance and capacitance of each branch, in parallel, 0 where it has none
    henry : (n_branch,) inductance in parallel with them, 0 where there is none
    returns (k,) complex rad/s, by falling real part
    raises SingularNetwork where the equations are dependent at every frequency
    """
    ohm, hertz = _scales(siemens, farad, henry)
    if not hertz:
        return np.zeros(0, complex)
    g, c = _pencil(layout, siemens * ohm, farad * ohm * hertz, henry * hertz / ohm)
    try:
        k = np.linalg.solve(g + SHIFT * c, c)
    except np.linalg.LinAlgError as error:
        raise SingularNetwork("the network has no unique answer at any frequency") from error
    if not np.isfinite(k).all() or np.abs(k).max(initial=0.0) > 1.0 / NOTHING:
        raise SingularNetwork("the network has no unique answer at any frequency")
    mu = np.linalg.eigvals(_without_zeros(np.asarray(k, np.float64))) if k.size else np.zeros(0, complex)
    s = (SHIFT - 1.0 / mu) * hertz
    return np.asarray(s[np.argsort(-s.real, kind="stable")])


def require_stable(s: Complex) -> None:
    """Refuse a network whose natural frequencies s (k,) rad/s do not all decay. raises UnstableNetwork."""
    bad = s[~(s.real < -DECAYS * np.abs(s))]
    if bad.size:
        worst = bad[np.argmax(bad.real)]
        raise UnstableNetwork(
            f"the network oscillates or drifts by itself: natural frequency {worst.real:+.4g} {worst.imag:+.4g}j rad/s "
            f"({abs(worst) / (2.0 * np.pi):.4g} Hz) does not decay, so its AC answer means nothing"
        )


def _scales(siemens: Real, farad: Real, henry: Real) -> tuple[float, float]:
    """The network's own resistance and angular frequency; frequency 0 where nothing stores energy."""
    caps, coils, ohms = farad[farad > 0], henry[henry > 0], 1.0 / siemens[siemens > 0]
    if not caps.size and not coils.size:
        return 1.0, 0.0
    if ohms.size:
        ohm = float(np.exp(np.log(ohms).mean()))
    elif caps.size and coils.size:
        ohm = float(np.exp(0.5 * (np.log(coils).mean() - np.log(caps).mean())))
    else:
        return 1.0, 1.0
    rates = np.concatenate([1.0 / (ohm * caps), ohm / coils])
    return ohm, float(np.exp(np.log(rates).mean()))


def _pencil(layout: ActivePlan, siemens: Real, farad: Real, henry: Real) -> tuple[Real, Real]:
    """G and C of (G + s C) x = 0; x holds the voltages of the smaller system, then the currents of the coils."""
    m, coils = layout.layout.n, [k for k in range(len(layout.branches)) if henry[k] > 0]
    g, c = np.zeros((m + len(coils), m + len(coils))), np.zeros((m + len(coils), m + len(coils)))
    for (i, j), stamp in zip(layout.layout.entries, layout.stamps, strict=True):
        g[i, j] = sum(sign * siemens[k] for k, sign in stamp)
        c[i, j] = sum(sign * farad[k] for k, sign in stamp)
    for at, k in enumerate(coils, start=m):
        for node, sign in zip(layout.branches[k], (1.0, -1.0), strict=True):
            if layout.row(node) != GROUND:
                g[layout.row(node), at] += sign
            if layout.column(node) != GROUND:
                g[at, layout.column(node)] += sign
        c[at, at] = -henry[k]
    return g, c


def _without_zeros(k: Real) -> Real:
    """k restricted to where it is not nilpotent. k : (n, n). returns (r, r) with the eigenvalues that are not zero."""
    top = float(np.linalg.norm(k, 2))
    while k.size:
        _, size, vh = np.linalg.svd(k)
        rank = int((size > NOTHING * top).sum())
        if rank == len(k):
            break
        k = vh[:rank] @ k @ vh[:rank].T
    return k
