"""The trial world's own solver against scikit-rf, and against what physics allows."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from proving.nodal import GROUND, Network, coax

rf = pytest.importorskip("skrf")

F = np.linspace(1e6, 60e6, 61)
W = 2 * np.pi * F


def scattering(net, left, right, ohm=50.0):
    """S11 and S21 between two nodes of a network that has no terminations yet."""
    for node in (left, right):
        net.admittance(node, GROUND, np.array(1.0 / ohm))
    v = net.voltages(left, 2.0 / ohm)
    return v[left] - 1.0, v[right]


def media():
    frequency = rf.Frequency.from_f(F, unit="hz")
    return rf.media.DefinedGammaZ0(frequency, z0=50.0, gamma=1j)


def test_ladder_with_a_trap_against_scikit_rf():
    net = Network(F)
    trap = 1 / (1j * W * 0.5e-6 + 0.3) + 1j * W * 47e-12
    net.admittance("a", GROUND, 1j * W * 330e-12)
    net.admittance("a", "b", trap)
    net.impedance("b", GROUND, 1 / (1j * W * 680e-12) + 1j * W * 6e-9)
    net.impedance("b", "c", 1j * W * 0.8e-6)
    s11, s21 = scattering(net, "a", "c")
    m = media()
    whole = (
        m.shunt_capacitor(330e-12)
        ** rf.Network(frequency=m.frequency, s=series(1 / trap), z0=50.0)
        ** m.shunt(m.capacitor(680e-12) ** m.inductor(6e-9) ** m.short())
        ** m.inductor(0.8e-6)
    )
    np.testing.assert_allclose(s21, whole.s[:, 1, 0], rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(s11, whole.s[:, 0, 0], rtol=1e-9, atol=1e-12)


def series(z, ohm=50.0):
    """S-parameters of an impedance in series."""
    s = np.empty((len(z), 2, 2), complex)
    s[:, 0, 0] = s[:, 1, 1] = z / (z + 2 * ohm)
    s[:, 0, 1] = s[:, 1, 0] = 2 * ohm / (z + 2 * ohm)
    return s


def test_coax_against_scikit_rf():
    """A quarter wave of 75 ohm with loss, between 50 ohm."""
    length, velocity, k1, k2 = 2.5, 0.66, 1.3, 0.03
    net = Network(F)
    net.two_port("a", "b", coax(F, 75.0, velocity, length, k1, k2))
    s11, s21 = scattering(net, "a", "b")
    mhz = F / 1e6
    alpha = (k1 * np.sqrt(mhz) + k2 * mhz) / 100 / 8.685889638
    frequency = rf.Frequency.from_f(F, unit="hz")
    line = rf.media.DefinedGammaZ0(frequency, z0=75.0, gamma=alpha + 1j * W / (velocity * 299_792_458.0))
    one = line.line(length, "m")
    one.renormalize(50.0)
    np.testing.assert_allclose(s21, one.s[:, 1, 0], rtol=1e-8, atol=1e-10)
    np.testing.assert_allclose(s11, one.s[:, 0, 0], rtol=1e-8, atol=1e-10)


def test_coupled_coils_are_their_equivalent_tee():
    """Two coils with a common end: the textbook tee of L1 - M, L2 - M and M."""
    l1, l2, k = 1.0e-6, 0.4e-6, 0.3
    mutual = k * np.sqrt(l1 * l2)
    pair, tee = Network(F), Network(F)
    z = np.moveaxis(1j * W * np.array([[[l1], [mutual]], [[mutual], [l2]]]), -1, 0)
    pair.coupled([("a", GROUND), ("b", GROUND)], z)
    tee.impedance("a", "m", 1j * W * (l1 - mutual))
    tee.impedance("b", "m", 1j * W * (l2 - mutual))
    tee.impedance("m", GROUND, 1j * W * mutual)
    for mine, theirs in zip(scattering(pair, "a", "b"), scattering(tee, "a", "b"), strict=True):
        np.testing.assert_allclose(mine, theirs, rtol=1e-10)


def test_what_goes_in_comes_out_again():
    """A lossless network: |S11|^2 + |S21|^2 = 1."""
    net = Network(F)
    net.admittance("a", GROUND, 1j * W * 470e-12)
    net.impedance("a", "b", 1j * W * 1e-6)
    net.two_port("b", "c", coax(F, 60.0, 0.7, 0.4, 0.0, 0.0))
    s11, s21 = scattering(net, "a", "c")
    np.testing.assert_allclose(np.abs(s11) ** 2 + np.abs(s21) ** 2, 1.0, rtol=1e-10)
