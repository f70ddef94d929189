"""The table of all rows from outside, as docs/published-checks.md shows it."""

from __future__ import annotations

from collections import Counter

import published_circuits
import published_coax
import published_filters
import published_measurement
import published_parts
from published_rows import Aside, Check, Row, Status

AREAS = {
    "Filter theory": published_filters,
    "Measurement": published_measurement,
    "Coaxial cable": published_coax,
    "Parts": published_parts,
    "Active and lumped circuits": published_circuits,
}

HEAD = """# Published checks

Figures from outside the project, and what halfsplit makes of each. The rows stand in `tests/published/*.toml` with
their source; `tests/published` computes them with the package and fails where one does not come out. A trap is a figure
in print that is wrong or means something else: the package must NOT agree with it, and must agree with the right one.
This page is written by `python scripts/published_table.py`; a test fails when it is stale.

"Verified" tells how the figure was confirmed when it was collected: full (published number reproduced), partial,
cross-checked (two independent routes), formula-only (one route), no (text or data sheet), disagrees (trap).
"""


FOOT = """Besides the rows, `tests/published/test_outside_solvers.py` holds ladders and lines against scipy.signal
(analog prototypes) and scikit-rf (cascades of two-ports), to 1e-9. Rows on limits, amplifiers, statistics and safety
come with the issues that bring those rooms.
"""


def every() -> list[tuple[str, Row, Check | Aside]]:
    """(area, row, what is done with it) for all rows, in file order. raises KeyError for a row nobody answers for."""
    return [
        (area, row, room.CHECKS[row.id] if row.id in room.CHECKS else room.ASIDE[row.id])
        for area, room in AREAS.items()
        for row in room.ROWS.values()
    ]


def status_of(row: Row, done: Check | Aside) -> Status:
    """What becomes of a row."""
    if isinstance(done, Aside):
        return done.status
    return Status.TRAP if row.trap else Status.COMPUTED


def page() -> str:
    """The whole page."""
    rows = every()
    counts = Counter(status_of(row, done) for _, row, done in rows)
    lines = [HEAD, f"{len(rows)} rows: " + ", ".join(f"{counts[s]} {s.value}" for s in Status if counts[s]) + "."]
    for area in AREAS:
        lines += [
            "",
            f"## {area}",
            "",
            "| id | what | source | seen | verified | computed by | status |",
            "|" + "---|" * 7,
        ]
        lines += [_line(row, done) for a, row, done in rows if a == area]
    lines += ["", FOOT]
    return "\n".join(lines)


def _line(row: Row, done: Check | Aside) -> str:
    by = done.by if isinstance(done, Check) else done.why
    if isinstance(done, Check) and done.relative is not None and done.relative > 1e-6:
        by += f" (within {100.0 * done.relative:g} %)"
    if isinstance(done, Check) and done.picked is not None:
        by += f" ({len(done.picked)} of {len(row.value)} figures)"
    cells = (row.id, row.what, row.source, row.where, row.verified, by, status_of(row, done).value)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
