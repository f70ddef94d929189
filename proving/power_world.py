"""What meters would really see with the key down: a transmitter of its own physics around the built path.

It shares no code with the package: the final stage is a pair of current sources whose conduction is integrated over the
cycle, held by its supply through another knee than the package's, behind a complex output admittance; the path is the
nodal network of `world`; level control has a finite loop gain; meters err evenly, not normally. Spreads are wider than
the package's priors.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from proving.drawing import Drawing, Rng
from proving.nodal import GROUND, Network
from proving.strayed import Built, factor, uniform_log
from proving.world import path

TURN = np.linspace(0.0, 2.0 * np.pi, 97)[:-1]


@dataclass(frozen=True)
class Station:
    """A transmitter as drawn and as built. Gains dB by stage and band; limits W saturated; the rest SI.

    The last stage is the final one. stated : what the unit file says, by name
    """

    stages: tuple[str, ...]
    gain: dict[tuple[str, str], float]
    limit: dict[str, float]
    drive: dict[str, float]
    volts: float
    lead_ohm: float
    rest_amps: float
    knee: float
    sharp: float
    bias: float
    output_y: complex
    loop_gain: float
    hold: float | None
    rated: float
    amps_factor: float
    standing: float
    load: dict[str, complex]
    noisy: float = 0.0
    one_device: bool = False
    stated: dict[str, object] = field(default_factory=dict)
    volts_nominal: float = 13.8


@dataclass(frozen=True)
class Meters:
    """Scale errors of the meters, factors."""

    watts: float
    amps: float
    volts: float
    probe: float


def draw_station(rng: Rng, drawing: Drawing, antenna: bool) -> Station:
    """A sound transmitter round a drawing."""
    rated = float(rng.choice([10.0, 20.0, 50.0, 100.0]))
    names = ("DRIVER", "PA") if rng.random() < 0.6 else ("BUFFER", "DRIVER", "PA")
    bands = [b.name for b in drawing.bands]
    controlled = bool(rng.random() < 0.6)
    reserve = float(rng.uniform(2.0, 4.0)) if controlled else float(rng.uniform(0.8, 1.5))
    drawn = {n: float(rng.uniform(13.0, 20.0)) for n in names}
    tilt = float(rng.uniform(0.0, 2.0))
    order = np.argsort([b.low for b in drawing.bands])
    slope = {bands[int(k)]: -tilt * i / max(len(bands) - 1, 1) for i, k in enumerate(order)}
    printed = {(n, b): round((drawn[n] + (slope[b] if n == "PA" else 0.0)) * 2) / 2 for n in names for b in bands}
    own = {n: float(rng.normal(0.0, 0.9)) for n in names}
    gain = {(n, b): printed[n, b] + own[n] + float(rng.normal(0.0, 0.5)) for n in names for b in bands}
    dbm = 10 * np.log10(rated) + 30.0
    worst = min(sum(printed[n, b] for n in names) for b in bands)
    start = round(float(dbm + reserve + 0.5 - worst), 1)  # half a dB is lost in the path; the maker reckons with it
    actual = {b: start - sum(own[n] for n in names) + float(rng.normal(0.0, 0.4)) for b in bands}
    rated_out = rated * (1.25 if controlled else 1.0)
    limit = {
        n: 10 ** ((start - 30 + sum(drawn[m] for m in names[: k + 1]) + rng.uniform(3.0, 8.0)) / 10)
        for k, n in enumerate(names[:-1])
    }
    sharp = float(rng.uniform(3.0, 9.0))
    knee = float((10 ** (sharp / 20.0) - 1.0) ** (1.0 / sharp))  # 1 dB down at the stated output
    limit[names[-1]] = rated_out * 10**0.1 / knee**2 * factor(rng, 0.06)
    volts, efficiency = 13.8, float(rng.uniform(0.45, 0.58))
    ideal = rated_out / efficiency / volts
    lead = float(rng.uniform(0.1, 0.5)) / ideal
    rest = ideal * float(rng.uniform(0.04, 0.12))
    stated = {
        "rated": rated, "output": rated_out, "drive": start, "gain": printed, "efficiency": round(efficiency, 2),
        "lead": lead * factor(rng, 0.2), "rest": rest, "standing": 0.06 * ideal, "hold": rated if controlled else None,
    }  # fmt: skip
    sd = 0.10 if antenna else 0.02
    load = {b: complex(rng.normal(0, sd), rng.normal(0, sd)) for b in bands}
    return Station(
        names, gain, limit, actual, volts * (1.0 + float(rng.uniform(-0.03, 0.03))), lead, rest * factor(rng, 0.1),
        float(rng.uniform(0.7, 1.6)), sharp, float(rng.uniform(0.03, 0.10)),
        complex(1.0 / uniform_log(rng, 30.0, 160.0), float(rng.uniform(-0.006, 0.006))), float(rng.uniform(8.0, 30.0)),
        rated * factor(rng, 0.03) if controlled else None, rated_out, factor(rng, 0.06),
        0.06 * ideal * factor(rng, 0.1), load, stated=stated,
    )  # fmt: skip


def unit_text(text: str, one: Station) -> str:
    """The unit file with the tables of the stages in place of its plain one."""
    if "[stage.PA]" in text:
        head, rest = text.split("[stage.PA]", 1)
        rest = rest[rest.index("\n[") :]
    else:  # the drawing begins at the path
        head, _, rest = text.partition("[relay.")
        rest = "\n[relay." + rest if rest else ""
        if not rest:
            head, _, rest = head.partition("[filter.")
            rest = "\n[filter." + rest
        head = head.replace("order = [", 'order = ["PA", ', 1)
    said = f'rated_power = "{one.stated["rated"]:g} W"\nsupply = "13.8 V"\nnote = "invented for trials"'
    head = head.replace('note = "invented for trials"', said)
    printed = one.stated["gain"]
    assert isinstance(printed, dict)
    tables = []
    points = [f"TP{50 + k}" for k in range(len(one.stages))]
    order = ", ".join(f'"{p}", "{n}"' for p, n in zip(points, one.stages, strict=True))
    tables.append(f'[drive]\nlevel = "{one.stated["drive"]:g} dBm"\ntolerance = "2 dB"\norder = [{order}]')
    for n in one.stages:
        gains = ", ".join(f'"{b}" = "{db:g} dB"' for (m, b), db in printed.items() if m == n)
        lines = [f"[stage.{n}]", f"gain = {{ {gains} }}", 'gain_tolerance = "2 dB"']
        if n == one.stages[-1]:
            lines += [
                'kind = "push-pull"', 'class = "AB"', f'output = "{one.stated["output"]:g} W"',
                f'efficiency = "{100 * float(str(one.stated["efficiency"])):.0f} %"', 'knee = "1.1 V"',
                f'standing_current = "{one.stated["standing"]:.3g} A"',
            ]  # fmt: skip
        tables.append("\n".join(lines))
    lead, rest_amps = one.stated["lead"], one.stated["rest"]
    supply = ["[supply]", f'resistance = "{lead:.3g} ohm"', 'tolerance = "5 %"', f'rest_current = "{rest_amps:.3g} A"']
    tables.append("\n".join(supply))
    if one.stated["hold"] is not None:
        tables.append(f'[level_control]\nholds = "{one.stated["hold"]:g} W"\ntolerance = "8 %"')
    return head + "\n\n".join(tables) + "\n" + rest


@dataclass(frozen=True)
class Shown:
    """What there really is: W forward and reflected at the load, supply V and A, RF V rms at every stage input."""

    forward: float
    reflected: float
    volts: float
    amps: float
    inputs: dict[str, float]


def through_path(built: Built, band: str, gamma: complex) -> tuple[complex, float]:
    """(impedance at the first point, share of the power there that reaches the load) at the middle of a band."""
    b = built.drawing.band(band)
    f = np.array([np.sqrt(b.low * b.high)])
    net = Network(f)
    path(net, built, band)
    first, last = built.drawing.points[0], built.drawing.points[-1]
    z = 50.0 * (1.0 + gamma) / (1.0 - gamma)
    net.admittance(last, GROUND, np.array([1.0 / z]))
    v = net.voltages(first)
    z_in = complex(v[first][0])
    out = abs(v[last][0]) ** 2 * (1.0 / z).real
    return z_in, float(out / max(z_in.real, 1e-9))


def pair_currents(swing: float, bias: float) -> tuple[float, float]:
    """(fundamental, mean) of the supply current of a pair of devices for a peak drive, both against a peak of 1."""
    wave = swing * np.cos(TURN)
    one, other = np.maximum(wave + bias, 0.0), np.maximum(-wave + bias, 0.0)
    return float(2.0 * ((one - other) * np.cos(TURN)).mean()), float((one + other).mean())


def key_down(one: Station, built: Built, band: str, rng: Rng) -> Shown:
    """Solve the whole transmitter on a band by turning the knobs until they stand still."""
    gamma = one.load[band]
    z, through = through_path(built, band, gamma)
    wobble = float(rng.normal(0.0, one.noisy)) if one.noisy else float(rng.normal(0.0, 0.1))
    held, volts = 0.0, one.volts
    nominal = np.sqrt(2.0 * one.limit[one.stages[-1]] / 50.0)
    for _ in range(60):
        level = one.drive[band] + wobble - held
        inputs = {}
        for name in one.stages[:-1]:
            inputs[name] = np.sqrt(10 ** ((level - 30) / 10) * 50.0)
            watts = 10 ** ((level + one.gain[name, band] - 30) / 10)
            level = 10 * np.log10(watts / (1.0 + (watts / one.limit[name]) ** 2) ** 0.5) + 30.0
        final = one.stages[-1]
        inputs[final] = np.sqrt(10 ** ((level - 30) / 10) * 50.0)
        wanted = np.sqrt(2.0 * 10 ** ((level + one.gain[final, band] - 30) / 10) / 50.0)  # A into 50 ohm
        wanted *= abs(1.0 + 50.0 * one.output_y)
        share = 1.0 / (1.0 + z * one.output_y)
        most = nominal * 50.0 * (volts - one.knee) / (one.volts_nominal - one.knee)
        source = wanted / (1.0 + (wanted * abs(share * z) / most) ** one.sharp) ** (1.0 / one.sharp)
        source = source / (1.0 + (source / (1.7 * nominal)) ** 8) ** (1.0 / 8.0)
        source *= 0.5 if one.one_device else 1.0
        amps_rf = abs(source * share)
        delivered = 0.5 * amps_rf**2 * z.real
        forward = delivered * through / max(1.0 - abs(gamma) ** 2, 1e-3)
        rated_rf = np.sqrt(2.0 * one.rated / 50.0)
        fundamental, mean = pair_currents(1.0, one.bias)
        now, flowing = pair_currents(max(amps_rf / rated_rf, 1e-6), one.bias)
        drawn = one.rated / float(str(one.stated["efficiency"])) / one.volts_nominal * one.amps_factor
        amps = drawn * flowing / mean + 0.0 * (now + fundamental)
        amps = max(amps, one.standing)
        new = one.volts - one.lead_ohm * (amps + one.rest_amps)
        volts += 0.6 * (max(new, 0.1 * one.volts) - volts)
        if one.hold is not None:
            excess = 10 * np.log10(max(forward, 1e-9) / one.hold) + held / one.loop_gain
            held = max(held + 0.5 * excess, 0.0)
    return Shown(float(forward), float(forward * abs(gamma) ** 2), float(volts), float(amps + one.rest_amps), inputs)


def draw_meters(rng: Rng) -> Meters:
    """Meters with even errors."""
    return Meters(*(1.0 + float(rng.uniform(-x, x)) for x in (0.08, 0.035, 0.01, 0.12)))


def changed(one: Station, **more: object) -> Station:
    """Another station."""
    return replace(one, **more)  # type: ignore[arg-type]


def shipped(one: Station, built: Built, rng: Rng) -> Station | None:
    """The station as its maker lets it go, or None where it does not come near its rated power on every band.

    The gain of its first stage is set so that the middle band gives the rated power.
    """
    bands = [b.name for b in built.drawing.bands]
    for _ in range(4):
        out = sorted(key_down(one, built, b, rng).forward for b in bands)
        gap = 10 * np.log10(float(str(one.stated["rated"])) / max(out[len(out) // 2], 1e-6))
        if one.hold is not None and gap < 0.3:
            break
        step, first = float(np.clip(gap, -1.5, 1.5)), one.stages[0]
        gain = {(n, b): g + (step if n == first else 0.0) for (n, b), g in one.gain.items()}
        limit = {n: w * 10 ** (step / 10) if n == first else w for n, w in one.limit.items()}
        one = replace(one, gain=gain, limit=limit)
    least = min(key_down(one, built, b, rng).forward for b in bands)
    return one if least > 0.75 * float(str(one.stated["rated"])) else None
