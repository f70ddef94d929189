"""docs/json.md against the program, both ways: no key that is not listed, none listed that is never printed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from halfsplit.advise import Advice
from halfsplit.advise.records import Outcome
from halfsplit.circuit import ladder_response
from halfsplit.cli import main, shape
from halfsplit.fault import Cause, Mended
from halfsplit.hookup import Hookup, Pad, Termination
from halfsplit.unit import read_unit
from tests.pictures import png

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "json.md").read_text("utf-8")
DEMO = ROOT / "src" / "halfsplit" / "demo"
VERBS = sorted(set(main.commands) - {"demo", "bench"})


def rows(text: str) -> list[str]:
    return [key.replace("\\|", "|") for key in re.findall(r"^\| `([^`]+)` \|", text, re.M)]


def sections() -> dict[str, list[str]]:
    """Keys listed under each heading of the second level, those of shared shapes put where they stand."""
    listed: dict[str, list[str]] = {}
    for block in re.split(r"^## ", PAGE, flags=re.M)[1:]:
        own = re.split(r"^### ", block, flags=re.M)[0]
        listed[own.split("\n")[0].strip()] = rows(own)
    for block in re.split(r"^### ", PAGE, flags=re.M)[1:]:
        text = re.split(r"^## ", block, flags=re.M)[0]
        stands = re.search(r"^In (.*) it stands at (.*)\.$", text, re.M)
        assert stands, text
        for verb in re.findall(r"`([^`]+)`", stands[1]):
            keys = listed[f"halfsplit {verb}"]
            for place in re.findall(r"`([^`]+)`", stands[2]):
                assert place.removesuffix("[]") in keys
                keys += [f"{place}.{key}" for key in rows(text)]
    return listed


LISTED = sections()


def paths(value: Any, prefix: str = "") -> Iterator[str]:
    """Every key of an object, as the page writes it."""
    if isinstance(value, dict):
        for key, inner in value.items():
            place = f"{prefix}.{key}" if prefix else key
            yield place
            yield from paths(inner, place)
    elif isinstance(value, list):
        for inner in value:
            yield from paths(inner, f"{prefix}[]")


def run(words: list[str], status: int = 0) -> dict[str, Any]:
    done = CliRunner().invoke(main, [*words, "--json"])
    assert done.exit_code == status, done.output
    found = json.loads(done.stdout)
    assert found["schema"] == 1
    return dict(found)


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, set[str]]:
    """Keys that each verb printed, over a job that shows as much as possible."""
    folder = tmp_path_factory.mktemp("json")
    job, unit = str(folder / "t.job"), str(DEMO / "larkfell-tarn-40.toml")
    tied = ["--band", "31 m", "--drive", "TP1", "--read", "J2"]
    bad = folder / "bad.toml"
    bad.write_text("[unit]\nnam = 1\n", "utf-8")
    first = run(["start", job, "--unit", unit])
    picture = folder / "c42.png"
    picture.write_bytes(png())
    typed = ["--typed", "9.4 0.1; 9.65 MHz -0.5 dB; 19 MHz -43.5 dB; 19.8 MHz -47.5 dB"]
    units = [unit, *(str(p) for p in (ROOT / "examples").glob("*.toml"))]
    live = str(folder / "live.job")
    run(["start", live, "--unit", unit])
    lines = "7.10 MHz 5 dBm; 14.20 MHz -30 dBm; 18.8 MHz -50 dBm; 40 MHz -60 dBm wide 2 MHz; floor -80 dBm"
    keyed = ["add", live, "--spectrum", "--detector-pad", "40 dB", "--resolution-bandwidth", "100 kHz"]
    found: dict[str, list[dict[str, Any]]] = {
        "start": [first],
        "check": [run(["check", u]) for u in units] + [run(["check", str(bad)], 2)],
        "add": [
            run(["add", job, *tied, *typed]),
            run(["add", job, "--found", "C42 lifted = 1000 pF"]),
            run(["add", job, "--level", "31 m: 38 W at J2 on 50 ohm, 6.1 A, 13.5 V, 44 V rms at TP1"]),
            run([*keyed, "--typed", lines]),
        ],
        "spectrum": [run(["spectrum", live, "--profile", "47cfr97d-new"])],
        "limits": [run(["limits"])],
        "tell": [run(["tell", job]), run(["tell", job, "bad = 31 m", "symptom = harmonics"])],
        "suspects": [run(["suspects", job])],
        "note": [run(["note", job, "lid off"])],
        "expect": [run(["expect", job, *tied])],
        "judge": [run(["judge", job]), run(["judge", live])],
        "levels": [run(["levels", job])],
        "power": [run(["power", job])],
        "next": [run(["next", job])],
        "stability": [run(["stability", unit, str(ROOT / "examples" / "larkfell-final.s2p"), "--band", "80 m"])],
        "report": [run(["report", job])],
        "did": [run(["did", job, "replaced C42 with 1000 pF"])],
        "attach": [run(["attach", job, str(picture), "--to", "D1"])],
        "compare": [(run(["add", job, *tied, *typed]), run(["compare", job, "before D1", "after D1"]))[1]],
        "signoff": [run(["signoff", job], 4)],
        "photo": [run(["photo", job, "P1", "-o", str(folder / "out.png")])],
        "coil": [
            run(["coil", "--value", "1 uH", "--form", "8 mm", "--wire", "1 mm", "--at", "9 MHz"]),
            run(["coil", "--value", "1 uH", "--form", "9 mm", "--wire", "1 mm", "--turns", "18", "--length", "22 mm"]),
            run(["coil", "--value", "1 uH", "--core", "T50-6"]),
        ],
        "replace": [
            run(["replace", unit, "C42", "--stock", str(ROOT / "examples" / "drawer.csv")]),
            run(["replace", unit, "C42"]),
        ],
        "stress": [run(["stress", unit, "--band", "31 m"])],
        "withdraw": [run(["withdraw", job, "R1", "--because", "lead was off"])],
        "journal": [run(["journal", job])],
        "cable": cable_objects(folder, unit),
        "recognise": [run(["recognise", u]) for u in units],
        "design": [run([*DESIGN, "--compare", unit])],
        "align": align_objects(folder),
        "error": [run(["judge", str(folder / "none.job")], 2), run(["add", job, *tied], 2)],
    }
    assert set(found) == {*VERBS, "error"}
    return {verb: {key for value in values for key in paths(value)} for verb, values in found.items()}


DESIGN = ["design", "--band", "9.4-9.9 MHz", "--harmonic", "2=40 dB", "--loss", "0.6 dB", "--draws", "100"]


def align_objects(folder: Path) -> list[dict[str, Any]]:
    """`align` on a mirror filter read by a through sweep alone: two explanations, and something to move."""
    ladder = [
        '{ shunt = "C1", value = "470 pF" }', '{ series = "L1", value = "1.1 uH" }',
        '{ shunt = "C2", value = "910 pF" }',
        '{ series = "L2", value = "1.1 uH" }', '{ shunt = "C3", value = "470 pF" }',
    ]  # fmt: skip
    text = "\n".join([
        "[unit]", 'name = "trial"', "[[band]]", 'name = "B"', 'range = ["6.8 MHz", "7.3 MHz"]', 'filter = "F1"',
        "[path]",
        'order = ["TP1", "filter", "J1"]', "[filter.F1]", f"ladder = [{', '.join(ladder)}]", "",
    ])  # fmt: skip
    (folder / "trial.toml").write_text(text, "utf-8")
    other = text.replace('"L1", value = "1.1 uH"', '"L1", value = "1.45 uH"')
    f = np.linspace(2e6, 24e6, 81)
    s = ladder_response(read_unit(other, "x").filter("F1"), f, 50.0, 150.0)
    rows = [f"{hz / 1e6:.4f},{20 * np.log10(abs(x)):.3f}" for hz, x in zip(f, s[:, 1, 0], strict=True)]
    (folder / "t.csv").write_text("\n".join(["Frequency (MHz),S21 (dB)", *rows, ""]), "utf-8")
    job = str(folder / "trial.job")
    run(["start", job, "--unit", str(folder / "trial.toml")])
    run(["add", job, str(folder / "t.csv"), "--instrument", "analyser", "--reference", "calibrated"])
    return [run(["align", job])]


def cable_objects(folder: Path, unit: str) -> list[dict[str, Any]]:
    """`cable` on a unit, on a sweep with phase, on one without, and on a piece that hangs across a line."""
    f = np.linspace(1e6, 60e6, 201)
    turn = np.exp(-4j * np.pi * f * 50e-9) * 10 ** (-0.02 * np.sqrt(f / 1e6))
    rows = [f"{hz:.0f} {g.real:.9f} {g.imag:.9f}" for hz, g in zip(f, turn, strict=True)]
    (folder / "w.s1p").write_text("\n".join(["# HZ S RI R 50", *rows, ""]), "utf-8")
    hung = 20 * np.log10(np.abs(1 / (1 + 0.5j * np.tan(2 * np.pi * f * 25e-9))))
    for name, db in (("flat.csv", -0.1 * np.sqrt(f / 1e6)), ("hung.csv", hung)):
        lines = [f"{hz / 1e6},{x:.4f}" for hz, x in zip(f, db, strict=True)]
        (folder / name).write_text("\n".join(["Frequency (MHz),S21 (dB)", *lines, ""]), "utf-8")
    kind = ["--type", "RG-58"]
    return [
        run(["cable", unit]),
        run(["cable", str(folder / "w.s1p"), *kind]),
        run(["cable", str(folder / "flat.csv"), *kind, "--length", "10 m"]),
        run(["cable", str(folder / "hung.csv"), *kind, "--as", "across"]),
    ]


# Keys that need a unit that none of the examples is.
RARE = dict.fromkeys(("check", "recognise"), ("filters[].other_ohm", "filters[].suspicions[]"))


def test_the_page_lists_what_is_printed_and_nothing_else(printed: dict[str, set[str]]) -> None:
    for verb, seen in printed.items():
        listed = set(LISTED["An error" if verb == "error" else f"halfsplit {verb}"])
        assert (verb, seen - listed) == (verb, {"schema"})
        if verb == "next":
            seen |= set(paths(shape.plain_object(tests=[shape.one_test(full_advice())])))
        if verb == "suspects":
            seen |= set(paths(shape.plain_object(mended=[shape.mended(full_mended())])))
        missing = {key for key in listed - seen if not key.startswith(RARE.get(verb, ("-",)))}
        assert (verb, missing) == (verb, set())


def full_mended() -> Mended:
    """Work that cured something."""
    cause = Cause("C42", "short", "C42: short", 1.0, "", 0.9, 9.0, (), (), "fault")
    return Mended("D1", "replaced C42", 0.9, "it is gone", (cause,), ("R1",), ("R2",))


def full_advice() -> Advice:
    """A test whose hook-up has everything."""
    hookup = Hookup(
        "31 m", "TP1", "J2", source_pad=Pad(10.0), detector_pad=Pad(6.0), lifted=("C1",), bridged=(("A", "B"),),
        terminated=(Termination("J2", 50.0),), operated=("K1",), released=("K2",), source_lead=0.06,
    )  # fmt: skip
    outcome = Outcome("C1", 0.5, "-3 dB")
    return Advice("t", "c", "sweep", hookup, 4.0, "none", 1.0, 0.2, "s", (outcome,), ("mind",))


def test_every_verb_has_a_heading() -> None:
    assert {f"halfsplit {verb}" for verb in VERBS} <= set(LISTED)
    assert [name for name in LISTED if name.startswith("halfsplit ") and name.split()[1] not in VERBS] == []
