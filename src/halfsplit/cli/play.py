"""The demo: the main job on shipped readings, through the same verbs that a user types."""

from __future__ import annotations

import os
import shlex
import shutil
import tomllib
from collections.abc import Callable, Sequence
from contextlib import chdir
from hashlib import sha256
from importlib import resources
from pathlib import Path

import click

from halfsplit.errors import InputError, JobFileError, Mistake

MARK = "halfsplit-demo"


def play(folder: Path, run: Callable[[list[str]], int]) -> int:
    """Lay out the demo in a folder and play its steps.

    folder : new, or one of an earlier demo that nobody worked in since, which is cleared
    returns the exit status of the first step that fails, else 0
    raises InputError where the folder is something else, JobFileError where it cannot be written
    """
    script = tomllib.loads(resources.files("halfsplit.demo").joinpath("demo.toml").read_text("utf-8"))
    try:
        prepared(folder, script["files"])
    except OSError as error:
        why = error.strerror or str(error)
        raise JobFileError(f"{folder}: {why}; name a folder that can be written to: --folder") from error
    opening(script["story"])
    with chdir(folder):
        for step in script["step"]:
            click.echo(f"--- {step['why']}\n$ halfsplit {step['command']}\n")
            status = run(shlex.split(step["command"]))
            click.echo("")
            if status:
                return status
    (folder / MARK).write_text(listed(folder), "utf-8")
    click.echo(f"The demo job and its bench sheet are in {os.path.join(str(folder), '')}")
    return 0


def opening(story: str) -> None:
    """The story, and what to mind before doing the like."""
    from halfsplit.cli.show import wrapped
    from halfsplit.report.cautions import CAUTIONS, DEFER

    click.echo(story.strip() + "\n")
    click.echo("Cautions, for your own bench:")
    click.echo("\n".join(wrapped(line, "  ", "    ") for line in (*CAUTIONS, DEFER)) + "\n")


def prepared(folder: Path, files: Sequence[str]) -> None:
    """A folder with the demo's files in it and nothing else. raises InputError, OSError"""
    if folder.exists():
        refuse_work_of_others(folder)
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    (folder / MARK).write_text("", "utf-8")
    source = resources.files("halfsplit.demo")
    for name in files:
        (folder / name).write_bytes(source.joinpath(name).read_bytes())


def refuse_work_of_others(folder: Path) -> None:
    """raises InputError unless all that is in the folder is as an earlier demo left it"""
    new = "a new folder (--folder)"
    if not (folder / MARK).is_file():
        raise InputError(Mistake(str(folder), "exists and is not an earlier demo", new))
    left = set((folder / MARK).read_text("utf-8").splitlines())
    changed = sorted(line.split("  ", 1)[1] for line in set(listed(folder).splitlines()) - left)
    if changed:
        found = f"{', '.join(changed[:5])}: made or changed since the demo was played, and would be lost"
        raise InputError(Mistake(str(folder), found, f"{new}, or delete this one by hand"))


def listed(folder: Path) -> str:
    """Every file of a folder with its hash, one to a line."""
    found = sorted(p for p in folder.rglob("*") if p.is_file() and p.name != MARK)
    rows = [f"{sha256(p.read_bytes()).hexdigest()}  {p.relative_to(folder).as_posix()}" for p in found]
    return "".join(f"{row}\n" for row in rows)
