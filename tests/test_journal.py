"""The job file: kept whole or not at all, refused with a sentence, never erased."""

from __future__ import annotations

import os
import re
import resource
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from halfsplit.errors import JobFileError
from halfsplit.journal import (
    Head,
    NewPhoto,
    NewReading,
    NewWork,
    create,
    keep_photo,
    keep_work,
    open_job,
    withdraw,
)
from halfsplit.journal.schema import KEPT, VERSION

HEAD = Head("tarn", "no power", "u.toml", "[unit]\n", "halfsplit 0", (("m.s2p", b"\x00\xff"),))
ODD = bytes(range(256)) * 3


def clock() -> datetime:
    """A clock that is not UTC."""
    return datetime(2026, 3, 1, 12, 30, 5, tzinfo=timezone(timedelta(hours=2)))


def reading(n: int = 1, size: int = 10) -> NewReading:
    return NewReading(f"r{n}.csv", bytes([n % 256]) * size, {"band": "31 m"}, {"answers": {}}, f"reading {n}")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "tarn.job"
    create(path, HEAD, clock)
    return path


def test_everything_comes_back_as_it_went_in(job: Path) -> None:
    given = NewReading("Ω.csv", ODD, {"band": "31 m", "lead": 0.06}, {"answers": {"sign": "x"}}, "said", baseline=True)
    with open_job(job, clock) as file:
        assert file.add([given, reading(2)]) == ("R1", "R2")
        withdraw(file, "R2", "lead was off")
        file.note("C43 replaced")
    with open_job(job) as file:
        assert file.head() == HEAD
        first, second = file.readings()
        assert (first.key, first.name, first.original, first.hookup, first.how, first.understood, first.baseline) == (
            "R1", "Ω.csv", ODD, {"band": "31 m", "lead": 0.06}, {"answers": {"sign": "x"}}, "said", True,
        )  # fmt: skip
        assert (first.withdrawn, second.withdrawn) == (None, "lead was off")
        acts = file.acts()
    assert [(a.number, a.kind) for a in acts] == [
        (1, "start"),
        (2, "reading"),
        (3, "reading"),
        (4, "withdraw"),
        (5, "note"),
    ]
    assert {a.at for a in acts} == {"2026-03-01T10:30:05+00:00"}
    assert acts[3].text == "R2: lead was off"


def test_one_file_when_nobody_has_it_open(job: Path) -> None:
    with open_job(job) as file:
        file.add([reading()])
    assert os.listdir(job.parent) == ["tarn.job"]


@pytest.mark.parametrize("table", KEPT)
@pytest.mark.parametrize("statement", ["DELETE FROM {}", "UPDATE {0} SET rowid = rowid"])
def test_nothing_is_erased_or_changed(job: Path, table: str, statement: str) -> None:
    with open_job(job) as file:
        file.add([reading()])
        file.tell([("knock", "yes")])
        keep_work(file, [NewWork("replaced", "replaced", "C22")])
        keep_photo(file, NewPhoto("D1", "a.png", "image/png", "", b"x"))
        for key in ("R1", "A1", "D1"):
            withdraw(file, key, "why")
    db = sqlite3.connect(job)
    with pytest.raises(sqlite3.IntegrityError, match="erased or changed"):
        db.execute(statement.format(table))
    db.close()


def test_withdraw_refuses(job: Path) -> None:
    with open_job(job) as file:
        with pytest.raises(JobFileError, match="no reading 'R1'; the job has: none"):
            withdraw(file, "R1", "x")
        file.add([reading()])
        withdraw(file, "R1", "first reason")
        with pytest.raises(JobFileError, match=r"withdrawn already \(first reason\)"):
            withdraw(file, "R1", "second")
        assert [a.kind for a in file.acts()] == ["start", "reading", "withdraw"]


def test_readings_of_one_act_are_all_kept_or_none(job: Path) -> None:
    bad = NewReading("b", b"", {"x": float("nan")}, {}, "cannot be written as JSON")
    with open_job(job) as file:
        with pytest.raises(ValueError, match="JSON"):
            file.add([reading(), bad])
        assert (file.readings(), len(file.acts())) == ((), 1)
        assert file.add([reading()]) == ("R1",)


def test_an_existing_file_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "tarn.job"
    path.write_bytes(b"a letter")
    with pytest.raises(JobFileError, match="exists already"):
        create(path, HEAD)
    assert path.read_bytes() == b"a letter"
    assert os.listdir(tmp_path) == ["tarn.job"]
    link = tmp_path / "link.job"
    link.symlink_to(tmp_path / "nowhere")
    with pytest.raises(JobFileError, match="exists already"):
        create(link, HEAD)
    assert not (tmp_path / "nowhere").exists()


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(JobFileError, match="cannot be opened; check the path"):
        create(tmp_path / "no" / "tarn.job", HEAD)
    with pytest.raises(JobFileError, match="no such job; start one"):
        open_job(tmp_path / "tarn.job")


def test_odd_names(tmp_path: Path) -> None:
    """Characters that mean something in the address of a file."""
    for name in ("what?.job", "100%25#.job", "a b&mode=ro.job", "ü.job"):
        create(tmp_path / name, HEAD)
        with open_job(tmp_path / name) as file:
            file.add([reading()])
    assert len(os.listdir(tmp_path)) == 4


def foreign(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE job (x)")
    db.commit()
    db.close()


def newer(path: Path) -> None:
    create(path, HEAD)
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {VERSION + 1}")
    db.close()


def text(path: Path) -> None:
    path.write_bytes(b"frequency;dB\n7,05;-0,3\n" * 100)


def empty(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (foreign, "not a halfsplit job file"),
        (text, "not a halfsplit job file"),
        (empty, "not a halfsplit job file"),
        (newer, "written by a newer halfsplit .*update halfsplit; nothing was changed"),
    ],
)
def test_files_that_are_no_job_of_ours_are_refused_and_left_alone(make, said: str, tmp_path: Path) -> None:
    path = tmp_path / "x.job"
    make(path)
    before = path.read_bytes()
    with pytest.raises(JobFileError, match=said):
        open_job(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9, 0.999])
def test_a_truncated_file_is_refused(job: Path, kept: float) -> None:
    with open_job(job) as file:
        file.add([reading(n, 5000) for n in range(20)])
    whole = job.read_bytes()
    job.write_bytes(whole[: int(len(whole) * kept)])
    with pytest.raises(JobFileError, match=r"damaged or cut short|not a halfsplit job file"):
        open_job(job)


def test_a_damaged_page_is_found_on_opening(job: Path) -> None:
    with open_job(job) as file:
        file.add([reading(n, 9000) for n in range(10)])
    data = bytearray(job.read_bytes())
    data[4096 * 3 : 4096 * 4] = b"\x5a" * 4096
    job.write_bytes(bytes(data))
    with pytest.raises(JobFileError, match="damaged"), open_job(job) as file:
        file.readings()


@contextmanager
def nobody() -> Iterator[None]:
    """As a user who owns nothing, where we are the one who may do everything."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_read_only_folder_can_be_read_and_refuses_to_write(job: Path) -> None:
    with open_job(job) as file:
        file.add([reading()])
    before = job.read_bytes()
    for folder in (job.parent, *job.parent.parents[:3]):
        os.chmod(folder, 0o755)
    os.chmod(job, 0o444)
    os.chmod(job.parent, 0o555)
    try:
        with nobody(), open_job(job) as file:
            assert [r.key for r in file.readings()] == ["R1"]
            with pytest.raises(JobFileError, match="cannot be written to; nothing was kept"):
                file.add([reading(2)])
        with nobody(), pytest.raises(JobFileError, match="cannot be"):
            create(job.parent / "other.job", HEAD)
    finally:
        os.chmod(job.parent, 0o755)
    assert (job.read_bytes(), os.listdir(job.parent)) == (before, ["tarn.job"])


@contextmanager
def no_file_above(size: int) -> Iterator[None]:
    """As on a full disk: no file may grow beyond this size."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@contextmanager
def suppress_full() -> Iterator[list[str]]:
    """Collect what the refusal says."""
    said: list[str] = []
    try:
        yield said
    except JobFileError as error:
        said.append(str(error))


@pytest.mark.parametrize("room", [4_000, 40_000, 90_000, 160_000])
def test_a_full_disk_loses_only_the_act_that_did_not_fit(job: Path, room: int) -> None:
    kept = 0
    with no_file_above(room), open_job(job) as file, suppress_full() as said:
        for n in range(50):
            file.add([reading(n, 10_000)])
            kept = n + 1
    assert kept < 50
    assert re.search(r"disk (is full|refused)|cannot be written to", said[0])
    with open_job(job) as file:
        assert [r.original for r in file.readings()] == [bytes([n]) * 10_000 for n in range(kept)]
        assert len(file.acts()) == kept + 1
        file.add([reading(99)])


def test_a_job_that_fills_its_allowance(job: Path) -> None:
    with open_job(job) as file:
        file._db.execute("PRAGMA max_page_count = 20")
        with pytest.raises(JobFileError, match="the disk is full"):
            file.add([reading(1, 200_000)])
        assert (file.readings(), len(file.acts())) == ((), 1)


def test_a_full_disk_leaves_no_half_job(tmp_path: Path) -> None:
    with no_file_above(8_000), pytest.raises(JobFileError):
        create(tmp_path / "tarn.job", HEAD)
    assert os.listdir(tmp_path) == []


def test_another_writer_is_waited_for_and_then_named(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("halfsplit.journal.door.PATIENCE_S", 0.05)
    with open_job(job) as first, open_job(job) as second:
        first._db.execute("BEGIN IMMEDIATE")
        with pytest.raises(JobFileError, match="another process holds the job"):
            second.add([reading()])
        first._db.execute("ROLLBACK")
        assert second.add([reading()]) == ("R1",)


def test_the_clock_of_the_machine_is_utc(tmp_path: Path) -> None:
    create(tmp_path / "a.job", HEAD)
    with open_job(tmp_path / "a.job") as file:
        at = datetime.fromisoformat(file.acts()[0].at)
    assert at.tzinfo == UTC
