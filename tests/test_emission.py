"""Emission: limits against their sources, names of lines, harmonics through a filter, and what is refused."""

from __future__ import annotations

import csv
import math
import tomllib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from halfsplit import emission, verdict
from halfsplit.emission import Kind, Line, Spectrum, Tap
from halfsplit.emission.peaks import is_list, listed, peaks_of
from halfsplit.errors import InputError, ReadingError
from halfsplit.reading import Trace, What, read_spectral_lines
from halfsplit.unit import Plan, read_unit, read_unit_file
from proving import spectra as made

ROOT = Path(__file__).parents[1]
LARKFELL = read_unit_file(ROOT / "examples" / "larkfell-tarn-40.toml")
SHARED = ROOT.parent / "shared"


def shared(*parts: str) -> Path:
    path = SHARED.joinpath(*parts)
    if not path.exists():
        pytest.skip(f"{'/'.join(parts)} is not here")
    return path


def asks(key: str, watts: float, away: float = 7e6, carrier: float = 7.1e6) -> float:
    found = emission.asked(emission.profile(key), carrier, carrier + away, watts)
    assert found.db is not None, found.why_not
    return found.db


# Figures of the rules, each from the document that the profile names (its rows say what was seen, what is from memory).
@pytest.mark.parametrize(
    ("key", "watts", "away", "carrier", "db"),
    [
        ("47cfr97d-new", 100, 7e6, 7.1e6, 43.0), ("47cfr97d-new", 1.0, 7e6, 7.1e6, 43.0),
        ("47cfr97d-old", 4.9, 7e6, 7.1e6, 30.0), ("47cfr97d-old", 5.0, 7e6, 7.1e6, 40.0),
        # 50 mW as attenuation, 13 + 10 log10 P, binds above 500 W; source: a mail of 1998 to the rfi list
        ("47cfr97d-old", 500, 7e6, 7.1e6, 40.0), ("47cfr97d-old", 1000, 7e6, 7.1e6, 43.0103),
        ("47cfr97d-old", 1500, 7e6, 7.1e6, 44.77121),
        ("47cfr97e", 0.1, 50e6, 50.1e6, 40.0), ("47cfr97e", 0.25, 50e6, 50.1e6, 40.0),
        ("47cfr97e", 5, 50e6, 50.1e6, 53.0103), ("47cfr97e", 10, 50e6, 50.1e6, 56.0206),
        ("47cfr97e", 25, 50e6, 50.1e6, 60.0), ("47cfr97e", 26, 50e6, 50.1e6, 60.0),
        ("47cfr97e", 0.05, 50e6, 50.1e6, 50 + 10 * math.log10(0.05)),  # need not be below 10 uW
        ("47cfr80a", 100, 3e3, 4.1e6, 28.0), ("47cfr80a-old", 100, 3e3, 4.1e6, 25.0),
        ("47cfr80a", 100, 6e3, 4.1e6, 35.0), ("47cfr80a", 400, 8e6, 4.1e6, 69.0206),
        ("47cfr80a", 1500, 8e6, 4.1e6, 74.76091), ("47cfr80f", 100, 2e3, 4.1e6, 25.0),
        ("sm329-amateur", 1, 7e6, 7.1e6, 43.0), ("sm329-amateur", 4, 7e6, 7.1e6, 49.0206),
        ("sm329-amateur", 100, 7e6, 7.1e6, 50.0), ("sm329-amateur", 1000, 7e6, 7.1e6, 50.0),
        ("sm329-hf", 100, 7e6, 7.1e6, 60.0), ("sm329-hf", 10, 7e6, 7.1e6, 53.0),
        ("sm329-default", 1e3, 7e6, 7.1e6, 70.0),
        ("sm329-mobile-ssb", 100, 7e6, 7.1e6, 43.0), ("sm329-broadcast", 1e4, 7e6, 7.1e6, 53.0103),
        ("at-amateur", 100, 7e6, 7.1e6, 40.0), ("at-amateur", 100, 70e6, 7.1e6, 60.0),
        ("at-amateur", 100, -6e6, 7.1e6, 60.0), ("at-amateur", 1e-3, -6e6, 7.1e6, 36.0206),
        ("47cfr87a-aircraft", 100, 7e6, 7.1e6, 40.0), ("47cfr87c-aircraft", 100, 3e3, 7.1e6, 30.0),
    ],
)  # fmt: skip
def test_what_the_profiles_ask(key: str, watts: float, away: float, carrier: float, db: float) -> None:
    assert asks(key, watts, away, carrier) == pytest.approx(db, abs=5e-4)


def test_the_fixed_level_behind_43_plus_10_log_p() -> None:
    for watts in (1.0, 5.0, 10.0, 25.0, 100.0, 400.0, 500.0, 1000.0, 1500.0):
        left = watts / 10 ** (asks("47cfr80a", watts, 8e6, 4.1e6) / 10)
        assert left == pytest.approx(50.11872e-6, rel=1e-6)  # -13 dBm; SM.329 annex 5 gives it too


def test_what_a_profile_does_not_cover_is_said() -> None:
    new = emission.profile("47cfr97d-new")
    assert "covers carriers from 0 to 30 MHz" in emission.asked(new, 50.1e6, 100e6, 10).why_not
    assert "no row for a line" in emission.asked(new, 7.1e6, 7.1005e6, 10).why_not
    assert "no row for a line" in emission.asked(emission.profile("sm329-amateur"), 7.1e6, 7.1080e6, 10).why_not
    assert emission.asked(emission.profile("sm329-amateur"), 7.1e6, 7.1101e6, 10).db == 50.0
    assert "power is not known" in emission.asked(emission.profile("47cfr80a"), 4e6, 8e6, None).why_not
    assert emission.asked(new, 7.1e6, 14.2e6, None).db == 43.0
    with pytest.raises(InputError, match="47cfr97d-old"):
        emission.profile("97.307")


def test_every_row_of_the_tables_names_its_source() -> None:
    for p in emission.profiles():
        assert p.document and p.dated and p.scope and p.rules
        for r in p.rules:
            assert r.source and r.where in ("seen", "memory")
            assert (r.where == "memory") == ("from memory" in r.source), (p.key, r.source)
    text = files("halfsplit.emission").joinpath("raw.toml").read_text("utf-8")
    assert all(row["source"] for row in tomllib.loads(text)["row"])


def spectrum(rows: list[tuple[float, float]], carrier: float, **more: object) -> Spectrum:
    lines = tuple(Line(f, 500.0, 46 + d, d) for f, d in sorted(rows))
    at = min(range(len(lines)), key=lambda i: abs(lines[i].f - carrier))
    rest = {
        "key": "R1", "band": "40 m", "point": "J2", "lines": lines, "carriers": (at,), "span": (0.0, 100e6),
        "signal": "carrier", "floor_dbc": -80.0, "rbw": 10e3, "axis": 1e-4, "dial": None, "in_front": 60.0,
        "sigma_db": 1.5, "watts": (40.0, 40.0),
    }  # fmt: skip
    return Spectrum(**{**rest, **more})  # type: ignore[arg-type]


def names(s: Spectrum, plan: Plan | None = None) -> dict[float, emission.Named]:
    return {round(n.line.f / 1e6, 4): n for n in emission.name_lines([s], plan)[0].lines}


def test_the_lines_of_a_worked_example_get_their_names() -> None:
    # source: f = 14.1 MHz with an oscillation at 0.8 MHz: f/2 7.05, 3f/2 21.15, f -+ 0.8 13.3 and 14.9 MHz (reference
    # table A41, elementary; signatures: IEEE JSSC 32(9) 1997 for the half-harmonic, Cripps ch. 11 for bias)
    rows = [(14.1e6, 0.0), (7.05e6, -55.0), (21.15e6, -57.0), (13.3e6, -50.0), (14.9e6, -51.0), (28.2e6, -45.0)]
    found = names(spectrum(rows, 14.1e6))
    kinds = {f: n.name.kind for f, n in found.items()}
    assert kinds == {
        7.05: Kind.HALF, 13.3: Kind.SIDEBAND, 14.1: Kind.CARRIER, 14.9: Kind.SIDEBAND, 21.15: Kind.HALF,
        28.2: Kind.HARMONIC,
    }  # fmt: skip
    assert "as far on the other side" in found[13.3].reason and "bias" in found[13.3].means


def test_several_carriers_decide_what_moves() -> None:
    first = spectrum([(7.0e6, 0.0), (14.0e6, -45.0), (9.3e6, -52.0), (33.3e6, -60.0)], 7.0e6)
    alone = names(first)
    assert alone[9.3].probability < 0.95 and alone[9.3].also
    second = spectrum([(7.2e6, 0.0), (14.4e6, -45.0), (9.5e6, -52.0), (33.3e6, -60.0)], 7.2e6, key="R2")
    both = emission.name_lines([first, second], None)
    for n in both:
        kinds = [x.name.kind for x in n.lines]
        assert kinds == [Kind.CARRIER, Kind.SIDEBAND, Kind.HARMONIC, Kind.FIXED]
        assert min(x.probability for x in n.lines) > 0.95


def test_a_line_that_moves_three_times_as_fast_is_a_product() -> None:
    rows = [[(fc, 0.0), (2 * fc, -45.0), (31.4e6 - 2 * fc, -55.0)] for fc in (7.0e6, 7.05e6, 7.2e6)]
    found = emission.name_lines([spectrum(r, r[0][0], key=f"R{i}") for i, r in enumerate(rows)], None)
    odd = [x for n in found for x in n.lines if x.name.kind is Kind.PRODUCT]
    assert len(odd) == 3 and all("-2 x carrier + 31.4" in x.name.text for x in odd)


def test_the_frequency_plan_names_its_own() -> None:
    plan = Plan((9e6,), (("all", "above"),), (("reference", 10e6),), (("main supply", 65e3),), 50.0)
    rows = [(7.1e6, 0.0), (16.1e6, -58.0), (23.2e6, -60.0), (10e6, -60.0), (7.163e6, -61.0), (7.037e6, -61.0)]
    found = names(spectrum(rows, 7.1e6), plan)
    assert found[16.1].name.text == "local oscillator"
    assert found[23.2].name.text == "2 LO - IF"
    assert found[10.0].name.text == "reference"
    assert found[7.163].name.kind is Kind.HUM and found[7.037].name.kind is Kind.HUM


def test_the_axis_is_put_right_by_the_lines() -> None:
    plan = Plan(oscillators=(("reference", 10e6),))
    e = 1 + 3e-4
    s = spectrum([(x * e, d) for x, d in ((7.1e6, 0.0), (10e6, -60), (20e6, -62), (30e6, -65))], 7.1e6 * e, dial=7.1e6)
    found = emission.name_lines([s], plan)[0]
    assert found.scale == pytest.approx(3e-4, abs=4e-5)
    assert [n.name.kind for n in found.lines[1:]] == [Kind.OSCILLATOR] * 3


def test_two_tones() -> None:
    # source: f1 = 14.1000, f2 = 14.1006: third order at 14.0994 and 14.1012 MHz (reference table A41, elementary)
    rows = [(14.0994e6, -32.0), (14.1e6, 0.0), (14.1006e6, 0.1), (14.1012e6, -33.0), (14.0988e6, -45.0)]
    lines = tuple(Line(f, 10.0, 40 + d, d) for f, d in sorted(rows))
    s = Spectrum("R1", "20 m", "J2", lines, (2, 3), (14.098e6, 14.103e6), "two tones", -70, 100.0, 1e-5, None,
                 math.nan, 1.5, (20.0, 40.0))  # fmt: skip
    found = emission.name_lines([s], None)[0]
    assert [n.name.order for n in found.lines] == [5, 3, 0, 0, 3]
    assert [n.name.kind for n in found.lines].count(Kind.CARRIER) == 2


def test_generated_spectra(capsys: pytest.CaptureFixture[str]) -> None:
    # The target of 97 % is for 200 spectra (proving/spectra.py, its reporting seeds); these few are held to what so few
    # can show: with 97 % of about 230 lines, fewer than 94.5 % are right once in 50 runs.
    found = made.scored(range(900, 912))
    capsys.readouterr()
    assert found["mistaken"] == 0
    assert found["lines"] > 150
    assert found["right"] > 0.945


@pytest.mark.parametrize(("fell", "own"), [(10.0, True), (0.3, False)])
def test_more_attenuation_shows_what_the_analyser_makes(fell: float, own: bool) -> None:
    few = spectrum([(7.1e6, 0.0), (14.2e6, -60.0), (21.3e6, -62.0)], 7.1e6, in_front=40.0)
    more = spectrum([(7.1e6, 0.0), (14.2e6, -60.0 - fell), (21.3e6, -62.2)], 7.1e6, key="R2", in_front=50.0)
    found = emission.level_tested(emission.name_lines([few, more], None))
    second, third = found[0].lines[1], found[0].lines[2]
    assert (second.name.kind is Kind.OWN) == own
    assert third.name.kind is Kind.HARMONIC  # a product of order 3 would have fallen 20 dB
    assert found[1].lines[1].line.at_most == own
    v = verdict.against(found[0], emission.profile("47cfr97d-new"))
    assert (
        v.word.value == "within" and ("at least 60.0" in v.lines[0].text or "at least 60.0" in v.lines[1].text) == own
    )
    assert "dB more in front" in second.reason


def ladder_loss(order: int, ripple_db: float, edge: float, f: float) -> float:
    """Attenuation of an ideal equal-ripple low-pass. source: Matthaei, Young & Jones (Chebyshev response)."""
    e2 = 10 ** (ripple_db / 10) - 1
    x = f / edge
    c = math.cos(order * math.acos(x)) if x <= 1 else math.cosh(order * math.acosh(x))
    return 10 * math.log10(1 + e2 * c * c)


def test_harmonics_after_a_measured_filter_within_the_stated_sigma() -> None:
    # source: a measured 1 kW push-pull amplifier without and with filters (projects.dj0abr.de, numbers only)
    folder = shared("measured", "harmonics")
    raw = {float(r["band_MHz"]): r for r in rows_of(folder / "pa_1kw_push_pull_raw.csv")}
    odd, even = [], []
    for row in rows_of(folder / "pa_1kw_with_filter.csv"):
        band = float(row["band_MHz"])
        for n, into in ((2, even), (3, odd)):
            printed = row[f"filter_at_H{n}_dB"]
            own = float(printed) if printed else ladder_loss(5, 0.01, 34e6, n * band * 1e6)
            foreseen = float(raw[band][f"H{n}_dBc"]) - own + float(row["filter_loss_dB"])
            into.append(float(row[f"measured_H{n}_dBc"].removeprefix("<")) - foreseen)  # "<-70" is at least so far off
    assert ladder_loss(5, 0.01, 34e6, 75e6) == pytest.approx(29.6, abs=0.1)  # as the data's own remark has it
    assert len(odd) == len(even) == 3
    for off, sigma in ((odd, emission.FILTER_SIGMA_DB[3]), (even, emission.FILTER_SIGMA_DB[2])):
        # chi-square of three: 99 % of samples of the stated sigma have an rms below 1.95 sigma, none beyond 2.9
        assert math.sqrt(np.mean(np.square(off))) < 1.95 * sigma
        assert max(map(abs, off)) < 2.9 * sigma


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text("utf-8").splitlines()))


def test_the_filter_of_the_unit_is_put_behind_what_was_read_before_it() -> None:
    raw = {2: emission.Raw(-30.0, 0.0, "read"), 3: emission.Raw(-12.0, 0.0, "read")}
    found = {x.order: x for x in emission.foreseen(LARKFELL, "40 m", 7.1e6, raw)}
    assert found[2].dbc == pytest.approx(found[2].raw_dbc - found[2].filter_db)
    assert found[2].filter_db > 44  # the manual's [limits] attenuation at twice the frequency
    assert found[2].sigma_db == emission.FILTER_SIGMA_DB[2] and found[4].sigma_db > emission.FILTER_SIGMA_DB[2]
    assert emission.usual_raw("push-pull", 2) != emission.usual_raw("any", 2)
    assert emission.usual_raw("push-pull", 40) is None


def taken(text: str, **tap: object) -> Spectrum:
    return emission.spectrum_of(LARKFELL, Tap("", "J2", **tap), read_spectral_lines([text]), "R1")  # type: ignore[arg-type]


def test_levels_are_referred_to_the_output_through_coupler_and_pads() -> None:
    s = taken("7.1 MHz -14.0 dBm; 14.2 MHz -63 dBm", pad_db=20.0, coupler=((1e6, 42.0), (100e6, 38.0)))
    assert s.lines[0].dbm == pytest.approx(-14 + 20 + 42 - 4 * math.log10(7.1) / 2)
    assert s.lines[1].dbc == pytest.approx(-49 - 4 * math.log10(2) / 2)
    assert s.watts[0] == pytest.approx(10 ** ((s.lines[0].dbm - 30) / 10))
    assert s.band == "40 m" and not s.raw


def test_two_tones_keep_pep_and_mean_apart() -> None:
    # source: two equal tones: PEP 4 times, mean twice the power of one (RR Nos. 1.157, 1.158)
    s = taken("7.1000 MHz 0 dBm; 7.1006 MHz 0 dBm; 7.0994 MHz -32 dBm", pad_db=40.0)
    assert s.signal == "two tones" and len(s.carriers) == 2
    assert s.watts == pytest.approx((20.0, 40.0), rel=1e-6)
    voice = taken("7.10 MHz 0 dBc; 14.20 MHz -50 dBc", watts=40.0, signal="voice")
    assert math.isnan(voice.watts[0]) and voice.watts[1] == 40.0
    by_meter = taken("7.1000 MHz 0 dBc; 7.1006 MHz 0 dBc; 7.0994 MHz -32 dBc", watts=40.0)
    assert by_meter.watts == pytest.approx((20.0, 40.0))
    assert by_meter.metered and not s.metered
    assert by_meter.lines[1].dbm == pytest.approx(40.0, abs=0.001)


BAD = [
    ("13.3 MHz 5 dBm; 7.1 MHz -30 dBm", {"pad_db": 40.0}, "on no band of the unit"),
    ("7.1 MHz 46 dBm", {}, "46.0 dBm at the analyser"),
    ("7.1 MHz 6 dBm", {"pad_db": 40.0, "pad_watts": 5.0}, "39.8 W into pads for 5 W"),
    ("7.1 MHz 6 dBm; 14.2 MHz -40 dBm", {"pad_db": 40.0, "dial": 5.3e6}, "no line near 5.3 MHz"),
    ("14.2 MHz < -40 dBm", {}, "no line above the noise"),
]


@pytest.mark.parametrize(("text", "tap", "says"), BAD)
def test_what_cannot_be_is_said(text: str, tap: dict[str, float], says: str) -> None:
    with pytest.raises(ReadingError, match=says):
        taken(text, **tap)


def test_every_line_that_is_not_understood_is_listed() -> None:
    with pytest.raises(ReadingError) as error:
        read_spectral_lines(["7.1 MHz 6 dBm; 9.9 x", "14.2 -40 dBm; 21.3 MHz 3 dBc", "28.4 MHz -40 dB; 7.1 MHz 5 dBm"])
    assert len(error.value.mistakes) == 5
    text = str(error.value)
    assert "above the carrier" in text and "two lines at 7.1 MHz" in text


def test_a_wattmeter_that_disagrees_is_said() -> None:
    s = taken("7.1 MHz 6 dBm; 14.2 MHz -40 dBm", pad_db=40.0, watts=10.0)
    assert any("the wattmeter says 10 W" in w for w in s.warnings)
    assert s.watts[1] == 10.0


def noisy(seed: int, averaged: bool) -> Trace:
    """A trace of 801 points with lines at 7.1, 14.2, 21.3 MHz, a hump at 40 MHz, log-detected noise about -80 dBm."""
    rng = np.random.default_rng(seed)
    f = np.linspace(0, 60e6, 801)
    shape = [10 ** (x / 10) * np.exp(-(((f - c) / 60e3) ** 2)) for c, x in ((7.1e6, 5), (14.2e6, -43), (21.3e6, -51))]
    power = 10 ** (-8.0) * (1 + 60 * np.exp(-(((f - 40e6) / 3e6) ** 2)))
    noise = rng.gamma(20.0, 1 / 20.0, f.shape) if averaged else rng.exponential(size=f.shape)
    db = 10 * np.log10(power * noise + sum(shape))
    return Trace(What.LEVEL, tuple(f), tuple(db))


@pytest.mark.parametrize("averaged", [True, False])
def test_lines_and_humps_of_a_trace(averaged: bool) -> None:
    for seed in range(5):
        found = peaks_of(noisy(seed, averaged), 100e3)
        lines = [f for f, w in zip(found.f, found.wide, strict=True) if w is None]
        for true in (7.1e6, 14.2e6, 21.3e6):
            assert min(abs(np.array(lines) - true)) < 60e3
        assert len(lines) <= 4
        humps = [f for f, w in zip(found.f, found.wide, strict=True) if w is not None]
        assert len(humps) == 1 and abs(humps[0] - 40e6) < 3e6


def test_a_file_may_be_a_list_of_lines() -> None:
    trace = Trace(What.LEVEL, (7.1e6, 14.2e6, 21.31e6), (5.0, -43.0, -50.0))
    assert is_list(trace) and not is_list(noisy(1, True))
    found = listed(trace, None)
    assert found.f == trace.f and found.level == trace.db and found.sigma_f == (5e3,) * 3


def named(rows: list[tuple[float, float]], **more: object) -> emission.NamedSpectrum:
    return emission.name_lines([spectrum(rows, 7.1e6, **more)], None)[0]


def test_verdicts_of_a_profile_and_of_the_manual() -> None:
    found = named([(7.1e6, 0.0), (14.2e6, -44.0), (21.3e6, -52.0), (6.3e6, -30.0), (7.9e6, -30.0)])
    v = verdict.against(found, emission.profile("47cfr97d-new"))
    words = {round(x.f / 1e6, 1): x.word.value for x in v.lines}
    assert words == {14.2: "doubtful", 21.3: "within", 6.3: "outside", 7.9: "outside"}
    assert v.word.value == "outside"
    line = next(x for x in v.lines if x.f > 14e6 and x.f < 15e6)
    assert line.margin_db == pytest.approx(1.0) and line.chance == pytest.approx(0.7475, abs=1e-3)  # Phi(1 / 1.5)
    # a fixed level takes the error of the absolute level in: 1 dB by pads, 0.5 dB by a wattmeter (common practice)
    for metered, more in ((False, 1.0), (True, 0.5)):
        by = verdict.against(named([(7.1e6, 0.0), (14.2e6, -44.0)], metered=metered), emission.profile("47cfr80a"))
        assert by.lines[0].sigma_db == pytest.approx(math.hypot(1.5, more))
    manual = verdict.by_manual(found, LARKFELL)
    assert manual is not None
    assert [x.word.value for x in manual.lines] == ["doubtful", "doubtful"]


def test_what_cannot_be_judged_says_why() -> None:
    raw = named([(7.1e6, 0.0), (14.2e6, -30.0)], raw=True)
    assert "before the filter" in verdict.against(raw, emission.profile("47cfr97d-new")).headline
    assert verdict.by_manual(raw, LARKFELL) is None
    unknown = named([(7.1e6, 0.0), (14.2e6, -30.0)], watts=(math.nan, math.nan))
    v = verdict.against(unknown, emission.profile("47cfr80a"))
    assert v.word.value == "cannot tell" and "power is not known" in v.lines[0].text
    high = named([(7.1e6, 0.0), (14.2e6, -30.0)])
    assert "covers carriers" in verdict.against(high, emission.profile("47cfr97e")).headline


def test_a_harmonic_that_the_filter_should_have_taken_down_is_outside() -> None:
    found = named([(7.1e6, 0.0), (14.2e6, -35.0), (21.3e6, -75.0)])
    foreseen = emission.foreseen(LARKFELL, "40 m", 7.1e6, {2: emission.Raw(-30.0, 0.0, "read")}, (2, 3))
    words = [h.word.value for h in verdict.against_filter(found, foreseen)]
    assert words == ["outside", "within"]


PLAN = """
[plan]
intermediate = ["455 kHz", "9 MHz"]
lo = { "40 m" = "above", "20 m" = "sideways", "2 m" = "below" }
oscillators = { "reference" = "10 MHz" }
ripple = { "main supply" = "65 kHz" }
mains = 50
"""


def test_the_plan_of_the_unit_file_is_read_and_its_mistakes_are_listed() -> None:
    good = PLAN.replace("mains = 50", 'mains = "50 Hz"').replace(', "20 m" = "sideways", "2 m" = "below"', "")
    unit = read_unit(LARKFELL.text + good, "u")
    assert unit.plan == Plan((455e3, 9e6), (("40 m", "above"),), (("reference", 10e6),), (("main supply", 65e3),), 50.0)
    assert unit.plan is not None and unit.plan.sides("20 m") == ("above", "below")
    with pytest.raises(InputError) as error:
        read_unit(LARKFELL.text + PLAN, "u")
    assert len(error.value.mistakes) == 3


def test_a_repair_with_spectra_on_the_command_line(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from halfsplit.cli import main

    job = str(tmp_path / "t.job")

    def run(*words: str, status: int = 0) -> str:
        done = CliRunner().invoke(main, list(words))
        assert done.exit_code == status, done.output
        return done.output

    run("start", job, "--unit", str(ROOT / "examples" / "brackenwell-10.toml"))
    tied = ("add", job, "--spectrum", "--detector-pad", "40 dB", "--pad-rating", "100 W")
    said = run(
        *tied,
        "--typed",
        "10.120 MHz 0 dBm; 20.240 MHz -49 dBm; 9.308 MHz -56 dBm; 10.932 MHz -57 dBm; 30.36 MHz -69 dBm",
    )
    assert "10 W PEP" in said and "rated dummy load" in said
    said = run("spectrum", job, "--profile", "47cfr97d-new", "--profile", "sm329-amateur")
    assert "sideband, carrier - 812 kHz" in said and "WITHIN  R1  47cfr97d-new" in said
    assert "DOUBTFUL  R1  sm329-amateur" in said and "licence" in said
    assert "spectrum at J1, transmitter keyed, pads 40 dB for 100 W" in run("journal", job)
    assert "WITHIN  R1  manual" in run("judge", job)
    run("report", job)
    sheet = (tmp_path / "t.html").read_text("utf-8")
    assert "sideband, carrier - 812 kHz" in sheet and "R1 against manual" in sheet
    run("withdraw", job, "R1", "--because", "pad was hot")
    assert "no spectrum to work with yet" in run("spectrum", job, status=2)
    wrong = run(*tied, "--lifted", "C1", "--what", "through", "--typed", "10.12 MHz 5 dBm", status=2)
    assert "--lifted" in wrong and "--what" in wrong
    assert "--carrier: given without --spectrum" in run(
        "add", job, "--carrier", "10.12 MHz", "--typed", "10 MHz -1 dB", status=2
    )
    mistakes = run(
        *tied, "--coupler", "many", "--signal", "voice", "--axis", "x", "--typed", "10.12 MHz 5 dBm", status=2
    )
    assert "--coupler" in mistakes and "--axis" in mistakes


def test_a_file_is_a_spectrum_too(tmp_path: Path) -> None:
    from halfsplit.jobs import spectra, start

    trace = noisy(3, True)
    rows = [f"{f / 1e6:.4f},{db:.2f}" for f, db in zip(trace.f, trace.db, strict=True)]
    file = tmp_path / "sweep.csv"
    file.write_text("Frequency (MHz),Level (dBm)\n" + "\n".join(rows) + "\n", "utf-8")
    job = tmp_path / "t.job"
    start(job, ROOT / "examples" / "larkfell-tarn-40.toml", "t", "")
    given = {"pad": "40 dB", "pad_rating": "100 W", "resolution_bandwidth": "100 kHz"}
    kept = spectra.add_spectra(job, [file], [], given, {})
    assert kept[0].spectrum.band == "40 m"
    found = spectra.spectrum(job).named[0]
    kinds = [n.name.kind for n in found.lines]
    assert kinds.count(Kind.HARMONIC) == 2 and kinds.count(Kind.HUMP) == 1 and kinds.count(Kind.CARRIER) == 1
    sound = spectra.add_spectra(job, [file], [], given, {}, baseline=True)
    assert sound[0].key == "R2"
    expected = [h for h in spectra.spectrum(job).harmonics if h.read is not None]
    assert expected and all(h.foreseen.source == "this unit when it was sound" for h in expected)
    assert all(h.word.value == "within" for h in expected)


def test_harmonics_are_evidence_about_the_filter() -> None:
    from dataclasses import replace

    from halfsplit import fault
    from halfsplit.jobs.harmonics import with_harmonics
    from halfsplit.jobs.records import Job
    from tests.units import TWO_BANDS

    foreseen = {x.order: x.dbc for x in emission.foreseen(TWO_BANDS, "60 m", 5.3e6, {})}
    sound = [(5.3e6, 0.0), *((n * 5.3e6, foreseen[n]) for n in (2, 3))]
    loud = [(5.3e6, 0.0), (10.6e6, foreseen[2] + 36.0), (15.9e6, foreseen[3] + 30.0)]
    got = {}
    for name, rows in (("sound", sound), ("loud", loud)):
        s = spectrum(rows, 5.3e6, band="60 m", floor_dbc=-140.0, span=(0.0, 17e6))
        job = with_harmonics(Job("t", "", TWO_BANDS, (), (), (), spectra=(s,)))
        o = job.observations[0]
        nominal = -emission.foreseen(TWO_BANDS, "60 m", 5.3e6, {}, (2, 3))[0].filter_db
        assert o.value[0] == pytest.approx(nominal + (36.0 if name == "loud" else 0.0))
        assert len(o.f) == 2 and (o.sigma > emission.FILTER_SIGMA_DB[3]).all() and not o.at_least.any()
        got[name] = fault.ranking_of(fault.weigh(TWO_BANDS, job.observations, None))
    assert got["sound"].sound > 0.5
    assert got["loud"].sound < 0.6 * got["sound"].sound
    of_filter = sum(p for place, p in got["loud"].parts if place[:2] in ("C1", "L1"))
    assert of_filter > 1.3 * sum(p for place, p in got["sound"].parts if place[:2] in ("C1", "L1"))
    raw = replace(spectrum(loud, 5.3e6, band="60 m"), raw=True)
    assert with_harmonics(Job("t", "", TWO_BANDS, (), (), (), spectra=(raw,))).observations == ()
