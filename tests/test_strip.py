"""The signal path as a strip and a filter as a ladder: every station and part once, in order, each state in words."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path

import pytest
from sheets import ranking, sheet_data

from halfsplit.fault import Ranking
from halfsplit.filters import Pass
from halfsplit.parts import Kind, Part
from halfsplit.report.ladder import LONGEST, NARROW, ladder, value_of
from halfsplit.report.standing import Stand, Standing, names_of, sits_at, stand
from halfsplit.report.strip import FILTER, stations, strip
from halfsplit.report.symbols import STROKES, STRUCK, filter_symbol, path_symbol
from halfsplit.unit import Filter, Rung, Unit, read_unit

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.toml"))
HOSTILE = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "K1' onload='x")
TAGS = {"ol", "li", "a", "span", "svg", "path", "circle", "rect", "g", "text"}
UNITS = [read_unit(p.read_text("utf-8"), p.name) for p in EXAMPLES]


def unit_named(start: str) -> Unit:
    return next(u for u in UNITS if u.name.startswith(start))


def clear_of(r: Ranking, *names: str) -> Ranking:
    """The same ranking with no place suspected and these names cleared."""
    return replace(r, places=(), cleared=names)


def plain(markup: str) -> ElementTree.Element:
    return ElementTree.fromstring(markup)


@pytest.mark.parametrize("unit", UNITS, ids=lambda u: u.name)
def test_every_station_of_every_band_stands_once_and_in_order(unit: Unit) -> None:
    for band in unit.bands:
        names = [s.name for s in stations(unit, band, None, False)]
        chosen = None if band.filter is None else unit.filter(band.filter)
        inner = [] if chosen is None else [x for x in (chosen.input, chosen.name, chosen.output) if x]
        at = unit.path.order.index(FILTER)
        assert names == [*unit.path.order[:at], *inner, *unit.path.order[at + 1 :]]
        assert len(set(names)) == len(names)


@pytest.mark.parametrize("unit", UNITS, ids=lambda u: u.name)
def test_exactly_the_points_of_the_path_can_be_tied_to(unit: Unit) -> None:
    shown = stations(unit, unit.bands[0], None, False)
    assert tuple(s.name for s in shown if s.point) == unit.path.points


def test_without_a_ranking_everything_is_untested() -> None:
    unit = UNITS[0]
    assert {s.stand.standing for s in stations(unit, unit.bands[0], None, True)} == {Standing.UNTESTED}


def test_what_only_one_band_uses_stays_untested_until_that_band_is_measured() -> None:
    unit = unit_named("Larkfell")
    everything = [n for f in unit.filters for n in names_of(unit, f.name)]
    r = clear_of(ranking(), *everything, "K11", "K21", "K3")
    band = unit.bands[0]
    by_name = {s.name: s.stand.standing for s in stations(unit, band, r, False)}
    assert (by_name["F1"], by_name["K11"], by_name["K3"]) == (Standing.UNTESTED, Standing.UNTESTED, Standing.CLEARED)
    by_name = {s.name: s.stand.standing for s in stations(unit, band, r, True)}
    assert (by_name["F1"], by_name["K11"]) == (Standing.CLEARED, Standing.CLEARED)


def test_a_suspect_on_another_band_is_shown_even_where_this_band_was_not_measured() -> None:
    unit = unit_named("Larkfell")
    r = replace(ranking(), places=(("K11 contact", 0.4),), cleared=())
    found = {s.name: s.stand for s in stations(unit, unit.bands[0], r, False)}
    assert found["K11"] == Stand(Standing.SUSPECT, 0.4)


def test_the_probability_of_a_piece_is_the_sum_over_its_places() -> None:
    unit = unit_named("Larkfell")
    r = replace(
        ranking(), places=(("C43", 0.3), ("C43 joint", 0.1), ("F4 2", 0.05), ("C44", 0.2), ("C11", 0.3)), cleared=()
    )
    assert stand(names_of(unit, "F4"), r).probability == pytest.approx(0.65)
    assert stand(("C43",), r).probability == pytest.approx(0.4)


def test_a_filter_is_cleared_only_when_all_of_it_is() -> None:
    unit = unit_named("Larkfell")
    names = names_of(unit, "F3")
    assert stand(names, clear_of(ranking(), *names)).standing is Standing.CLEARED
    assert stand(names, clear_of(ranking(), *names[:-3])).standing is Standing.PARTLY
    assert stand(names, clear_of(ranking())).standing is Standing.UNTESTED


def test_a_name_that_begins_like_another_is_another() -> None:
    assert (
        sits_at("C1 joint", "C1")
        and sits_at("C1", "C1")
        and not sits_at("C11", "C1")
        and not sits_at("C11 joint", "C1")
    )


def test_the_strip_says_every_state_in_words_and_shape() -> None:
    unit = unit_named("Larkfell")
    shown = stations(unit, unit.band("31 m"), ranking(), True)
    markup = strip(shown, lambda n: f"#{n}", "TP1", "J2", "TP2")
    root = plain(markup)
    items = root.findall("li")
    assert len(items) == len(shown)
    for item, one in zip(items, shown, strict=True):
        said = "".join(item.itertext())
        assert one.name in said and one.stand.standing.value in said
        assert item.find("a/svg") is None and item.find(".//{http://www.w3.org/2000/svg}svg") is not None
    tied = {s.name: "".join(i.itertext()) for i, s in zip(items, shown, strict=True)}
    assert "drive" in tied["TP1"] and "read" in tied["J2"] and "drive" not in tied["J2"]
    assert [a.get("href") for a in root.iter("a") if a.get("aria-current")] == ["#TP2"]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_with_markup_in_it_is_shown_as_text(name: str) -> None:
    unit = UNITS[0]
    part = Part(name, Kind.CAPACITOR, 1e-10, stated=name)
    rungs = (Rung("shunt", (part,), ground=name), Rung("series", (replace(part, ref="C2", adjustable=True),)))
    shown = tuple(replace(s, name=name, note=name) for s in stations(unit, unit.bands[0], None, False))
    for markup in (strip(shown, lambda n: n, name, name, name), ladder(Filter(name, rungs))):
        root = plain(markup)
        assert {e.tag.rpartition("}")[2] for e in root.iter()} <= TAGS
        assert not [k for e in root.iter() for k in e.attrib if k == "style" or k.startswith("on")]
        assert name in "".join(root.itertext())


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("unit", UNITS, ids=lambda u: u.name)
def test_a_ladder_shows_every_part_once_with_its_value_within_its_paper(unit: Unit, upright: bool) -> None:
    for chosen in unit.filters:
        root = plain(ladder(chosen, upright=upright))
        wide, high = (float(x) for x in root.get("viewBox", "").split()[2:])
        texts = list(root.iter("{http://www.w3.org/2000/svg}text"))
        refs = [t.text for t in texts if t.get("class") == "ref"]
        values = {(t.text or "") for t in texts if t.get("class") == "value"}
        grounds = list(dict.fromkeys(r.ground for r in chosen.rungs if r.ground))
        assert refs == [p.ref for p in chosen.parts] + grounds
        assert values <= {value_of(p, room) for p in chosen.parts for room in (LONGEST, NARROW)}
        for t in texts:
            x, y = float(t.get("x", "nan")), float(t.get("y", "nan"))
            long = 7.2 * len(t.text or "")
            left = {"start": x, "middle": x - 0.5 * long, "end": x - long}[t.get("text-anchor", "start")]
            assert left >= 0 and left + long <= wide and 10 <= y <= high


@pytest.mark.parametrize("unit", UNITS, ids=lambda u: u.name)
def test_no_two_words_of_a_lying_ladder_cover_each_other(unit: Unit) -> None:
    for chosen in unit.filters:
        boxes = []
        for t in plain(ladder(chosen)).iter("{http://www.w3.org/2000/svg}text"):
            x, y, long = float(t.get("x", "nan")), float(t.get("y", "nan")), 6.6 * len(t.text or "")
            left = {"start": x, "middle": x - 0.5 * long, "end": x - long}[t.get("text-anchor", "start")]
            boxes.append((left, y - 10, left + long, y, t.text))
        for i, a in enumerate(boxes):
            for b in boxes[:i]:
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
                assert apart, (chosen.name, a[4], b[4])


def test_a_part_without_value_says_that_it_is_selected_on_test() -> None:
    assert value_of(Part("C1", Kind.CAPACITOR, None)) == "on test"
    assert value_of(Part("C1", Kind.CAPACITOR, 1.5e-9)) == "1.5 nF"
    assert value_of(Part("C1", Kind.CAPACITOR, 1.5e-9, stated="1500 pF")) == "1500 pF"


def test_a_ladder_of_nothing_is_still_a_drawing() -> None:
    assert plain(ladder(Filter("F9", ()))).get("role") == "img"


def test_every_symbol_is_well_formed_and_every_pass_has_its_own() -> None:
    for kind in STROKES:
        assert plain(path_symbol(kind)).get("aria-hidden") == "true"
    assert len({filter_symbol(p) for p in Pass}) == len(STRUCK) == len(Pass)


def test_the_data_of_a_made_up_sheet_is_drawn_too() -> None:
    data = sheet_data()
    shown = stations(data.job.unit, data.job.unit.bands[0], data.ranking, True)
    assert strip(shown).count("<li") == len(shown)
