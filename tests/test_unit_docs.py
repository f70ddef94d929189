"""docs/unit-file.md against the reader: every example is read, every key is documented, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from halfsplit import unit

PAGE = (Path(__file__).parents[1] / "docs/unit-file.md").read_text(encoding="utf-8")
SECTIONS = dict(re.findall(r"^### ([A-Z][^\n]*)\n(.*?)(?=^##|\Z)", PAGE, re.M | re.S))
EXAMPLES = {
    title: re.findall(r"```toml\n(.*?)```", body, re.S) for title, body in SECTIONS.items() if "```toml" in body
}
BASE = re.findall(r"```toml\n(.*?)```", PAGE, re.S)[0]


def tables(text: str) -> list[tuple[str, str]]:
    """(header line, text of the table) in order."""
    return [(t.split("]", 1)[0], t) for t in re.split(r"^(?=\[)", text, flags=re.M) if t.strip()]


def merged(fragment: str) -> str:
    """The base file with the tables of the same name taken out, and the fragment behind it."""
    mine = {header for header, _ in tables(fragment)}
    return "".join(text for header, text in tables(BASE) if header not in mine) + "\n" + fragment


def read(title: str) -> tuple[unit.Unit, str]:
    found, mistakes, warnings = unit.check_text(merged(EXAMPLES[title][0]), title)
    assert mistakes == ()
    assert found is not None
    return found, "\n".join(warnings)


def test_the_smallest_file_is_read() -> None:
    found, mistakes, warnings = unit.check_text(BASE, "page")
    assert (mistakes, warnings) == ((), ())
    assert found is not None


def test_every_question_of_a_real_drawing_has_an_example() -> None:
    assert len(EXAMPLES) == 13
    for title in EXAMPLES:
        found, _ = read(title)
        assert len(found.bands) >= 2, title


def test_wafer_positions_follow_from_the_filter() -> None:
    found, _ = read("A wafer switch with many positions")
    assert [b.positions for b in found.bands] == [(("S1A", "1"), ("S1B", "1")), (("S1A", "2"), ("S1B", "2"))]


def test_one_filter_serves_two_bands() -> None:
    found, _ = read("One filter that serves two bands")
    assert [(b.filter, dict(b.positions)["S1A"]) for b in found.bands] == [("F1", "1"), ("F1", "2"), ("F2", "3")]


def test_changeover_contacts_move_with_their_coil() -> None:
    found, _ = read("A changeover relay")
    assert [b.operated for b in found.bands] == [("K1", "K2", "K1B", "K2B"), ()]


def test_high_pass_stands_in_the_path() -> None:
    found, _ = read("A high-pass in the same path")
    assert "HP1" in found.path.order


def test_bridge_has_a_coupled_pair_wound_by_turns() -> None:
    found, _ = read("A bridge with a transformer")
    bridge = found.blocks[0]
    assert bridge.couplings[0].k == 0.985
    assert next(b for b in bridge.branches if b.part.ref == "T1B").part.value == pytest.approx(225 * 440e-9)


def test_parts_of_the_examples() -> None:
    expected = {
        "A trimmer": ("C13", 40e-12, 0.75, ""),
        "Turns on a core": ("L11", 225 * 4.9e-9, None, ""),
        "A value that two editions print differently": ("C11", 430e-12, None, "340 pF"),
        "A former owner's modification": ("C11", 470e-12, None, "430 pF"),
        "Selected on test": ("C12", 430e-12, 0.3, "selected on test"),
    }
    for title, (ref, value, tolerance, warned) in expected.items():
        found, warnings = read(title)
        part = next(p for p in found.filter("F1").parts if p.ref == ref)
        assert part.value == pytest.approx(value), title
        assert part.tolerance == pytest.approx(tolerance) if tolerance else part.tolerance is None, title
        assert (warned in warnings) if warned else warnings == "", title
        assert (warned in part.note) if warned else True, title


def test_two_capacitors_side_by_side_are_two_rungs_at_one_node() -> None:
    found, _ = read("Two capacitors in parallel, drawn as two")
    rungs = found.filter("F1").rungs
    assert [r.place for r in rungs] == ["shunt", "shunt", "series", "shunt", "shunt"]
    assert [r.ground for r in rungs[3:]] == ["E1", "E1"]


@pytest.mark.parametrize("kind", unit.KEYS)
def test_every_key_has_a_row_and_no_other(kind: str) -> None:
    section = SECTIONS[f"Keys of `{kind}`"]
    rows = re.findall(r"^\| `([a-z0-9_]+)` \|", section, re.M)
    shared = set(unit.KEYS["part"]) - {"part"} if kind in ("rung", "branch") else set()
    assert ("key of `part`" in section) == bool(shared)
    assert rows == [k for k in unit.KEYS[kind] if k not in shared]


def test_no_kind_is_documented_that_the_reader_does_not_know() -> None:
    kinds = re.findall(r"^### Keys of `(.*)`$", PAGE, re.M)
    assert kinds == list(unit.KEYS)
