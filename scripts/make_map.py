"""Write docs/MAP.md from the import contract and the docstrings. With --check: say whether it is fresh."""

from __future__ import annotations

import ast
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "src" / "halfsplit"
PAGE = ROOT / "docs" / "MAP.md"

HEAD = """\
# Map of the code

Made by `make docs` from the import contract in `pyproject.toml` and the first line of each docstring; do not edit.

A room imports only rooms on lines below it, never beside it. The contract names every room, so a new folder must be
placed before anything passes.

"""


def layers() -> list[list[str]]:
    """The contract, top line first: rooms of a line beside each other."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contract = settings["tool"]["importlinter"]["contracts"][0]
    return [[room.strip() for room in line.split("|")] for line in contract["layers"]]


def says(path: Path) -> str:
    """First line of a module's docstring."""
    text = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    return text.split("\n")[0]


def room(name: str) -> tuple[str, list[tuple[str, str]]]:
    """What a room says about itself, and its files with their first lines."""
    if (PACKAGE / f"{name}.py").is_file():
        return says(PACKAGE / f"{name}.py"), []
    folder = PACKAGE / name
    files = [(p.name, says(p)) for p in sorted(folder.glob("*.py")) if p.name != "__init__.py"]
    return says(folder / "__init__.py"), files


def imports(name: str, rooms: set[str]) -> list[str]:
    """Rooms that a room imports, from its files."""
    paths = [PACKAGE / f"{name}.py"] if (PACKAGE / f"{name}.py").is_file() else sorted((PACKAGE / name).glob("*.py"))
    found: set[str] = set()
    for path in paths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {a.name.split(".")[1] for a in node.names if a.name.startswith("halfsplit.")}
            elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("halfsplit."):
                found.add(str(node.module).split(".")[1])
            elif isinstance(node, ast.ImportFrom) and node.module == "halfsplit":
                found |= {a.name for a in node.names}
    return sorted((found & rooms) - {name})


def page() -> str:
    """The whole page."""
    lines = layers()
    names = [n for line in lines for n in line]
    order = {n: i for i, n in enumerate(names)}
    width = max(len(" | ".join(line)) for line in lines) + 2
    drawn = []
    for line in lines:
        firsts = "; ".join(f"{room(n)[0].split(':')[0].rstrip('.')}" for n in line)
        drawn.append(f"{' | '.join(line):{width}}{firsts}")
    out = [HEAD, "```\n", "\n".join(drawn), "\n```\n"]
    for name in names:
        first, files = room(name)
        used = sorted(imports(name, set(names)), key=lambda n: order[n])
        out.append(f"\n## {name}\n\n{first}\n\nImports: {', '.join(used) or 'nothing of ours'}.\n")
        if files:
            rows = "".join(f"| `{file}` | {text.replace('|', chr(92) + '|')} |\n" for file, text in files)
            out.append(f"\n| file | what it does |\n|---|---|\n{rows}")
    return "".join(out)


if __name__ == "__main__":
    text = page()
    if "--check" in sys.argv:
        if not PAGE.is_file() or PAGE.read_text(encoding="utf-8") != text:
            sys.exit("docs/MAP.md is not fresh; run: make docs")
    else:
        PAGE.write_text(text, encoding="utf-8")
