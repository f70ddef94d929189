"""The examples of docs/readings.md do what the page says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from halfsplit.errors import ReadingError
from halfsplit.quantity import Dimension, QuantityError, parse, parse_part_value
from halfsplit.reading import What, read_bytes, read_typed

PAGE = (Path(__file__).resolve().parents[1] / "docs" / "readings.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(reading|refused) (\S+)\n(.*?)```", PAGE, re.S)


def test_the_page_has_its_examples() -> None:
    assert len([b for b in BLOCKS if b[0] == "reading"]) >= 4
    assert len([b for b in BLOCKS if b[0] == "refused"]) >= 2


@pytest.mark.parametrize(("verb", "name", "text"), BLOCKS, ids=[f"{v} {n}" for v, n, _ in BLOCKS])
def test_blocks(verb: str, name: str, text: str) -> None:
    if verb == "refused":
        with pytest.raises(ReadingError):
            read_bytes(name, text.encode())
        return
    s21 = next(t for t in read_bytes(name, text.encode()).traces if t.what is What.S21)
    assert s21.f == pytest.approx([7.05e6, 14.1e6])
    assert s21.db == pytest.approx([-0.31, -48.1], abs=0.011)


def test_typed_rows() -> None:
    rows = re.findall(r"^\| (`.*) \| ", PAGE.split("## Touchstone")[0], re.M)
    typed = [t for row in rows for t in re.findall(r"`([^`]+)`", row)]
    assert len(typed) >= 12
    for text in typed:
        level = "W" in text.split()[-1] or "dBm" in text
        reflected = "SWR" in text or ":1" in text or "return" in text
        read_typed([text], What.LEVEL if level and not reflected else What.S11 if reflected else What.S21)


def test_refused_quantities() -> None:
    last = PAGE[PAGE.rindex("Refused:") :]
    for text in re.findall(r"`([^`]+)`", last):
        coil = "4R7" in text
        field = Dimension.TIME if "nh" in text else Dimension.RESISTANCE if "E" in text else Dimension.CAPACITANCE
        with pytest.raises(QuantityError):
            parse_part_value(text, Dimension.INDUCTANCE) if coil else parse(text, field)
