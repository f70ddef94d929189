"""Records for a bench sheet, made by hand: no reader and no model involved. All values invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from units import THROUGH, TWO_BANDS

from halfsplit.advise import Advice
from halfsplit.advise.records import Outcome
from halfsplit.expect import Observation
from halfsplit.fault import Ask, Cause, Group, Outside, Ranking, Reply
from halfsplit.fault.records import Blind
from halfsplit.jobs import Job, JobData, Notebook
from halfsplit.journal import Act, StoredReading
from halfsplit.reading import What
from halfsplit.verdict import BandVerdict, Check, Verdict, Word

F = np.linspace(1e6, 30e6, 146)
BAND = TWO_BANDS.bands[0]  # 60 m, 5.2 to 5.5 MHz


def lowpass(f):
    """Some low-pass response, dB."""
    return -0.3 - 10 * np.log10(1 + (f / 6.6e6) ** 14)


def verdict(f=F, read=None, *, what=What.S21, at_least=None, tolerance=None, key="R1", word=Word.OUTSIDE, **more):
    """(Verdict, Observation) of a reading. read : (n,) dB or |Gamma|; tolerance : (n,) 1 sigma, same unit"""
    f = np.asarray(f, float)
    expected = lowpass(f) if what is What.S21 else np.full(len(f), 0.1)
    read = expected if read is None else np.asarray(read, float)
    tolerance = 0.12 + 0.08 * np.abs(expected) if tolerance is None else np.asarray(tolerance, float)
    at_least = np.zeros(len(f), bool) if at_least is None else np.asarray(at_least, bool)
    low, high = expected - 1.645 * tolerance, expected + 1.645 * tolerance
    if what is not What.S21:
        low = np.maximum(low, 0.0)
    deviation = np.where(at_least & (read > expected), 0.0, read - expected)
    label = more.pop("label", "60 m: through TP1 to J2")
    checks = more.pop("checks", (Check("worst point", word, "worst point: said here", margin_db=-1.5, loudness=3.0),))
    v = Verdict(
        key, label, BAND.name, what, word, "headline", checks, f, read, expected, low, high, deviation,
        deviation / tolerance,
    )  # fmt: skip
    return v, Observation(key, THROUGH, what, f, read, 0 * f, at_least, label)


def ranking(word: str = "") -> Ranking:
    """Three groups. word : put into every text, to be found again"""
    cause = Cause(
        f"C12{word}", "value low", f"C12 value low{word}", 4e-10, f"400 pF{word}", 0.7, 12.0, (f"it fits{word}",),
        (f"it is new{word}",), "part",
    )  # fmt: skip
    sound = Cause("", "sound", f"sound{word}", None, "", 0.08, 0.0, (), (), "sound")
    groups = (
        Group(f"C12 low{word}", 0.7, (cause, replace(cause, place="C13")), f"same place{word}", "part"),
        Group("something not listed", 0.22, (replace(cause, family="not listed"),), "", "not listed"),
        Group("sound", 0.08, (sound,), "", "sound"),
    )
    return Ranking(
        groups, (("C12", 0.7),), (("C12", 0.7),), 0.08, 0.22, (f"C12 low{word}", "something not listed"),
        (f"K9{word}",), (Blind("L12", "value low", f"L12 down to 1 uH{word}", True),), ("R1",), (f"mind{word}",),
        f"Most likely C12 low{word}.", (Outside("supply", f"the supply{word}", 0.08),), (f"knock: yes{word}",),
        Ask(f"Does it hum{word}?", 0.3, (Reply(f"it does{word}", 0.4, f"C12 up{word}", "hum = yes"),), f"live{word}"),
    )  # fmt: skip


def advice(word: str = "") -> Advice:
    """One test."""
    return Advice(
        f"Measure C12{word}", f"lift C12{word}", "lcr", None, 6.0, f"heat{word}", 0.9, 0.1, f"C12 from the rest{word}",
        (Outcome(f"C12 low{word}", 0.7, f"400 pF{word}"),), (f"Power off{word}",),
    )  # fmt: skip


def sheet_data(word: str = "", judged=None) -> JobData:
    """A job with two readings, one of them withdrawn, and everything that a sheet can show."""
    judged = [verdict()] if judged is None else judged
    unit = replace(TWO_BANDS, name=f"Unit{word}", note=f"noted{word}", rated_watts=40.0)
    at = "2026-03-01T10:20:30+00:00"
    kept = StoredReading("R1", at, f"sweep.csv{word}", b"", {}, {}, f"146 points{word}", None, True)
    gone = replace(kept, key="R2", withdrawn=f"lead off{word}", baseline=False)
    acts = (Act(1, at, "start", f"job tarn{word}"), Act(2, at, "note", f"lid off{word}"))
    observations = tuple(o for _, o in judged)
    job = Job("tarn", "", unit, (kept, gone), observations, (("R3", f"cannot be read{word}"),))
    book = Notebook(
        f"tarn{word}", f"no power{word}", f"unit.toml{word}", "ab" * 32, f"halfsplit 0.1.0{word}", (kept, gone),
        (("R1", f"60 m: tied on{word}"), ("R2", "60 m: tied on")), acts,
    )  # fmt: skip
    verdicts = tuple(v for v, _ in judged)
    bands = (BandVerdict(BAND.name, Word.OUTSIDE, f"says{word}", ("R1",)),) if verdicts else ()
    return JobData(job, book, verdicts, bands, ranking(word), (advice(word),))


def empty_data() -> JobData:
    """A job without readings."""
    full = sheet_data()
    job = replace(full.job, readings=(), observations=(), broken=())
    return JobData(job, replace(full.notebook, readings=(), hookups=()), (), (), None, ())
