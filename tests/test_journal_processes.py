"""The job file under two processes at once, and under a process that is killed in the middle of an act."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

from halfsplit.journal import Head, create, open_job

HEAD = Head("tarn", "", "u.toml", "[unit]\n", "halfsplit 0")
SIZE = 30_000

# Adds readings to a job: each is filled with one byte, and names it. "ready" is said before the first.
ADDER = f"""
import sys
from halfsplit.journal import NewReading, open_job
path, first, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
print("ready", flush=True)
for n in range(first, first + count):
    with open_job(path) as file:
        file.add([NewReading(str(n), bytes([n % 256]) * {SIZE}, {{"n": n}}, {{}}, str(n))])
    print(n, flush=True)
"""


def adder(path: Path, first: int, count: int) -> subprocess.Popen[str]:
    words = [sys.executable, "-c", ADDER, str(path), str(first), str(count)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)


def whole(path: Path) -> list[int]:
    """Which readings the file holds, each of them whole, with its act; and SQLite finds the file in order."""
    with open_job(path) as file:
        readings, acts = file.readings(), file.acts()
    numbers = [int(r.name) for r in readings]
    assert [r.original for r in readings] == [bytes([n % 256]) * SIZE for n in numbers]
    assert [r.hookup for r in readings] == [{"n": n} for n in numbers]
    assert [r.key for r in readings] == [f"R{i}" for i in range(1, len(readings) + 1)]
    assert [a.text for a in acts[1:]] == [r.understood for r in readings]
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    db.close()
    return numbers


def test_two_processes_add_fifty_each(tmp_path: Path) -> None:
    path = tmp_path / "tarn.job"
    create(path, HEAD)
    both = [adder(path, 0, 50), adder(path, 100, 50)]
    assert [p.communicate()[1] for p in both] == [None, None]
    assert [p.returncode for p in both] == [0, 0]
    numbers = whole(path)
    assert [n for n in numbers if n < 100] == list(range(50))
    assert [n for n in numbers if n >= 100] == list(range(100, 150))


def test_killed_at_any_moment(tmp_path: Path) -> None:
    """What was said to be kept is there, at most the one reading of the act in progress more, and nothing in part."""
    path = tmp_path / "tarn.job"
    create(path, HEAD)
    rng = random.Random(20261125)
    kept, kills = 0, 0
    while kills < 25 or kept < 25:
        child = adder(path, kept, 1000)
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        time.sleep(rng.uniform(0.0, 0.05))
        child.send_signal(signal.SIGKILL)
        said = child.stdout.read().split()
        assert child.wait() == -signal.SIGKILL
        child.stdout.close()
        numbers = whole(path)
        assert numbers == list(range(len(numbers)))
        assert kept + len(said) <= len(numbers) <= kept + len(said) + 1
        assert len(numbers) < kept + 1000
        kept, kills = len(numbers), kills + 1
