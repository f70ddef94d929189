"""A uniform lossy line: its reflection and transmission, and the fit of one to a complex sweep.

Skin effect adds as much reactance as resistance, so the square-root part of the loss comes with a delay and with an
impedance that falls with frequency; leaving it out bends a fit at the low end of a sweep.
source: e.g. Johnson & Graham 1993, High-Speed Digital Design, ch. 4 (from memory); Pozar, Microwave Engineering, ch. 2
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from halfsplit.cables.records import End, Figure, LineFit

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]

DB_PER_NEPER = 20.0 / float(np.log(10.0))
REFERENCE = 50.0
END_FARAD, END_HENRY = 0.5e-12, 0.5e-9
"""1 sigma of what an open or shorted end adds. Common practice: a cut coax end has about half a picofarad."""
NEAR_FARAD, NEAR_HENRY = 1e-12, 2e-9
"""1 sigma of what the connector at the near end adds beyond the calibration plane. Common practice."""
LEAST_MISFIT = 1e-3
"""No calibration is nearer than this to the truth; with less, strays would be bent to explain its rest."""
FEW = 121
CLEARLY = 0.7
"""A resistor explains what an open or short end does too; it counts where it misses by so much less."""
SCALE = (0.02, 0.01, 0.1, 0.1, 1.0, 1.0, 0.3)
ROUND = (
    0.1,
    0.2,
    0.5,
    1.0,
    2.0,
    5.0,
    10.0,
    20.0,
    30.0,
    50.0,
    100.0,
    150.0,
    200.0,
    300.0,
    500.0,
    1000.0,
    2000.0,
    3000.0,
)


@dataclass(frozen=True, slots=True)
class Line:
    """A line by its numbers. z0 : ohm at high frequency; delay : s one way; k1, k2 : dB as in LineFit."""

    z0: float
    delay: float
    k1: float
    k2: float

    def at(self, f: Real) -> tuple[Complex, Complex]:
        """(propagation constant times length, characteristic impedance), each (n,). f : (n,) Hz above 0."""
        mhz, w = f / 1e6, 2.0 * np.pi * f
        skin = 2.0 * self.k1 * np.sqrt(mhz) / DB_PER_NEPER * self.z0
        along = skin * (1.0 + 1.0j) + 1j * w * self.delay * self.z0
        across = 2.0 * self.k2 * mhz / DB_PER_NEPER / self.z0 + 1j * w * self.delay / self.z0
        return np.sqrt(along * across), np.sqrt(along / across)


def reflection(f: Real, line: Line, y_end: Complex, near: tuple[float, float] = (0.0, 0.0)) -> Complex:
    """Reflection coefficient against 50 ohm of a line with an admittance at its far end.

    f : (n,) Hz; y_end : (n,) siemens (inf for a short); near : (H in series, F across) at the near end
    """
    gl, zc = line.at(f)
    t = np.tanh(gl)
    shorted = ~np.isfinite(y_end)
    y = np.where(shorted, 0.0, y_end)
    z = np.where(shorted, zc * t, zc * (1.0 + zc * t * y) / (t + zc * y))
    w = 2.0 * np.pi * f
    z = 1.0 / (1.0 / (z + 1j * w * near[0]) + 1j * w * near[1])
    return np.asarray((z - REFERENCE) / (z + REFERENCE))


def scattering(f: Real, line: Line) -> Complex:
    """S11 and S21 of a line between 50 ohm. returns (2, n)"""
    gl, zc = line.at(f)
    a, b, c = np.cosh(gl), zc * np.sinh(gl) / REFERENCE, np.sinh(gl) / zc * REFERENCE
    total = 2.0 * a + b + c
    return np.stack([(b - c) / total, 2.0 / total])


def end_admittance(f: Real, end: End, x: float) -> Complex:
    """What is at the far end, (n,) siemens. x : its stray in 1 sigma; of a resistor, artanh of its reflection."""
    w = 2.0 * np.pi * f
    if end is End.OPEN:
        return np.asarray(1j * w * END_FARAD * x)
    if end is End.SHORT:
        return np.asarray(1.0 / (1j * w * END_HENRY * x)) if x else np.full(len(f), np.inf, complex)
    return np.full(len(f), np.exp(-2.0 * np.clip(x, -10.0, 10.0)) / REFERENCE, complex)


def fitted_one_port(f: Real, g: Complex, round_trip: float, ends: tuple[End, ...]) -> list[LineFit]:
    """A line fitted to its reflection, for each end that it may have; the best first.

    f : (n,) Hz; g : (n,) against 50 ohm; round_trip : s, where its main echo lies
    """
    found = [_one_end(f, g, round_trip, end) for end in ends]
    plain = min((fit.misfit for fit in found if fit.end is not End.LOAD), default=np.inf)
    found = [fit for fit in found if fit.end is not End.LOAD or fit.misfit < CLEARLY * plain]
    found.sort(key=lambda fit: fit.misfit)
    return found


def _one_end(f: Real, g: Complex, round_trip: float, end: End) -> LineFit:
    """The best fit for one kind of end: from several starts half a wave apart on some points, then on all of them."""
    level = float(np.clip(np.median(np.abs(g)), 0.02, 0.999))
    k1 = -DB_PER_NEPER * float(np.log(level)) / 2.0 / float(np.sqrt(np.mean(f / 1e6)))
    step = 1.0 / (4.0 * (f[0] + f[-1]))
    reach = 0.5 / (f[-1] - f[0])
    shifts = step * np.arange(-8, 9)
    starts = [round_trip / 2.0 + s for s in shifts if abs(s) <= reach and round_trip / 2.0 + s > 0.1 * round_trip]
    some = np.unique(np.linspace(0, len(f) - 1, FEW).astype(int))
    tried = []
    for start in starts:
        for x in (0.5, -0.5) if end is End.LOAD else (0.0,):
            p = np.array([1.0, 1.0, 1.0 if end is not End.LOAD else 0.1, 0.0, 0.0, 0.0, x])
            tried.append((*_solved(f[some], g[some], end, p, start, k1, 0.01, 25), start))
    p, misfit, start = min(tried, key=lambda found: found[1])
    for _ in range(2):
        p, misfit = _solved(f, g, end, p, start, k1, max(misfit, LEAST_MISFIT), 60)
    return _as_fit(f, g, end, p, start, k1, max(misfit, LEAST_MISFIT))


def _line_of(p: Real, start: float, k1: float) -> Line:
    return Line(REFERENCE * float(p[0]), float(start * p[1]), k1 * float(p[2]), k1 * float(p[3]) / 10.0)


def _residual(f: Real, g: Complex, end: End, start: float, k1: float, sigma: float) -> Callable[[Real], Real]:
    """Residual in units of sigma, then what its spread holds: loss law, strays at both ends."""

    def left(p: Real) -> Real:
        near = (NEAR_HENRY * float(p[4]), NEAR_FARAD * float(p[5]))
        d = (reflection(f, _line_of(p, start, k1), end_admittance(f, end, float(p[6])), near) - g) / sigma
        law = [(p[2] - 0.1) / 0.1, p[3]] if end is End.LOAD else [0.0, p[3] / 3.0]
        return np.concatenate([d.real, d.imag, law, p[4:6], [0.0 if end is End.LOAD else p[6]]])

    return left


def _solved(
    f: Real, g: Complex, end: End, p: Real, start: float, k1: float, sigma: float, most: int
) -> tuple[Real, float]:
    """Least squares from p. returns the parameters and the rms misfit"""
    found = least_squares(_residual(f, g, end, start, k1, sigma), p, x_scale=SCALE, max_nfev=most)
    n = len(f)
    return np.asarray(found.x), float(np.sqrt(np.mean(found.fun[:n] ** 2 + found.fun[n : 2 * n] ** 2))) * sigma


def _as_fit(f: Real, g: Complex, end: End, p: Real, start: float, k1: float, sigma: float) -> LineFit:
    """Parameters with their spread: white noise of the size of the misfit, widened where neighbours agree."""
    left = _residual(f, g, end, start, k1, sigma)
    found = least_squares(left, p, x_scale=SCALE, max_nfev=20)
    p, n = np.asarray(found.x), len(f)
    d = found.fun[:n] + 1j * found.fun[n : 2 * n]
    wide = 2.0 * alike(d)
    rows = np.array(found.jac, float)
    rows[: 2 * n] /= np.sqrt(wide)
    cov = np.linalg.pinv(rows.T @ rows)
    line = _line_of(p, start, k1)
    delay = Figure(float(line.delay), float(start * np.sqrt(cov[1, 1])))
    z0 = Figure(line.z0, REFERENCE * float(np.sqrt(cov[0, 0])))
    mark = losses(line, f, cov[2:4, 2:4] * k1**2 * np.array([[1.0, 0.1], [0.1, 0.01]]))
    ohm = REFERENCE * float(np.exp(2.0 * np.clip(p[6], -10.0, 10.0))) if end is End.LOAD else None
    turns = float(2.0 * line.delay * (f[-1] - f[0]))
    misfit = sigma * float(np.sqrt(np.mean(np.abs(d) ** 2)))
    return LineFit(delay, z0, line.k1, line.k2, mark, end, ohm, misfit, float(f[0]), float(f[-1]), turns)


def losses(line: Line, f: Real, cov: Real) -> tuple[tuple[float, float, float], ...]:
    """One-way loss at round frequencies inside the sweep, and at its ends. cov : (2, 2) of k1, k2"""
    inside = [x * 1e6 for x in ROUND if f[0] <= x * 1e6 <= f[-1]]
    at = sorted({float(f[0]), *inside, float(f[-1])}) if len(inside) < 2 else inside
    out = []
    for hz in at:
        row = np.array([np.sqrt(hz / 1e6), hz / 1e6])
        out.append((hz, float(row @ [line.k1, line.k2]), float(np.sqrt(row @ cov @ row))))
    return tuple(out)


def alike(d: Complex) -> float:
    """By how much neighbours in a residual agree: the number of points that count as one (1 for white noise).

    source: integrated autocorrelation, e.g. Sokal 1997, Monte Carlo Methods in Statistical Mechanics, sec. 2
    """
    n = len(d)
    if n < 8:
        return 1.0
    power = np.abs(np.fft.fft(d - d.mean(), 2 * n)) ** 2
    rho = np.fft.ifft(power).real[: n // 2]
    rho = rho / rho[0] if rho[0] > 0 else rho
    end = np.flatnonzero(rho < 0.05)
    last = int(end[0]) if len(end) else len(rho)
    return float(max(1.0, 1.0 + 2.0 * rho[1:last].sum()))


def fitted_through(f: Real, s21: Complex, s11: Complex | None) -> LineFit:
    """A line fitted to its transmission, and to its reflection where that was measured. f : (n,) Hz, s : (n,)"""
    slope = -np.polyfit(f, np.unwrap(np.angle(s21)), 1)[0] / (2.0 * np.pi)
    start = max(float(slope), 1e-12)
    mean = float(np.sqrt(np.mean(f / 1e6)))
    k1 = max(-DB_PER_NEPER * float(np.log(np.median(np.abs(s21)))), 1e-3) / mean
    sigma = 0.01

    def left(p: Real) -> Real:
        s = scattering(f, _line_of(p, start, k1))
        d = [(s[1] - s21) / sigma] + ([] if s11 is None else [(s[0] - s11) / sigma])
        flat = np.concatenate(d)
        return np.concatenate([flat.real, flat.imag, [(p[0] - 1.0) / 0.3]])

    found = least_squares(left, np.array([1.0, 1.0, 1.0, 0.0]), x_scale=[0.05, 0.01, 0.1, 0.1])
    count = (len(found.fun) - 1) // 2
    d = found.fun[:count] + 1j * found.fun[count : 2 * count]
    misfit = sigma * float(np.sqrt(np.mean(np.abs(d) ** 2)))
    wide = 2.0 * alike(d[: len(f)]) * (max(misfit, LEAST_MISFIT) / sigma) ** 2
    j = np.array(found.jac, float)
    j[: 2 * count] /= np.sqrt(wide)
    cov = np.linalg.pinv(j.T @ j)
    line = _line_of(found.x, start, k1)
    mark = losses(line, f, cov[2:4, 2:4] * k1**2 * np.array([[1.0, 0.1], [0.1, 0.01]]))
    delay = Figure(float(line.delay), float(start * np.sqrt(cov[1, 1])))
    z0 = Figure(line.z0, REFERENCE * float(np.sqrt(cov[0, 0])))
    turns = line.delay * float(f[-1] - f[0])
    return LineFit(delay, z0, line.k1, line.k2, mark, End.LOAD, REFERENCE, misfit, float(f[0]), float(f[-1]), turns)
