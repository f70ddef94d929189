"""Every figure from outside comes out of the package; every trap does not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from published_rows import Aside, Check, Row, Status, misses
from published_table import AREAS, every, page

ALL = every()
COMPUTED = [pytest.param(row, done, id=row.id) for _, row, done in ALL if isinstance(done, Check) and not row.trap]
TRAPS = [pytest.param(row, done, id=row.id) for _, row, done in ALL if isinstance(done, Check) and row.trap]
PAGE = Path(__file__).parents[2] / "docs" / "published-checks.md"


@pytest.mark.parametrize(("row", "check"), COMPUTED)
def test_figure_comes_out(row: Row, check: Check) -> None:
    far = misses(row, check, row.value)
    assert far.size
    assert (far <= 1.0).all(), f"{row.id} ({row.source}): {check.compute(row)} against {row.value}"


@pytest.mark.parametrize(("row", "check"), TRAPS)
def test_trap_is_refused(row: Row, check: Check) -> None:
    """The package disagrees with the wrong print and agrees with the right figures, one by one."""
    printed, right = misses(row, check, row.value), misses(row, check, row.right)
    wrong = np.abs(np.array(row.value) / np.array(row.right) - 1.0) > 0.02
    assert wrong.any()
    assert (printed[wrong] > 1.0).all(), f"{row.id}: agrees with a misprint of {row.source}"
    assert (right <= 1.0).all(), f"{row.id}: {check.compute(row)} against {row.right}"


def test_every_row_has_one_answer() -> None:
    for room in AREAS.values():
        assert set(room.CHECKS) | set(room.ASIDE) == set(room.ROWS)
        assert not set(room.CHECKS) & set(room.ASIDE)


def test_every_row_has_a_source() -> None:
    for _, row, done in ALL:
        assert row.source.strip() and row.where.strip() and row.what.strip(), row.id
        if isinstance(done, Check):
            assert row.value, f"{row.id} is computed but has no figure"
            assert done.relative is not None or len(row.tolerance) == len(row.value), row.id


def test_only_text_and_later_rows_are_left_out() -> None:
    """A trap, or a figure that was reproduced when it was collected, may only wait for a room that is not built."""
    for _, row, done in ALL:
        if isinstance(done, Aside) and done.status in (Status.TEXT, Status.INPUT):
            assert row.verified in ("no", "partial"), f"{row.id} could be computed"


def test_page_is_fresh() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "stale: run python scripts/published_table.py"
