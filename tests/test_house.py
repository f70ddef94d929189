"""The house keeps its own rules: sizes, fresh pages, no traces of one machine, a quick door, true commands."""

from __future__ import annotations

import importlib.util
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import click
import pytest

import halfsplit
from halfsplit.cli import main
from halfsplit.verdict import Word

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [
    line.removeprefix("$ ")
    for block in re.findall(r"```console\n(.*?)```", README, re.S)
    for line in block.splitlines()
    if line.startswith("$ halfsplit ")
]


def script(name: str) -> ModuleType:
    """A file of scripts/ as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def tracked() -> list[Path]:
    """Files under version control; the whole test is skipped where there is no git."""
    try:
        done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    except (OSError, subprocess.CalledProcessError) as error:
        pytest.skip(f"not a git checkout: {error}")
    return [ROOT / name for name in done.stdout.decode().split("\0") if name]


@pytest.mark.skipif("HALFSPLIT_WHEEL" not in os.environ, reason="only where make runs the tests on the built wheel")
def test_it_is_the_wheel_that_is_tested() -> None:
    assert "site-packages" in Path(halfsplit.__file__).parts
    assert ROOT / "src" not in Path(halfsplit.__file__).parents


def test_sizes() -> None:
    assert script("check_sizes").complaints() == []


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("def f():\n" + "    x = 1\n" * 41, "f has 41, at most 40"),
        ("def _f():\n    '''Long.\n" + "\n" * 60 + "'''\n    return 1\n", ""),
        ("class A:\n" + "".join(f"    def _m{i}(self): ...\n" for i in range(16)), "A has 16, at most 15"),
        ("x = 1\n" * 401, "file has 401, at most 400"),
        ("def f():\n    return 1\n", "f has no docstring"),
        ("class A:\n    def f(self):\n        return 1\n", "A.f has no docstring"),
        ("def _f():\n    return 1\n", ""),
        ("class P(Protocol):\n    '''A shape.'''\n\n    def f(self): ...\n", ""),
    ],
)
def test_sizes_are_noticed(code: str, says: str) -> None:
    found = script("check_sizes").complaints_of("src/halfsplit/x.py", code)
    assert [line for line in found if says and says in line] or (not says and found == []), found


def test_names_that_say_nothing_are_noticed() -> None:
    assert script("check_sizes").complaints_of("src/halfsplit/utils/x.py", "")
    assert script("check_sizes").complaints_of("src/halfsplit/unit/helpers.py", "")


@pytest.mark.parametrize(("name", "page"), [("make_map", "MAP.md"), ("make_cli_docs", "cli.md")])
def test_generated_pages_are_fresh(name: str, page: str) -> None:
    assert (ROOT / "docs" / page).read_text(encoding="utf-8") == script(name).page()


def test_no_trace_of_one_machine() -> None:
    # Put together from pieces, so that this file does not find itself.
    hosts = ["py" + "pi.org", "python" + "hosted.org", "ana" + "conda.org", "npm" + "js.org"]
    paths = [f"(?<![\\w.~-])/{top}/[a-z]" for top in ("wo" + "rk", "fa" + "rm", "ho" + "me", "ro" + "ot", "Us" + "ers")]
    wanted = re.compile("|".join([*map(re.escape, hosts), *paths]))
    found = []
    for path in tracked():
        if path.is_file():
            text = path.read_bytes().decode("utf-8", "replace")
            found += [f"{path.relative_to(ROOT)}: {m.group()}" for m in wanted.finditer(text)]
    assert found == []


def test_every_verb_has_its_heading() -> None:
    headings = re.findall(r"^## (\S+)$", (ROOT / "docs" / "cli.md").read_text(encoding="utf-8"), re.M)
    assert headings == sorted(main.commands)


def test_every_verb_and_option_says_what_it_is_for() -> None:
    for name, command in main.commands.items():
        assert (command.help or "").strip(), name
        for option in command.params:
            assert not isinstance(option, click.Option) or option.help, f"{name} {option.name}"


def test_every_word_of_a_verdict_has_its_row() -> None:
    rows = re.findall(r"^\| ([a-z ]+) \| \S+ \| ", README.split("## Words of a verdict")[1].split("\n## ")[0], re.M)
    assert set(rows) - {"word"} == {word.value for word in Word}


def test_help_does_not_load_the_heavy_libraries() -> None:
    code = (
        "import sys\nfrom halfsplit.cli import main\n"
        "main(['--help'], standalone_mode=False)\n"
        "print(sorted({m.split('.')[0] for m in sys.modules} & {'numpy', 'scipy'}))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert "suspects" in done.stdout


def test_the_readme_tells_a_whole_repair() -> None:
    verbs = [shlex.split(c)[1] for c in COMMANDS]
    assert set(verbs) >= {"check", "start", "add", "judge", "suspects", "next", "report"}
    assert verbs.index("start") < verbs.index("add") < verbs.index("judge") < verbs.index("report")


@pytest.mark.parametrize("command", COMMANDS)
def test_readme_commands_parse(command: str) -> None:
    program, verb, *rest = shlex.split(command)
    assert program == "halfsplit"
    main.commands[verb].make_context(verb, rest)  # raises where an option or argument is not known


def test_readme_commands_run_to_the_first_verdict(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from click.testing import CliRunner

    monkeypatch.chdir(tmp_path)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    (tmp_path / "demo-out").symlink_to(Path(halfsplit.__file__).parent / "demo")
    said = ""
    for command in COMMANDS:
        words = shlex.split(command)[1:]
        if words[0] in ("start", "add", "did"):
            done = CliRunner().invoke(main, words)
            assert done.exit_code == 0, done.output
            said += done.output
    assert re.findall(r"^[RD]\d", said, re.M) == ["R1", "R2", "R3", "D1", "R4"]


def links() -> Iterator[tuple[Path, str]]:
    """(page, target) of every link inside the checkout."""
    for page in [*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")]:
        for target in re.findall(r"\]\(([^)#:\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            yield page, target


def test_links_between_pages_lead_somewhere() -> None:
    assert [f"{p.name}: {t}" for p, t in links() if not (p.parent / t).exists()] == []
    assert len(list(links())) > 15
