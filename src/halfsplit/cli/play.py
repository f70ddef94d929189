"""The demo: the main job on shipped readings, through the same verbs that a user types."""

from __future__ import annotations

import os
import shlex
import shutil
import tomllib
from collections.abc import Callable
from contextlib import chdir
from importlib import resources
from pathlib import Path

import click

from halfsplit.errors import InputError, Mistake

MARK = "halfsplit-demo"


def play(folder: Path, run: Callable[[list[str]], int]) -> int:
    """Lay out the demo in a folder and play its steps.

    folder : new, or one of an earlier demo, which is cleared
    returns the exit status of the first step that fails, else 0
    """
    prepared(folder)
    source = resources.files("halfsplit.demo")
    script = tomllib.loads(source.joinpath("demo.toml").read_text("utf-8"))
    for name in script["files"]:
        (folder / name).write_bytes(source.joinpath(name).read_bytes())
    click.echo(script["story"].strip() + "\n")
    with chdir(folder):
        for step in script["step"]:
            words = shlex.split(step["command"])
            click.echo(f"--- {step['why']}")
            click.echo(f"$ halfsplit {step['command']}\n")
            status = run(words)
            click.echo("")
            if status:
                return status
    click.echo(f"The demo job and its bench sheet are in {os.path.join(str(folder), '')}")
    return 0


def prepared(folder: Path) -> None:
    """An empty folder with our mark; a folder of anything else is left alone. raises InputError."""
    if folder.exists():
        if not (folder / MARK).is_file():
            raise InputError(Mistake(str(folder), "exists and is not an earlier demo", "a new folder (--folder)"))
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    (folder / MARK).write_text("made by halfsplit demo; may be deleted\n", "utf-8")
