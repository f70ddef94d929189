"""The names that a hook-up may use for this unit."""

from __future__ import annotations

from halfsplit.unit import Unit


def points_of(unit: Unit) -> tuple[str, ...]:
    """Every point that an instrument can be tied to: path points, filter nodes, points of blocks."""
    names = list(unit.path.points)
    for chosen in unit.filters:
        series = sum(r.place == "series" for r in chosen.rungs)
        names.append(f"{chosen.name} in")
        names += [f"{chosen.name} {i}" for i in range(1, series)]
        names.append(f"{chosen.name} out")
    for block in unit.blocks:
        names += [f"{block.name} {p}" for p in block.points]
    return tuple(dict.fromkeys(names))
