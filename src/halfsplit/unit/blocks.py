"""Blocks of the unit file: branches between named nodes, transformers, or a measured two-port."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from halfsplit.unit.keys import one_of
from halfsplit.unit.ladder import read_part
from halfsplit.unit.records import Block, Branch, Coupling
from halfsplit.unit.table import Table

GROUND = "ground"

Measured = Callable[[str], tuple[Sequence[float], Sequence[complex], float]]
"""File name to (f in Hz, S-parameters flat as (n, 2, 2) row by row, z0 in ohm); raises ValueError or OSError."""


def read_block(name: str, table: Table, measured: Measured | None) -> Block:
    """One block. measured : reads the file that the key `measured` names."""
    table.only("block")
    branches = read_branches(table)
    couplings = tuple(c for t in table.tables("couplings", _COUPLING) if (c := _coupling(t)) is not None)
    source = table.text("measured", "the name of a Touchstone file")
    if ("measured" in table.data) == ("branches" in table.data):
        _one_description(table, "measured" in table.data)
    block = Block(
        name=name,
        input=table.text("input", "a node of the block") or "in",
        output=table.text("output", "a node of the block") or "out",
        branches=branches,
        couplings=couplings,
        points=table.texts("points"),
        measured=None if source is None else _measured(table, source, measured),
        measured_source=source or "",
    )
    listed = table.data.get("branches")
    if source is None and isinstance(listed, list) and listed and len(branches) == len(listed):
        _check_nodes(table, block)
    return block


_BRANCH = 'branches like { part = "L5", from = "in", to = "out", value = "1 uH" }'
_COUPLING = 'couplings like { first = "L5", second = "L6", k = 0.98 }'


def _one_description(table: Table, both: bool) -> None:
    """A block is either drawn or measured."""
    found = "both branches and measured" if both else "neither branches nor measured"
    table.mistake(None, found, f'one of them: {_BRANCH}, or measured = "bridge.s2p"')


def read_branches(table: Table) -> tuple[Branch, ...]:
    """Parts between nodes, under the key `branches`."""
    return tuple(b for t in table.tables("branches", _BRANCH) if (b := _branch(t)) is not None)


def _branch(table: Table) -> Branch | None:
    """One part between two nodes."""
    table.only("branch")
    ref, a, b = (table.text(k, "a name") for k in ("part", "from", "to"))
    for key in ("part", "from", "to"):
        if key not in table.data:
            table.missing(key, _BRANCH)
    if ref is None:
        return None
    part = read_part(table, ref)
    if a is not None and a == b:
        table.mistake("to", f'"{b}" at both ends of {ref}', "two different nodes")
        return None
    return None if part is None or a is None or b is None else Branch(part, a, b)


def _coupling(table: Table) -> Coupling | None:
    """Two coils that share flux."""
    table.only("coupling")
    first, second = table.text("first", "a coil"), table.text("second", "a coil")
    k = table.number("k", 0, 1, "a coupling factor")
    for key in ("first", "second", "k"):
        if key not in table.data:
            table.missing(key, _COUPLING)
    return None if first is None or second is None or k is None else Coupling(first, second, k)


def _measured(
    table: Table, source: str, load: Measured | None
) -> tuple[tuple[float, ...], tuple[complex, ...], float] | None:
    """The measured two-port; None where it cannot be had (noted)."""
    if load is None:
        table.mistake("measured", f'"{source}": this text was read without its folder', "a unit file read from disk")
        return None
    try:
        f, s, z0 = load(source)
    except (OSError, ValueError) as error:
        table.mistake("measured", f'"{source}": {error}', "a Touchstone file with two ports beside the unit file")
        return None
    if len(s) != 4 * len(f) or not f:
        table.mistake("measured", f'"{source}": {len(s)} values at {len(f)} frequencies', "a two-port Touchstone file")
        return None
    return tuple(float(x) for x in f), tuple(complex(x) for x in s), float(z0)


def _check_nodes(table: Table, block: Block) -> None:
    """Every node is met by two branches or is a terminal, and hangs together with in, out or ground."""
    ends: dict[str, list[str]] = {}
    for branch in block.branches:
        ends.setdefault(branch.a, []).append(branch.part.ref)
        ends.setdefault(branch.b, []).append(branch.part.ref)
    terminals = (block.input, block.output, GROUND)
    for key, terminal in (("input", block.input), ("output", block.output)):
        if terminal not in ends:
            table.mistake(key, f'no branch meets "{terminal}"', one_of(terminal, tuple(ends), "nodes"))
    for point in block.points:
        if point not in ends:
            table.mistake("points", f'no branch meets "{point}"', one_of(point, tuple(ends), "nodes"))
    reached = _reached(block, terminals)
    for node, refs in ends.items():
        if node in terminals:
            continue
        if node not in reached:
            table.mistake("branches", f'node "{node}" has no path to {block.input}, {block.output} or ground', _TO)
        elif len(refs) == 1 and node not in block.points:
            expected = f"a second branch at it, or {one_of(node, tuple(n for n in ends if n != node), 'other nodes')}"
            table.mistake("branches", f'only {refs[0]} meets node "{node}"', expected)
    coils = tuple(b.part.ref for b in block.branches if b.part.kind == "coil")
    for coupling in block.couplings:
        for ref in (coupling.first, coupling.second):
            if ref not in coils:
                table.mistake("couplings", f'"{ref}" is no coil of {block.name}', one_of(ref, coils, "coils"))
        if coupling.first == coupling.second:
            table.mistake("couplings", f'"{coupling.first}" coupled to itself', "two different coils")


_TO = 'a branch that ties it on (the chassis is "ground")'


def _reached(block: Block, start: tuple[str, ...]) -> set[str]:
    """Nodes that hang together with the terminals through branches."""
    reached = set(start)
    more = True
    while more:
        size = len(reached)
        for branch in block.branches:
            if branch.a in reached or branch.b in reached:
                reached |= {branch.a, branch.b}
        more = len(reached) > size
    return reached


DEVICE = {"gate": "in", "base": "in", "drain": "out", "collector": "out", "source": GROUND, "emitter": GROUND}
"""The device's own terminals, and the end of the stage that each belongs to."""


def read_stage_branches(table: Table) -> tuple[Branch, ...]:
    """Damping and feedback parts of a stage; every node of them must be tied on."""
    branches = read_branches(table)
    listed = table.data.get("branches")
    if isinstance(listed, list) and len(branches) == len(listed):
        _check_stage(table, branches)
    return branches


def _check_stage(table: Table, branches: Sequence[Branch]) -> None:
    """A terminal has one name, its end of the stage is met, and no node is met by one branch only."""
    ends: dict[str, list[str]] = {}
    for branch in branches:
        ends.setdefault(branch.a, []).append(branch.part.ref)
        ends.setdefault(branch.b, []).append(branch.part.ref)
    for end in ("in", "out", GROUND):
        named = [n for n in ends if DEVICE.get(n) == end]
        if len(named) > 1:
            table.mistake("branches", " and ".join(f'"{n}"' for n in named), "one name for this terminal")
        elif named and end not in ends:
            expected = f'a branch at "{end}", or "{end}" in place of "{named[0]}"'
            table.mistake("branches", f'"{named[0]}" is named and nothing meets "{end}"', expected)
    known = {"in", "out", GROUND, *DEVICE}
    for node, refs in ends.items():
        if node not in known and len(refs) == 1:
            expected = f"a second branch at it, or {one_of(node, tuple(sorted(known)), 'terminals')}"
            table.mistake("branches", f'only {refs[0]} meets node "{node}"', expected)
