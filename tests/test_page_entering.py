"""Entering on the page: what was understood is shown, corrected and kept; nothing is lost on the way."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from halfsplit import jobs
from halfsplit.cli import main
from halfsplit.page.app import create_app
from halfsplit.page.desk import Desk
from halfsplit.page.entering import band_in, form_of, lines_of, rows_in
from tests.pages import PART, UNIT, Idle, demo_file, started

TIED = {"h.band": "31 m", "h.drive": "TP1", "h.read": "J2"}


def client_of(folder: Path) -> TestClient:
    return TestClient(create_app(Desk(folder, "tarn"), Idle), base_url="http://127.0.0.1", headers=PART)


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    started(tmp_path)
    return tmp_path


@pytest.fixture
def page(desk: Path) -> Iterator[TestClient]:
    with client_of(desk) as client:
        yield client


def upload(page: TestClient, *names: str, **more: bytes) -> str:
    files = [("files", demo_file(n)) for n in names] + [("files", (n, data)) for n, data in more.items()]
    return page.post("/job/tarn/enter/files", files=files, data=TIED).text


def readings(desk: Path) -> list[tuple[str, str, str]]:
    book = jobs.notebook(desk / "tarn.job")
    return [(r.key, r.name, r.hookup.get("band", "")) for r in book.readings]


def test_twenty_files_wait_understood_and_are_kept_each_in_its_band(page: TestClient, desk: Path) -> None:
    _, data = demo_file("sweep_40m.csv")
    files = [("files", (f"{n:02}_40m.csv", data.replace(b"\n", b"\n", 1) + b"\n" * n)) for n in range(20)]
    shown = page.post("/job/tarn/enter/files", files=files, data=TIED).text
    assert len(re.findall(r'<article class="card"', shown)) == 20
    assert readings(desk) == [], "nothing is kept before it was seen"
    kept = page.post("/job/tarn/enter/keep", data=TIED).text
    assert [band for _, _, band in readings(desk)] == ["40 m"] * 20
    assert "Kept as R1, R2" in kept and '<article class="card' not in kept


def test_what_is_typed_and_sent_outlives_the_server(desk: Path) -> None:
    with client_of(desk) as page:
        upload(page, "sweep_20m.csv")
        page.post("/job/tarn/enter/typed", data={**TIED, "f0": "9.4", "v0": "-0.5", "unit": "MHz", "kind": "level"})
        page.post("/job/tarn/enter/found", data={"line": "ohms across E41 ="})
    with client_of(desk) as page:
        shown = page.get("/job/tarn", headers={"hx-request": ""}).text
    assert 'value="-0.5"' in shown and "ohms across E41 =" in shown and "sweep_20m.csv" in shown
    assert "31 m: generator 50 ohm at TP1" in shown


def test_figures_kept_on_the_page_are_those_of_the_command_line(
    page: TestClient, desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    figures = {
        "f0": "9,4",
        "v0": "0,0",
        "f1": "19",
        "v1": "-43.5",
        "f2": "19.8",
        "v2": "> 47.5",
        "resolution": "0.5 dB",
    }
    page.post("/job/tarn/enter/typed/keep", data={**TIED, **figures, "unit": "MHz", "kind": "level"})
    other = started(desk, "other")
    words = "9.4 MHz 0.0; 19 MHz -43.5; 19.8 MHz > 47.5"
    tied = ["--band", "31 m", "--drive", "TP1", "--read", "J2", "--resolution", "0.5 dB"]
    assert not main.main(args=["add", str(other), *tied, "--typed", words], standalone_mode=False)
    found = []
    for job in (desk / "tarn.job", other):
        capsys.readouterr()
        main.main(args=["judge", str(job), "--json"], standalone_mode=False)
        found.append(json.loads(capsys.readouterr().out))
    assert found[0] == found[1]


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("photo.png", b"\x89PNG\r\n\x1a\n0000", "a picture, not text"),
        ("empty.csv", b"", "the file is empty"),
        ("bomb.zip", b"PK\x03\x04" + b"\0" * 100, "a zip archive"),
        ("letter.txt", b"Dear owner,\nyour set is ready.\n", "expected"),
    ],
)
def test_a_wrong_file_says_what_it_is_and_can_be_put_aside(
    page: TestClient, desk: Path, name: str, data: bytes, says: str
) -> None:
    shown = page.post("/job/tarn/enter/files", files=[("files", (name, data))], data=TIED).text
    assert says in shown and re.search(r'id="keep-1"[^>]* disabled', shown)
    refused = page.post("/job/tarn/enter/file/1/keep", data=TIED).text
    assert says in refused and readings(desk) == []
    assert "card-1" not in page.post("/job/tarn/enter/file/1/drop", data=TIED).text


def test_a_correction_changes_what_is_understood_and_is_kept_with_the_reading(page: TestClient, desk: Path) -> None:
    table = b"freq;a;b\n9.4;1;0.5\n9.9;1;0.6\n19;1;44\n"
    page.post("/job/tarn/enter/files", files=[("files", ("odd.csv", table))], data=TIED)
    said = {"value_column": "3", "frequency_unit": "MHz", "scale": "dB", "quantity": "s21", "sign": "loss positive"}
    shown = page.post("/job/tarn/enter/file/1", data={**TIED, **said, "read": "TP3"}).text
    assert "detector 50 ohm at TP3" in shown and 'value="3"' in shown
    page.post("/job/tarn/enter/file/1/keep", data=TIED)
    (kept,) = jobs.notebook(desk / "tarn.job").readings
    assert kept.hookup["read"] == "TP3" and kept.how["answers"] == said


def test_two_presses_tie_generator_and_detector(page: TestClient) -> None:
    page.post("/job/tarn/enter/tie?point=TP3", data=TIED)
    shown = page.post("/job/tarn/enter/tie?point=TP1", data={"h.band": "31 m", "h.drive": "TP3"}).text
    assert "generator 50 ohm at TP3, detector 50 ohm at TP1" in shown
    assert "no point" in page.post("/job/tarn/enter/tie?point=XX", data=TIED).text


def test_the_same_file_again_is_said(page: TestClient) -> None:
    upload(page, "sweep_40m.csv")
    page.post("/job/tarn/enter/file/1/keep", data=TIED)
    assert "count already as R1" in upload(page, "sweep_40m.csv")


def test_a_hookup_comes_back_from_its_form() -> None:
    unit, _ = jobs.load_unit(UNIT)
    told = {
        "band": "31 m", "drive": "TP1", "read": "TP3", "lifted": "C42; W1 at BUS IN", "bridged": "TP1 = BUS IN",
        "terminated": "J2 = 50 ohm", "source_lead": "60 mm", "detector_ohm": "1 Mohm", "operated": "K12",
    }  # fmt: skip
    from halfsplit.jobs.bench import hookup_for
    from halfsplit.page.entering import fields_of

    first = hookup_for(unit, fields_of(told))
    assert hookup_for(unit, fields_of(form_of(first))) == first


@pytest.mark.parametrize(
    ("name", "band"),
    [
        ("analyser_31m.s2p", "31 m"), ("31 M sweep.csv", "31 m"), ("sweep40m.csv", ""), ("40m-20m.csv", ""),
        ("131m.csv", ""), ("x.csv", ""), ("20-m.csv", "20 m"),
    ],
)  # fmt: skip
def test_the_band_in_a_file_name(name: str, band: str) -> None:
    assert band_in(name, jobs.load_unit(UNIT)[0]) == band


def test_rows_of_figures() -> None:
    assert rows_in({}) == 6
    assert rows_in({"f5": "1"}) == 7
    assert rows_in({"rows": "999999"}) == 6
    assert rows_in({"f999": "1"}) == 200
    assert lines_of({"f0": "9.4", "v0": "1.2", "kind": "SWR"}) == ["9.4 MHz SWR 1.2"]
    assert lines_of({"f0": "9.4 MHz", "v0": "20", "kind": "return loss"}) == ["9.4 MHz  return loss 20"]
