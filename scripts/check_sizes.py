"""Hold the code to the sizes of the house: functions, files, classes, and names that say nothing."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FUNCTION_LINES = 40  # without the docstring
FILE_LINES = 400
CLASS_METHODS = 15
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "manager", "common_utils", "misc"}

# (file, what) : (allowed, why). Each row is a debt, not a habit.
ALLOWED: dict[tuple[str, str], tuple[int, str]] = {
    ("src/halfsplit/circuit/build.py", "file"): (
        440,
        "the filter bank wants a file of its own",
    ),
    ("src/halfsplit/fault/search.py", "file"): (410, "see the next row"),
    ("src/halfsplit/fault/search.py", "Search"): (28, "screening and refinement share the solved scenes"),
}


def code_files() -> list[Path]:
    """Every Python file of the package and of the scripts."""
    return sorted([*(ROOT / "src").rglob("*.py"), *(ROOT / "scripts").glob("*.py")])


def too_large(tree: ast.Module, lines: int) -> Iterator[tuple[str, int, int]]:
    """(what, size, most) for each thing over its size in one file."""
    if lines > FILE_LINES:
        yield "file", lines, FILE_LINES
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            size = length(node)
            if size > FUNCTION_LINES:
                yield node.name, size, FUNCTION_LINES
        elif isinstance(node, ast.ClassDef):
            methods = sum(isinstance(x, ast.FunctionDef | ast.AsyncFunctionDef) for x in node.body)
            if methods > CLASS_METHODS:
                yield node.name, methods, CLASS_METHODS


def length(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function from `def` to its end, without its docstring."""
    lines = (node.end_lineno or node.lineno) - node.lineno + 1
    if ast.get_docstring(node, clean=False) is not None:
        text = node.body[0]
        lines -= (text.end_lineno or text.lineno) - text.lineno + 1
    return lines


def complaints() -> list[str]:
    """One line for each thing that is too large, or whose name says nothing."""
    found: list[str] = []
    unused = set(ALLOWED)
    for path in code_files():
        name = path.relative_to(ROOT).as_posix()
        text = path.read_text(encoding="utf-8")
        if {path.stem, *path.relative_to(ROOT).parent.parts} & EMPTY_NAMES:
            found.append(f"{name}: the name says nothing about what lives there")
        for what, size, most in too_large(ast.parse(text), len(text.splitlines())):
            unused.discard((name, what))
            most = ALLOWED.get((name, what), (most, ""))[0]
            if size > most:
                found.append(f"{name}: {what} has {size}, at most {most}")
    found += [f"{name}: {what} is small enough now; take it off the allowance" for name, what in sorted(unused)]
    return found


if __name__ == "__main__":
    lines = complaints()
    print("\n".join(lines) or f"sizes: {len(code_files())} files as the house wants them")
    sys.exit(1 if lines else 0)
