"""Ideal amplifiers in the network room: against dense equations of another kind, hand formulas, and solving again.

Sources stand beside each check. Formulas of active filters were worked out by hand from the drawn circuit (C); that
they belong to these names: Sallen & Key 1955, IRE Trans. Circuit Theory 2(1), 74-85; Kerwin, Huelsman & Newcomb 1967,
IEEE J. Solid-State Circuits 2(3), 87-92 (both M).
"""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from halfsplit.network import (
    GROUND,
    SingularNetwork,
    UnstableNetwork,
    across,
    changed,
    changed_pair,
    factor_active,
    natural_frequencies,
    plan_active,
    require_stable,
)
from proving import circuits

F = np.geomspace(1e2, 1e5, 7)


class Laid:
    """A proving circuit as arrays: its driven node is held by a 1 ohm branch that takes 1 A, and a nullor."""

    def __init__(self, circuit: circuits.Circuit, short: str = "") -> None:
        self.circuit = circuit
        merged = {}
        if short:
            part = circuit.parts[circuit.at(short)]
            merged = {part.b: part.a} if part.a == "ground" else {part.a: part.b}
        kept = lambda node: merged.get(node, node)  # noqa: E731
        pairs = [(kept(p.a), kept(p.b)) for p in circuit.parts]
        amplifiers = [tuple(kept(n) for n in a) for a in circuit.amplifiers]
        names = {n for group in (*pairs, *amplifiers) for n in group} - {"ground"}
        self.nodes = {name: i for i, name in enumerate(sorted(names))} | {"ground": GROUND}
        self.nodes |= {gone: self.nodes[to] for gone, to in merged.items()}
        n = len(names)
        nullors = [(self.nodes[o], GROUND, self.nodes[p], self.nodes[m]) for o, p, m in amplifiers]
        branches = [(self.nodes[a], self.nodes[b]) for a, b in pairs]
        self.source = self.nodes.get(kept(circuit.driven), 0)
        if circuit.driven:
            nullors.append((self.source, GROUND, self.source, n))
            branches.append((n, GROUND))
            self.source, n = n, n + 1
        self.plan = plan_active(n, branches, nullors)

    def y(self, f=F):
        y = circuits.admittances(self.circuit, self.circuit.nominal[None], f)[0]
        return np.concatenate([y, np.ones((1, len(f)))]) if self.circuit.driven else y

    def poles(self, **values):
        parts = self.circuit.parts
        value = [values.get(p.ref, p.value) for p in parts]
        extra = [0.0] * bool(self.circuit.driven)
        siemens = [1 / v if p.kind == "R" else 0.0 for p, v in zip(parts, value, strict=True)] + [1.0 for _ in extra]
        farad = [v if p.kind == "C" else 0.0 for p, v in zip(parts, value, strict=True)] + extra
        henry = [v if p.kind == "L" else 0.0 for p, v in zip(parts, value, strict=True)] + extra
        return natural_frequencies(self.plan, np.array(siemens), np.array(farad), np.array(henry))


ACTIVE = [circuits.SALLEN_KEY, circuits.STATE_VARIABLE]


@pytest.mark.parametrize("circuit", ACTIVE)
def test_gains_agree_with_dense_equations_that_keep_the_amplifiers_currents(circuit):
    laid = Laid(circuit)
    got = factor_active(laid.plan, laid.y()).columns([(laid.source, GROUND)])[0]
    want = circuits.voltages(circuit, laid.y()[None, : len(circuit.parts)])
    for name, v in want.items():
        np.testing.assert_allclose(got[laid.nodes[name]], v[0], rtol=1e-11, atol=1e-12)


def test_inverting_amplifier_has_the_ratio_of_its_resistances_exactly():
    # node 0 input (1 A into 1 ohm), node 1 virtual ground, node 2 output; gain -R2/R1 (any text on amplifiers)
    layout = plan_active(3, [(0, GROUND), (0, 1), (1, 2)], [(2, GROUND, GROUND, 1)])
    v = factor_active(layout, np.array([[1.0], [1e-3], [1e-4]])).columns([(0, GROUND)])[0]
    assert v[2, 0] / v[0, 0] == pytest.approx(-10.0, abs=1e-13)
    assert v[1, 0] == 0


def test_general_impedance_converter_makes_the_inductance_of_its_formula():
    # two amplifiers, five branches: Zin = Z1 Z3 Z5 / (Z2 Z4); with Z4 a capacitor an inductance C4 R1 R3 R5 / R2
    # source: Antoniou 1969, Proc. IEE 116(11), 1838-1850 (M)
    ohms, farad = (1.1e3, 2.3e3, 0.7e3, 5e3), 3.3e-9
    w = 2 * np.pi * F
    r1, r2, r3, r5 = ohms
    y = np.array([np.full(len(F), 1 / r1), np.full(len(F), 1 / r2), np.full(len(F), 1 / r3), 1j * w * farad,
                  np.full(len(F), 1 / r5)])  # fmt: skip
    branches = [(0, 1), (1, 2), (2, 3), (3, 4), (4, GROUND)]
    layout = plan_active(5, branches, [(1, GROUND, 2, 4), (3, GROUND, 0, 2)])
    zin = factor_active(layout, y).columns([(0, GROUND)])[0][0]
    np.testing.assert_allclose(zin, 1j * w * farad * r1 * r3 * r5 / r2, rtol=1e-12)


def random_active(seed: int, n: int, amplifiers: int):
    """A connected random network in which the first amplifiers each have feedback by way of ordinary branches."""
    rng = np.random.default_rng(seed)
    branches = [(i, j) for i, j in itertools.combinations(range(n), 2) if rng.random() < 0.7]
    branches += [(i, GROUND) for i in range(n)]
    outputs = rng.permutation(n)[:amplifiers]
    nullors = [
        (int(o), GROUND, *(int(k) for k in rng.permutation([i for i in range(-1, n) if i != o])[:2])) for o in outputs
    ]
    y = rng.uniform(0.001, 0.1, (len(branches), 5)) + 1j * rng.normal(0, 0.05, (len(branches), 5))
    return branches, nullors, y


def dense_answer(n, branches, nullors, y):
    """Impedance matrix by bordered dense equations: one current and one row for each nullor. (n_f, n, n) or None."""
    a = np.zeros((y.shape[1], n + len(nullors), n + len(nullors)), complex)
    for (i, j), v in zip(branches, y, strict=True):
        e = np.zeros(n + len(nullors))
        for node, sign in ((i, 1.0), (j, -1.0)):
            if node != GROUND:
                e[node] += sign
        a += v[:, None, None] * np.outer(e, e)
    for k, (o, r, p, m) in enumerate(nullors, start=n):
        for node, sign in ((o, 1.0), (r, -1.0)):
            if node != GROUND:
                a[:, node, k] += sign
        for node, sign in ((p, 1.0), (m, -1.0)):
            if node != GROUND:
                a[:, k, node] += sign
    return np.linalg.inv(a)[:, :n, :n] if np.linalg.cond(a).max() < 1e8 else None


@given(st.integers(0, 10**6), st.integers(3, 8), st.integers(1, 3))
@settings(max_examples=60, deadline=None)
def test_elimination_with_nullors_agrees_with_bordered_dense_equations(seed, n, amplifiers):
    branches, nullors, y = random_active(seed, n, min(amplifiers, n - 2))
    want = dense_answer(n, branches, nullors, y)
    if want is None:  # the dense equations are singular: ours must not find an answer either
        with pytest.raises(SingularNetwork):
            factor_active(plan_active(n, branches, nullors), y)
        return
    f = factor_active(plan_active(n, branches, nullors), y)
    scale = np.abs(want).max()
    ports = [(i, GROUND) for i in range(n)]
    np.testing.assert_allclose(f.columns(ports).transpose(2, 1, 0), want, rtol=1e-9, atol=1e-10 * scale)
    np.testing.assert_allclose(f.rows(ports).transpose(2, 0, 1), want, rtol=1e-9, atol=1e-10 * scale)
    both = f.columns([(0, 1)])[0].T
    np.testing.assert_allclose(both, want[:, :, 0] - want[:, :, 1], rtol=1e-9, atol=1e-10 * scale)


@pytest.mark.parametrize("circuit", ACTIVE)
def test_one_change_equals_solving_again_open_and_short_included(circuit):
    laid = Laid(circuit)
    y, out = laid.y(), laid.nodes["lp" if "lp" in laid.nodes else "out"]
    f = factor_active(laid.plan, y)
    source, detector = f.columns([(laid.source, GROUND)])[0], f.rows([(out, GROUND)])[0]
    for k, part in enumerate(circuit.parts):
        port = laid.plan.branches[k]
        z_aa = across(f.columns([port])[0], port)
        z_da, z_as = across(detector, port), across(source, port)
        for dy in (0.5 * y[k], 30.0 * y[k], -0.2 * y[k]):
            again = y.copy()
            again[k] += dy
            want = factor_active(laid.plan, again).columns([(laid.source, GROUND)])[0][out]
            np.testing.assert_allclose(changed(source[out], z_da, z_as, z_aa, dy[None])[0], want, rtol=1e-9)
        try:
            shorted = Laid(circuit, short=part.ref)
        except SingularNetwork:
            shorted = None
        infinite = np.full((1, len(F)), np.inf)
        opened = y.copy()
        opened[k] = 0.0
        answers = [(-y[k][None], laid, opened), (infinite, shorted, y)]
        for dy, other, values in answers:
            keep = [i for i in range(len(values)) if dy is not infinite or i != k]
            try:
                want = None if other is None else solved(other, values, keep)
            except SingularNetwork:
                want = None
            if want is None:
                with pytest.raises(SingularNetwork):
                    changed(source[out], z_da, z_as, z_aa, dy)
            else:
                np.testing.assert_allclose(changed(source[out], z_da, z_as, z_aa, dy)[0], want, rtol=1e-9, atol=1e-12)


def solved(laid: Laid, y, keep):
    """The gain of a circuit with only some of its branches, each kept one by its admittance."""
    cut = plan_active(laid.plan.n, [laid.plan.branches[i] for i in keep], laid.plan.nullors)
    out = laid.nodes["lp" if "lp" in laid.nodes else "out"]
    return factor_active(cut, y[keep]).columns([(laid.source, GROUND)])[0][out]


@pytest.mark.parametrize("circuit", ACTIVE)
def test_two_changes_equal_solving_again(circuit):
    laid = Laid(circuit)
    y, out = laid.y(), laid.nodes["lp" if "lp" in laid.nodes else "out"]
    f = factor_active(laid.plan, y)
    source, detector = f.columns([(laid.source, GROUND)])[0], f.rows([(out, GROUND)])[0]
    for k, m in itertools.combinations(range(len(circuit.parts)), 2):
        ports = [laid.plan.branches[k], laid.plan.branches[m]]
        x = f.columns(ports)
        z = np.array([[across(x[j], ports[i]) for j in range(2)] for i in range(2)])
        z_d, z_s = (np.array([across(v, p) for p in ports]) for v in (detector, source))
        again = y.copy()
        again[k] *= 0.4
        again[m] *= 3.0
        want = factor_active(laid.plan, again).columns([(laid.source, GROUND)])[0][out]
        dy = np.array([[again[k] - y[k], again[m] - y[m]]])
        np.testing.assert_allclose(changed_pair(source[out], z_d, z_s, z, dy)[0], want, rtol=1e-9)


def test_amplifiers_that_have_no_answer_are_an_error():
    with pytest.raises(SingularNetwork):  # no feedback: the inputs hang on what the output does not reach
        plan_active(3, [(0, GROUND), (1, GROUND), (2, GROUND)], [(2, GROUND, 0, 1)])
    with pytest.raises(SingularNetwork):  # two outputs tied to one node
        plan_active(4, [(0, 3), (1, 3), (2, 3), (3, GROUND)], [(3, GROUND, 0, 1), (3, GROUND, 1, 2)])
    with pytest.raises(ValueError, match="outside"):
        plan_active(2, [(0, 1)], [(0, GROUND, 1, 2)])


def test_a_pivot_that_cancels_is_solved_all_the_same():
    # a tuned circuit from the inverting input to ground whose admittance vanishes at 1 rad/s: only the feedback stays
    w = np.array([0.5, 1.0, 2.0])
    branches = [(0, GROUND), (0, 1), (1, GROUND), (1, GROUND), (1, 2), (2, GROUND)]
    y = np.array([np.ones(3), np.full(3, 0.3), 1j * w, 1 / (1j * w), np.full(3, 0.1j), np.ones(3)])
    want = dense_answer(3, branches, [(2, GROUND, 0, 1)], y)
    got = factor_active(plan_active(3, branches, [(2, GROUND, 0, 1)]), y).columns([(i, GROUND) for i in range(3)])
    np.testing.assert_allclose(got.transpose(2, 1, 0), want, rtol=1e-12, atol=1e-12)


def pair_of(f0: float, q: float):
    """A pair of natural frequencies: s^2 + w0 s / Q + w0^2 = 0, by falling real part."""
    return np.sort_complex(np.roots([1.0, 2 * np.pi * f0 / q, (2 * np.pi * f0) ** 2]))


def test_poles_of_the_sallen_key_band_pass():
    # node sums by hand: s^2 C1 C2 R3 + s (C1 + C2 + C2 R3 (1/R1 + (1 - K)/R2)) + 1/R1 + 1/R2 = 0, K = 1 + R5/R4 (C)
    r1, c1, c2, r3, r2, r4, r5 = circuits.SALLEN_KEY.nominal
    k = 1 + r5 / r4
    want = np.roots([c1 * c2 * r3, c1 + c2 + c2 * r3 * (1 / r1 + (1 - k) / r2), 1 / r1 + 1 / r2])
    got = Laid(circuits.SALLEN_KEY).poles()
    np.testing.assert_allclose(np.sort_complex(got), np.sort_complex(want), rtol=1e-10)
    np.testing.assert_allclose(np.sort_complex(got), pair_of(25989.893374455867, 0.48989794855663565), rtol=1e-10)
    require_stable(got)


def test_poles_of_the_state_variable_filter():
    # by hand: s^2 + s R3 (1/R1 + 1/R2 + 1/R3) R6/(R6 + R7) / (R4 C1) + R3 / (R2 R4 C1 R5 C2) = 0 (C)
    r1, r2, r3, r4, c1, r5, c2, r6, r7 = circuits.STATE_VARIABLE.nominal
    want = np.roots([1.0, r3 * (1 / r1 + 1 / r2 + 1 / r3) * r6 / (r6 + r7) / (r4 * c1), r3 / (r2 * r4 * c1 * r5 * c2)])
    got = Laid(circuits.STATE_VARIABLE).poles()
    assert len(got) == 2  # two capacitors; no very fast pair from the amplifiers
    np.testing.assert_allclose(np.sort_complex(got), np.sort_complex(want), rtol=1e-10)
    np.testing.assert_allclose(np.sort_complex(got), pair_of(795.7747154594767, 1 / 0.9), rtol=1e-10)
    require_stable(got)


def equal_sallen_key(gain: float) -> circuits.Circuit:
    """Sallen-Key low-pass, R = 10 kohm twice, C = 1 nF twice, the amplifier set to `gain` by two resistors."""
    part = circuits.Part
    return circuits.Circuit(
        (
            part("R1", "R", 1e4, "in", "a"),
            part("R2", "R", 1e4, "a", "p"),
            part("C1", "C", 1e-9, "a", "out"),
            part("C2", "C", 1e-9, "p", "ground"),
            part("R3", "R", 1e4, "m", "ground"),
            part("R4", "R", 1e4 * (gain - 1.0), "out", "m"),
        ),
        (("out", "p", "m"),),
        "in",
    )


@pytest.mark.parametrize("gain", [1.2, 1.586, 2.9, 3.1, 5.5])
def test_equal_sallen_key_is_stable_up_to_a_gain_of_three(gain):
    # s^2 + (3 - K) w0 s + w0^2 = 0 (Sallen & Key 1955, M)
    w0 = 1.0 / (1e4 * 1e-9)
    got = Laid(equal_sallen_key(gain)).poles()
    np.testing.assert_allclose(np.sort_complex(got), np.sort_complex(np.roots([1, (3 - gain) * w0, w0**2])), rtol=1e-9)
    if gain < 3:
        require_stable(got)
    else:
        with pytest.raises(UnstableNetwork, match="does not decay"):
            require_stable(got)


def test_on_the_edge_is_not_stable():
    with pytest.raises(UnstableNetwork):
        require_stable(Laid(equal_sallen_key(3.0)).poles())


@pytest.mark.parametrize("order", [2, 3, 5, 8])
def test_poles_of_a_butterworth_ladder_lie_on_its_circle(order):
    # doubly terminated, g_k = 2 sin((2k - 1) pi / 2n): s = exp(j pi (2k + n - 1) / 2n) (Matthaei, Young & Jones 1964,
    # sec. 4.03; Butterworth 1930; M)
    g = 2 * np.sin((2 * np.arange(1, order + 1) - 1) * np.pi / (2 * order))
    branches, farad, henry, node = [(0, GROUND)], [0.0], [0.0], 0
    for k, value in enumerate(g):
        branches.append((node, node + 1) if k % 2 else (node, GROUND))
        farad.append(0.0 if k % 2 else value)
        henry.append(value if k % 2 else 0.0)
        node += k % 2
    branches.append((node, GROUND))
    siemens = np.zeros(len(branches))
    siemens[[0, -1]] = 1.0
    layout = plan_active(node + 1, branches, [])
    got = natural_frequencies(layout, siemens, np.array([*farad, 0.0]), np.array([*henry, 0.0]))
    want = np.exp(1j * np.pi * (2 * np.arange(1, order + 1) + order - 1) / (2 * order))
    assert len(got) == order
    assert np.abs(got[:, None] - want[None]).min(axis=0).max() < 1e-9
    require_stable(got)


def test_an_lc_chain_without_loss_rings_at_the_frequencies_of_its_chain_for_ever():
    # n coils from node to node and n capacitors to ground, driven end shorted, far end open:
    # w = 2 / sqrt(LC) sin((2k - 1) pi / (2 (2n + 1))) (lattice of masses and springs, any text on vibrations; M)
    n, henry, farad = 6, 2e-6, 1e-9
    branches = [*((i - 1, i) for i in range(n)), *((i, GROUND) for i in range(n))]
    layout = plan_active(n, branches, [])
    got = natural_frequencies(layout, np.zeros(2 * n), np.repeat([0.0, farad], n), np.repeat([henry, 0.0], n))
    want = 2 / np.sqrt(henry * farad) * np.sin((2 * np.arange(1, n + 1) - 1) * np.pi / (2 * (2 * n + 1)))
    np.testing.assert_allclose(np.sort(got.imag[got.imag > 0]), np.sort(want), rtol=1e-10)
    with pytest.raises(UnstableNetwork):
        require_stable(got)


def test_resistances_alone_have_no_natural_frequency():
    layout = plan_active(2, [(0, GROUND), (0, 1), (1, GROUND)], [])
    assert natural_frequencies(layout, np.ones(3), np.zeros(3), np.zeros(3)).size == 0


def test_poles_far_apart_are_all_found():
    # two RC sections parted by a follower: 1/RC each, eight decades apart
    layout = plan_active(3, [(0, GROUND), (0, GROUND), (1, 2), (2, GROUND)], [(1, GROUND, 0, 1)])
    got = natural_frequencies(layout, np.array([1e-3, 0, 1e-3, 0]), np.array([0, 1e-12, 0, 1e-4]), np.zeros(4))
    np.testing.assert_allclose(np.sort(-got.real), [10.0, 1e9], rtol=1e-6)
