"""Records as JSON objects with stable, documented keys (docs/json.md). SI units; NaN and infinity become null."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfsplit.advise import Advice
from halfsplit.expect import Expectation
from halfsplit.fault import Ask, Blind, Cause, Group, Mended, Ranking
from halfsplit.history import QUESTIONS, History
from halfsplit.hookup import describe, to_dict
from halfsplit.jobs import Added, Checked, Judged, Notebook
from halfsplit.journal import StoredAnswer
from halfsplit.unit import Unit
from halfsplit.verdict import Check

if TYPE_CHECKING:
    from halfsplit.filters import FilterFacts
    from halfsplit.jobs.spectra import Spectra

SCHEMA = 1

Object = dict[str, Any]


def plain(value: Any) -> Any:
    """JSON values: arrays become lists, not-a-number becomes null."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def checked(found: Checked) -> Object:
    """halfsplit check."""
    return plain_object(
        source=found.source,
        ok=not found.mistakes,
        mistakes=[{"where": m.where, "line": m.line, "found": m.found, "expected": m.expected} for m in found.mistakes],
        warnings=list(found.warnings),
        unit=None if found.unit is None else unit(found.unit),
        filters=[filter_facts(f) for f in found.facts],
    )


def plain_object(**items: Any) -> Object:
    """An object with the schema number in front."""
    return {"schema": SCHEMA, **{k: plain(v) for k, v in items.items()}}


def unit(u: Unit) -> Object:
    """What a unit file holds, in short."""
    return {
        "name": u.name,
        "bands": [{"name": b.name, "low_hz": b.low, "high_hz": b.high, "filter": b.filter} for b in u.bands],
        "points": list(u.path.points),
    }


def filter_facts(f: FilterFacts) -> Object:
    """What a filter is."""
    return asdict(f)


def started(job: Path, u: Unit, warnings: Sequence[str]) -> Object:
    """halfsplit start."""
    return plain_object(job=str(job), unit=unit(u), warnings=list(warnings))


def added(items: Sequence[Added], found: Sequence[tuple[str, str]] = ()) -> Object:
    """halfsplit add. found : (key, as understood) of results at single places"""
    return plain_object(
        found=[{"key": key, "understood": text} for key, text in found],
        readings=[
            {
                "key": a.key,
                "name": a.reading.name,
                "understood": a.reading.understood,
                "hookup": a.hookup_text,
                "traces": [
                    {"what": t.what.value, "points": len(t.f), "low_hz": t.f[0], "high_hz": t.f[-1]}
                    for t in a.reading.traces
                ],
                "used_as": list(a.labels),
                "warnings": list(a.reading.warnings),
                "asks": [{"about": q.about, "text": q.text, "assumed": q.assumed} for q in a.reading.asks],
                "same_as": list(a.same_as),
            }
            for a in items
        ],
    )


def told(kept: Sequence[StoredAnswer], known: History) -> Object:
    """halfsplit tell."""
    return plain_object(
        told=[{"key": a.key, "question": a.question, "answer": a.answer} for a in kept],
        questions=[
            {
                "question": q.key, "text": q.text, "answers": list(q.answers), "lists": q.lists,
                "known": known.known(q.key),
            }
            for q in QUESTIONS
        ],
    )  # fmt: skip


def expectation(e: Expectation) -> Object:
    """halfsplit expect."""
    return plain_object(
        hookup=describe(e.hookup), what=e.what.value, unit="dB" if e.what.value == "s21" else "|Gamma|",
        f_hz=e.f, nominal=e.nominal, low=e.low, median=e.median, high=e.high, sigma=e.sigma,
    )  # fmt: skip


def check_line(c: Check) -> Object:
    """One check of a verdict."""
    return {
        "name": c.name, "word": c.word.value, "text": c.text, "read": c.read, "expected": c.expected, "low": c.low,
        "high": c.high, "unit": c.unit, "margin_db": c.margin_db, "margin_sigma": c.margin_sigma, "at_hz": c.at_hz,
        "loudness": c.loudness,
    }  # fmt: skip


def judged(found: Judged) -> Object:
    """halfsplit judge."""
    return plain_object(
        bands=[
            {"band": b.band, "word": b.word.value, "headline": b.headline, "readings": list(b.readings)}
            for b in found.bands
        ],
        unmeasured=list(found.unmeasured),
        readings=[
            {
                "key": v.key, "label": v.label, "band": v.band, "what": v.what.value, "word": v.word.value,
                "headline": v.headline, "checks": [check_line(c) for c in v.checks], "f_hz": v.f, "read": v.read,
                "expected": v.expected, "low": v.low, "high": v.high, "deviation": v.deviation,
                "deviation_sigma": v.deviation_sigma,
            }
            for v in found.verdicts
        ],
        figures=[asdict(v) for v in found.levels],
        spectra=spectra(found.spectra),
        warnings=list(found.warnings),
    )  # fmt: skip


def spectra(found: Spectra | None) -> list[Object]:
    """Spectra against the manual and against what the filter should leave; all of it with halfsplit spectrum."""
    if found is None:
        return []
    rows = [(v.key, v.band, v.profile, v.word, v.headline) for v in found.limits]
    rows += [(h.key, h.band, "filter", h.word, h.text) for h in found.harmonics]
    return [{"key": k, "band": b, "against": a, "word": w.value, "text": t} for k, b, a, w, t in rows]


def cause(c: Cause) -> Object:
    """One cause."""
    return {
        "place": c.place, "mode": c.mode, "text": c.text, "size": c.size, "size_text": c.size_text,
        "probability": c.probability, "log_evidence": c.log_evidence, "family": c.family,
        "speaks_for": list(c.speaks_for), "speaks_against": list(c.speaks_against),
    }  # fmt: skip


def group(g: Group) -> Object:
    """One group of causes that cannot be told apart."""
    return {
        "name": g.name, "probability": g.probability, "family": g.family, "why_together": g.why_together,
        "at_once": g.at_once,
        "causes": [cause(c) for c in g.causes],
    }  # fmt: skip


def ranking(r: Ranking) -> Object:
    """halfsplit suspects."""
    return plain_object(
        belief=r.belief,
        what_changed=r.what_changed,
        mended=[mended(m) for m in r.mended],
        groups=[group(g) for g in r.groups],
        parts=[{"part": name, "probability": p} for name, p in r.parts],
        places=[{"place": name, "probability": p} for name, p in r.places],
        sound=r.sound, not_listed=r.not_listed, set90=list(r.set90), cleared=list(r.cleared),
        cannot_exclude=[one_blind(b) for b in r.cannot_exclude],
        readings=list(r.readings), warnings=list(r.warnings), told=list(r.told),
        outside=[{"cause": o.name, "text": o.text, "probability": o.probability} for o in r.outside], ask=ask(r.ask),
    )  # fmt: skip


def mended(m: Mended) -> Object:
    """What one piece of work did."""
    return {
        "key": m.key, "work": m.work, "probability": m.probability, "says": m.says, "before": list(m.before),
        "after": list(m.after),
        "causes": [
            {"place": c.place, "mode": c.mode, "text": c.text, "size": c.size, "probability": c.probability}
            for c in m.causes
        ],
    }  # fmt: skip


def ask(a: Ask | None) -> Object | None:
    """The question that would help most."""
    return None if a is None else asdict(a)


def one_blind(b: Blind) -> Object:
    """One fault that may have gone unseen."""
    return {"place": b.place, "mode": b.mode, "text": b.text, "shown": b.shown, "size": b.size, "test": b.test}


def advice(r: Ranking, items: Sequence[Advice]) -> Object:
    """halfsplit next."""
    return plain_object(belief=r.belief, ask=ask(r.ask), tests=[one_test(a) for a in items])


def one_test(a: Advice) -> Object:
    """One test worth doing."""
    return {
        "title": a.title, "connect": a.connect, "kind": a.kind,
        "hookup": None if a.hookup is None else to_dict(a.hookup), "minutes": a.minutes, "risk": a.risk,
        "information_bits": a.information_bits, "score": a.score,
        "minutes_to_go": a.minutes_to_go, "splits": a.splits, "subject": a.subject,
        "outcomes": [{"group": o.group, "probability": o.probability, "shows": o.shows} for o in a.outcomes],
        "cautions": list(a.cautions),
    }  # fmt: skip


def journal(book: Notebook) -> Object:
    """halfsplit journal."""
    from halfsplit.cli.act_shape import photo, work

    hookups = dict(book.hookups)
    return plain_object(
        name=book.name, complaint=book.complaint, unit_source=book.unit_source, unit_sha256=book.unit_hash,
        made_by=book.made_by,
        readings=[
            {
                "key": r.key, "at": r.at, "name": r.name, "understood": r.understood, "hookup": hookups[r.key],
                "withdrawn": r.withdrawn, "baseline": r.baseline,
            }
            for r in book.readings
        ],
        answers=[
            {"key": a.key, "at": a.at, "question": a.question, "answer": a.answer, "withdrawn": a.withdrawn}
            for a in book.answers
        ],
        work=[work(w) for w in book.work],
        photos=[photo(p) for p in book.photos],
        acts=[{"number": a.number, "at": a.at, "kind": a.kind, "text": a.text} for a in book.acts],
    )  # fmt: skip
