"""docs/parts.md against the program: its commands run, its tables are read, its keys are those of the readers."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from halfsplit.cli import main
from halfsplit.jobs.own_tables import CORE_KEYS, STOCK_KEYS, read_cores, read_stock

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "parts.md").read_text("utf-8")
COMMANDS = re.findall(r"^halfsplit (.*)$", PAGE, re.M)
TABLES = re.findall(r"```toml\n(.*?)```", PAGE, re.S)


@pytest.mark.parametrize("command", COMMANDS)
def test_the_commands_of_the_page_run(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    done = CliRunner().invoke(main, shlex.split(command))
    assert done.exit_code == 0, done.output


def test_the_tables_of_the_page_are_read(tmp_path: Path) -> None:
    stock, cores = tmp_path / "stock.toml", tmp_path / "cores.toml"
    stock.write_text(TABLES[0], "utf-8")
    cores.write_text(TABLES[1], "utf-8")
    assert read_stock(stock)[0].count == 10
    assert read_cores(cores)[0].al == pytest.approx(5.2e-9)
    assert len(read_stock(ROOT / "examples" / "drawer.csv")) > 20


def test_every_key_is_documented() -> None:
    stock, cores = (
        PAGE.split("### The stock")[1].split("## Coils")[0],
        PAGE.split("### Own cores")[1].split("## Caut")[0],
    )
    for text, keys in ((stock, STOCK_KEYS), (cores, CORE_KEYS)):
        listed = [k for row in re.findall(r"^\| (`[^|]+) \|", text, re.M) for k in re.findall(r"`(\w+)`", row)]
        assert sorted(listed) == sorted(keys)


def test_the_cautions_stand_on_the_page() -> None:
    assert "dummy load" in PAGE and "local codes" in PAGE
