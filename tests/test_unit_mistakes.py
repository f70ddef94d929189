"""What the reader of the unit file refuses: every mistake at once, with key path, line, found and expected."""

from __future__ import annotations

import copy
import json
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halfsplit import unit
from halfsplit.errors import Mistake, UnitError

GOOD = """[unit]
name = "Bench"

[[band]]
name = "40 m"
range = ["7.0 MHz", "7.3 MHz"]
filter = "F1"

[[band]]
name = "20 m"
range = ["14.0 MHz", "14.35 MHz"]
filter = "F2"

[path]
order = ["FINAL", "TP1", "W1", "BUS", "filter", "TP2", "K3", "B1", "J1"]
points = ["BUS"]

[stage.FINAL]
gain = { "40 m" = "17 dB" }

[cable.W1]
type = "RG-316"
length = "180 mm"

[relay.K3]

[switch.S1A]
throws = { "1" = "F2", "2" = "F3" }

[filter.F1]
input = "K11"
output = "K21"
ladder = [
  { shunt = "C11", value = "430 pF" },
  { series = "L11", value = "1.1 uH" },
]

[filter.F2]
input = "S1A"
output = "K22"
ladder = [{ series = "L21", value = "0.56 uH" }]

[filter.F3]
input = "S1A"
output = "K23"
ladder = [{ series = "L31", value = "0.3 uH" }]

[block.B1]
branches = [
  { part = "L5", from = "in", to = "out", value = "1 uH" },
  { part = "L6", from = "x", to = "ground", value = "1 uH" },
  { part = "R5", from = "x", to = "out", value = "10 ohm" },
]
couplings = [{ first = "L5", second = "L6", k = 0.9 }]

[limits]
second_harmonic = "-46 dBc"
"""


def check(old: str = "", new: str = "", text: str = GOOD) -> tuple[tuple[Mistake, ...], tuple[str, ...]]:
    """Mistakes and warnings after one change to the good file."""
    assert old in text
    found, mistakes, warnings = unit.check_text(text.replace(old, new, 1), "bench.toml")
    assert (found is None) == bool(mistakes)
    return mistakes, warnings


def test_the_good_file_is_good_but_for_its_unused_filter() -> None:
    mistakes, warnings = check()
    assert mistakes == ()
    assert [w for w in warnings if "F3" in w] == list(warnings)
    assert "line 43: filter.F3: no band uses F3" in warnings[0]


# change, change to, where, line, words of found, words of expected
ONE_MISTAKE = [
    ('name = "Bench"', 'name = "Bench"\nimpedence = "50 ohm"', "unit.impedence", 3, "unknown key", "impedance?"),
    ('name = "Bench"', "", "unit", 1, "name is missing", "name ="),
    ('name = "Bench"', "name = 40", "unit.name", 2, "a number: 40", "text"),
    ('name = "Bench"', 'name = "Bench"\nrated_power = "40 pF"', "unit.rated_power", 3, "'pF'", "40 W"),
    ('name = "Bench"', 'name = "Bench"\nimpedance = "0 ohm"', "unit.impedance", 3, '"0 ohm"', "more than zero"),
    ("[limits]", "[limit]", "limit", 56, "unknown key", "limits?"),
    ('"7.0 MHz", "7.3 MHz"', '"7.3 MHz", "7.0 MHz"', "band[1].range", 6, '"7.3 MHz" is not below', "lower end"),
    ('"7.0 MHz", "7.3 MHz"', '"7.0 MHz", "7.3"', "band[1].range[2]", 6, "unit is missing", "7.05 MHz"),
    ('["7.0 MHz", "7.3 MHz"]', '"7 MHz"', "band[1].range", 6, "text", "ends of the served range"),
    ('"14.0 MHz"', '"7.2 MHz"', "band[2].range", 11, "20 m overlaps 40 m", "do not overlap"),
    ('name = "20 m"', 'name = "40 m"', "band[2].name", 10, '"40 m" is the name of an earlier band', "its own"),
    ('filter = "F1"', 'filter = "F4"', "band[1].filter", 7, '"F4" is no filter', "F1"),
    ('filter = "F1"', "", "band[1]", 4, "filter is missing", "F1, F2"),
    ('filter = "F1"', 'filter = "F1"\nrelays = ["K13"]', "band[1].relays[1]", 8, '"K13" is no relay', "K3"),
    ('filter = "F1"', 'filter = "F1"\npositions = {S1B="1"}', "band[1].positions.S1B", 8, "no switch", "S1A?"),
    ('filter = "F2"', 'filter = "F2"\npositions = {S1A="3"}', "band[2].positions.S1A", 13, "no position", "1, 2"),
    ('filter = "F2"', 'filter = "F2"\npositions = {S1A="2"}', "band[2].positions", 13, "does not lead to F2", "1"),
    ('"2" = "F3" }', '"2" = "F2", "3" = "F3" }', "band[2]", 9, "1 and 2 of S1A both lead to F2", 'S1A = "1"'),
    ('"TP1", "W1"', '"TP1", "W7"', "path.order[3]", 15, '"W7" is not declared', "W1"),
    ('"TP2", "K3"', '"TP2", "TP1", "K3"', "path.order[7]", 15, '"TP1" stands twice', "once"),
    ('"filter", ', "", "path.order", 15, '"filter" is missing', "stands"),
    ('"filter"', '"S1A"', "path.order[5]", 15, 'switch "S1A"', "input or output"),
    ('"40 m" = "17 dB"', '"41 m" = "17 dB"', 'stage.FINAL.gain."41 m"', 19, '"41 m" is no band', "40 m?"),
    ('type = "RG-316"', 'type = "RG-361"', "cable.W1.type", 22, '"RG-361"', "RG-316?"),
    ('type = "RG-316"', 'z0 = "50 ohm"\nvelocity_factor = 0.7', "cable.W1", 21, "loss is missing", "RG-316"),
    ('type = "RG-316"', 'type = "RG-316"\nloss = "12 dB"', "cable.W1.loss", 23, '"12 dB"', "12 dB/100 m @ 30 MHz"),
    ('length = "180 mm"', 'length = "180 pF"', "cable.W1.length", 23, "'pF'", "180 mm"),
    ("[relay.K3]", '[relay.K3]\nclosed_when = "on"', "relay.K3.closed_when", 26, '"on"', '"operated" or "released"'),
    ("[relay.K3]", '[relay.K3]\njoins = ["TP1", "TP2"]', "relay.K3.joins", 26, "stands in the path", "order says it"),
    ("[relay.K3]", '[relay.K3]\ncoil = "K30"', "relay.K3.coil", 26, '"K30" is no relay', "K3?"),
    ("[relay.K3]", '[relay.K11]\njoins = ["F2 in", "BUS"]\n[relay.K3]', "relay.K11.joins", 26, "F2 in", '"F1 in"'),
    ('"430 pF"', '"430 uH"', "filter.F1.ladder[1].value", 34, "'uH' is no unit of capacitance", "560 pF"),
    ('"430 pF"', "430", "filter.F1.ladder[1].value", 34, "a number: 430", "with its unit in quotes"),
    ('"430 pF"', '"430"', "filter.F1.ladder[1].value", 34, "unit is missing", "430 pF"),
    ('"430 pF"', '"-430 pF"', "filter.F1.ladder[1].value", 34, "below zero", "560 pF"),
    ('"1.1 uH"', '"0 uH"', "filter.F1.ladder[2].value", 35, '"0 uH"', "more than zero"),
    ('"1.1 uH"', '"12 turns T50-7"', "filter.F1.ladder[2].value", 35, '"T50-7" is not in the table', "T50-6"),
    ('"1.1 uH"', '"12 turns"', "filter.F1.ladder[2].value", 35, "turns without a core", "al ="),
    ('"1.1 uH"', '"1.1 uH", al = "4 nH"', "filter.F1.ladder[2].al", 35, "al without turns", "12 turns"),
    ('"1.1 uH"', '"1.1 uH", ground = "E1"', "filter.F1.ladder[2].ground", 35, "earth point", "shunt"),
    ('"1.1 uH"', '"1.1 uH", dielectric = "mica"', "filter.F1.ladder[2].dielectric", 35, "a coil", "capacitor"),
    ('"1.1 uH"', '"1.1 uH", q = "150"', "filter.F1.ladder[2].q", 35, "text: '150'", "without quotes"),
    ('"1.1 uH"', '"1.1 uH", q = 0', "filter.F1.ladder[2].q", 35, "0", "above 0"),
    ('"1.1 uH"', '"1.1 uH", adjustable = "yes"', "filter.F1.ladder[2].adjustable", 35, "'yes'", "true or false"),
    ('"1.1 uH"', '"1.1 uH", tolerance = "120 %"', "filter.F1.ladder[2].tolerance", 35, '"120 %"', "100 %"),
    ('"1.1 uH"', '"1.1 uH", about = "1 uH"', "filter.F1.ladder[2].about", 35, "about", "selected on test"),
    ('"1.1 uH"', '["1.1 uH"]', "filter.F1.ladder[2].value", 35, "a list of 1", "two editions"),
    ('"1.1 uH"', '["1.1 uH", "1 pF"]', "filter.F1.ladder[2].value[2]", 35, "'pF'", "uH"),
    (
        '"1.1 uH"',
        '"1.1 uH", with = { part = "C8", value = "1 pF" }',
        "filter.F1.ladder[2].with",
        35,
        "series",
        "across",
    ),
    (
        '"430 pF"',
        '"430 pF", across = { part = "C8", value = "1 pF" }',
        "filter.F1.ladder[1].across",
        34,
        "shunt",
        "with",
    ),
    ('"430 pF"', '"430 pF", with = { value = "1 uH" }', "filter.F1.ladder[1].with", 34, "part is missing", "C24"),
    ('"430 pF"', '"20 pF", range = ["30 pF", "90 pF"]', "filter.F1.ladder[1].value", 34, '"20 pF"', "30 pF"),
    ('value = "430 pF"', 'range = ["90 pF", "30 pF"]', "filter.F1.ladder[1].range", 34, "not below", "smaller end"),
    ('value = "430 pF"', "note = '?'", "filter.F1.ladder[1]", 34, "value is missing", "selected on test"),
    ('shunt = "C11"', 'shunt = "D11"', "filter.F1.ladder[1]", 34, '"D11"', "kind ="),
    ('shunt = "C11"', 'shunt = "C11", series = "L1"', "filter.F1.ladder[1]", 34, "both", "one of them"),
    ('shunt = "C11", ', "", "filter.F1.ladder[1]", 34, "neither", "one of them"),
    ('shunt = "C11"', 'shunt = "C11", kind = "cap"', "filter.F1.ladder[1].kind", 34, '"cap"', "capacitor"),
    ('"L21"', '"L11"', "filter.F2.ladder[1].series", 41, "a part of F1 on line 35", "one designator"),
    ('"L21", value', '"K3", kind = "coil", value', "filter.F2.ladder[1].series", 41, "a relay on line 25", "one thing"),
    ('"L21", value', '"filter", kind = "coil", value', "filter.F2.ladder[1].series", 41, "as a name", "another name"),
    ('{ shunt = "C11",', '{ shunt = "C11", ground = "W1",', "filter.F1.ladder[1].ground", 34, "also a cable", "earth"),
    ('input = "K11"', 'input = "K22"', "filter.F2.output", 40, "K22 already switches F1", "its own"),
    ('input = "K11"', 'input = "S9"', "filter.F1.input", 31, '"S9" is no relay or switch', "S1A"),
    ('input = "K11"', 'input = "S1A"', "filter.F1.input", 31, "no throw of S1A leads to F1", "1 = F2"),
    ('input = "K11"', 'input = "K3"', "relay.K3", 25, "stands in the path and at F1", "one place"),
    ('input = "S1A"\noutput = "K23"\n', "", "filter.F3", 43, "beside every other filter", "order"),
    (
        'from = "x", to = "ground"',
        'from = "x", to = "x"',
        "block.B1.branches[2].to",
        51,
        "both ends of L6",
        "different",
    ),
    ('from = "x", to = "out"', 'from = "x"', "block.B1.branches[3]", 52, "to is missing", "from"),
    ("k = 0.9", "k = 1.2", "block.B1.couplings[1].k", 54, "1.2", "up to 1"),
    ('second = "L6"', 'second = "L7"', "block.B1.couplings", 54, '"L7" is no coil', "L5"),
    ('"-46 dBc"', '"46 dBc"', "limits.second_harmonic", 57, '"46 dBc"', '"-46 dBc"'),
]


@pytest.mark.parametrize(("old", "new", "where", "line", "found", "expected"), ONE_MISTAKE, ids=lambda v: str(v)[:30])
def test_one_change_one_mistake(old: str, new: str, where: str, line: int, found: str, expected: str) -> None:
    mistakes, _ = check(old, new)
    assert [m.where for m in mistakes] == [where], mistakes
    (mistake,) = mistakes
    assert found in mistake.found
    assert expected in mistake.expected
    assert mistake.line == line


def test_a_contact_closed_at_rest_lays_a_second_filter_into_the_path() -> None:
    closed = '[relay.K23]\nclosed_when = "released"\n[relay.K11]\nclosed_when = "released"\n'
    closed += '[relay.K21]\nclosed_when = "released"\n[relay.K3]'
    mistakes, _ = check("[relay.K3]", closed)
    assert [m.found for m in mistakes] == ["F1 is switched in beside F2 on 20 m"]


def test_an_operated_contact_that_is_closed_at_rest_is_a_contradiction() -> None:
    text = GOOD.replace("[relay.K3]", '[relay.K11]\nclosed_when = "released"\n[relay.K3]')
    mistakes, _ = check('filter = "F1"', 'filter = "F1"\nrelays = ["K11"]', text)
    assert "K11 is operated on 40 m and is closed only when released" in mistakes[0].found


def test_a_floating_node_of_a_block_is_named() -> None:
    mistakes, _ = check('from = "x", to = "out"', 'from = "z", to = "out"')
    assert [m.where for m in mistakes] == ["block.B1.branches"] * 2
    assert 'only L6 meets node "x"' in mistakes[0].found
    assert 'only R5 meets node "z"' in mistakes[1].found
    mistakes, _ = check('from = "x", to = "out"', 'from = "x", to = "y"')
    assert [m.found for m in mistakes] == ['only R5 meets node "y"']
    island = 'from = "x", to = "y", value = "10 ohm" },\n  { part = "R6", from = "y", to = "x"'
    text = GOOD.replace('from = "x", to = "ground"', 'from = "x", to = "y"')
    mistakes, _ = check('from = "x", to = "out"', island, text)
    assert all("has no path to in, out or ground" in m.found for m in mistakes)
    assert len(mistakes) == 2


def test_a_fixed_filter_has_no_contacts() -> None:
    mistakes, _ = check('"TP2", "K3"', '"TP2", "F3", "K3"')
    assert [m.where for m in mistakes] == ["filter.F3.input", "filter.F3.output"]


def test_measured_file_problems_are_mistakes_of_the_unit() -> None:
    text = GOOD[: GOOD.index("[block.B1]")] + '[block.B1]\nmeasured = "b.s2p"\n'

    def absent(name: str) -> tuple[list[float], list[complex], float]:
        raise FileNotFoundError(2, "No such file", name)

    def one_port(_: str) -> tuple[list[float], list[complex], float]:
        return [1e6, 2e6], [0.5, 0.5], 50.0

    for load, words in (
        (absent, "No such file"),
        (one_port, "2 values at 2 frequencies"),
        (None, "without its folder"),
    ):
        found, mistakes, _ = unit.check_text(text, "x", load)
        assert found is None
        assert [m.where for m in mistakes] == ["block.B1.measured"]
        assert words in mistakes[0].found


def test_a_block_is_drawn_or_measured() -> None:
    assert "both" in check("[block.B1]", '[block.B1]\nmeasured = "b.s2p"')[0][0].found
    text = GOOD[: GOOD.index("[block.B1]")] + "[block.B1]\n"
    assert [m.found for m in check(text=text)[0]] == ["neither branches nor measured"]


def test_all_mistakes_come_at_once_in_the_order_of_the_file() -> None:
    text = GOOD
    for old, new in (
        ("name =", "nam ="),
        ('"430 pF"', '"430 uH"'),
        ("k = 0.9", "k = 9"),
        ('"W1", "BUS"', '"W9", "BUS"'),
    ):
        text = text.replace(old, new, 1)
    mistakes, _ = check(text=text)
    assert [m.line for m in mistakes] == [1, 2, 15, 34, 54]
    with pytest.raises(UnitError) as caught:
        unit.read_unit(text, "bench.toml")
    assert caught.value.mistakes == mistakes
    assert str(caught.value).count("\n") == 4


# TOML that is none: line and column, in our words
@pytest.mark.parametrize(
    ("text", "line", "column", "found"),
    [
        ('[unit]\nname "x"\n', 2, 6, "a key without ="),
        ("[unit]\nname = x\n", 2, 8, "without quotes"),
        ('[unit]\nname = "x\n', 2, 10, "may not stand here"),
        ('[unit]\nname = "x"\nname = "y"\n', 3, 11, "stands twice"),
        ("[unit]\n[unit]\n", 2, 6, "stands twice"),
        ('a = ["x" "y"]\n', 1, 10, "not closed"),
        ('a = { b = "x"\n', 1, 14, "not closed"),
        ('a = { b = "x", }\n', 1, 16, "no key here"),
        ("!\n", 1, 1, "begins with no key"),
        ('a = "x" y\n', 1, 9, "behind the value"),
        ('a = """x', 1, 9, "not closed"),
    ],
)
def test_syntax_mistakes_have_line_and_column(text: str, line: int, column: int, found: str) -> None:
    none, (mistake,), _ = unit.check_text(text, "bench.toml")
    assert none is None
    assert (mistake.line, mistake.where) == (line, f"bench.toml, column {column}")
    assert found in mistake.found


def test_empty_and_deep_and_large_files_are_refused_in_words() -> None:
    assert {m.found for m in unit.check_text("", "x")[1]} == {
        "[unit] is missing",
        "[path] is missing",
        "[[band]] is missing",
    }
    (deep,) = unit.check_text("a = " + "[" * 9000 + "]" * 9000, "x")[1]
    assert "too deep" in deep.found
    (large,) = unit.check_text("# " + "x" * (1 << 20), "x")[1]
    assert "at most 1 MiB" in large.expected


def test_bytes_that_are_no_text_are_refused_with_their_line(tmp_path: Path) -> None:
    path = tmp_path / "u.toml"
    path.write_bytes(GOOD.encode() + b"# 5 \xb5H\n")
    with pytest.raises(UnitError, match=r"line 58: .*0xb5 is not UTF-8"):
        unit.read_unit_file(path)


def test_unused_things_are_warned_about() -> None:
    extra = '[cable.W9]\ntype = "RG-58"\nlength = "1 m"\n[relay.K9]\n[switch.S9]\nthrows = { "1" = "F1" }\n[stage.Q9]\n'
    mistakes, warnings = check("[limits]", extra + "[limits]")
    assert mistakes == ()
    for name in ("W9", "K9", "S9", "Q9"):
        assert any(name in w for w in warnings), name


def spots(value: object, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every place in the file where something may stand."""
    inner = (
        list(value.items()) if isinstance(value, dict) else list(enumerate(value)) if isinstance(value, list) else []
    )
    return [p for step, v in inner for p in ((*at, step), *spots(v, (*at, step)))]


def toml(value: object) -> str:
    """TOML of plain data as inline values."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml(v) for v in value) + "]"
    return json.dumps(value)


DATA = tomllib.loads(GOOD)
STRANGE: st.SearchStrategy[object] = st.one_of(
    st.sampled_from(
        ["", " ", "x", "filter", "ground", "F1", "K11", "TP1", "5 MHz", "0 pF", "560 pF", "1e999 pF", "dnp"]
    ),
    st.sampled_from(["12 turns", "12 turns T50-6", "selected on test", 0, -1, 1.5, 10**30, True]),
    st.sampled_from([[], {}, [[]], [{}], {"a": 1}, {"1": "F1"}, ["TP1"], ["a", "b"], [1, "5 MHz"], {"a": "b"}]),
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from(spots(DATA)), st.one_of(STRANGE, st.none())), min_size=1, max_size=3))
def test_whatever_stands_anywhere_is_read_or_refused_with_a_line(
    changes: list[tuple[tuple[str | int, ...], object]],
) -> None:
    data = copy.deepcopy(DATA)
    for path, new in changes:
        level: object = data
        for step in path[:-1]:
            level = level[step] if isinstance(level, dict) and step in level else None  # type: ignore[index]
        if isinstance(level, dict) and new is None:
            level.pop(path[-1], None)
        elif isinstance(level, dict):
            level[path[-1]] = copy.deepcopy(new)
    text = "\n".join(f"{k} = {toml(v)}" for k, v in data.items())
    found, mistakes, _ = unit.check_text(text, "x")
    assert (found is None) == bool(mistakes)
    for mistake in mistakes:
        assert mistake.where
        assert mistake.expected
        assert mistake.line is not None or "missing" in mistake.found
