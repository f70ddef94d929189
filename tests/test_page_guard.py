"""The guard of the page: vendored files are what they were, and every answer carries the headers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import halfsplit.page.render
from halfsplit import jobs
from halfsplit.page.app import create_app
from halfsplit.page.desk import Desk
from tests.pages import Idle

ROOT = Path(__file__).resolve().parents[1]
VENDOR = Path(halfsplit.page.__file__).parent / "static" / "vendor"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    tmp_path = tmp_path_factory.mktemp("desk")
    jobs.start(tmp_path / "tarn.job", ROOT / "examples" / "larkfell-tarn-40.toml", "tarn", "weak on 31 m")
    with TestClient(create_app(Desk(tmp_path, "tarn"), Idle), base_url="http://127.0.0.1") as client:
        yield client


def test_vendored_files_are_the_published_ones() -> None:
    rows = [line.split() for line in (VENDOR / "SHA256.txt").read_text("ascii").splitlines()]
    assert {name for _, name in rows} == {p.name for p in VENDOR.iterdir() if p.suffix in (".js", ".css", ".woff2")}
    for digest, name in rows:
        assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == digest, name


def test_the_sheet_has_its_sections_in_order(client: TestClient) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    places = [answer.text.index(f'<section id="{name}"') for name in halfsplit.page.render.SECTIONS]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"host": "127.0.0.1:8740"}, 200),
        ({"host": "localhost"}, 200),
        ({"host": "[::1]:8740"}, 200),
        ({"host": "bench.example"}, 421),
        ({"host": "127.0.0.1.example"}, 421),
        ({"host": "example:127.0.0.1"}, 421),
        ({"host": ""}, 421),
    ],
)
def test_only_under_its_own_names(client: TestClient, headers: dict[str, str], status: int) -> None:
    assert client.get("/static/bench.js", headers=headers).status_code == status


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"origin": "http://127.0.0.1"}, 303),
        ({"sec-fetch-site": "same-origin"}, 303),
        ({}, 403),
        ({"origin": "http://127.0.0.1:9999"}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://127.0.0.1", "sec-fetch-site": "cross-site"}, 403),
    ],
)
def test_only_from_the_page_itself(client: TestClient, headers: dict[str, str], status: int) -> None:
    assert client.post("/job/tarn/stop", headers=headers, follow_redirects=False).status_code == status
