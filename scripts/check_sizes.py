"""Hold the code to the rules of the house: sizes, docstrings, and names that say something."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

ROOT = Path(__file__).resolve().parents[1]
FUNCTION_LINES = 40  # without signature and docstring
FILE_LINES = 400
CLASS_METHODS = 15
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "manager", "managers", "misc"}

# (file, what) : (allowed, why). Each row is a debt, not a habit.
ALLOWED: dict[tuple[str, str], tuple[int, str]] = {}

# (file, what) : why it is public without a docstring. Debts as well.
SILENT: dict[tuple[str, str], str] = {
    ("src/halfsplit/circuit/builder.py", "Builder.element"): "written before this check",
    ("src/halfsplit/expect/bench.py", "View.size"): "written before this check",
    ("src/halfsplit/expect/bench.py", "Setup.size"): "written before this check",
    ("src/halfsplit/fault/hypotheses.py", "Catalogue.add"): "written before this check",
}

Function = ast.FunctionDef | ast.AsyncFunctionDef


def code_files() -> list[Path]:
    """Every Python file of the package and of the scripts."""
    return sorted([*(ROOT / "src").rglob("*.py"), *(ROOT / "scripts").glob("*.py")])


def length(node: Function) -> int:
    """Lines of a function from the first after its docstring (or signature) to its end."""
    body = node.body[1:] if ast.get_docstring(node, clean=False) is not None else node.body
    return (node.end_lineno or node.lineno) - body[0].lineno + 1 if body else 0


def too_large(tree: ast.Module, lines: int) -> Iterator[tuple[str, int, int]]:
    """(what, size, most) for each thing over its size in one file."""
    if lines > FILE_LINES:
        yield "file", lines, FILE_LINES
    for node in ast.walk(tree):
        if isinstance(node, Function):
            size = length(node)
            if size > FUNCTION_LINES:
                yield node.name, size, FUNCTION_LINES
        elif isinstance(node, ast.ClassDef):
            methods = sum(isinstance(x, Function) for x in node.body)
            if methods > CLASS_METHODS:
                yield node.name, methods, CLASS_METHODS


def stub(node: ast.stmt) -> bool:
    """True for a shape without code of its own: an overload, or a member of a protocol, whose class speaks for it."""
    return isinstance(node, Function) and all(
        isinstance(x, ast.Expr) and isinstance(x.value, ast.Constant) and x.value.value is ... for x in node.body
    )


def silent(body: list[ast.stmt], owner: str = "") -> Iterator[str]:
    """Public functions, methods and classes of a body without a docstring; functions in functions are not public."""
    for node in body:
        if isinstance(node, Function | ast.ClassDef) and not node.name.startswith("_") and not stub(node):
            if ast.get_docstring(node) is None:
                yield f"{owner}{node.name}"
            if isinstance(node, ast.ClassDef):
                yield from silent(node.body, f"{node.name}.")


def complaints_of(name: str, text: str, used: set[tuple[str, str]] | None = None) -> list[str]:
    """One line for each thing in one file that the house does not want.

    name : path from the root, with slashes; used : takes the rows of the allowance that were needed
    """
    found: list[str] = []
    path = PurePosixPath(name)
    if {path.stem, *path.parent.parts} & EMPTY_NAMES:
        found.append(f"{name}: the name says nothing about what lives there")
    tree = ast.parse(text)
    for what, size, most in too_large(tree, len(text.splitlines())):
        if used is not None:
            used.add((name, what))
        most = ALLOWED.get((name, what), (most, ""))[0]
        if size > most:
            found.append(f"{name}: {what} has {size}, at most {most}")
    for what in silent(tree.body):
        if used is not None:
            used.add((name, what))
        if (name, what) not in SILENT:
            found.append(f"{name}: {what} has no docstring")
    return found


def complaints() -> list[str]:
    """One line for each thing that the house does not want, and for each allowance that is no longer needed."""
    used: set[tuple[str, str]] = set()
    found: list[str] = []
    for path in code_files():
        found += complaints_of(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"), used)
    unused = sorted({*ALLOWED, *SILENT} - used)
    return found + [f"{name}: {what} is in order now; take it off the allowance" for name, what in unused]


if __name__ == "__main__":
    lines = complaints()
    print("\n".join(lines) or f"sizes: {len(code_files())} files as the house wants them")
    sys.exit(1 if lines else 0)
