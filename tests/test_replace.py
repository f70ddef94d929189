"""Replacement: the search against brute force and the circuit, what a combination must stand, the command."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from units import TWO_BANDS

from halfsplit.circuit import Model, build_path, path_s
from halfsplit.cli import main
from halfsplit.errors import InputError
from halfsplit.filters import Standing, lowest_q, path_figures
from halfsplit.jobs.own_tables import read_stock
from halfsplit.jobs.replace import ReplaceWish, needs_of, replace_part, stand_in, with_part, words
from halfsplit.jobs.stress import SEED, Wish
from halfsplit.network import GROUND, factor, plan
from halfsplit.parts import Kind, StockPart, dielectrics, series
from halfsplit.parts.combine import SHAPES, Combination, Needs, StockError, search
from halfsplit.stress import Case, band_stress

ROOT = Path(__file__).parents[1]
LARKFELL = ROOT / "examples" / "larkfell-tarn-40.toml"
DRAWER = ROOT / "examples" / "drawer.csv"
UNIT_OF = {Kind.CAPACITOR: 1e-12, Kind.COIL: 1e-6, Kind.RESISTOR: 1.0}


def joined(shape: str, values: tuple[float, ...], kind: Kind) -> float:
    """Value of a combination by the rules of the textbook, written out shape by shape."""

    def series_(*x: float) -> float:
        return sum(x) if kind is not Kind.CAPACITOR else 1.0 / sum(1.0 / v for v in x)

    def parallel(*x: float) -> float:
        return sum(x) if kind is Kind.CAPACITOR else 1.0 / sum(1.0 / v for v in x)

    if shape == "a":
        return values[0]
    a, b, *rest = values
    if shape in ("a p b", "a s b"):
        return parallel(a, b) if "p" in shape else series_(a, b)
    c = rest[0]
    return {
        "a p b p c": lambda: parallel(a, b, c), "a s b s c": lambda: series_(a, b, c),
        "a p (b s c)": lambda: parallel(a, series_(b, c)), "a s (b p c)": lambda: series_(a, parallel(b, c)),
    }[shape]()  # fmt: skip


def ordered(shape: str, rows: tuple[int, ...]) -> tuple[int, ...]:
    """Members in rising order where they can be swapped."""
    return (rows[0], *sorted(rows[1:])) if "(" in shape else tuple(sorted(rows))


def every(values: list[float], kind: Kind, low: float, high: float) -> set[tuple[str, tuple[int, ...]]]:
    """All combinations by brute force: (shape, sorted members inside what can be swapped)."""
    n, out = range(len(values)), set()
    for shape in SHAPES:
        for rows in itertools.product(n, repeat=len(shape.translate(str.maketrans("", "", "ps() ")))):
            if low <= joined(shape, tuple(values[i] for i in rows), kind) <= high:
                out.add((shape, ordered(shape, rows)))
    return out


@pytest.mark.parametrize("kind", list(Kind))
@pytest.mark.parametrize(("wanted", "tolerance"), [(147.0, 0.02), (33.0, 0.05), (700.0, 0.10), (5.0, 0.3)])
def test_the_search_finds_all_that_brute_force_finds(kind: Kind, wanted: float, tolerance: float) -> None:
    rng = np.random.default_rng(11)
    values = sorted(float(f"{v:.3g}") for v in np.exp(rng.uniform(np.log(8), np.log(900), 13)))
    one = UNIT_OF[kind]
    stock = [StockPart(kind, v * one) for v in values]
    found = search(stock, kind, wanted * one, tolerance, Needs(), most=10**6)
    mine = {
        (c.shape, tuple(values.index(round(m.part.value / one, 6)) for m in c.members)) for c in found.best
    }  # fmt: skip
    mine = {(shape, ordered(shape, rows)) for shape, rows in mine}
    # A hair off the ends of the tolerance, so that rounding does not decide.
    wider = every([v * one for v in values], kind, wanted * one * (1 - tolerance) * (1 - 1e-12),
                  wanted * one * (1 + tolerance) * (1 + 1e-12))  # fmt: skip
    assert mine == wider
    assert found.counted == len(found.best) == len(mine)


def circuit_of(c: Combination, w: float) -> tuple[complex, list[complex], list[complex]]:
    """(impedance, volts of each member, amps of each member) for 1 V across it, by the network solver."""

    def z(k: int) -> complex:
        v, kind = c.members[k].part.value, c.members[k].part.kind
        return v if kind is Kind.RESISTOR else 1j * w * v if kind is Kind.COIL else 1.0 / (1j * w * v)

    ends = {
        "a": [(0, GROUND)], "a p b": [(0, GROUND)] * 2, "a s b": [(0, 1), (1, GROUND)], "a p b p c": [(0, GROUND)] * 3,
        "a s b s c": [(0, 1), (1, 2), (2, GROUND)], "a p (b s c)": [(0, GROUND), (0, 1), (1, GROUND)],
        "a s (b p c)": [(0, 1), (1, GROUND), (1, GROUND)],
    }[c.shape]  # fmt: skip
    y = np.array([[1.0 / z(k)] for k in range(len(ends))], complex)
    n = max(max(pair) for pair in ends) + 1
    volts = factor(plan(n, ends), y).columns([(0, GROUND)])[0, :, 0]
    impedance = volts[0]
    node = [*(volts / impedance), 0.0]
    across = [node[a] - node[b] for a, b in ends]
    return impedance, across, [v / z(k) for k, v in enumerate(across)]


@pytest.mark.parametrize("kind", list(Kind))
@pytest.mark.parametrize("shape", SHAPES)
def test_volts_amps_and_tolerance_divide_as_the_circuit_divides_them(kind: Kind, shape: str) -> None:
    one, w = UNIT_OF[kind], 2 * np.pi * 7e6
    stock = [
        StockPart(kind, v * one, tolerance=t, q=q) for v, t, q in ((47, 0.05, 200), (82, 0.1, 90), (330, 0.02, 500))
    ]
    values = tuple(p.value for p in stock[: len(shape.translate(str.maketrans("", "", "ps() ")))])
    found = search(stock, kind, joined(shape, values, kind), 1e-9, Needs(100.0, 70.0, 2.0, 1.0, 140.0), most=100)
    c = next(c for c in found.best if c.shape == shape)
    impedance, volts, amps = circuit_of(c, w)
    for k, m in enumerate(c.members):
        assert m.volts == pytest.approx(abs(volts[k]), rel=1e-9)
        assert m.amps == pytest.approx(abs(amps[k]) * abs(impedance), rel=1e-9)
    shares = [m.volts * m.amps for m in c.members]
    assert sum(shares) == pytest.approx(1.0)
    # A worst-case tolerance is the sum of |d ln value / d ln member| times its own: checked by a small step of each.
    own = [m.part for m in c.members]
    for k, share in enumerate(shares):
        moved = joined(shape, tuple(p.value * (1.0 + 1e-6 * (i == k)) for i, p in enumerate(own)), kind)
        assert abs(np.log(moved / c.value)) / 1e-6 == pytest.approx(share, rel=1e-4)
    assert c.tolerance == pytest.approx(sum(s * (p.tolerance or 0) for s, p in zip(shares, own, strict=True)))
    assert 1.0 / (c.q or 0) == pytest.approx(sum(s / (p.q or 0) for s, p in zip(shares, own, strict=True)))


def test_only_what_is_there_and_only_as_often() -> None:
    stock = [StockPart(Kind.CAPACITOR, 100e-12, count=2), StockPart(Kind.CAPACITOR, 300e-12, count=1)]
    assert {words(c) for c in search(stock, Kind.CAPACITOR, 200e-12, 1e-6, Needs()).best} == {"100 pF || 100 pF"}
    three = search(stock, Kind.CAPACITOR, 300e-12, 1e-6, Needs())
    assert {words(c) for c in three.best} == {"300 pF"}  # three of 100 pF would be one more than there are


def test_ratings_decide_and_the_one_that_misses_least_is_named() -> None:
    needs = Needs(peak_volts=300.0, rms_volts=212.0, amps=2.0, watts=0.3, va=424.0)
    low = [
        StockPart(Kind.CAPACITOR, 100e-12, rating="200 V", count=1),
        StockPart(Kind.CAPACITOR, 200e-12, rating="160 V"),
    ]
    found = search(low, Kind.CAPACITOR, 100e-12, 0.01, needs)
    # 100 pF alone gets 300 V on 200 V; two of 200 pF in series get 150 V each on 160 V.
    assert [words(c) for c in found.best] == ["200 pF in series with 200 pF"]
    assert found.best[0].use == pytest.approx(150.0 / 160.0)
    none = search(low[:1], Kind.CAPACITOR, 100e-12, 0.01, needs)
    assert none.standing == 0 and none.weakest is not None
    assert none.weakest.members[0].use == pytest.approx(1.5)
    amps = search([StockPart(Kind.CAPACITOR, 50e-12, rating="1 kV, 1.2 A")], Kind.CAPACITOR, 100e-12, 0.01, needs)
    assert [words(c) for c in amps.best] == ["50 pF || 50 pF"]
    assert amps.best[0].members[0].use_of == "amps"


def test_nothing_near_names_the_nearest() -> None:
    stock = [StockPart(Kind.RESISTOR, 47.0), StockPart(Kind.RESISTOR, 1000.0)]
    found = search(stock, Kind.RESISTOR, 30.0, 0.01, Needs())
    assert found.counted == 0 and found.nearest is not None
    assert words(found.nearest) == "47 ohm || (47 ohm in series with 47 ohm)"
    assert found.nearest.off == pytest.approx(47 * 2 / 3 / 30 - 1)
    with pytest.raises(StockError, match="no coil"):
        search(stock, Kind.COIL, 1e-6, 0.1, Needs())


def test_a_search_without_end_is_refused() -> None:
    many = [StockPart(Kind.RESISTOR, 100.0 + 0.01 * k) for k in range(500)]
    with pytest.raises(StockError, match="a tighter tolerance"):
        search(many, Kind.RESISTOR, 300.0, 0.5, Needs())


def test_the_path_figures_are_those_of_the_path() -> None:
    """Two routes: the figures of the verb, and the scattering parameters at the frequency that they name."""
    band = TWO_BANDS.bands[0]
    found = path_figures(TWO_BANDS, band, np.random.default_rng(1), draws=5)
    for f in found.figures:
        model = Model(build_path(TWO_BANDS, band.name), np.array([f.f]))
        s = path_s(model.solve(np.zeros((1, len(model.keys)))))[:, :, 0, 0]
        wanted = -20 * np.log10(abs(s[0, 0] if f.what == "return loss" else s[1, 0]))
        assert f.worst == pytest.approx(wanted, abs=1e-9)
        assert f.standing is Standing.NO_LIMIT


def test_the_lowest_q_keeps_what_it_says() -> None:
    band = TWO_BANDS.bands[0]
    part = TWO_BANDS.filters[0].parts[4]
    from dataclasses import replace

    def made(q: float):
        return with_part(TWO_BANDS, replace(part, q=q))

    q, _ = lowest_q(TWO_BANDS, band, made, 0.05)
    assert q is not None
    losses = [
        path_figures(made(x), band, np.random.default_rng(1), draws=2).figures[0].worst for x in (q, 1e6)
    ]  # fmt: skip
    assert losses[0] - losses[1] == pytest.approx(0.05, abs=0.002)


def test_no_more_q_is_asked_than_the_drawing_has() -> None:
    found = replace_part(LARKFELL, ReplaceWish("L42"))
    assert found.q is not None
    assert (found.q.q, found.q.because) == (170.0, "no worse than the part of the drawing")


def test_a_stand_in_is_put_into_the_network_as_it_is() -> None:
    stock = [StockPart(Kind.CAPACITOR, 100e-12, 0.02, q=800.0), StockPart(Kind.CAPACITOR, 330e-12, 0.02, q=800.0)]
    found = search(stock, Kind.CAPACITOR, 430e-12, 0.001, Needs())
    made = stand_in(TWO_BANDS.filters[0].parts[0], found.best[0])
    assert (
        made.value == pytest.approx(430e-12) and made.tolerance == pytest.approx(0.02) and made.q == pytest.approx(800)
    )
    assert made.lead_inductance == pytest.approx(6e-9 * ((100 / 430) ** 2 + (330 / 430) ** 2))
    assert with_part(TWO_BANDS, made).filters[0].parts[0] is made
    assert with_part(TWO_BANDS, made).filters[1] == TWO_BANDS.filters[1]


def test_needs_are_the_worst_of_all_bands() -> None:
    places = [
        band_stress(TWO_BANDS, b.name, Case(100.0, 2.0), np.random.default_rng(SEED), draws=9).at("J2")
        for b in TWO_BANDS.bands
    ]
    assert needs_of(places).peak_volts == max(p.peak_volts.high for p in places if p.peak_volts)


def test_the_drawer_of_the_example_gives_what_fits() -> None:
    found = replace_part(LARKFELL, ReplaceWish("C42", DRAWER))
    assert words(found.choices[0].combination) == "100 pF || 330 pF"
    assert all(abs(c.combination.off) <= 0.05 for c in found.choices)
    assert all(c.combination.use is None or c.combination.use <= 1.0 for c in found.choices)
    assert {m.part.dielectric for c in found.choices for m in c.combination.members} <= {"mica", "ceramic"}
    assert "paper" in {d.name for d in found.unsuited} and "mica" in {d.name for d in found.suited}
    sizes = [len(c.combination.members) for c in found.choices]
    assert sizes == sorted(sizes)
    drawn, first = found.drawn[0].figures, found.choices[0].figures[0].figures
    assert [f.what for f in drawn] == ["loss", "return loss", "attenuation"]
    assert abs(drawn[0].worst - first[0].worst) < 0.05  # the same value and a better Q: nearly the same loss


def test_without_a_stock_preferred_values_are_taken() -> None:
    found = replace_part(LARKFELL, ReplaceWish("C33", value=147e-12, tolerance=0.01))
    allowed = {f"{v:.3g}" for v in series(24)}
    for c in found.choices:
        for m in c.combination.members:
            assert f"{m.part.value / 10 ** np.floor(np.log10(m.part.value) + 1e-9):.3g}" in allowed
    assert len(found.choices[0].combination.members) == 2  # 147 pF is no preferred value: 47 || 100, 12 || 135...


@pytest.mark.parametrize(("wish", "says"), [
    (ReplaceWish("C99"), "no part 'C99'"),
    (ReplaceWish("T91A"), "winding on a shared core"),
    (ReplaceWish("C42", DRAWER, tolerance=1e-9, value=431.7e-12), "the nearest is"),
    (ReplaceWish("C42", DRAWER, at_power=Wish(watts=1000.0)), "V peak where 500 V peak is printed"),
    (ReplaceWish("L42", DRAWER), "too lossy: the best has a Q of 50"),
    (ReplaceWish("C42", DRAWER, series=24), "one of the two"),
    (ReplaceWish("C42", Path("nowhere.csv")), "No such file"),
])  # fmt: skip
def test_what_cannot_be_had_is_said_with_the_figure_that_misses(wish: ReplaceWish, says: str) -> None:
    with pytest.raises(InputError, match=says):
        replace_part(LARKFELL, wish)


def test_a_part_selected_on_test_needs_its_value_and_no_more(tmp_path: Path) -> None:
    path = tmp_path / "on-test.toml"
    text = LARKFELL.read_text("utf-8").replace('"C42", value = "430 pF"', '"C42", value = "selected on test"')
    path.write_text(text, "utf-8")
    with pytest.raises(InputError, match="no value on the drawing"):
        replace_part(path, ReplaceWish("C42"))
    found = replace_part(path, ReplaceWish("C42", value=430e-12))
    assert found.drawn == replace_part(LARKFELL, ReplaceWish("C42")).drawn


def test_parts_wider_than_what_is_wanted_are_to_be_picked() -> None:
    found = replace_part(LARKFELL, ReplaceWish("C13", series=12, tolerance=0.02))
    assert any("measure them and pick" in note for note in found.notes)


def test_a_job_will_do_as_well_as_a_unit_file(tmp_path: Path) -> None:
    job = str(tmp_path / "t.job")
    assert CliRunner().invoke(main, ["start", job, "--unit", str(LARKFELL)]).exit_code == 0
    for words_ in (["stress", job, "--band", "31 m"], ["replace", job, "C42"], ["coil", "--of", job, "--part", "L42",
                   "--form", "10 mm", "--wire", "1 mm"]):  # fmt: skip
        assert CliRunner().invoke(main, words_).exit_code == 0


def test_a_stock_with_mistakes_is_refused_with_all_of_them(tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(
        "kind,value,tolerance,rating,dielectrc,count\n"
        "capacitor,100 pF,5 %,500 V,mica,2\n"
        "condenser,100 pF,5 %,500 V,mica,2\n"
        "capacitor,100 uH,5 %,500 V,mica,2\n"
        "capacitor,100 pF,5 %,500,mica,0\n", "utf-8")  # fmt: skip
    with pytest.raises(InputError) as caught:
        read_stock(bad)
    lines = [(m.line, m.found) for m in caught.value.mistakes]
    assert [n for n, _ in lines] == [1, 3, 4, 5, 5], lines
    toml = tmp_path / "bad.toml"
    toml.write_text('[[part]]\nkind = "coil"\nvalue = "1 uH"\ndielectric = "mica"\n[[prt]]\n', "utf-8")
    with pytest.raises(InputError, match=r"(?s)dielectric.*|prt"):
        read_stock(toml)
    good = tmp_path / "good.toml"
    good.write_text('[[part]]\nkind = "coil"\nvalue = "1 uH"\nq = 80\ncount = 3\n', "utf-8")
    assert read_stock(good) == (StockPart(Kind.COIL, 1e-6, q=80.0, count=3),)


def test_every_dielectric_of_the_unit_file_has_its_row() -> None:
    from halfsplit.unit.ladder import DIELECTRICS

    assert set(dielectrics()) == set(DIELECTRICS)
    assert all(len(d.source) > 10 and d.q > 0 for d in dielectrics().values())


def test_the_command_prints_text_and_json() -> None:
    line = ["replace", str(LARKFELL), "C42", "--stock", str(DRAWER)]
    done = CliRunner().invoke(main, line)
    assert done.exit_code == 0, done.output
    for said in ("100 pF || 330 pF", "It must stand", "as drawn", "Caution", "resistor across each"):
        assert said in done.output
    found = json.loads(CliRunner().invoke(main, [*line, "--json"]).stdout)
    assert found["choices"][0]["parts"][0]["amps_share"] == pytest.approx(100 / 430)
    assert found["choices"][0]["figures"][0]["band"] == "31 m"
