"""Work on the unit in the inference: what it cured, what is still wrong, and what it leaves alone. Values invented."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest
from test_fault import THROUGH, TWO_BANDS, F, both, reading

from halfsplit.circuit import Change, How
from halfsplit.expect import Bench, Renewal, State
from halfsplit.fault import Finding, Posterior, Work, as_it_is, ranking_of, weigh
from halfsplit.fault.findings import Meter
from halfsplit.fault.hypotheses import Place
from halfsplit.fault.lives import cure, ended_by, lives, told_apart
from halfsplit.fault.mended import listed
from halfsplit.jobs.work_done import WORDS
from halfsplit.reading import What

AILING = Change(How.VALUE, "C13"), 0.6


def work(kind: str, place: str, number: int = 1) -> Work:
    key = f"D{number}"
    return Work(key, kind, place, f"{kind} {place}", State(number, (Renewal(place, key),)))


def seen(change, size=1.0, after: Work | None = None, first: int = 1, seed: int = 4):
    """Through and return loss of a unit, keys from a first number on. seed : of the noise"""
    state = State() if after is None else after.after
    pair = [reading(change, size, what, seed=seed) for what in (What.S21, What.S11)]
    return [replace(o, key=f"R{first + i}", state=state) for i, o in enumerate(pair)]


DONE = work("replaced", "C13")
CURED = [*seen(*AILING), *seen(None, after=DONE, first=3, seed=5)]


@pytest.fixture(scope="module")
def cured() -> Posterior:
    return weigh(TWO_BANDS, CURED, works=[DONE])


@pytest.fixture(scope="module")
def unproved() -> Posterior:
    """Work done, and nothing read since."""
    return weigh(TWO_BANDS, seen(*AILING), works=[DONE])


def test_a_cured_fault_is_a_statement_and_no_suspect(cured: Posterior) -> None:
    posterior = cured
    ranking = ranking_of(posterior)
    assert ranking.groups[0].family == "sound" and ranking.sound > 0.9
    (m,) = ranking.mended
    assert (m.key, m.before, m.after) == ("D1", ("R1", "R2"), ("R3", "R4"))
    assert m.probability > 0.9 and {c.place for c in m.causes} >= {"C13"}
    assert "explained R1 and R2; D1 (replaced C13) cured it" in m.says and "R3 and R4 show it gone" in m.says
    assert m.says[1:] in ranking.belief
    now = as_it_is(posterior)
    assert all(f.hypothesis.alive(1) for f in now.fits)
    assert now.probability.sum() == pytest.approx(1.0)


def test_work_on_a_sound_place_leaves_the_fault_and_speaks_against_the_place() -> None:
    wrong = work("replaced", "L12")
    ranking = ranking_of(weigh(TWO_BANDS, [*seen(*AILING), *seen(*AILING, wrong, 3, 5)], works=[wrong]))
    assert "C13" in {c.place for c in ranking.groups[0].causes} and ranking.groups[0].probability > 0.5
    (m,) = ranking.mended
    assert m.probability < 0.05 and m.says.startswith("D1 (replaced L12) cured nothing that R1 and R2 showed")
    assert dict(ranking.parts).get("L12", 0.0) < 0.05


def test_work_that_did_not_help_at_the_right_place_is_not_believed_to_have_cured_it() -> None:
    """The new part is as wrong as the old one was."""
    ranking = ranking_of(weigh(TWO_BANDS, [*seen(*AILING), *seen(*AILING, DONE, 3, 5)], works=[DONE]))
    assert "C13" in {c.place for c in ranking.groups[0].causes}
    assert ranking.mended[0].probability < 0.2 and ranking.sound < 0.1


def test_without_a_reading_since_the_cure_is_hoped_for_and_said_to_be_unproved(unproved: Posterior) -> None:
    ranking = ranking_of(unproved)
    assert ranking.sound > 0.5
    assert "no reading since proves it" in ranking.mended[0].says
    assert any("No reading since D1" in w for w in ranking.warnings)


def test_two_routes_work_that_nothing_was_read_after_changes_no_evidence(unproved: Posterior) -> None:
    """Splitting a life into spans that hold the same readings fits each of them alike."""
    plain = {f.hypothesis.key: f for f in weigh(TWO_BANDS, seen(*AILING)).fits}
    split = {f.hypothesis.key: f for f in unproved.fits}
    key = "value|C13|down"
    cured = next(f for k, f in split.items() if k.startswith(f"{key}|states 0 to 0"))
    assert cured.log_evidence == pytest.approx(plain[key].log_evidence, abs=1e-3)
    assert split["sound"].log_evidence == pytest.approx(plain["sound"].log_evidence, abs=1e-3)
    whole = sum(p.weight for f in (cured, split[key]) for p in f.hypothesis.places)
    assert whole == pytest.approx(plain[key].hypothesis.weight)


def test_only_what_was_worked_on_is_drawn_anew() -> None:
    observations = CURED
    bench = Bench(TWO_BANDS, observations)
    before, after = ({bench.keys[k] for k in s.at} for s in bench.setups)
    assert before - after == {"C13 value", "C13 lead"}
    assert after - before == {"C13 since D1 value", "C13 since D1 lead"}
    coil = State(1, (Renewal("L12", "D1", 0.2),))
    scene = Bench(TWO_BANDS, [replace(CURED[0], state=coil)]).setups[0].scene
    sigma = {p.key: p.sigma for p in scene.params}
    assert sigma["L12 since D1 value"] == 0.2 and sigma["L11 value"] < 0.2
    assert {n.key for n in scene.nears} == {"L11-L12 since D1 coupling"}


def test_a_value_told_with_the_work_is_what_is_there_now() -> None:
    other = replace(THROUGH)
    drawn = Bench(TWO_BANDS, [replace(CURED[0], hookup=other)]).setups[0]
    rungs = tuple(
        replace(r, parts=tuple(replace(p, value=2.0 * p.value) if p.ref == "C13" else p for p in r.parts))
        for r in TWO_BANDS.filters[0].rungs
    )
    now = replace(TWO_BANDS, filters=(replace(TWO_BANDS.filters[0], rungs=rungs), TWO_BANDS.filters[1]))
    told = Bench(TWO_BANDS, [replace(CURED[0], state=State(1, (), now))]).setups[0]
    a, b = ({e.place: e.value for e in s.scene.elements} for s in (drawn, told))
    assert {k for k in a if a[k] != b[k]} == {"C13"} and b["C13"] == 2.0 * a["C13"]


def test_a_finding_speaks_of_the_unit_as_it_was_then(cured: Posterior) -> None:
    """Lifted before it was replaced, the part reads low if that was the fault; lifted after, it does not."""
    meter = Meter(cured.search)
    drawn = next(p.value for p in TWO_BANDS.filters[0].parts if p.ref == "C13")
    gone = next(f for f in cured.fits if ended_by(f.hypothesis, [DONE]) and f.hypothesis.key.startswith("value|C13"))
    place = next(p for p in gone.hypothesis.places if p.name == "C13")

    def chance(factor: float, state: int | None) -> float:
        return meter.likelihood(gone, place, Finding("measure lifted part", "C13", factor * drawn, state=state))

    assert chance(0.6, 0) > 10.0 * chance(1.0, 0)
    assert chance(1.0, 1) > 10.0 * chance(0.6, 1)
    assert chance(1.0, None) == chance(1.0, 1)


def test_the_spans_of_a_life() -> None:
    part = Place("C13", "short", 2.0)
    once = cure(DONE, part)
    assert lives(part, [DONE]) == pytest.approx({(0, 1): once.cured, (0, 2): 1.0 - once.cured, (1, 2): once.spoilt})
    twice = [DONE, work("replaced", "C13", 2)]
    spans = lives(part, twice)
    assert sum(w for (first, _), w in spans.items() if first == 0) == pytest.approx(1.0)
    assert spans[0, 2] == pytest.approx((1.0 - once.cured) * once.cured)
    assert lives(Place("C12", "short", 2.0), twice) == {(0, 3): 1.0}
    assert cure(work("resoldered", "E1 ground joint"), Place("E1 ground joint", "inductive", 1.0)).cured > 0.9
    assert cure(work("cleaned", "K1"), Place("K1 contact", "resistive", 1.0)).cured > 0.5
    assert cure(work("adjusted", "L12"), Place("L12", "value low", 1.0)).cured > 0.9
    assert cure(work("adjusted", "L12"), Place("L12", "open", 1.0)).cured < 0.5


def test_a_joint_elsewhere_may_heal_and_spans_with_the_same_readings_are_one() -> None:
    joint = Place("E1 ground joint", "resistive", 1.0)
    spans = lives(joint, [DONE, work("replaced", "L12", 2)])
    assert spans[0, 1] == pytest.approx(0.03) and spans[0, 3] == pytest.approx(0.97**2)
    assert told_apart(spans, frozenset((0, 2)), 2) == pytest.approx({(0, 1): 0.03 + 0.97 * 0.03, (0, 3): 0.97**2})
    assert told_apart({(1, 2): 1.0}, frozenset((0,)), 2) == {}


def test_ended_by_the_last_work_of_its_life(unproved: Posterior) -> None:
    ended = {f.hypothesis.key: ended_by(f.hypothesis, [DONE]) for f in unproved.fits}
    assert ended["sound"] is None and ended["value|C13|down"] is None
    assert ended["value|C13|down|states 0 to 0"] is DONE


def test_every_row_of_the_cures_has_a_source_and_every_kind_of_work_its_rows() -> None:
    rows = tomllib.loads(files("halfsplit.fault").joinpath("cures.toml").read_text("utf-8"))["row"]
    assert all(len(r["source"]) > 10 and 0.0 <= r["cured"] <= 1.0 and r["spoilt"] >= 0.0 for r in rows)
    there = {(r["work"], r["at"]) for r in rows if r["mode"] == "any"}
    assert {(r["work"], r["at"]) for r in rows if r["mode"] == "elsewhere"} == {("any", "joint"), ("any", "contact")}
    assert there == {(kind, at) for kind in WORDS for at in ("part", "joint", "contact")}


@pytest.mark.parametrize(
    ("keys", "said"),
    [((), ""), (("R1",), "R1"), (("R2", "R1"), "R1 and R2"), (("R1", "R2", "R3", "R7"), "R1 to R3 and R7")],
)
def test_keys_in_a_row(keys, said) -> None:
    assert listed(keys) == said


def test_the_readings_are_as_many_as_they_seem() -> None:
    """The readings of this page: 81 points each, before and after in setups of their own."""
    assert [s.state for s in Bench(TWO_BANDS, CURED).setups] == [0, 1]
    assert len(F) == 81 and len(both(None)) == 2 and np.isfinite(CURED[0].value).all()
