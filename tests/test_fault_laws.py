"""Laws that a ranking must keep, whatever the readings: names, order and what both suspects predict alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_fault import both, reading
from units import THROUGH, TWO_BANDS, part

from halfsplit.circuit import Change, How, Model, build
from halfsplit.circuit.blur import NAME, SHIFTS, blurred, transmissions
from halfsplit.fault import rank, weigh
from halfsplit.unit import Filter, Rung, Unit

FAULTY = Change(How.VALUE, "L12")
NEW = {ref: ref[0] + str(90 - int(ref[1:])) for f in TWO_BANDS.filters for p in f.parts for ref in (p.ref,)}


def renamed(unit: Unit) -> Unit:
    """The same unit with other names for parts and bands, its bands and filters in another order."""

    def rung(r: Rung) -> Rung:
        return replace(r, parts=tuple(part(NEW[p.ref], p.value or 0.0) for p in r.parts))

    filters = tuple(Filter(f.name, tuple(rung(r) for r in f.rungs), f.input, f.output) for f in unit.filters)
    bands = tuple(replace(b, name=f"the {b.name}") for b in unit.bands)
    return replace(unit, filters=filters[::-1], bands=bands[::-1])


def test_names_of_parts_and_bands_and_their_order_change_nothing():
    observations = both(FAULTY, 1.35)
    other = [replace(o, hookup=replace(o.hookup, band=f"the {o.hookup.band}")) for o in observations]
    a, b = dict(rank(TWO_BANDS, observations).parts), dict(rank(renamed(TWO_BANDS), other).parts)
    lead = max(a, key=lambda name: a[name])
    assert lead == "L12"
    for name, p in a.items():
        known = NEW.get(name, f"something not listed, the {name[22:]}" if name.startswith("something") else name)
        assert b.get(known, 0.0) == pytest.approx(p, abs=0.01), name


def test_a_reading_that_two_suspects_predict_alike_changes_nothing_between_them():
    # the sweep on 30 m does not go through F1, where both of them sit
    one = both(FAULTY, 1.35)
    other = reading(None, hookup=replace(THROUGH, band="30 m"))
    odds = []
    for observations in (one, [*one, other]):
        found = {f.hypothesis.key: f.log_evidence for f in weigh(TWO_BANDS, observations).fits}
        odds.append(found["value|L12|up"] - found["inductance in series|L12|up"])
    assert abs(odds[0]) < 20.0
    assert odds[0] == pytest.approx(odds[1], abs=0.3)


def test_moved_resonances_of_idle_filters_are_exact():
    # the same by another route: the network laid again with the idle filters' table moved in frequency
    scene = build(TWO_BANDS, replace(THROUGH, drive="BUS IN", read="BUS OUT"))
    f = np.geomspace(6e6, 60e6, 61)
    model = Model(scene, f)
    theta = np.zeros((1, len(model.keys)))
    solution = model.solve(theta)
    z = blurred(solution)
    assert z is not None
    got = transmissions(solution, z)
    for k in (0, 7, 20):
        moved = tuple(
            replace(p, f=tuple(np.asarray(p.f) * np.exp(-SHIFTS[k]))) if p.name == NAME else p for p in scene.pieces
        )
        wanted = Model(replace(scene, pieces=moved), f).solve(theta).transmission()[0]
        np.testing.assert_allclose(got[k], wanted, rtol=1e-9, atol=1e-12)
    assert np.abs(got[0] - got[20]).max() > 1e-6
