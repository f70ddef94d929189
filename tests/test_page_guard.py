"""The guard of the page: vendored files are what they were, and every answer carries the headers."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import halfsplit.page.render
from halfsplit import jobs
from halfsplit.page.app import create_app
from halfsplit.page.desk import Desk

ROOT = Path(__file__).resolve().parents[1]
VENDOR = Path(halfsplit.page.__file__).parent / "static" / "vendor"


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    jobs.start(tmp_path / "tarn.job", ROOT / "examples" / "larkfell-tarn-40.toml", "tarn", "weak on 31 m")
    return TestClient(create_app(Desk(tmp_path, "tarn")), base_url="http://127.0.0.1")


def test_vendored_files_are_the_published_ones() -> None:
    rows = [line.split() for line in (VENDOR / "SHA256.txt").read_text("ascii").splitlines()]
    assert {name for _, name in rows} == {p.name for p in VENDOR.iterdir() if p.suffix in (".js", ".css")}
    for digest, name in rows:
        assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == digest, name


def test_the_sheet_has_its_sections_in_order(client: TestClient) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    places = [answer.text.index(f'<section id="{name}"') for name in halfsplit.page.render.SECTIONS]
    assert places == sorted(places)
