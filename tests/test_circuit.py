"""The circuit room: laws over the test unit, every way of failing by two routes, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from units import F1, F2, THROUGH, TWO_BANDS, part

from halfsplit.circuit import Change, How, Model, WhatIf, build, ladder_response, points_of
from halfsplit.errors import HookupError, ModelError
from halfsplit.hookup import Termination
from halfsplit.unit import Block, Branch, Coupling

F = np.geomspace(1e6, 60e6, 41)
SIZES = {
    How.VALUE: (0.3, 0.9, 1.7), How.TURN: (0.1, 0.5), How.OHM: (0.5, 30.0), How.HENRY: (1e-8, 2e-7),
    How.OPEN: (0.3e-12, 3e-12), How.SHORT: (1.0,), How.LEAK: (5.0, 900.0), How.STRAY: (3e-11, 1e-9),
    How.PAST: (1.0, 200.0), How.LINE_Z0: (0.5, 1.6), How.LINE_LENGTH: (0.4, 3.0), How.LINE_LOSS: (0.3, 3.0),
}  # fmt: skip
PARTS = [p.ref for p in F1.parts]


def all_changes(scene):
    """Every change that the scene can hold."""
    for ref in PARTS:
        for how in (How.VALUE, How.SHORT, How.OHM, How.HENRY, How.OPEN, *((How.TURN,) if ref[0] == "L" else ())):
            yield Change(how, ref)
    for arm in scene.arms:
        if "joint" in arm.name or "contact" in arm.name:
            for how in (How.OHM, How.HENRY, How.OPEN):
                yield Change(how, arm.name)
    for name, _ in scene.spots:
        yield Change(How.LEAK, name)
        yield Change(How.STRAY, name)
    yield Change(How.PAST, "F1")
    for how in (How.LINE_Z0, How.LINE_LENGTH, How.LINE_LOSS):
        yield Change(how, "W1")


def test_exact_curve_of_every_part_and_size_equals_solving_again():
    scene = build(TWO_BANDS, THROUGH)
    model = Model(scene, F)
    theta = np.random.default_rng(1).normal(0, 0.7, (1, len(model.keys)))
    w = WhatIf(model.solve(theta))
    checked = 0
    for change in all_changes(scene):
        at = model.resolve(change)
        assert at is not None, change
        sizes = np.array(SIZES[change.how])
        got = w.curves(at, sizes)
        again = model.solve(np.repeat(theta, len(sizes), 0), [(at, float(s)) for s in sizes])
        for a, b in zip(
            got, (again.transmission(), again.reflection(), again.reflection(at_detector=True)), strict=True
        ):
            np.testing.assert_allclose(np.broadcast_to(a, b.shape), b, atol=1e-9)
        np.testing.assert_allclose(np.broadcast_to(w.through(at, sizes), got[0].shape), got[0], atol=1e-9)
        checked += len(sizes)
    assert checked > 140


def test_slopes_by_every_nuisance_and_size_equal_central_differences():
    scene = build(TWO_BANDS, THROUGH)
    model = Model(scene, F)
    changes = [c for c in all_changes(scene) if c.how not in (How.SHORT, How.TURN)]
    at = [(model.resolve(c), SIZES[c.how][-1]) for c in changes]
    theta = np.random.default_rng(2).normal(0, 0.5, (len(at), len(model.keys)))
    s = model.solve(theta, at)
    by_theta, by_size = s.transmission_slopes()
    g_theta, g_size = s.reflection_slopes()
    step = 1e-5
    up = model.solve(theta, [(a, x * np.exp(step)) for a, x in at])
    down = model.solve(theta, [(a, x * np.exp(-step)) for a, x in at])
    np.testing.assert_allclose((up.transmission() - down.transmission()) / (2 * step), by_size, atol=3e-7)
    np.testing.assert_allclose((up.reflection() - down.reflection()) / (2 * step), g_size, atol=3e-7)
    for p in range(len(model.keys)):
        d = np.zeros_like(theta)
        d[:, p] = step
        up, down = model.solve(theta + d, at), model.solve(theta - d, at)
        np.testing.assert_allclose((up.transmission() - down.transmission()) / (2 * step), by_theta[:, p], atol=1e-6)
        np.testing.assert_allclose((up.reflection() - down.reflection()) / (2 * step), g_theta[:, p], atol=1e-6)


def test_a_passive_unit_has_no_gain_and_is_reciprocal_for_any_nuisance():
    forward = Model(build(TWO_BANDS, THROUGH), F)
    turned = Model(build(TWO_BANDS, replace(THROUGH, drive="J2", read="TP1")), F)
    rng = np.random.default_rng(3)
    theta = rng.normal(0, 1.5, (20, len(forward.keys)))
    here = forward.solve(theta)
    s21, s11 = here.transmission(), here.reflection()
    assert (np.abs(s21) ** 2 + np.abs(s11) ** 2).max() <= 1.0 + 1e-6
    zero = np.zeros((1, len(forward.keys)))
    back = turned.solve(np.zeros((1, len(turned.keys))))
    np.testing.assert_allclose(back.transmission(), forward.solve(zero).transmission(), atol=1e-12)
    np.testing.assert_allclose(back.reflection(), forward.solve(zero).reflection(at_detector=True), atol=1e-12)


def test_power_balance_of_a_lossless_ladder():
    s = ladder_response(F1, F)
    np.testing.assert_allclose(np.abs(s[:, 0, 0]) ** 2 + np.abs(s[:, 1, 0]) ** 2, 1.0, atol=1e-12)


def test_frequency_and_impedance_scaling():
    def scaled(filt, by_f, by_z):
        rungs = []
        for r in filt.rungs:
            ps = []
            for p in r.parts:
                factor = (1 / by_z if p.ref[0] == "C" else by_z) / by_f
                ps.append(replace(p, value=p.value * factor))
            rungs.append(replace(r, parts=tuple(ps)))
        return replace(filt, rungs=tuple(rungs))

    want = ladder_response(F1, F)
    np.testing.assert_allclose(ladder_response(scaled(F1, 3.0, 1.5), 3.0 * F, 75.0), want, atol=1e-12)


def test_idle_filters_hang_on_the_bus():
    alone = replace(TWO_BANDS, bands=TWO_BANDS.bands[:1], filters=(F1,))
    f = np.array([30e6])

    def db(unit):
        model = Model(build(unit, THROUGH), f)
        return 20 * np.log10(abs(model.solve(np.zeros((1, len(model.keys)))).transmission()[0, 0]))

    assert abs(db(alone) - db(TWO_BANDS)) > 1e-4


def test_a_lifted_part_is_out_and_a_hanging_coax_stays_as_a_stub():
    def response(hookup, f):
        model = Model(build(TWO_BANDS, hookup), f)
        return model.solve(np.zeros((1, len(model.keys)))).transmission()[0]

    base, lifted = response(THROUGH, F), response(replace(THROUGH, lifted=("C12",)), F)
    model = Model(build(TWO_BANDS, THROUGH), F)
    opened = model.solve(np.zeros((1, len(model.keys))), [(model.resolve(Change(How.OPEN, "C12")), 0.3e-12)])
    np.testing.assert_allclose(lifted, opened.transmission()[0], atol=1e-12)
    assert abs(base - lifted).max() > 0.05
    # reading at TP2 with W2 still tied there: a 0.4 m open stub is a quarter wave at 124 MHz
    f = np.linspace(100e6, 150e6, 101)
    stub = response(replace(THROUGH, drive="BUS OUT", read="TP2", terminated=()), f)
    assert 115e6 < f[np.argmin(abs(stub))] < 130e6


def test_an_end_that_is_lifted_opens_there_whichever_end_it_is():
    def response(**how):
        model = Model(build(TWO_BANDS, replace(THROUGH, **how)), F)
        return model.solve(np.zeros((1, len(model.keys)))).transmission()[0]

    base, model = response(), Model(build(TWO_BANDS, THROUGH), F)
    for lifted, arm in (("W1 at TP1", "W1 near-end joint"), ("W1 at BUS IN", "W1 far-end joint"), ("K9", "K9 contact")):
        wanted = model.solve(np.zeros((1, len(model.keys))), [(model.resolve(Change(How.OPEN, arm)), 0.3e-12)])
        np.testing.assert_allclose(response(lifted=(lifted,)), wanted.transmission()[0], atol=1e-12)
        assert abs(base - wanted.transmission()[0]).max() > 0.3
    with pytest.raises(HookupError, match="W2 has no end at BUS IN"):
        build(TWO_BANDS, replace(THROUGH, lifted=("W2 at BUS IN",)))


def test_a_termination_and_a_bridge_do_what_they_say():
    model = Model(build(TWO_BANDS, replace(THROUGH, read="TP2", terminated=(Termination("J2", 50.0),))), F[:1])
    s = model.solve(np.zeros((1, len(model.keys))))
    assert 20 * np.log10(abs(s.transmission()[0, 0])) == pytest.approx(-3.6, abs=0.3)
    levels = []
    for bridged in ((), (("BUS IN", "BUS OUT"),)):
        model = Model(build(TWO_BANDS, replace(THROUGH, bridged=bridged)), np.array([20e6]))
        levels.append(20 * np.log10(abs(model.solve(np.zeros((1, len(model.keys)))).transmission()[0, 0])))
    assert levels[1] > levels[0] + 30


def test_unknown_names_are_errors_that_list_the_known_ones():
    with pytest.raises(HookupError, match=r"TP9.*TP1, "):
        build(TWO_BANDS, replace(THROUGH, read="TP9"))
    with pytest.raises(HookupError, match="60 m, 30 m"):
        build(TWO_BANDS, replace(THROUGH, band="12 m"))
    with pytest.raises(HookupError, match="C77"):
        build(TWO_BANDS, replace(THROUGH, lifted=("C77",)))


def test_a_measured_block_and_coupled_coils_and_their_limits():
    s = np.tile(np.array([0, 0.5, 0.5, 0], complex), 2)
    block = Block("B1", "in", "out", measured=((1e6, 30e6), tuple(s), 50.0))
    coils = Block(
        "T1", "in", "out", (Branch(part("L91", 20e-6), "in", "ground"), Branch(part("L92", 20e-6), "out", "ground")),
        (Coupling("L91", "L92", 0.999),),
    )  # fmt: skip
    for one, want in ((block, -6.02), (coils, -0.1)):
        unit = replace(
            TWO_BANDS, path=replace(TWO_BANDS.path, order=("TP1", one.name, "J2"), points=("TP1", "J2")),
            blocks=(one,), filters=(), bands=(replace(TWO_BANDS.bands[0], filter=None),),
        )  # fmt: skip
        model = Model(build(unit, THROUGH), np.array([10e6]))
        got = 20 * np.log10(abs(model.solve(np.zeros((1, len(model.keys)))).transmission()[0, 0]))
        assert got == pytest.approx(want, abs=0.25)
        if one is block:
            with pytest.raises(ModelError, match="only known from 1 to 30 MHz"):
                Model(build(unit, THROUGH), np.array([40e6]))


def test_points_include_path_filter_and_inner_nodes():
    assert points_of(TWO_BANDS) == (
        "TP1", "BUS IN", "BUS OUT", "TP2", "J2", "F1 in", "F1 1", "F1 out", "F2 in", "F2 1", "F2 out",
    )  # fmt: skip
    assert F2.name == "F2"
