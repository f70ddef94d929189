"""The unit editor: form and text are one, mistakes have their lines, nothing is written over unseen."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from halfsplit.page.app import create_app
from halfsplit.page.desk import Desk
from tests.pages import PART, UNIT, Idle


@pytest.fixture
def page(tmp_path: Path) -> Iterator[TestClient]:
    (tmp_path / "u.toml").write_bytes(UNIT.read_bytes())
    with TestClient(create_app(Desk(tmp_path), Idle), base_url="http://127.0.0.1", headers=PART) as client:
        yield client


def test_a_value_of_the_form_is_a_value_of_the_text(page: TestClient, tmp_path: Path) -> None:
    path = json.dumps(["filter", "F4", "ladder", 3, "across", "value"])
    shown = page.post("/unit/u/set", params={"path": path, "filter": "F4"}, data={"value": "47 pF"}).text
    assert "47 pF" in shown and "Held as a draft" in shown
    assert (tmp_path / "u.toml").read_bytes() == UNIT.read_bytes(), "nothing is written before it is saved"
    page.post("/unit/u/save", data={})
    saved = (tmp_path / "u.toml").read_text("utf-8")
    changed = [(a, b) for a, b in zip(UNIT.read_text("utf-8").split("\n"), saved.split("\n"), strict=True) if a != b]
    assert len(changed) == 1 and changed[0][1] == changed[0][0].replace("43 pF", "47 pF")


def test_mistakes_have_their_lines_and_the_ladder_follows(page: TestClient) -> None:
    text = UNIT.read_text("utf-8")
    line = next(n for n, x in enumerate(text.split("\n"), 1) if "C42" in x)
    shown = page.post("/unit/u/text?filter=F4", data={"text": text.replace('"430 pF"', '"430 qF"')}).text
    assert f'data-line="{line}"' in shown and f"\u25b8{line}\n" in shown and "<svg" not in shown
    good = page.post("/unit/u/text?filter=F4", data={"text": text.replace('"430 pF"', '"470 pF"')}).text
    assert "<svg" in good and "470 pF" in good
    curve = page.get("/unit/u/response/F4.json").json()
    assert len(curve["f"]) == len(curve["read"]) == 400
    assert max(curve["read"]) <= 1e-9, "a passive ladder has no gain"
    assert page.get("/unit/u/response/F9.json").json()["key"] != "F9"


def test_steps_and_bands_are_added_and_taken_out(page: TestClient) -> None:
    page.post("/unit/u/step?filter=F1", data={"kind": "series"})
    page.post("/unit/u/unstep?filter=F1&index=0", data={})
    page.post("/unit/u/filter", data={"filter": "F9", "band": "17 m", "low": "18.07 MHz", "high": "18.17 MHz"})
    page.post("/unit/u/save", data={})
    data = tomllib.loads(saved_text(page))
    assert "series" in data["filter"]["F1"]["ladder"][0]
    assert data["filter"]["F1"]["ladder"][-1] == {"series": "L?", "value": "1 uH"}
    assert data["band"][-1]["filter"] == "F9"
    assert "something is left out" in page.post("/unit/u/filter", data={"filter": "F8"}).text


def saved_text(page: TestClient) -> str:
    desk: Desk = page.app.state.desk  # type: ignore[attr-defined]
    return (desk.folder / "u.toml").read_text("utf-8")


def test_a_file_that_something_else_changed_is_not_written_over_unseen(page: TestClient, tmp_path: Path) -> None:
    mine = UNIT.read_text("utf-8").replace("40 W", "45 W")
    page.post("/unit/u/text", data={"text": mine})
    (tmp_path / "u.toml").write_text("# of another editor\n" + UNIT.read_text("utf-8"), "utf-8")
    refused = page.post("/unit/u/save", data={}).text
    assert "changed by something else" in refused and "Save over it" in refused
    assert (tmp_path / "u.toml").read_text("utf-8").startswith("# of another editor")
    page.post("/unit/u/save", data={"over": "yes"})
    assert (tmp_path / "u.toml").read_text("utf-8") == mine


def test_changes_are_let_go(page: TestClient) -> None:
    page.post("/unit/u/text", data={"text": "nonsense ["})
    assert "The form comes back" in page.get("/unit/u", headers={"hx-request": ""}).text
    shown = page.post("/unit/u/undo", data={}).text
    assert "As on the disk" in shown and "Larkfell Tarn 40" in shown
