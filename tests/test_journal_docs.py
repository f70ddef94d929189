"""docs/job-file.md against a job file, both ways: tables, columns, header, kinds of act."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from halfsplit.cli import main
from halfsplit.journal import open_job
from halfsplit.journal.trouble import PATIENCE_S
from tests.pictures import png

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "docs" / "job-file.md").read_text("utf-8")


def run(*words: object) -> str:
    done = CliRunner().invoke(main, [str(w) for w in words])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job with one act of every kind."""
    path = tmp_path / "b.job"
    run("start", path, "--unit", ROOT / "examples" / "brackenwell-10.toml")
    run("add", path, "--typed", "10.1 MHz -0.4 dB")
    run("withdraw", path, "R1", "--because", "lead off")
    run("note", path, "lid off")
    run("tell", path, "knock = yes")
    run("did", path, "replaced C1")
    photo = tmp_path / "a.png"
    photo.write_bytes(png())
    run("attach", path, photo)
    return path


def listed(heading: str) -> list[str]:
    """First cells of the table under a heading."""
    block = PAGE.split(heading + "\n", 1)[1].split("\n#", 1)[0]
    return re.findall(r"^\| `(\w+)` \|", block, re.M)


def test_tables_and_columns(job: Path) -> None:
    db = sqlite3.connect(job)
    try:
        tables = db.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        names = [name for (name,) in tables]
        assert sorted(re.findall(r"^### Table `(\w+)`$", PAGE, re.M)) == sorted(names)
        for name in names:
            columns = [row[1] for row in db.execute(f"PRAGMA table_info({name})")]
            assert (name, listed(f"### Table `{name}`")) == (name, columns)
        header = {row: db.execute(f"PRAGMA {row}").fetchone()[0] for row in ("application_id", "user_version")}
    finally:
        db.close()
    letters = header["application_id"].to_bytes(4, "big").decode()
    assert f"0x{header['application_id']:X}, the letters {letters}" in PAGE
    assert f"`user_version` | version of the tables: {header['user_version']} |" in PAGE
    assert f"{PATIENCE_S:.0f} seconds" in PAGE


def test_kinds_of_act(job: Path) -> None:
    row = re.search(r"^\| `kind` \| (.*) \|$", PAGE, re.M)
    assert row is not None
    with open_job(job) as file:
        assert re.findall(r"`(\w+)`", row[1]) == [act.kind for act in file.acts()]


def test_a_back_up_while_somebody_writes_is_whole(job: Path) -> None:
    """What the page's back-up command does, by the same interface of SQLite, with a write-ahead log standing beside."""
    with open_job(job) as file:
        file.note("while it is open")
        assert job.with_name("b.job-wal").stat().st_size > 0
        source, copy = sqlite3.connect(job), sqlite3.connect(job.with_name("copy.job"))
        source.backup(copy)
        source.close()
        copy.close()
        acts = file.acts()
    with open_job(job.with_name("copy.job")) as copied:
        assert copied.acts() == acts
        assert len(copied.readings()) == 1
