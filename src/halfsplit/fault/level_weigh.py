"""Sweeps and level readings in one likelihood: p(sweeps, levels | cause) = p(sweeps | cause) p(levels | cause, sweeps).

Every cause of the path predicts the level readings with the nuisances that the sweeps left it; causes outside the path
share what the sweeps say about a sound path. They take the place of what `told` only names.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from halfsplit.expect import LevelSet
from halfsplit.expect.level_factory import bench_of
from halfsplit.expect.levels import LevelBench
from halfsplit.fault.answers import ANY
from halfsplit.fault.hypotheses import Hypothesis, catalogue
from halfsplit.fault.level_causes import LevelCause, built, causes
from halfsplit.fault.level_evidence import Said, said_of, size_range
from halfsplit.fault.level_paths import PathEntry, path_cases
from halfsplit.fault.level_record import Levels
from halfsplit.fault.level_table import level_table
from halfsplit.fault.posterior import Posterior, posterior_of
from halfsplit.fault.reach import sizes_of
from halfsplit.fault.search import Search
from halfsplit.fault.standing import Fit
from halfsplit.fault.told import Account
from halfsplit.fault.weights import Weights
from halfsplit.unit import Unit

Real = npt.NDArray[np.float64]

HERMITE = ((-1.732, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732, 1.0 / 6.0))
SOUND_SHARE = 0.35
"""Prior share of a sound path, as in failures.toml: what the wattmeter and the unlisted cause are measured against."""


def outside_shares(
    told: Account | None, complained: bool, outside: Sequence[LevelCause]
) -> tuple[dict[str, float], tuple[tuple[str, str, float], ...], dict[str, float]]:
    """How the share of a sound path falls to what lies outside it, before the level readings.

    returns share by key of the causes that levels can tell of; (name, in words, share) of the rest, which shows on no
    meter; and share by band of the path where no sweep was made
    """
    figures = level_table().figures
    nothing = figures["nothing wrong, with a complaint" if complained else "nothing wrong"]
    rows = elsewhere(told)
    whole = sum(w for _, _, _, w in rows) + nothing
    by_key: dict[str, float] = {}
    rest: list[tuple[str, str, float]] = [("nothing", "nothing that these readings show", nothing / whole)]
    by_band: dict[str, float] = {}
    for kind, name, text, w in rows:
        own = [c for c in outside if c.kind == kind]
        total = sum(c.weight for c in own)
        if kind == ANY:
            by_band[name] = w / whole
        elif not own:
            rest.append((name, text, w / whole))
        else:
            shown = 0.5 if kind == "other" else 1.0  # half of "something else" is drive, the other half shows nowhere
            for c in own:
                by_key[c.hypothesis.key] = shown * w / whole * c.weight / total
            if shown < 1.0:
                rest.append((name, text, (1.0 - shown) * w / whole))
    for c in outside:
        if not c.kind:
            by_key[c.hypothesis.key] = c.weight / SOUND_SHARE
    return by_key, tuple(rest), by_band


def elsewhere(told: Account | None) -> list[tuple[str, str, str, float]]:
    """(kind, name, in words, weight) of causes outside the path, what was told counted in."""
    if told is None:
        return []
    found = [
        (e.elsewhere, e.prior * float(r)) for e, r in zip(told.causes.entries, told.ratio, strict=True) if e.elsewhere
    ]
    scale = sum(e.weight for e, _ in found) / max(sum(p for _, p in found), 1e-300)
    return [(e.kind, e.name, told.words_of(e), p * scale) for e, p in found]


def known_of(search: Search, fit: Fit) -> dict[str, float]:
    """Nuisances by name as one explanation of the sweeps has them."""
    theta = search.theta0.copy()
    inside = fit.keys < search.real
    theta[fit.keys[inside]] = fit.theta[inside]
    return dict(zip(search.bench.keys[: search.real], (float(x) for x in theta), strict=True))


def entry_of(search: Search, fit: Fit) -> PathEntry:
    """One explanation of the sweeps, its size as far as they leave it open."""
    h = fit.hypothesis
    if not h.sized:
        return PathEntry(h, known_of(search, fit), np.array([np.exp(h.middle)]), np.zeros(1))
    nodes = [fit.ln_size + h.width * min(fit.spread_s, 3.0) * x for x, _ in HERMITE]
    sizes = np.exp(np.clip(nodes, h.low, h.high))
    return PathEntry(h, known_of(search, fit), sizes, np.log([w for _, w in HERMITE]))


def fresh_entry(h: Hypothesis) -> PathEntry:
    """A hypothesis that no sweep has touched, at sizes of equal chance."""
    sizes = sizes_of(h) if h.sized else np.array([np.exp(h.middle)])
    return PathEntry(h, {}, sizes, np.full(len(sizes), -np.log(len(sizes))))


def level_hypotheses(bench: LevelBench, unit: Unit, weights: Weights) -> list[Hypothesis]:
    """Faults of the path that these looks go through, mistakes of sweeps left out."""
    paths = [x.path for x in bench.looks if x.path.model is not None]
    scenes = tuple(p.scene for p in paths if p.scene is not None)
    found = catalogue(unit, scenes, tuple(dict.fromkeys(p.hookup for p in paths)), weights)
    return [h for h in found if h.family == "fault"]


def with_levels(
    posterior: Posterior, unit: Unit, sets: Sequence[LevelSet], told: Account, complained: bool
) -> tuple[Posterior, Levels]:
    """The causes of a job with sweeps, weighed by its level readings as well.

    told : complaint and history, empty where nothing was told; complained : whether somebody complains
    raises UnitError, ReadingError, HookupError where the level readings cannot be used
    """
    search = posterior.search
    keys = search.bench.keys[: search.real]
    bench = bench_of(unit, sets, known_of(search, search.sound), keys, search.spread())
    outside = causes(bench)
    shares, rest, by_band = outside_shares(told, complained, outside)
    fits = list(posterior.fits)
    sound = next(i for i, f in enumerate(fits) if f.hypothesis.family == "sound")
    log_p = np.log(np.maximum(posterior.alone, 1e-300))
    fresh = unmeasured(search, bench, unit, by_band)
    entries = [entry_of(search, f) for f in fits] + [fresh_entry(h) for h, _ in fresh]
    kept = sum(share for _, _, share in rest)
    of_fresh = np.log(np.array([w for _, w in fresh]))
    of_outside = np.log(np.array([shares[c.hypothesis.key] for c in outside]))
    prior = np.concatenate([log_p, log_p[sound] + of_fresh, log_p[sound] + of_outside])
    prior[sound] += np.log(kept)
    said = weighed(bench, entries, outside, prior)
    pseudo = [replace(search.sound, hypothesis=c.hypothesis) for c in outside]
    untouched = [unmeasured_fit(search, h, said[h.key]) for h, _ in fresh]
    every = [*fits, *untouched, *pseudo]
    value = prior + np.array([said[f.hypothesis.key].log_evidence for f in every])
    gain = {k: s.log_evidence - said["sound"].log_evidence for k, s in said.items()}
    log_pair = np.log(np.maximum(posterior.together, 1e-300)) + said["sound"].log_evidence
    log_pair = log_pair + [sum(gain.get(k, 0.0) for k in x.keys) for x in posterior.pairs]
    joint = posterior_of(search, every, value, posterior.pairs, log_pair, posterior.told)
    levels = Levels(bench, said, {c.hypothesis.key: c for c in outside}, rest)
    return replace(joint, levels=levels), levels


def weighed(
    bench: LevelBench, entries: Sequence[PathEntry], outside: Sequence[LevelCause], prior: Real
) -> dict[str, Said]:
    """What the level readings say about every cause, by key; "sound" among them."""
    cases = [*path_cases(bench, entries), *(built(bench, c) for c in outside)]
    sizes = [*(e.sizes for e in entries), *(c.sizes for c in outside)]
    shares = [*(e.log_share for e in entries), *(c.log_share for c in outside)]
    blank, one = bench.cases(1), np.ones(1)
    log_prior = np.concatenate([[-np.inf], prior])
    found = said_of(bench, [blank, *cases], [one, *sizes], [np.zeros(1), *shares], log_prior)
    keys = [*(e.hypothesis.key for e in entries), *(c.hypothesis.key for c in outside)]
    out = dict(zip(keys, found[1:], strict=True))
    out.setdefault("sound", found[0])
    return out


def unmeasured(
    search: Search, bench: LevelBench, unit: Unit, by_band: Mapping[str, float]
) -> list[tuple[Hypothesis, float]]:
    """Faults of the path that no sweep has touched, with their share of what a sound path leaves to them."""
    known = {h.key for h in search.hypotheses}
    out: list[tuple[Hypothesis, float]] = []
    found = [h for h in level_hypotheses(bench, unit, search.weights) if h.key not in known]
    for band, share in by_band.items():
        mine = [h for h in found if band in bands_of(bench, h)]
        total = sum(h.weight / len(bands_of(bench, h)) for h in mine)
        out += [(h, share * h.weight / len(bands_of(bench, h)) / total) for h in mine]
    merged: dict[str, tuple[Hypothesis, float]] = {}
    for h, w in out:
        merged[h.key] = (h, w + merged.get(h.key, (h, 0.0))[1])
    return list(merged.values())


def bands_of(bench: LevelBench, h: Hypothesis) -> tuple[str, ...]:
    """Bands whose looks hold a hypothesis."""
    held = []
    for look in bench.looks:
        v = h.variant
        if (v is not None and (v.band is None or v.band == look.band.name)) or (
            h.change is not None and look.path.model is not None and look.path.model.resolve(h.change) is not None
        ):
            held.append(look.band.name)
    return tuple(dict.fromkeys(held)) or ("",)


def unmeasured_fit(search: Search, h: Hypothesis, said: Said) -> Fit:
    """A fault that no sweep touches as a fit: the sound path's, with its size as the level readings have it."""
    if not h.sized:
        return replace(search.sound, hypothesis=h, setups=(), predicted=(), ln_size=h.middle)
    low, high = size_range(said)
    spread = max(0.5 * float(np.log(max(high, 1e-12) / max(low, 1e-12))) / h.width, 0.2)
    ln = float(np.log(said.best))
    return replace(
        search.sound, hypothesis=h, setups=(), predicted=(), ln_size=ln, s=(ln - h.middle) / h.width, spread_s=spread
    )
