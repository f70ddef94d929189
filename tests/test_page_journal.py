"""The journal on the page: work, notes, answers, photos, withdrawal; and the shelf with its new jobs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from halfsplit import jobs
from halfsplit.page.app import create_app
from halfsplit.page.desk import Desk
from tests.pages import PAGE, PART, UNIT, Idle, demo_file, started
from tests.pictures import png

TIED = {"h.band": "31 m", "h.drive": "TP1", "h.read": "J2"}


@pytest.fixture
def page(tmp_path: Path) -> Iterator[TestClient]:
    started(tmp_path)
    with TestClient(create_app(Desk(tmp_path, "tarn"), Idle), base_url="http://127.0.0.1", headers=PART) as client:
        yield client


def book(folder: Path) -> jobs.Notebook:
    return jobs.notebook(folder / "tarn.job")


def test_work_is_written_down_and_a_place_that_is_none_is_said(page: TestClient, tmp_path: Path) -> None:
    said = page.post("/job/tarn/book/did", data={"word": "replaced", "place": "C42", "value": "430 pF"}).text
    assert "D1, replaced C42 with 430 pF" in said
    (done,) = book(tmp_path).work
    assert (done.word, done.place, done.value) == ("replaced", "C42", "430 pF")
    wrong = page.post("/job/tarn/book/did", data={"word": "replaced", "place": "C99"}).text
    assert "C99" in wrong and 'hx-target="#book_said"' in wrong and len(book(tmp_path).work) == 1


def test_a_reading_is_annotated_and_withdrawn_with_its_reason(page: TestClient, tmp_path: Path) -> None:
    page.post("/job/tarn/enter/files", files=[("files", demo_file("sweep_40m.csv"))], data=TIED)
    page.post("/job/tarn/enter/file/1/keep", data=TIED)
    page.post("/job/tarn/book/note", data={"about": "R1", "note": "the old leads"})
    no_reason = page.post("/job/tarn/book/withdraw", data={"key": "R1", "reason": " "}).text
    assert "no reason" in no_reason
    shown = page.post("/job/tarn/book/withdraw", data={"key": "R1", "reason": "the lead was off"}).text
    assert "<del>" in shown and "withdrawn: the lead was off" in shown and "the old leads" in shown
    assert book(tmp_path).readings[0].withdrawn == "the lead was off"


def test_a_photo_comes_back_as_it_came_and_cannot_run(page: TestClient) -> None:
    data = png(40, 30)
    shown = page.post(
        "/job/tarn/book/photo", files=[("photo", ("board.png", data))], data={"caption": "the board"}
    ).text
    assert "/job/tarn/photo/P1" in shown and 'alt="the board"' in shown
    answer = page.get("/job/tarn/photo/P1")
    assert answer.content == data and answer.headers["content-type"] == "image/png"
    assert "sandbox" in answer.headers["content-security-policy"]
    for bad in (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", b"<html><script>1</script>", b"GIF89a"):
        refused = page.post("/job/tarn/book/photo", files=[("photo", ("x.png", bad))]).text
        assert 'hx-target="#book_said"' in refused
    assert page.get("/job/tarn/photo/P2").status_code == 404


def test_answers_are_told_once(page: TestClient, tmp_path: Path) -> None:
    page.post("/job/tarn/book/told", data={"symptom": "harmonics", "bad": "31 m"})
    assert [(a.question, a.answer) for a in book(tmp_path).answers] == [("symptom", "harmonics"), ("bad", "31 m")]
    again = page.post("/job/tarn/book/told", data={"symptom": "harmonics", "bad": "31 m", "knock": "no"}).text
    assert len(book(tmp_path).answers) == 3 and "knock" in again
    assert "no new answer" in page.post("/job/tarn/book/told", data={"symptom": "harmonics"}).text


def test_what_is_being_written_is_held(page: TestClient) -> None:
    page.post("/job/tarn/book/hold/did", data={"word": "squeezed", "place": "L4"})
    page.post("/job/tarn/book/hold/nonsense", data={"word": "squeezed"})
    shown = page.get("/job/tarn", headers={"hx-request": ""}).text
    assert 'value="L4"' in shown and "<option selected>squeezed</option>" in shown


PLAIN = {**PAGE, "hx-request": ""}


def test_a_new_job_from_a_file_that_is_sent_along(page: TestClient, tmp_path: Path) -> None:
    form = {"name": "second one", "unit": "", "complaint": "dead on 20 m"}
    sent = [("file", ("C:\\units\\larkfell.toml", UNIT.read_bytes()))]
    answer = page.post("/jobs", data=form, files=sent, headers=PLAIN, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/job/second%20one")
    assert (tmp_path / "larkfell.toml").read_bytes() == UNIT.read_bytes()
    assert jobs.notebook(tmp_path / "second one.job").complaint == "dead on 20 m"
    taken = page.post("/jobs", data={**form, "unit": "larkfell"}, headers=PLAIN)
    assert taken.status_code == 422 and "exists already" in taken.text


@pytest.mark.parametrize("name", ["", "../outside", "a/b", "..", ".hidden", "a\\b", "x" * 101, "a\x00b", " x "])
def test_a_job_stays_on_its_desk(page: TestClient, tmp_path: Path, name: str) -> None:
    (tmp_path / "u.toml").write_bytes(UNIT.read_bytes())
    before = sorted(p.name for p in tmp_path.parent.iterdir())
    answer = page.post("/jobs", data={"name": name, "unit": "u"}, headers=PLAIN, follow_redirects=False)
    allowed = name == " x "  # blanks around a name are no part of it
    assert answer.status_code == (303 if allowed else 422)
    assert sorted(p.name for p in tmp_path.parent.iterdir()) == before
