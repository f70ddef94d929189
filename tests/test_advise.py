"""The advice room: what tests tell, what they cost, what a result changes. Cases invented unless a source is named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_fault import F, both, reading
from units import THROUGH, TWO_BANDS

from halfsplit.advise import costs, next_tests, what_changed, with_tests
from halfsplit.advise.causes import suspects_of
from halfsplit.advise.choose import ENOUGH, leading, options
from halfsplit.advise.forecast import Beliefs, Forecast, told
from halfsplit.advise.sweeps import candidates
from halfsplit.advise.touches import touches
from halfsplit.circuit import Change, How
from halfsplit.errors import InputError
from halfsplit.expect import Bench
from halfsplit.fault import Finding, heeding, ranking_of, weigh
from halfsplit.reading import What


@pytest.fixture(scope="module")
def ill():
    """One through reading of a unit whose last capacitor has lost a fifth of its value: not settled yet."""
    return weigh(TWO_BANDS, [reading(Change(How.VALUE, "C13"), 0.8)])


@pytest.fixture(scope="module")
def well():
    return weigh(TWO_BANDS, both(None))


def test_a_sweep_tells_two_causes_apart_as_two_normals_do():
    # two causes d sigma apart, outcome given to the likelier one: wrong in Phi(-d / 2) of cases.
    # source: any text on the likelihood-ratio test of two equal normals; Phi(-1) = 0.1587
    seen = Forecast(np.array([[0.0], [2.0]]), np.ones((2, 1, 1)))
    table = told(seen, np.random.default_rng(3), draws=20000)
    assert table[0, 1] == pytest.approx(0.1587, abs=0.01)
    assert table.sum(1) == pytest.approx(1.0)
    same = told(Forecast(np.zeros((3, 2)), np.tile(np.eye(2), (3, 1, 1))), np.random.default_rng(0))
    assert same[:, 0] == pytest.approx(1.0)  # what looks alike is never told apart by chance


def test_a_forecast_covers_what_the_unit_then_shows(ill):
    """The truth's own forecast of another sweep, against units drawn from what the first reading leaves open."""
    search, fit = ill.search, ill.fits[ill.order()[0]]
    beliefs = Beliefs(search, [fit])
    sweep = next(s for s in candidates(TWO_BANDS, search, ()) if s.what is What.S11)
    setup = beliefs.setup(sweep)
    seen = beliefs.forecast(sweep, setup)
    p, rng = search.real, np.random.default_rng(5)
    draws = rng.multivariate_normal(np.zeros(p + 1), beliefs.cov[0], 300)
    theta = np.zeros((300, len(search.bench.keys)))
    theta[:, :p] = beliefs.theta[0] + draws[:, :p]
    theta[:, p:] = rng.standard_normal((300, theta.shape[1] - p))
    at = setup.model.resolve(fit.hypothesis.change)
    sizes = np.exp(fit.ln_size + fit.hypothesis.width * draws[:, p])
    shown = search.bench.predict(setup, theta, [(at, float(s)) for s in sizes], slopes=False)[0]
    sigma = np.sqrt(np.diag(seen.cov[0] - beliefs.noise(sweep, 0, seen.values[0])))
    inside = np.abs(shown - seen.values[0]) < 2.0 * sigma
    assert 0.85 < inside.mean() <= 1.0  # 0.95 for a linear model


def test_its_own_spread_is_wider_than_the_sound_units(ill):
    fits = [ill.fits[i] for i in ill.order()[:4]]
    beliefs = Beliefs(ill.search, fits)
    sized = [k for k, f in enumerate(fits) if f.hypothesis.width > 0]
    assert sized
    for k in sized:
        assert 0.0 < beliefs.cov[k, -1, -1] < 1.0  # the readings have narrowed the size


def test_few_parts_left_are_planned_two_ahead_and_one_part_is_confirmed(ill):
    ranking = ranking_of(ill)
    suspects = suspects_of(ill, ranking)
    advice = next_tests(TWO_BANDS, ill, ranking, np.random.default_rng(0), 5)
    assert leading(suspects)[1] < ENOUGH
    assert advice[0].minutes_to_go is not None
    assert advice[0].minutes_to_go >= advice[0].minutes
    sure = heeding(ill, [Finding("measure lifted part", "C13", 0.8 * 560e-12)])
    lead, held = leading(suspects_of(sure, ranking_of(sure)))
    assert (lead, held > ENOUGH) == ("C13", True)
    after = next_tests(TWO_BANDS, sure, ranking_of(sure), np.random.default_rng(0))
    assert after
    assert all(a.title.startswith("Confirm") and "C13" in a.title for a in after)


def test_a_lifted_part_convicts_or_clears(ill):
    before = dict(ranking_of(ill).parts)
    bad = dict(ranking_of(heeding(ill, [Finding("measure lifted part", "C13", 0.8 * 560e-12)])).parts)
    good = dict(ranking_of(heeding(ill, [Finding("measure lifted part", "C13", 560e-12, lossy=False)])).parts)
    assert good.get("C13", 0.0) < 0.5 * before["C13"]
    assert bad["C13"] > before["C13"]
    assert sum(heeding(ill, [Finding("ohms across", "L12 joint", 0.01)]).probability) == pytest.approx(1.0)


def test_ohms_tell_the_joint_from_the_part():
    posterior = weigh(TWO_BANDS, both(Change(How.OHM, "K1 contact"), 15.0))
    bad = heeding(posterior, [Finding("ohms across", "K1 contact", 14.0)])
    good = heeding(posterior, [Finding("ohms across", "K1 contact", 0.02)])
    assert dict(ranking_of(bad).places)["K1 contact"] > 0.95
    assert dict(ranking_of(good).places)["K1 contact"] < dict(ranking_of(posterior).places)["K1 contact"]
    cured = heeding(posterior, [Finding("bridge and sweep again", "K1 contact", word="cured")])
    assert dict(ranking_of(cured).places)["K1 contact"] > 0.95


def test_tables_of_tests_by_hand_are_probabilities_and_a_test_is_not_asked_twice(ill):
    suspects = suspects_of(ill, ranking_of(ill))
    hands = touches(ill.search, suspects)
    assert {t.kind for t in hands} >= {"measure lifted part"}
    for t in hands:
        assert t.table.sum(1) == pytest.approx(1.0)
        assert t.nothing.sum() == pytest.approx(1.0)
    done = [Finding("measure lifted part", "C13", 560e-12)]
    after = heeding(ill, done)
    titles = [
        a.title for a in next_tests(TWO_BANDS, after, ranking_of(after), np.random.default_rng(0), 20, findings=done)
    ]
    assert not any("C13 lifted" in t for t in titles)


def test_own_minutes_change_the_score_and_mistakes_in_the_table_are_all_named(ill):
    suspects = suspects_of(ill, ranking_of(ill))
    hands = touches(ill.search, suspects)
    dear = costs('[[test]]\nkind = "measure lifted part"\nminutes = 60\n', "mine.toml")
    assert dear["measure lifted part"].source == "mine.toml"
    assert dear["measure lifted part"].risk_minutes == costs()["measure lifted part"].risk_minutes
    rng = np.random.default_rng
    one = {o.advice.title: o.advice for o in options(TWO_BANDS, ill, suspects, hands, costs(), rng(0))}
    two = {o.advice.title: o.advice for o in options(TWO_BANDS, ill, suspects, hands, dear, rng(0))}
    lifted = [t for t in one if t.startswith("Measure")]
    assert lifted
    assert all(two[t].score < one[t].score and two[t].minutes == 60.0 for t in lifted)
    with pytest.raises(InputError) as caught:
        costs('[[test]]\nkind = "shake it"\nminutes = -3\nhours = 1\n', "mine.toml")
    assert len(caught.value.mistakes) == 3
    for text in ("[test", "test = 3", ""):
        if text:
            with pytest.raises(InputError):
                costs(text, "mine.toml")


def test_every_row_of_the_table_has_a_source_and_every_kind_of_advice_a_row(ill):
    table = costs()
    assert all(c.source and c.risk and c.minutes > 0 and c.risk_minutes >= 0 for c in table.values())
    assert {s.kind for s in candidates(TWO_BANDS, ill.search, ())} <= set(table)
    assert {t.kind for t in touches(ill.search, suspects_of(ill, ranking_of(ill)))} <= set(table)


def test_sweeps_leave_no_filter_hanging_and_repeat_nothing(ill):
    found = list(candidates(TWO_BANDS, ill.search, suspects_of(ill, ranking_of(ill))))
    own = [s for s in found if s.hookup.band == "60 m" and s.what is What.S21]
    assert not any(
        (s.hookup.drive, s.hookup.read) == (THROUGH.drive, THROUGH.read) and not s.hookup.bridged for s in own
    )
    for s in own:
        if s.hookup.read == "BUS IN":
            assert s.hookup.released == ("K1",)  # the filter's own relay takes it off
        if s.hookup.read == "F1 in":
            pytest.fail("the ladder would hang on F1 in")
    assert any(s.hookup.drive == "F1 in" and s.hookup.released == ("K1", "K2") for s in own)


def test_what_changed_is_two_sentences_for_and_against_and_why():
    first = weigh(TWO_BANDS, [reading(Change(How.OHM, "K1 contact"), 15.0)])
    second = weigh(TWO_BANDS, both(Change(How.OHM, "K1 contact"), 15.0))
    a, b = ranking_of(first), ranking_of(second)
    advice = next_tests(TWO_BANDS, second, b, np.random.default_rng(0))
    text = what_changed(a, b, "R2 is outside", advice)
    moved = {n: dict(b.parts).get(n, 0.0) - dict(a.parts).get(n, 0.0) for n in {*dict(a.parts), *dict(b.parts)}}
    gainer = max(moved, key=moved.get)
    if moved[gainer] > 0.05:
        assert f"speaks for {gainer}" in text or gainer in text
    assert text.count(". Next ") == 1
    assert text.endswith(".")
    assert ", because " in text
    alone = what_changed(None, b, "R1 is outside", ())
    assert "that alone" in alone
    assert alone.endswith("No test on the list would tell more.")
    assert "changes little" in what_changed(b, b, "R3 is within", advice)


def test_what_is_not_excluded_has_a_test_that_does_show_it(well):
    ranking = with_tests(TWO_BANDS, well, ranking_of(well))
    assert ranking.cannot_exclude
    assert all(b.test.endswith(("would show it", "from half that size")) for b in ranking.cannot_exclude)
    # held against the search itself: a fault of that size, the named sweep added, is no longer called sound
    joint = next(b for b in ranking.cannot_exclude if b.test.endswith("half that size") and b.size is not None)
    change = next(h.change for h in well.search.hypotheses if h.key == joint.key)
    sweep = next(
        s for s in candidates(TWO_BANDS, well.search, ()) if joint.test.startswith(("Sweep", "Return loss"))
        and joint.test.removesuffix(" would show it from half that size") == title_of(s)
    )  # fmt: skip
    observation = both(None)[0]
    hookup = replace(sweep.hookup, instrument="analyser", reference="calibrated")
    bench = Bench(TWO_BANDS, [replace(observation, hookup=hookup, what=sweep.what, f=F)], most=len(F))
    at = bench.setups[0].model.resolve(change)
    theta = np.zeros((2, len(bench.keys)))
    plain, ill = bench.predict(bench.setups[0], theta, [None, (at, joint.size)], slopes=False)[0]
    white = bench.setups[0].views[0].white
    assert ((white @ (ill - plain)) ** 2).sum() > 6.0


def title_of(sweep):
    from halfsplit.advise.wording import sweep_title

    return sweep_title(sweep)
