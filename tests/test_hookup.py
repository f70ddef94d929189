"""Hook-ups in words: what is read, what is refused, and the way to the job file and back."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import HookupError
from halfsplit.hookup import Hookup, Known, Pad, Termination, describe, from_dict, parse_hookup, to_dict

PAGE = (Path(__file__).parents[1] / "docs/hook-up.md").read_text(encoding="utf-8")
KNOWN = Known(
    points=("TP1", "BUS IN", "F4 in", "F4 1", "TP2", "TP3", "J2"),
    bands=("40 m", "31 m"),
    elements=("C44", "L41", "W1", "W2", "K14", "FINAL"),
    relays=("K14", "K24", "K3"),
)
PLAIN: dict[str, object] = {"band": "31 m", "drive": "TP1", "read": "J2"}


def parse(**given: object) -> Hookup:
    return parse_hookup({**PLAIN, **given}, KNOWN)


def test_the_plain_hookup_takes_the_usual_values() -> None:
    assert parse() == Hookup("31 m", "TP1", "J2")
    assert parse(read=None, note="", lifted=None) == Hookup("31 m", "TP1")


def test_every_field_is_read_into_si() -> None:
    found = parse(
        source_ohm="75 ohm", detector_ohm="1 Mohm", source_tolerance="5 %", detector_tolerance="2 %",
        source_lead="60 mm", detector_lead="0 mm", detector_capacitance="8 pF", source_pad="10 dB 75 ohm",
        detector_pad="6 dB", reference="none", lifted=["C44", "W1 at BUS IN"], bridged="TP1 = TP2",
        terminated=["J2 = 50 ohm"], operated=["K3"], released="K14", instrument="meter", note="lid off",
    )  # fmt: skip
    assert found == Hookup(
        "31 m", "TP1", "J2", 75.0, 1e6, 0.05, 0.02, 0.06, 0.0, 8e-12, Pad(10.0, 75.0), Pad(6.0), "none",
        ("C44", "W1 at BUS IN"), (("TP1", "TP2"),), (Termination("J2", 50.0),), ("K3",), ("K14",), "meter", "lid off",
    )  # fmt: skip


def test_names_may_differ_in_capitals_only() -> None:
    assert parse(drive="tp1", lifted="w1 at bus in").drive == "TP1"
    assert parse(lifted="w1 at bus in").lifted == ("W1 at BUS IN",)
    with pytest.raises(HookupError):
        parse_hookup({**PLAIN, "drive": "tP1"}, Known(("TP1", "tp1", "J2"), KNOWN.bands, (), ()))


REFUSED: list[tuple[dict[str, object], str, str, str]] = [
    ({"band": "41 m"}, "band", "no band '41 m'", "one of: 40 m, 31 m"),
    ({"band": ""}, "band", "no band is given", "40 m, 31 m"),
    ({"drive": None}, "drive", "no point is given", "TP1, BUS IN"),
    ({"drive": "TP11"}, "drive", "no point 'TP11'", "TP1? ("),
    ({"read": "BUS_IN"}, "read", "no point 'BUS_IN'", "BUS IN? ("),
    ({"detecter_ohm": "50 ohm"}, "detecter_ohm", "no field", "detector_ohm? ("),
    ({"source_ohm": "50 pF"}, "source_ohm", "'pF' is no unit of resistance", "50 ohm"),
    ({"source_ohm": "0 ohm"}, "source_ohm", "'0 ohm'", "more than zero"),
    ({"source_lead": "60"}, "source_lead", "unit is missing", "180 mm"),
    ({"source_tolerance": "100 %"}, "source_tolerance", "'100 %'", "less than 100 %"),
    ({"detector_capacitance": "8 uH"}, "detector_capacitance", "'uH'", "560 pF"),
    ({"source_pad": "ten"}, "source_pad", "'ten'", "10 dB"),
    ({"source_pad": "-3 dB"}, "source_pad", "'-3 dB'", "more than zero"),
    ({"source_pad": "10 dB 75 pF"}, "source_pad", "'pF'", "50 ohm"),
    ({"reference": "thru"}, "reference", "no reference 'thru'", "through"),
    ({"reference": "calibrated"}, "reference", "with a sweeper", "analyser"),
    ({"instrument": "scope"}, "instrument", "no instrument 'scope'", "meter"),
    ({"lifted": "C99"}, "lifted", "no part 'C99'", "C44"),
    ({"lifted": "W1 at TP9"}, "lifted", "no point 'TP9'", "TP2"),
    ({"lifted": ["W1", "W1 at TP1"]}, "lifted", "whole and at TP1", "one of the two"),
    ({"lifted": ["C44", "C44"]}, "lifted", "given 2 times", "once"),
    ({"lifted": 44}, "lifted", "44", "list of texts"),
    ({"note": ["a"]}, "note", "['a']", "one text"),
    ({"bridged": "TP1"}, "bridged", "'TP1'", "TP1 = TP2"),
    ({"bridged": "TP1 = TP1"}, "bridged", "bridged to itself", "two points"),
    ({"bridged": "J2 = TP1"}, "bridged", "driven and the read point", "in between"),
    ({"bridged": "TP2 = TP7"}, "bridged", "no point 'TP7'", "TP2"),
    ({"terminated": "J2"}, "terminated", "'J2'", "J2 = 50 ohm"),
    ({"terminated": "TP2 = 50 pF"}, "terminated", "'pF'", "50 ohm"),
    ({"terminated": ["TP2 = 50", "TP2 = 75"]}, "terminated", "two terminations", "one resistor"),
    ({"terminated": "TP1 = 50 ohm"}, "terminated", "TP1 is driven", "no generator"),
    ({"terminated": "J2 = 50 ohm"}, "terminated", "has a detector of 50 ohm", "1 Mohm"),
    ({"operated": ["K4"]}, "operated", "no relay 'K4'", "K14"),
    ({"operated": ["K3"], "released": ["K3"]}, "released", "K3 is operated and released", "one of the two"),
    ({"read": "TP1"}, "read", "driven and read at TP1", "analyser"),
]


@pytest.mark.parametrize(("change", "where", "found", "expected"), REFUSED, ids=lambda v: str(v)[:40])
def test_refused_with_what_is_known(change: dict[str, object], where: str, found: str, expected: str) -> None:
    with pytest.raises(HookupError) as caught:
        parse(**change)
    (mistake,) = caught.value.mistakes
    assert mistake.where == where
    assert found in mistake.found
    assert expected in mistake.expected


def test_all_mistakes_come_at_once() -> None:
    with pytest.raises(HookupError) as caught:
        parse(band="30 m", drive="TP9", source_ohm="x", lifted=["C99"], foo="1")
    assert {m.where for m in caught.value.mistakes} == {"band", "drive", "source_ohm", "lifted", "foo"}


def test_a_return_loss_drives_and_reads_one_point() -> None:
    found = parse(read="TP1", instrument="analyser", reference="calibrated")
    assert describe(found) == "31 m: analyser 50 ohm at TP1, calibrated"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            {"source_lead": "60 mm", "detector_lead": "60 mm"},
            "generator 50 ohm at TP1, detector 50 ohm at J2, through reference, clip leads 60 mm",
        ),
        (
            {"source_lead": "0 mm", "detector_lead": "40 mm", "source_pad": "10 dB 75 ohm"},
            "through reference, coax up to the generator point, detector lead 40 mm, generator pad 10 dB 75 ohm",
        ),
        ({"lifted": "W1 at BUS IN", "bridged": "TP2 = TP3"}, "W1 at BUS IN lifted, TP2 bridged to TP3"),
        ({"terminated": "TP3 = 50 ohm", "operated": "K3"}, "50 ohm from TP3 to ground, K3 operated by hand"),
        ({"reference": "none", "note": "lid off"}, "no reference (lid off)"),
        ({"detector_capacitance": "8 pF", "detector_tolerance": "5 %"}, "probe 8 pF, detector ohm +-5 %"),
    ],
)
def test_described_in_one_line(given: dict[str, object], words: str) -> None:
    line = describe(parse(**given))
    assert line.startswith("31 m: ")
    assert words in line
    assert "\n" not in line


NAME = st.text("ABCK123 ", min_size=1, max_size=6)
OHM = st.floats(0.1, 1e7)
PADS = st.none() | st.builds(Pad, st.floats(0.1, 60), OHM)
HOOKUPS = st.builds(
    Hookup,
    band=NAME,
    drive=NAME,
    read=st.none() | NAME,
    source_ohm=OHM,
    detector_ohm=OHM,
    source_tolerance=st.none() | st.floats(0, 0.99),
    source_lead=st.none() | st.floats(0, 1),
    detector_capacitance=st.floats(0, 1e-9),
    source_pad=PADS,
    detector_pad=PADS,
    reference=st.sampled_from(["through", "calibrated", "none"]),
    lifted=st.lists(NAME, max_size=2).map(tuple),
    bridged=st.lists(st.tuples(NAME, NAME), max_size=2).map(tuple),
    terminated=st.lists(st.builds(Termination, NAME, OHM), max_size=2).map(tuple),
    operated=st.lists(NAME, max_size=2).map(tuple),
    instrument=st.sampled_from(["analyser", "sweeper", "meter"]),
    note=st.text(max_size=8),
)


@given(HOOKUPS)
def test_json_and_back_changes_nothing(hookup: Hookup) -> None:
    text = json.dumps(to_dict(hookup), sort_keys=True)
    again = from_dict(json.loads(text))
    assert again == hookup
    assert json.dumps(to_dict(again), sort_keys=True) == text
    assert describe(again) == describe(hookup)


def test_an_older_job_file_lacks_fields_and_a_newer_one_has_more() -> None:
    assert from_dict({"band": "31 m", "drive": "TP1"}) == Hookup("31 m", "TP1")
    for wrong in (
        {"stage": 1},
        {"source_pad": {"loss": 3}},
        {"terminated": [3]},
        {"bridged": [["a"]]},
        {"reference": "x"},
    ):
        with pytest.raises(HookupError, match="job file"):
            from_dict({"band": "31 m", "drive": "TP1", **wrong})
    with pytest.raises(HookupError, match="job file"):
        from_dict({"band": "31 m"})


def test_the_page_documents_every_field_and_no_other() -> None:
    rows = re.findall(r"^\| `([a-z_]+)` \|", PAGE, re.M)
    assert rows == [f.name for f in fields(Hookup)]


def test_the_example_of_the_page_reads_as_it_says() -> None:
    (block,) = re.findall(r"```toml\n(.*?)```", PAGE, re.S)
    (line,) = re.findall(r"^reads as `(.*)`\.$", PAGE, re.M)
    assert describe(parse_hookup(tomllib.loads(block), KNOWN)) == line
