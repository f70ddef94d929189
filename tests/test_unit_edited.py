"""A unit file changed value by value: that place changes, nothing else does, and what cannot be done is refused."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.errors import InputError
from halfsplit.unit.edited import with_filter, with_rung, with_value, without_rung
from halfsplit.unit.lines import KeyPath, value_spans

EXAMPLES = sorted((Path(__file__).resolve().parents[1] / "examples").glob("*.toml"))
TEXTS = [p.read_text("utf-8") for p in EXAMPLES]


def strings(text: str) -> list[tuple[KeyPath, str]]:
    """Every text in the file with its path."""
    data, out = tomllib.loads(text), []
    for path in value_spans(text):
        found: object = data
        for key in path:
            found = found[key]  # type: ignore[index]
        if isinstance(found, str):
            out.append((path, found))
    return out


@pytest.mark.parametrize("text", TEXTS, ids=[p.stem for p in EXAMPLES])
def test_every_text_of_every_example_can_be_changed_and_changed_back(text: str) -> None:
    places = strings(text)
    assert len(places) > 30
    for path, value in places[:: max(1, len(places) // 60)]:
        changed = with_value(text, path, 'an "odd" \\ value # of its own')
        assert changed != text
        assert with_value(changed, path, value) == text, path


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=40))
def test_whatever_is_typed_stays_one_value(value: str) -> None:
    path = ("filter", "F4", "ladder", 3, "value")
    text = next(t for p, t in zip(EXAMPLES, TEXTS, strict=True) if p.stem == "larkfell-tarn-40")
    changed = tomllib.loads(with_value(text, path, value))
    assert changed["filter"]["F4"]["ladder"][3]["value"] == value
    assert changed["filter"]["F3"] == tomllib.loads(text)["filter"]["F3"]


def test_a_key_that_was_not_there_is_added_to_its_braces() -> None:
    text = '[filter.A]\nladder = [\n  { series = "L1", value = "1 uH" }, # coil\n]\n'
    done = with_value(text, ("filter", "A", "ladder", 0, "tolerance"), "5 %")
    assert done == text.replace('"1 uH" }', '"1 uH", tolerance = "5 %" }')


def test_steps_come_and_go() -> None:
    text = (
        '[filter.A]\nladder = [\n  { shunt = "C1", value = "10 pF" },\n  { series = "L1", value = "1 uH" }\n]\n# end\n'
    )
    more = with_rung(text, "A", "shunt", "C2", "10 pF")
    assert [next(iter(r)) for r in tomllib.loads(more)["filter"]["A"]["ladder"]] == ["shunt", "series", "shunt"]
    assert more.endswith("# end\n")
    assert tomllib.loads(without_rung(more, "A", 2)) == tomllib.loads(text)
    one = without_rung(without_rung(text, "A", 0), "A", 0)
    assert tomllib.loads(one)["filter"]["A"]["ladder"] == []
    assert tomllib.loads(with_rung(one, "A", "series", "L1", "1 uH"))["filter"]["A"]["ladder"][0]["series"] == "L1"
    short = 'filter.A.ladder = [{ shunt = "C1" }, { shunt = "C2" }]\n'
    assert tomllib.loads(without_rung(short, "A", 0))["filter"]["A"]["ladder"] == [{"shunt": "C2"}]


def test_a_band_with_its_filter() -> None:
    done = tomllib.loads(with_filter("[unit]\nname = 'x'\n", "F 1", "40 m", "7 MHz", "7.2 MHz"))
    assert done["band"][0]["filter"] == "F 1" and "F 1" in done["filter"]


@pytest.mark.parametrize(
    "act",
    [
        lambda t: with_value(t, ("unit", "name", "x"), "y"),
        lambda t: with_value(t, ("nothing",), "y"),
        lambda _: with_value("a = [", ("a",), "y"),
        lambda t: with_rung(t, "no such", "shunt", "C1", "1 pF"),
        lambda t: without_rung(t, "F1", 99),
        lambda t: with_filter(t, "F1", "b", "1 MHz", "2 MHz"),
    ],
)
def test_what_cannot_be_done_is_refused(act: object) -> None:
    with pytest.raises(InputError):
        act(TEXTS[1])  # type: ignore[operator]
