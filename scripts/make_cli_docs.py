"""Write docs/cli.md from the commands themselves. With --check: say whether it is fresh."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from halfsplit.cli import main

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "cli.md"

HEAD = """\
# The commands

Made by `make docs` from the commands themselves; do not edit. What the hook-up options mean: [hook-up.md](hook-up.md).
How readings are understood, and the reader's questions: [readings.md](readings.md). The keys of `--json`:
[json.md](json.md).

Exit status: 0 fine, 2 bad input (one message on standard error that says what to do next); of `signoff` also 3
(something is missing or in doubt) and 4 (something fails). Any other status is a defect of halfsplit.

"""


def row(option: click.Option) -> str:
    """An option as a row of the table."""
    names = ", ".join(f"`{n}`" for n in option.opts)
    kind = "" if option.is_flag else kind_of(option)
    text = (option.help or "").replace("|", "\\|")
    if option.show_default and option.default is not None:
        text += f" Default: `{option.default}`."
    return f"| {names} | {kind} | {text} |\n"


def kind_of(option: click.Option) -> str:
    """What an option takes."""
    if isinstance(option.type, click.Choice):
        return " / ".join(f"`{c}`" for c in option.type.choices)
    return option.make_metavar(click.Context(click.Command("x"))).lower().replace("|", "/")


def command(name: str, found: click.Command) -> str:
    """One command: its line, what it does, its options."""
    context = click.Context(found, info_name=f"halfsplit {name}")
    usage = " ".join(found.collect_usage_pieces(context))
    out = [f"## {name}\n\n```\nhalfsplit {name} {usage}\n```\n\n{(found.help or '').strip()}\n"]
    options = [p for p in found.params if isinstance(p, click.Option)]
    if options:
        out.append("\n| option | takes | meaning |\n|---|---|---|\n" + "".join(row(o) for o in options))
    return "".join(out)


def page() -> str:
    """The whole page, verbs in alphabetical order."""
    return HEAD + "\n".join(command(name, main.commands[name]) for name in sorted(main.commands))


if __name__ == "__main__":
    text = page()
    if "--check" in sys.argv:
        if not PAGE.is_file() or PAGE.read_text(encoding="utf-8") != text:
            sys.exit("docs/cli.md is not fresh; run: make docs")
    else:
        PAGE.write_text(text, encoding="utf-8")
