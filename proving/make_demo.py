"""Writes the readings of the demo: a world that the tool does not know.

Shares no code with the package: the unit file is read as plain TOML, the network is solved by its own dense
nodal equations. Parts stray from the drawing, have leads, losses and strays; neighbouring coils couple; the idle
filters hang on the buses; the instruments have mismatch, leads, offset, noise, a floor and coarse read-outs.

The truth stands here and nowhere else: the joint of the earth point E41 in filter F4 (C44 and C45) is cracked and
acts as an inductance of some tens of nanohenries; "after" it is soldered again and nothing else has changed.
Run: python -m proving.make_demo [FOLDER]
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
FOLDER = HERE.parent / "src" / "halfsplit" / "demo"
UNIT = "larkfell-tarn-40.toml"
SEED = 40_31
CRACK = {"E41": 62e-9}
REPAIRED: dict[str, float] = {}
SOUND_EARTH = 1.5e-9
Q_AT = 2 * np.pi * 10e6
PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6, "": 1.0}


def si(text):
    """A plain quantity of the example file: "560 pF", "1.17 uH"."""
    number, unit = re.fullmatch(r"([\d.]+)\s*(\S+)", text).groups()
    prefix = unit[0] if len(unit) > 1 and unit[0] in PREFIX and unit not in ("ohm", "mm") else ""
    return float(number) * PREFIX[prefix]


class Net:
    """Branches collected by node name, solved densely."""

    def __init__(self, w):
        self.w, self.names, self.stamps = w, {"gnd": -1}, []

    def node(self, name):
        return self.names.setdefault(name, len(self.names) - 1)

    def add(self, a, b, y):
        self.stamps.append((self.node(a), self.node(b), np.broadcast_to(y, self.w.shape)))

    def block(self, a, b, y):
        """A two-port (2, 2, F) against ground."""
        i, j = self.node(a), self.node(b)
        y12 = -y[0, 1]
        self.stamps.append((i, j, y12))
        self.stamps.append((i, -1, y[0, 0] - y12))
        self.stamps.append((j, -1, y[1, 1] - y12))

    def solve(self, at):
        n = len(self.names) - 1
        m = np.zeros((len(self.w), n, n), complex)
        for a, b, y in self.stamps:
            for i in (a, b):
                if i >= 0:
                    m[:, i, i] += y
            if a >= 0 and b >= 0:
                m[:, a, b] -= y
                m[:, b, a] -= y
        right = np.zeros((len(self.w), n, 1), complex)
        right[:, self.node(at), 0] = 1.0
        return np.linalg.solve(m, right)[:, :, 0]


class World:
    """One real unit: every part drawn once, the same in every reading."""

    def __init__(self, data, rng, cracked):
        self.data, self.cracked, self.parts = data, cracked, {}
        for name, filt in data["filter"].items():
            scale = 1.0 + 0.015 * rng.standard_normal()
            for rung in filt["ladder"]:
                for ref, text in self.members(rung):
                    spread = 0.018 if ref[0] == "C" else 0.05
                    value = si(text) * scale * (1.0 + spread * rng.standard_normal())
                    lead = rng.uniform(3e-9, 8e-9)
                    q = rng.uniform(120, 200) if ref[0] == "L" else rng.uniform(700, 1500)
                    self.parts[ref] = (value, lead, q, rng.uniform(0.8e-12, 2.2e-12))
            self.parts[name] = tuple(rng.uniform(10e-12, 40e-12, 2)) + tuple(rng.uniform(15e-9, 40e-9, 2))
            self.parts[name + " k"] = rng.uniform(0.002, 0.012, 8)

    @staticmethod
    def members(rung):
        first = rung.get("shunt") or rung.get("series")
        out = [(first, rung["value"])]
        if "across" in rung:
            out.append((rung["across"]["part"], rung["across"]["value"]))
        return out

    def z(self, ref, w):
        value, lead, q, across = self.parts[ref]
        if ref[0] == "C":
            return 1 / (1j * w * value) + 1 / (w * value * q) + 1j * w * lead
        coil = 1j * w * value + w * value / (q * np.sqrt(w / Q_AT))
        return 1 / (1 / coil + 1j * w * across)

    def lay_filter(self, net, name, left, right, w):
        stray_in, stray_out, lead_in, lead_out = self.parts[name]
        net.add(left, f"{name} 0", 1 / (0.02 + 1j * w * lead_in))
        net.add(f"{name} 0", "gnd", 1j * w * stray_in)
        k = 0
        for rung in self.data["filter"][name]["ladder"]:
            members = self.members(rung)
            if "shunt" in rung:
                earth = rung.get("ground")
                below = f"earth {earth}" if earth else "gnd"
                if earth and below not in net.names:
                    net.add(below, "gnd", 1 / (0.008 + 1j * w * self.cracked.get(earth, SOUND_EARTH)))
                net.add(f"{name} {k}", below, 1 / self.z(members[0][0], w))
                continue
            for ref, _ in members:
                net.add(f"{name} {k}", f"{name} {k + 1}", 1 / self.z(ref, w))
            k += 1
        for i in range(k - 1):  # what neighbouring coils pass on directly, as a little capacitance past two arms
            past = 0.02e-12 * (1 + 40 * self.parts[name + " k"][i])
            net.add(f"{name} {i}", f"{name} {i + 2}", 1j * w * past)
        net.add(f"{name} {k}", "gnd", 1j * w * stray_out)
        net.add(f"{name} {k}", right, 1 / (0.025 + 1j * w * lead_out))

    def coax(self, w, length):
        g = (0.9 * np.sqrt(w / 2e6 / np.pi) / 8.686 * 0.027 + 1j * w / (0.695 * 299792458.0)) * length
        y11, y12 = 1 / (50.5 * np.tanh(g)), -1 / (50.5 * np.sinh(g))
        return np.array([[y11, y12], [y12, y11]])

    def net(self, band, w, drive, read, source, detector, leads):
        """The unit on a band between two instruments."""
        net = Net(w)
        own = next(b["filter"] for b in self.data["band"] if b["name"] == band)
        net.block("TP1", "BUS IN", self.coax(w, 0.180))
        self.lay_filter(net, own, "BUS IN", "TP2", w)
        for name in self.data["filter"]:
            if name != own:
                net.add("BUS IN", f"{name} hang in", 1j * w * 1.1e-12)
                net.add("TP2", f"{name} hang out", 1j * w * 1.3e-12)
                self.lay_filter(net, name, f"{name} hang in", f"{name} hang out", w)
        net.add("TP2", "K3", 1 / (0.02 + 1j * w * 6e-9))
        net.block("K3", "TP3", self.coax(w, 0.120))
        net.add("TP3", "J2", 1 / (0.05 + 1j * w * 22e-9))
        net.add("TP3", "gnd", 1j * w * 4.5e-12)
        net.add("source", drive, 1 / (0.01 + 1j * w * leads[0]))
        net.add("source", "gnd", 1 / source + 1j * w * 3e-12)
        net.add("detector", read, 1 / (0.01 + 1j * w * leads[1]))
        net.add("detector", "gnd", 1 / detector + 1j * w * 4e-12)
        return net

    def s(self, band, f, drive, read, source=50.0, detector=50.0, leads=(4e-9, 4e-9)):
        """Through response and reflection as the instruments see them."""
        w = 2 * np.pi * f
        net = self.net(band, w, drive, read, source, detector, leads)
        v = net.solve("source")
        through = v[:, net.node("detector")] * (1 / source + 1 / detector)
        y_in = 1 / v[:, net.node("source")] - 1 / source
        leak = 10 ** (-84 / 20) * np.sqrt(f / 30e6) * np.exp(2j * np.pi * f / 17e6)
        return through + leak, (1 - 50 * y_in) / (1 + 50 * y_in)


def touchstone(world, rng):
    """A two-port analyser, one way round, with trace noise."""
    f = np.linspace(1e6, 61e6, 201)
    s21, s11 = world.s("31 m", f, "TP1", "J2", 50.3, 49.8, (5e-9, 6e-9))
    noise = 10 ** (-95 / 20)
    s21 = s21 * (1 + 0.002 * rng.standard_normal(201)) + noise * (
        rng.standard_normal(201) + 1j * rng.standard_normal(201)
    )
    s11 = s11 + 0.004 * (rng.standard_normal(201) + 1j * rng.standard_normal(201))
    lines = ["! bench analyser B, calibrated at both sockets", "! unit on 31 m, TP1 to J2", "# MHz S RI R 50"]
    for i in range(201):
        lines.append(
            f"{f[i] / 1e6:.4f} {s11[i].real:.6f} {s11[i].imag:.6f} {s21[i].real:.7f} {s21[i].imag:.7f} 0 0 0 0"
        )
    return "\n".join(lines) + "\n"


def sweeper(world, rng, band, top):
    """Generator and log detector: level error, slow drift, floor, steps of 0.1 dB, decimal comma."""
    f = np.linspace(1e6, top, 161)
    s21, _ = world.s(band, f, "TP1", "J2", 54.0, 47.5, (9e-9, 12e-9))
    db = 20 * np.log10(np.abs(s21))
    db = db * 1.004 + 0.06 + 0.05 * np.sin(np.linspace(0, 2.2, 161)) + 0.04 * rng.standard_normal(161)
    floor = 10 ** (-78 / 20) * np.abs(rng.standard_normal(161) + 1j * rng.standard_normal(161)) / 2**0.5
    db = 20 * np.log10(np.hypot(10 ** (db / 20), floor))
    rows = [f"{x / 1e6:.3f};{y:.1f}".replace(".", ",") for x, y in zip(f, db, strict=True)]
    return "sweep;through TP1 to J2\r\nFrequency (MHz);S21 (dB)\r\n" + "\r\n".join(rows) + "\r\n"


def typed(world, rng):
    """Five figures read off the screen of a sweeper, to the nearest half dB, as one would type them."""
    f = np.array([9.4, 9.65, 9.9, 19.0, 19.8]) * 1e6
    s21, _ = world.s("31 m", f, "TP1", "J2", 53.0, 47.0, (9e-9, 12e-9))
    db = 20 * np.log10(np.abs(s21)) + 0.1 + 0.1 * rng.standard_normal(len(f))
    return "; ".join(f"{x / 1e6:g} MHz {round(y * 2) / 2 + 0.0:.1f} dB" for x, y in zip(f, db, strict=True))


def readings():
    """All readings of the demo: (figures to type, file name to text)."""
    data = tomllib.loads((FOLDER / UNIT).read_text("utf-8"))

    def world(cracked):
        return World(data, np.random.default_rng(SEED), cracked)

    def noise(number):
        return np.random.default_rng([SEED, number])

    return typed(world(CRACK), noise(1)), {
        "analyser_31m.s2p": touchstone(world(CRACK), noise(2)),
        "sweep_40m.csv": sweeper(world(CRACK), noise(3), "40 m", 45e6),
        "sweep_20m.csv": sweeper(world(CRACK), noise(4), "20 m", 65e6),
        "analyser_31m_after.s2p": touchstone(world(REPAIRED), noise(5)),
    }


def main():
    """Write the readings into the demo's folder, or another, and say what demo.toml types."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    figures, files = readings()
    for name, text in files.items():
        (folder / name).write_bytes(text.encode("utf-8"))
        print(f"{name}: {len(text)} bytes")
    print(f"to type: {figures}")


if __name__ == "__main__":
    main()
