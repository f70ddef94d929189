"""The network room: degenerate cases, laws, two routes that must agree."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.network import (
    GROUND,
    SingularNetwork,
    changed,
    changed_pair,
    coax_y,
    coupled_y,
    factor,
    pad_y,
    plan,
    s_to_y,
    y_to_s,
)
from halfsplit.network.solve import assembled


def random_network(seed: int, n: int, extra: int):
    """A connected network of n nodes: a ladder with `extra` further branches, and passive random admittances."""
    rng = np.random.default_rng(seed)
    branches = [(i, i + 1) for i in range(n - 1)] + [(i, GROUND) for i in range(n)]
    branches += [tuple(int(x) for x in rng.choice(n, 2, replace=False)) for _ in range(extra if n > 1 else 0)]
    y = rng.uniform(0.001, 0.1, (len(branches), 5)) + 1j * rng.normal(0, 0.05, (len(branches), 5))
    return plan(n, branches), y


@given(st.integers(0, 10**6), st.integers(1, 14), st.integers(0, 6))
@settings(max_examples=60, deadline=None)
def test_elimination_agrees_with_dense_solution(seed, n, extra):
    layout, y = random_network(seed, n, extra)
    dense = np.linalg.inv(assembled(layout, y))
    got = factor(layout, y).columns([(i, GROUND) for i in range(n)])
    np.testing.assert_allclose(got, np.moveaxis(dense, 0, 2).swapaxes(0, 1), rtol=1e-9, atol=1e-12 * abs(dense).max())


@given(st.integers(0, 10**6), st.integers(2, 12), st.integers(0, 5))
@settings(max_examples=40, deadline=None)
def test_impedance_across_every_branch_without_solving_a_column(seed, n, extra):
    layout, y = random_network(seed, n, extra)
    f = factor(layout, y)
    want = []
    for a, b in layout.branches:
        v = f.columns([(a, b)])[0]
        want.append((v[a] if a != GROUND else 0) - (v[b] if b != GROUND else 0))
    np.testing.assert_allclose(f.across(), want, rtol=1e-9)


@given(st.integers(0, 10**6), st.integers(2, 12), st.integers(0, 5))
@settings(max_examples=40, deadline=None)
def test_impedances_between_the_last_nodes_need_no_substitution(seed, n, extra):
    layout, y = random_network(seed, n, extra)
    ends = plan(n, layout.branches, last=(0, n - 1))
    want = factor(layout, y).columns([(0, GROUND), (n - 1, GROUND)])[:, [0, n - 1]]
    np.testing.assert_allclose(factor(ends, y).between((n - 1, 0))[::-1, ::-1], want.swapaxes(0, 1), rtol=1e-9)
    if n > 2:
        with pytest.raises(ValueError, match="last"):
            factor(ends, y).between((0, 1))


def test_rows_of_a_one_way_element_are_not_its_columns():
    layout = plan(2, [(0, GROUND), (1, GROUND)], [(1, 0)], reciprocal=False)
    y = np.full((2, 1), 0.02, complex)
    f = factor(layout, y, np.array([[0.5 + 0j]]))
    z = np.linalg.inv(np.array([[0.02, 0], [0.5, 0.02]]))
    np.testing.assert_allclose(f.columns([(0, GROUND)])[0, :, 0], z[:, 0])
    np.testing.assert_allclose(f.rows([(0, GROUND)])[0, :, 0], z[0, :])


def test_a_pivot_that_vanishes_at_resonance_is_solved_all_the_same():
    # node 1 has L and C that cancel exactly at 1 rad/s: its diagonal is zero, the network is not singular
    layout = plan(3, [(0, GROUND), (0, 1), (1, GROUND), (1, 2), (2, GROUND)])
    w = np.array([0.5, 1.0, 2.0])
    y = np.array([np.full(3, 1.0), 1 / (2j * w), 1j * w, 1 / (2j * w), np.full(3, 1.0)])
    got = factor(layout, y).columns([(0, GROUND)])[0]
    want = np.linalg.solve(assembled(layout, y), np.array([1.0, 0, 0])[None, :, None].repeat(3, 0))[:, :, 0].T
    np.testing.assert_allclose(got, want, rtol=1e-12)


def test_a_node_with_no_path_is_an_error():
    layout = plan(3, [(0, GROUND), (1, 2)])
    with pytest.raises(SingularNetwork):
        factor(layout, np.ones((2, 4), complex)).columns([(0, GROUND)])


def test_a_branch_outside_the_network_is_an_error():
    with pytest.raises(ValueError, match="outside"):
        plan(2, [(0, 2)])


@given(st.integers(0, 10**6), st.integers(2, 9), st.integers(0, 4))
@settings(max_examples=40, deadline=None)
def test_changed_equals_solving_again_opens_and_shorts_included(seed, n, extra):
    layout, y = random_network(seed, n, extra)
    f = factor(layout, y)
    source, detector = f.columns([(0, GROUND), (n - 1, GROUND)])
    z_aa = f.across()
    for k, (a, b) in enumerate(layout.branches):

        def pick(v, a=a, b=b):
            return (v[a] if a != GROUND else 0) - (v[b] if b != GROUND else 0)

        for dy in (-y[k], -0.5 * y[k], 3.0 * y[k], np.full(5, 1e3 + 0j)):
            again = y.copy()
            again[k] += dy
            want = factor(layout, again).columns([(0, GROUND)])[0][n - 1]
            got = changed(source[n - 1], pick(detector), pick(source), z_aa[k], dy[None])[0]
            np.testing.assert_allclose(got, want, rtol=1e-9, atol=1e-12)
        short = changed(source[n - 1], pick(detector), pick(source), z_aa[k], np.full((1, 5), np.inf))[0]
        nearly = changed(source[n - 1], pick(detector), pick(source), z_aa[k], np.full((1, 5), 1e12 + 0j))[0]
        np.testing.assert_allclose(short, nearly, rtol=1e-6, atol=1e-9)


def test_changed_pair_equals_solving_again():
    layout, y = random_network(3, 8, 3)
    f = factor(layout, y)
    k, m = 2, 9
    ports = [(0, GROUND), (7, GROUND), layout.branches[k], layout.branches[m]]
    x = f.columns(ports)

    def at(v, port):
        a, b = port
        return (v[a] if a != GROUND else 0) - (v[b] if b != GROUND else 0)

    z_d = np.array([at(x[1], ports[2]), at(x[1], ports[3])])
    z_s = np.array([at(x[0], ports[2]), at(x[0], ports[3])])
    z = np.array([[at(x[2 + j], ports[2 + i]) for j in range(2)] for i in range(2)])
    dy = np.array([[-0.9 * y[k], 4.0 * y[m]]])
    again = y.copy()
    again[k] += dy[0, 0]
    again[m] += dy[0, 1]
    want = factor(layout, again).columns([(0, GROUND)])[0][7]
    np.testing.assert_allclose(changed_pair(x[0][7], z_d, z_s, z, dy)[0], want, rtol=1e-9)


def test_removing_the_only_path_is_an_error():
    # a node that hangs on one branch: taking it away leaves it floating
    layout = plan(2, [(0, GROUND), (0, 1)])
    y = np.array([[0.02 + 0j], [0.01 + 0j]])
    x = factor(layout, y).columns([(0, GROUND), (1, GROUND)])
    with pytest.raises(SingularNetwork):
        changed(x[1][1], x[1][0] - x[1][1], x[1][0] - x[1][1], factor(layout, y).across()[1], -y[1][None])


def test_line_of_no_loss_and_quarter_wave_turns_a_load_over():
    # quarter-wave transformer: Zin = Z0^2 / ZL (any text on lines)
    length = 299_792_458.0 * 0.66 / (4 * 10e6)
    y = coax_y(np.array([10e6]), 50.0, 0.66, length, 0.0, 0.0)[:, :, 0]
    zin = 1 / (y[0, 0] - y[0, 1] * y[1, 0] / (y[1, 1] + 1 / 100.0))
    assert zin == pytest.approx(25.0, abs=1e-9)


def test_line_loss_is_the_stated_loss_when_matched():
    y = coax_y(np.array([10e6]), 50.0, 0.66, 30.0, 1.3, 0.03)
    s = y_to_s(np.moveaxis(y, 2, 0), 50.0)
    assert -20 * np.log10(abs(s[0, 1, 0])) == pytest.approx(0.3 * (1.3 * 10**0.5 + 0.3), rel=1e-9)


def test_a_pad_is_matched_and_loses_what_it_says():
    s = y_to_s(pad_y(6.0, 75.0)[None].astype(complex), 75.0)[0]
    assert abs(s[0, 0]) < 1e-12
    assert 20 * np.log10(abs(s[1, 0])) == pytest.approx(-6.0)
    with pytest.raises(ValueError, match="above 0"):
        pad_y(0.0, 50.0)


def test_scattering_and_admittance_come_back():
    rng = np.random.default_rng(0)
    s = 0.4 * (rng.normal(size=(6, 2, 2)) + 1j * rng.normal(size=(6, 2, 2)))
    np.testing.assert_allclose(y_to_s(s_to_y(s, 50.0), 50.0), s, atol=1e-12)


def test_tightly_coupled_coils_transform_impedance_by_the_square_of_the_turns():
    # k near 1 and large inductance: Zin = ZL (N1/N2)^2 = 50 / 4
    f = np.array([5e6])
    y = coupled_y(f, 100e-6, 400e-6, 0.99999, 1e6)[:, :, 0]
    zin = 1 / (y[0, 0] - y[0, 1] * y[1, 0] / (y[1, 1] + 1 / 50.0))
    assert zin == pytest.approx(12.5, rel=0.01)
