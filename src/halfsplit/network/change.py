"""What a response becomes when branches change: exact, from one solve.

Every response that is linear in the impedances is bilinear in one branch admittance; two simultaneous
changes are the 2 x 2 form of the same identity. Opens and shorts are the limits, taken exactly.
source: Sherman & Morrison 1950, Ann. Math. Stat. 21, 124-127; Bode 1945, Network Analysis and Feedback
Amplifier Design, ch. 1 and 4; Woodbury 1950 for the pair.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.network.solve import SingularNetwork

FLOATING = 1e-13
"""What is left of 1 + dy z when all digits cancel: the branch was the only path."""

Complex = npt.NDArray[Any]


def changed(h: Complex, z_da: Complex, z_as: Complex, z_aa: Complex, dy: Complex) -> Complex:
    """A transfer impedance after the admittance of one branch has changed by `dy`.

    h : (n_f,) ohm, the transfer impedance before
    z_da, z_as, z_aa : (n_f,) ohm, detector-branch, branch-source, across the branch, all before the change
    dy : (n_case, n_f) siemens; infinity is a short
    returns (n_case, n_f) ohm
    raises SingularNetwork when the change leaves a node with no path at some frequency
    """
    short = np.isinf(dy)
    some_short = bool(short.any())
    finite = np.where(short, 0.0, dy) if some_short else dy
    with np.errstate(all="ignore"):
        turned = finite * z_aa
        below = 1.0 + turned
        moved = finite / below
        if some_short:
            moved = np.where(short, 1.0 / z_aa, moved)
        out = h - (z_da * z_as) * moved
        nearly = below.real**2 + below.imag**2
    floating = nearly.min(initial=1.0) < FLOATING and bool((np.sqrt(nearly) < FLOATING * (1.0 + np.abs(turned))).any())
    if floating or not np.isfinite(out).all():
        raise SingularNetwork("the change leaves a node with no path to anywhere at some frequency")
    return np.asarray(out)


def inserted(h: Complex, z_da: Complex, z_as: Complex, z_aa: Complex, z: Complex, dz: Complex) -> Complex:
    """A transfer impedance after an impedance has been put in series with one branch: `changed`, in fewer steps.

    h, z_da, z_as, z_aa : (n_f,) ohm, as for `changed`; z : (n_f,) ohm, the branch itself
    dz : (n_case, n_f) ohm, finite
    returns (n_case, n_f) ohm: h - z_da z_as dz / ((z_aa - z) dz - z^2)
    raises SingularNetwork as `changed`
    """
    with np.errstate(all="ignore"):
        below = (z_aa - z) * dz
        below -= z * z
        out = dz / below
        out *= z_da * z_as
        np.subtract(h, out, out=out)
    if not np.isfinite(out.sum()):
        raise SingularNetwork("the change leaves a node with no path to anywhere at some frequency")
    return np.asarray(out)


def changed_pair(h: Complex, z_d: Complex, z_s: Complex, z: Complex, dy: Complex) -> Complex:
    """A transfer impedance after two branches have changed at once.

    h : (n_f,) ohm; z_d, z_s : (2, n_f) ohm, detector to each branch and each branch to source
    z : (2, 2, n_f) ohm between the two branches
    dy : (n_case, 2, n_f) siemens, finite
    returns (n_case, n_f) ohm
    raises SingularNetwork as `changed`
    """
    a, b = dy[:, 0], dy[:, 1]
    with np.errstate(all="ignore"):
        m00, m11 = 1.0 + a * z[0, 0], 1.0 + b * z[1, 1]
        m01, m10 = a * z[0, 1], b * z[1, 0]
        det = m00 * m11 - m01 * m10
        ra, rb = a * z_s[0], b * z_s[1]
        xa, xb = (m11 * ra - m01 * rb) / det, (m00 * rb - m10 * ra) / det
        out = h - z_d[0] * xa - z_d[1] * xb
    if not np.isfinite(out).all():
        raise SingularNetwork("the changes leave a node with no path to anywhere at some frequency")
    return np.asarray(out)
