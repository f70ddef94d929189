"""Attacks on the page, each with what comes back; docs/security.md holds the same table."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from halfsplit import jobs
from halfsplit.page.app import create_app
from halfsplit.page.desk import Desk
from halfsplit.page.guard import BODY_BYTES, COOKIE, HEADERS
from tests.pages import PAGE, PART, ROOT, UNIT, Idle, started
from tests.pictures import png

SCRIPT = '"><script>alert(1)</script><img src=x onerror=alert(1)>'
LAUGHS = b'<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "ha">' + b"".join(
    b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(8)
) + b"]><l>&i;</l>"  # fmt: skip


class Tags(HTMLParser):
    """Every tag of a page with its attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, list[tuple[str, str | None]]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, attrs))


@dataclass(frozen=True)
class Attack:
    """One attack. does : returns (status, body); status, says : what must come back; silent : what must not"""

    name: str
    back: str
    does: Callable[[TestClient, Path], tuple[int, str]]
    status: int
    says: str = ""
    silent: str = ""


def get(path: str, **headers: str) -> Callable[[TestClient, Path], tuple[int, str]]:
    def act(page: TestClient, _: Path) -> tuple[int, str]:
        answer = page.get(path, headers={k.replace("_", "-"): v for k, v in headers.items()})
        return answer.status_code, answer.text

    return act


def post(
    path: str, data: dict[str, str] | None = None, files: list[tuple[str, tuple[str, bytes]]] | None = None,
    headers: dict[str, str] | None = None,
) -> Callable[[TestClient, Path], tuple[int, str]]:  # fmt: skip
    def act(page: TestClient, _: Path) -> tuple[int, str]:
        answer = page.post(path, data=data, files=files, headers=headers or PART, follow_redirects=False)
        return answer.status_code, answer.text

    return act


def upload(name: str, data: bytes) -> Callable[[TestClient, Path], tuple[int, str]]:
    return post("/job/tarn/enter/files", files=[("files", (name, data))])


def chunked(page: TestClient, _: Path) -> tuple[int, str]:
    def stream() -> Iterator[bytes]:
        yield b'--b\r\nContent-Disposition: form-data; name="files"; filename="x"\r\n\r\n'
        for _ in range(BODY_BYTES // 2**20 + 2):
            yield b"x" * 2**20

    answer = page.post(
        "/job/tarn/enter/files", content=stream(), headers={**PART, "content-type": "multipart/form-data; boundary=b"}
    )
    return answer.status_code, answer.text


def unit_text(text: str) -> Callable[[TestClient, Path], tuple[int, str]]:
    return post("/unit/u/text", data={"text": text})


def outside_file(page: TestClient, folder: Path) -> tuple[int, str]:
    (folder.parent / "secret.s2p").write_text("# MHz S RI R 50\n1 2 3 4 5 6 7 8 9\n")
    text = UNIT.read_text("utf-8") + '\n[block.X]\nmeasured = "../secret.s2p"\n'
    page.post("/unit/u/text", data={"text": text}, headers=PART)
    page.post("/unit/u/save", data={}, headers=PART)
    answer = page.post("/jobs", data={"name": "stolen", "unit": "u"}, headers=PAGE)
    assert not (folder / "stolen.job").exists()
    return answer.status_code, answer.text


def script_in_unit(page: TestClient, folder: Path) -> tuple[int, str]:
    text = UNIT.read_text("utf-8").replace('"C42"', '"C42<script>alert(1)</script>"')
    text = text.replace('name = "Larkfell Tarn 40"', "name = '" + SCRIPT + "'")
    (folder / "evil.toml").write_text(text, "utf-8")
    unit, mistakes, _ = jobs.checked_unit(text, "evil.toml", lambda _: b"")
    shown = page.get("/unit/evil?filter=F4").text
    if unit is not None:
        page.post("/jobs", data={"name": "evil", "unit": "evil", "complaint": SCRIPT}, headers=PAGE)
        shown += page.get("/job/evil").text + page.get("/jobs").text
    return 200, shown + str(mistakes[:0])


ATTACKS = (
    Attack("a Host header of another name (DNS rebinding)", "421", get("/job/tarn", host="evil.example"), 421),
    Attack(
        "a form of another page (foreign Origin)",
        "403",
        post("/job/tarn/stop", headers={"origin": "http://evil.example"}),
        403,
    ),
    Attack("a form of a file or sandbox (Origin null)", "403", post("/job/tarn/stop", headers={"origin": "null"}), 403),
    Attack(
        "a form that says nothing of its origin", "403", post("/job/tarn/stop", headers={"hx-request": "true"}), 403
    ),
    Attack(
        "a form of another port of this machine",
        "403",
        post("/job/tarn/stop", headers={"origin": "http://127.0.0.1:1"}),
        403,
    ),
    Attack(
        "a body that says it is larger than 48 MiB",
        "413",
        post("/job/tarn/enter/files", headers={**PART, "content-length": str(10**12)}),
        413,
    ),
    Attack("a body that never says how large it is", "413 after 48 MiB", chunked, 413),
    Attack(
        "ten thousand form fields", "400", post("/job/tarn/book/note", data={f"f{n}": "x" for n in range(10_000)}), 400
    ),
    Attack("a job outside the folder: /job/..%2F..%2Fetc%2Fpasswd", "404", get("/job/..%2F..%2Fetc%2Fpasswd"), 404),
    Attack("a program file through /static/..%2Fapp.py", "404", get("/static/..%2Fapp.py"), 404),
    Attack("a unit file outside the folder: /unit/..%2Fsecret", "404", get("/unit/..%2Fsecret"), 404),
    Attack(
        "a new job named ../outside",
        "422, nothing written",
        post("/jobs", data={"name": "../outside", "unit": "u"}, headers=PAGE),
        422,
        "a plain name",
    ),
    Attack(
        "a unit file that names a file outside the folder",
        "422, nothing read",
        outside_file,
        422,
        "not a file of this folder",
        "6 7 8 9",
    ),
    Attack(
        "script in the name of a file",
        "shown as text",
        upload(SCRIPT + ".csv", b"1;2\n"),
        200,
        "&lt;script&gt;alert(1)",
        "<script>alert",
    ),
    Attack(
        "script in unit, part and complaint",
        "shown as text",
        script_in_unit,
        200,
        "&lt;script&gt;alert(1)",
        "<script>alert",
    ),
    Attack(
        "script in a note",
        "shown as text",
        post("/job/tarn/book/note", data={"note": SCRIPT}),
        200,
        "&lt;script&gt;alert(1)",
        "<script>alert",
    ),
    Attack(
        "a name that turns the direction of the text",
        "a visible mark in its place",
        upload("a\u202egpj.csv", b"1;2\n"),
        200,
        "a\ufffdgpj.csv",
        "\u202e",
    ),
    Attack("an XML bomb as a reading", "refused, not expanded", upload("x.csv", LAUGHS), 200, "disabled", "haha"),
    Attack(
        "a ZIP archive as a reading",
        "refused, not unpacked",
        upload("x.csv", b"PK\x03\x04" + b"\0" * 1000),
        200,
        "a zip archive",
    ),
    Attack(
        "an SVG picture as a photo",
        "refused",
        post(
            "/job/tarn/book/photo",
            files=[("photo", ("x.png", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"))],
        ),
        200,
        "mistakes",
    ),
    Attack(
        "a picture of 60,000 by 60,000 points",
        "refused",
        post("/job/tarn/book/photo", files=[("photo", ("x.png", png(60_000, 60_000)))]),
        200,
        "mistakes",
    ),
    Attack(
        "a unit file with 100,000 brackets",
        "a mistake, no crash",
        unit_text("a = " + "[" * 100_000),
        200,
        "to put right",
    ),
    Attack("a unit file of 2 MiB", "refused", unit_text("#" * 2**21), 400, "maximum size"),
    Attack(
        "a place of the form with 10,000 brackets",
        "refused",
        post("/unit/u/set?path=" + "%5B" * 10_000, data={"value": "x"}),
        200,
        "a place of the unit file",
    ),
    Attack("another method: PUT", "405", lambda page, _: (page.put("/job/tarn", headers=PAGE).status_code, ""), 405),
)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("outer") / "desk"
    folder.mkdir()
    (folder / "u.toml").write_bytes(UNIT.read_bytes())
    started(folder)
    return folder


@pytest.fixture(scope="module")
def page(desk: Path) -> Iterator[TestClient]:
    with TestClient(create_app(Desk(desk, "tarn"), Idle), base_url="http://127.0.0.1") as client:
        yield client


@pytest.mark.parametrize("attack", ATTACKS, ids=[a.name for a in ATTACKS])
def test_attack(attack: Attack, page: TestClient, desk: Path) -> None:
    outside = sorted(p.name for p in desk.parent.iterdir() if p.name != "secret.s2p")
    status, body = attack.does(page, desk)
    assert status == attack.status, body[:300]
    assert attack.says in body
    assert not attack.silent or attack.silent not in body
    assert sorted(p.name for p in desk.parent.iterdir() if p.name != "secret.s2p") == outside


def test_every_answer_carries_the_policy(page: TestClient) -> None:
    for path in ("/job/tarn", "/jobs", "/unit/u", "/static/sheet.css", "/nothing", "/job/none"):
        headers = page.get(path).headers
        for name, value in HEADERS.items():
            assert headers[name] == value, (path, name)
        assert "unsafe" not in headers["content-security-policy"]


def test_the_page_has_nothing_that_the_policy_would_refuse(page: TestClient) -> None:
    for path in ("/job/tarn", "/jobs", "/unit/u"):
        found = Tags()
        found.feed(page.get(path).text)
        assert len(found.seen) > 30
        for tag, attributes in found.seen:
            given = dict(attributes)
            assert tag not in ("style", "iframe", "object", "base") and (tag != "script" or given.get("src"))
            assert not any(name.startswith("on") or name == "style" for name in given), (tag, given)
            for name in ("src", "href", "action"):
                assert (given.get(name) or "/")[0] in "/#" or given[name] == "data:,", (tag, given)


def test_other_machines_need_the_token(desk: Path) -> None:
    app = create_app(Desk(desk, "tarn", ("192.0.2.7",), "a-token"), Idle)
    with TestClient(app, base_url="http://192.0.2.7") as client:
        for path in ("/", "/job/tarn", "/static/sheet.css", "/?token=", "/?token=wrong", "/?token=a-toke"):
            assert client.get(path).status_code == 401
        assert client.post("/job/tarn/stop?token=a-token", headers={"origin": "http://192.0.2.7"}).status_code == 401
        answer = client.get("/?token=a-token", follow_redirects=False)
        assert answer.status_code == 303 and "token" not in answer.headers["location"]
        cookie = answer.headers["set-cookie"].lower()
        assert cookie.startswith(COOKIE) and "httponly" in cookie and "samesite=strict" in cookie
        assert client.get("/job/tarn").status_code == 200


def table() -> str:
    """The table of docs/security.md."""
    rows = "".join(f"| {a.name} | {a.back} |\n" for a in ATTACKS)
    return f"| attack | what came back |\n|---|---|\n{rows}"


def test_the_table_of_attacks_is_that_of_the_page() -> None:
    assert table() in (ROOT / "docs" / "security.md").read_text("utf-8")
