"""A filter of the drawing: its family, the value that does not fit, its figures, and what misled others."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.filters import (
    Family,
    Pass,
    butterworth_g,
    chebyshev_g,
    constant_k_g,
    describe,
    elliptic_ladder,
    equal_ripple_zeros,
    facts_lines,
    half_wave_g,
    ladder_from_zeros,
)
from halfsplit.parts import Kind, Part
from halfsplit.unit import Band, Filter, Rung

MEASURED = Path(__file__).parents[2] / "shared" / "measured"
EDGE = 8e6
BAND = (Band("40 m", 7.0e6, 7.3e6, "F"),)
KIND = {"C": Kind.CAPACITOR, "L": Kind.COIL, "R": Kind.RESISTOR}


def part(ref: str, value: float | None) -> Part:
    return Part(ref, KIND[ref[0]], value)


def rung(place: str, *parts: tuple[str, float | None], combined: str | None = None) -> Rung:
    return Rung(place, tuple(part(*p) for p in parts), combined)  # type: ignore[arg-type]


def low_pass(
    g: Sequence[float], partner: Sequence[float] | None = None, ohm: float = 50.0, first: str = "shunt"
) -> Filter:
    """Prototype at 8 MHz; capacitors C1.. and coils L1.. numbered by arm, trap capacitors C11.."""
    w, rungs = 2 * math.pi * EDGE, []
    for k, value in enumerate(g):
        if (k % 2 == 0) == (first == "shunt"):
            rungs.append(rung("shunt", (f"C{k + 1}", value / w / ohm)))
        elif partner is not None and partner[k] > 0:
            across = (f"C{k + 11}", partner[k] / w / ohm)
            rungs.append(rung("series", (f"L{k + 1}", value * ohm / w), across, combined="across"))
        else:
            rungs.append(rung("series", (f"L{k + 1}", value * ohm / w)))
    return Filter("F", tuple(rungs))


def changed(chosen: Filter, ref: str, factor: float | None) -> Filter:
    def one(p: Part) -> Part:
        return replace(p, value=None if factor is None else (p.value or 0.0) * factor) if p.ref == ref else p

    return replace(chosen, rungs=tuple(replace(r, parts=tuple(map(one, r.parts))) for r in chosen.rungs))


def high_pass(g: Sequence[float]) -> Filter:
    w = 2 * math.pi * EDGE
    return Filter(
        "F",
        tuple(
            rung("series", (f"C{k + 1}", 1 / (v * w * 50)))
            if k % 2 == 0
            else rung("shunt", (f"L{k + 1}", 50 / (v * w)))
            for k, v in enumerate(g)
        ),
    )


def zolotarev(order: int, ripple: float, start: float) -> list[float]:
    made = ladder_from_zeros(equal_ripple_zeros(order, (), start), ripple, [None] * (order // 2))
    return made.main.tolist()


ELLIPTIC = elliptic_ladder(5, 0.05, 1.8)
FAMILIES = [
    (Family.BUTTERWORTH, low_pass(butterworth_g(5))),
    (Family.BUTTERWORTH, low_pass(butterworth_g(6), first="series")),
    (Family.CHEBYSHEV, low_pass(chebyshev_g(5, 0.02))),
    (Family.CHEBYSHEV, low_pass(chebyshev_g(7, 0.2), first="series")),
    (Family.CHEBYSHEV, low_pass(chebyshev_g(4, 0.1))),
    (Family.HALF_WAVE, low_pass(half_wave_g(2))),
    (Family.HALF_WAVE, low_pass(half_wave_g(3))),
    (Family.CONSTANT_K, low_pass(constant_k_g(5))),
    (Family.CONSTANT_K, low_pass(constant_k_g(7))),
    (Family.ELLIPTIC, low_pass(ELLIPTIC.main.tolist(), ELLIPTIC.partner.tolist())),
    (Family.ZOLOTAREV, low_pass(zolotarev(7, 0.03, 0.6))),
    (Family.CHEBYSHEV, high_pass(chebyshev_g(5, 0.1))),
]


@pytest.mark.parametrize(("family", "chosen"), FAMILIES)
def test_pure_families_are_recognised(family: Family, chosen: Filter) -> None:
    facts = describe(chosen)
    assert facts.nearest is not None
    assert facts.nearest.family is family
    assert facts.nearest.distance < 1e-3
    assert facts.suspicions == ()
    assert all(abs(p.deviation or 0.0) < 3e-3 for p in facts.nearest.parts)
    if family is not Family.HALF_WAVE:
        assert facts.nearest.edge == pytest.approx(EDGE, rel=1e-3)


@pytest.mark.parametrize("first", ["shunt", "series"])
@pytest.mark.parametrize("ripple", [0.005, 0.1, 0.5])
def test_ripple_and_edge_come_back(ripple: float, first: str) -> None:
    nearest = describe(low_pass(chebyshev_g(7, ripple), first=first)).nearest
    assert nearest is not None and nearest.ripple_db == pytest.approx(ripple, rel=1e-3)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_preferred_values_do_not_raise_suspicion(seed: int) -> None:
    """Values 3 % off at random (1 sigma, as E24 rounding does) are no misprint."""
    chosen = low_pass(chebyshev_g(7, 0.05))
    rng = np.random.default_rng(seed)
    for p in chosen.parts:
        chosen = changed(chosen, p.ref, float(np.exp(0.03 * np.clip(rng.standard_normal(), -2, 2))))
    facts = describe(chosen, BAND)
    assert facts.suspicions == ()
    assert facts.nearest is not None


@pytest.mark.parametrize("ref", ["C1", "L2", "C3", "L4", "C5", "L6", "C7"])
@pytest.mark.parametrize("factor", [0.5, 0.68, 1.5, 2.2])
def test_one_wrong_value_is_named_with_the_value_that_fits(ref: str, factor: float) -> None:
    """The true value is given back within 3 %, although every other value strays by up to 1.5 %."""
    chosen = low_pass(chebyshev_g(7, 0.02))
    true = {p.ref: p.value or 0.0 for p in chosen.parts}
    for k, p in enumerate(chosen.parts):
        chosen = changed(chosen, p.ref, 1.0 + 0.015 * (-1) ** k)
    facts = describe(changed(chosen, ref, factor), BAND)
    assert facts.suspicions, f"{ref} x {factor} went unnoticed"
    first = facts.suspicions[0]
    assert first.refs == (ref,)
    assert first.fits == pytest.approx(true[ref], rel=0.05)
    assert ref in first.text and f"! {first.text}" in facts_lines(facts)


def test_a_value_printed_once_for_two_parts_is_named_with_both() -> None:
    chosen = changed(changed(low_pass(chebyshev_g(7, 0.02)), "L2", 1.4), "L6", 1.4)
    assert describe(chosen, BAND).suspicions[0].refs == ("L2", "L6")


@pytest.mark.parametrize("ref", ["L2", "C12", "C3", "L4"])
@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_a_wrong_value_beside_traps_is_named(ref: str, factor: float) -> None:
    chosen = low_pass(ELLIPTIC.main.tolist(), ELLIPTIC.partner.tolist())
    first = describe(changed(chosen, ref, factor), BAND).suspicions[0]
    assert first.refs == (ref,)
    assert first.drawn is not None and first.fits / first.drawn == pytest.approx(1 / factor, rel=0.01)


def test_a_trap_capacitor_that_only_moves_its_notch_is_not_accused() -> None:
    """Known limit: with the notch elsewhere the ladder is as good a filter with traps. Its notch is shown instead."""
    chosen = low_pass(ELLIPTIC.main.tolist(), ELLIPTIC.partner.tolist())
    moved = describe(changed(chosen, "C14", 0.68), BAND)
    assert moved.suspicions == ()
    assert moved.notches[1].resonance == pytest.approx(describe(chosen, BAND).notches[1].resonance / math.sqrt(0.68))


def test_a_good_filter_of_its_own_design_is_no_misprint() -> None:
    """An asymmetrical design that serves its band well: nothing is suspected, whatever family lies near."""
    p, u = 1e-12, 1e-6
    chosen = Filter(
        "F",
        (
            rung("shunt", ("C11", 680 * p)),
            rung("series", ("L11", 2.37 * u)),
            rung("shunt", ("C12", 1500 * p)),
            rung("series", ("L12", 2.07 * u), ("C13", 180 * p), combined="across"),
            rung("shunt", ("C14", 1600 * p)),
            rung("series", ("L13", 2.34 * u)),
            rung("shunt", ("C15", 910 * p)),
        ),
    )
    facts = describe(chosen, (Band("80 m", 3.5e6, 4.0e6, "F"),))
    assert facts.served[0].return_loss > 20.0
    assert facts.suspicions == ()


def test_a_broken_symmetry_names_both_parts_where_no_family_fits() -> None:
    w = 2 * math.pi * EDGE
    g = (0.3, 2.2, 0.7, 0.5, 0.7, 2.2, 0.45)
    chosen = low_pass(g)
    facts = describe(chosen)
    assert {s.refs for s in facts.suspicions} == {("C1",), ("C7",)}
    assert facts.suspicions[0].drawn == pytest.approx(0.3 / w / 50)
    assert facts.suspicions[0].fits == pytest.approx(0.45 / w / 50)


def test_a_part_without_value_takes_what_the_family_gives() -> None:
    chosen = low_pass(chebyshev_g(7, 0.02))
    facts = describe(changed(chosen, "L4", None), BAND)
    assert facts.nearest is not None and facts.nearest.family is Family.CHEBYSHEV
    missing = next(p for p in facts.nearest.parts if p.refs == ("L4",))
    assert missing.value is None and missing.deviation is None
    assert missing.ideal == pytest.approx(chosen.parts[3].value, rel=1e-4)
    assert facts.served and any("L4" in line for line in facts.assumed)


def test_a_part_without_value_and_no_family_gives_no_figures() -> None:
    facts = describe(Filter("F", (rung("shunt", ("C1", None)), rung("series", ("L1", 1e-6)))), BAND)
    assert facts.served == () and facts.cutoffs == (None, None)
    assert any("C1" in note for note in facts.notes)


def test_another_resistance_is_noticed() -> None:
    facts = describe(low_pass(chebyshev_g(7, 0.05), ohm=75.0))
    assert facts.other_ohm is not None
    assert facts.other_ohm.ohm == pytest.approx(75.0, rel=0.01)
    assert describe(replace(low_pass(chebyshev_g(7, 0.05), ohm=75.0), impedance=75.0)).other_ohm is None


def test_capacitors_drawn_as_two_count_as_one() -> None:
    chosen = low_pass(chebyshev_g(5, 0.02))
    whole = chosen.rungs[2].parts[0].value or 0.0
    two = (rung("shunt", ("C31", 0.6 * whole)), rung("shunt", ("C32", 0.4 * whole)))
    facts = describe(replace(chosen, rungs=chosen.rungs[:2] + two + chosen.rungs[3:]))
    assert facts.order == 5
    assert facts.nearest is not None and facts.nearest.distance < 1e-4
    assert any(p.refs == ("C31", "C32") and p.value == pytest.approx(whole) for p in facts.nearest.parts)


def test_band_pass_and_odd_ladders() -> None:
    w0, width = 2 * math.pi * 7e6, 2 * math.pi * 1e6
    rungs = []
    for k, v in enumerate(chebyshev_g(3, 0.1)):
        if k % 2:
            henry = v * 50 / width
            rungs += [rung("series", (f"L{k}", henry)), rung("series", (f"C{k}", 1 / (w0**2 * henry)))]
        else:
            farad = v / width / 50
            rungs += [rung("shunt", (f"C{k}", farad)), rung("shunt", (f"L{k}", 1 / (w0**2 * farad)))]
    facts = describe(Filter("F", tuple(rungs)), (Band("40 m", 6.9e6, 7.1e6, "F"),))
    assert facts.passes is Pass.BAND and facts.order == 3
    assert facts.nearest is not None and facts.nearest.family is Family.CHEBYSHEV
    assert facts.nearest.edge == pytest.approx(1e6, rel=1e-3)
    low, high = facts.cutoffs
    assert low is not None and high is not None and low < 6.9e6 and high > 7.1e6
    odd = describe(Filter("F", (rung("shunt", ("R1", 100.0)), rung("series", ("L1", 1e-6)))), BAND)
    assert odd.passes is Pass.OTHER and odd.nearest is None and odd.served
    empty = describe(Filter("F", ()), BAND)
    assert empty.order == 0 and empty.nearest is None and empty.served == ()


def test_losses_are_those_stated_or_said_to_be_assumed() -> None:
    chosen = low_pass(chebyshev_g(5, 0.02))
    silent = describe(chosen, BAND)
    assert any("Q 130" in line and "L2, L4" in line for line in silent.assumed)
    stated = describe(
        replace(chosen, rungs=tuple(replace(r, parts=tuple(replace(p, q=1e5) for p in r.parts)) for r in chosen.rungs)),
        BAND,
    )
    assert stated.assumed == ()
    assert stated.served[0].loss_most < silent.served[0].loss_most


def test_half_wave_figures_are_insertion_loss_and_the_handbooks_are_named() -> None:
    """Radio Handbook 15th ed. prints 30, 48, 60, 67 dB: image attenuation. 25.1, 45.7, 59.1, 69.2 dB is right."""
    chosen = low_pass(half_wave_g(2))
    facts = describe(chosen, (Band("b", EDGE * 0.999999, EDGE, "F"),))
    levels = [h.at_high for h in facts.served[0].harmonics]
    np.testing.assert_allclose(levels, [25.1, 45.7, 59.1, 69.2], atol=0.6)
    assert abs(levels[0] - 30.0) > 4.0
    assert any("image attenuation" in note for note in facts.notes)


def test_a_trap_filter_that_reflects_below_its_band_is_healthy() -> None:
    """ARRL Handbook low-pass with added zero (1 MHz, 50 ohm; from memory): 14 dB return loss below its band."""
    p, u = 1e-12, 1e-6
    ends = [("C1", 2986 * p), ("L2", 9.377 * u), ("C3", 4556 * p)]
    places = ["shunt", "series", "shunt"]
    mirrored = [("C5", 4556 * p), ("L6", 9.377 * u), ("C7", 2986 * p)]
    middle = rung("series", ("L4", 8.516 * u), ("C4", 680.1 * p), combined="across")
    rungs = (
        *(rung(a, b) for a, b in zip(places, ends, strict=True)),
        middle,
        *(rung(a, b) for a, b in zip(places, mirrored, strict=True)),
    )
    facts = describe(Filter("F", rungs), (Band("b", 1.0e6, 1.1e6, "F"),))
    assert facts.suspicions == () and facts.nearest is not None
    assert facts.served[0].return_loss > 20.0
    assert any("14." in note and "below the served band" in note for note in facts.notes)
    assert facts.notches[0].resonance == pytest.approx(2.0913e6, rel=1e-4)


def measured_filters(name: str) -> list[tuple[Filter, tuple[Band, ...]]]:
    path = MEASURED / name / "filters.json"
    if not path.exists():
        pytest.skip(f"{path.parent.name}/filters.json of the measured filters is not beside this checkout")
    out = []
    for raw in json.loads(path.read_text()):
        value, rungs = raw["values_SI"], []
        for kind, *keys in raw["elements"]:
            assert kind in ("sC", "L", "LC")
            named = [(("C" if k.startswith("C") else "L") + k[1:], value[k]) for k in keys]
            place = "shunt" if kind == "sC" else "series"
            rungs.append(rung(place, *named, combined="across" if kind == "LC" else None))
        low, high = (f * 1e6 for f in raw["passband_MHz"])
        out.append((Filter(raw["name"], tuple(rungs)), (Band("b", low, high, raw["name"]),)))
    return out


def test_a_real_bank_is_zolotarev_like_with_its_hump_below_the_band() -> None:
    for chosen, bands in measured_filters("filter_bank"):
        facts = describe(chosen, bands)
        assert facts.nearest is not None and facts.nearest.family is Family.ZOLOTAREV
        assert facts.nearest.distance < 0.05
        assert facts.suspicions == ()
        assert facts.hump is not None
        assert facts.hump.loss_db == pytest.approx(4.2, abs=0.3)
        assert facts.hump.f < bands[0].low and facts.served[0].loss_most < 1.0
        assert facts.nearest.hump_db == pytest.approx(4.1, abs=0.3)


def test_a_real_single_filter_is_told_for_what_it_is() -> None:
    """Printed for 50 ohm, but a Chebyshev low-pass of its values would be one for 62 ohm; no value is blamed."""
    ((chosen, bands),) = measured_filters("single_lpf")
    facts = describe(chosen, bands)
    assert facts.suspicions == ()
    assert facts.other_ohm is not None and facts.other_ohm.family is Family.CHEBYSHEV
    assert facts.other_ohm.distance < 0.04
    upper = facts.cutoffs[1]
    assert upper is not None and upper == pytest.approx(30.2e6, rel=0.01)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0.05, 20.0), min_size=1, max_size=8), st.sampled_from(["shunt", "series"]))
def test_any_ladder_gets_a_finite_description(g: list[float], first: str) -> None:
    """Hostile: whatever the values, figures are finite and passive, and the words come."""
    facts = describe(low_pass(g, first=first), BAND)
    for served in facts.served:
        numbers = [served.loss_low, served.loss_most, served.return_loss, *(h.at_low for h in served.harmonics)]
        assert np.isfinite(numbers).all() and min(numbers) >= -1e-9
    assert facts.headline in facts_lines(facts)[0]
