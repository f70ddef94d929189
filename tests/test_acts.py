"""Work on the unit and photos in the job: kept whole, by place, withdrawn with a reason; older jobs brought up."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from halfsplit import jobs
from halfsplit.cli import main
from halfsplit.errors import InputError, JobFileError
from halfsplit.jobs.photos import LARGEST
from halfsplit.journal import open_job, work_of
from tests.pictures import jpeg, png

UNIT = Path(__file__).parents[1] / "src" / "halfsplit" / "demo" / "larkfell-tarn-40.toml"
WHOLE = ["9.4 MHz -0.4 dB", "9.65 MHz -0.4 dB", "9.9 MHz -0.4 dB"]
"""A through reading of all of the 31 m band."""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "t.job"
    jobs.start(path, UNIT, "t", "")
    jobs.add_typed(path, ["9.65 MHz -3.0 dB"], None, {"band": "31 m"})
    return path


def test_work_comes_back_as_it_was_told(job: Path) -> None:
    kept = jobs.did(job, ["Replaced c42 with 1000 pF: mica, silvered", "resoldered C42 hot joint"])
    assert [(w.key, w.kind, w.place, w.value, w.note) for w in kept] == [
        ("D1", "replaced", "C42", "1000 pF", "mica, silvered"),
        ("D2", "resoldered", "C42 hot joint", "", ""),
    ]
    assert kept[0].text == "replaced C42 with 1000 pF"
    assert jobs.work_in(job) == kept
    assert [a.kind for a in jobs.notebook(job).acts] == ["start", "reading", "did", "did"]


def test_one_line_may_name_several_places(job: Path) -> None:
    assert [w.place for w in jobs.did(job, ["squeezed L41 and L42, L43"])] == ["L41", "L42", "L43"]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("replaced C4", "a place of this unit, such as C4"),
        ("squeezed C42", "a coil or an adjustable part"),
        ("replaced C42 with 1000 uH", "value of C42"),
        ("replaced C42 with -3 pF", "value of C42"),
        ("cleaned K12 with 5 ohm", "K12 has no value"),
        ("looked at C42", "one of these forms"),
        ("replaced", "one of these forms"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(job: Path, line: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        jobs.did(job, ["replaced C42", line])
    assert jobs.work_in(job) == ()


def test_all_mistakes_at_once(job: Path) -> None:
    with pytest.raises(InputError) as found:
        jobs.did(job, ["replaced X1, X2", "nonsense"])
    assert len(found.value.mistakes) == 3


def test_work_told_late_stands_before_the_readings_that_followed_it(job: Path) -> None:
    jobs.add_typed(job, ["9.65 MHz -0.4 dB"], None, {"band": "31 m"})
    jobs.did(job, ["cleaned K14 contact"])
    late = jobs.did(job, ["replaced C43"], after="r1")[0]
    with open_job(job) as file:
        acts = {r.key: r.act for r in file.readings()}
        assert acts["R1"] <= late.since < acts["R2"]
        assert [w.key for w in work_of(file)] == ["D2", "D1"]
    with pytest.raises(JobFileError, match="no reading 'R9'; the job has: R1, R2"):
        jobs.did(job, ["replaced C43"], after="R9")


def test_work_and_photos_are_withdrawn_with_a_reason(job: Path) -> None:
    jobs.did(job, ["replaced C42"])
    jobs.attach(job, "a.jpg", jpeg(), "D1")
    for key in ("d1", "P1"):
        jobs.withdraw(job, key, "the other board")
    assert jobs.work_in(job)[0].withdrawn == jobs.photos(job)[0].withdrawn == "the other board"
    with pytest.raises(JobFileError, match=r"D1 is withdrawn already \(the other board\)"):
        jobs.withdraw(job, "D1", "again")
    with pytest.raises(JobFileError, match="no work 'D7'; the job has: D1"):
        jobs.withdraw(job, "D7", "x")
    with pytest.raises(JobFileError, match="no photo 'P7'; the job has: P1"):
        jobs.withdraw(job, "P7", "x")


@pytest.mark.parametrize(("data", "media"), [(png(7, 5), "image/png"), (jpeg(640, 480), "image/jpeg")])
def test_a_photo_comes_back_byte_for_byte(job: Path, data: bytes, media: str, tmp_path: Path) -> None:
    kept = jobs.attach(job, "C42 <b>.jpg", data, "r1", "the old  mica")
    assert (kept.key, kept.belongs, kept.media, kept.caption, kept.size) == (
        "P1",
        "R1",
        media,
        "the old mica",
        len(data),
    )
    assert jobs.attachment(job, "p1") == (kept, data)
    jobs.write_photo(job, "P1", tmp_path / "out")
    assert (tmp_path / "out").read_bytes() == data
    with pytest.raises(InputError, match="exists already"):
        jobs.write_photo(job, "P1", tmp_path / "out")
    with pytest.raises(JobFileError, match="no photo 'P2'; the job has: P1"):
        jobs.attachment(job, "P2")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "neither PNG nor JPEG"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "neither PNG nor JPEG"),
        (b"GIF89a" + b"\0" * 50, "neither PNG nor JPEG"),
        (png()[:-3], "cut short"),
        (png() + b"<script>", "cut short"),
        (png()[:8] + png()[33:], "cut short"),
        (jpeg()[:-2], "cut short"),
        (b"\xff\xd8\xff" + b"\0" * 40, "cut short"),
        (png(60_000, 60_000), "60000 x 60000 points"),
        (png(0, 5), "0 x 5 points"),
        (jpeg(65_000, 65_000), "65000 x 65000 points"),
        (png() + b"\0" * LARGEST, "more than 16 MiB"),
    ],
)
def test_what_is_no_picture_is_refused(job: Path, data: bytes, said: str) -> None:
    with pytest.raises(InputError, match=said):
        jobs.attach(job, "x.png", data)
    assert jobs.photos(job) == ()


def test_a_photo_of_nothing_that_is_there_is_refused(job: Path) -> None:
    with pytest.raises(JobFileError, match="no reading or work 'D1'; the job has: R1"):
        jobs.attach(job, "x.png", png(), "D1")


def test_a_job_of_version_2_opens_and_takes_work(job: Path) -> None:
    db = sqlite3.connect(job)
    db.executescript("DROP TABLE done; DROP TABLE photo; DROP TABLE struck; PRAGMA user_version = 2;")
    db.close()
    before = job.read_bytes()
    assert (jobs.work_in(job), jobs.photos(job)) == ((), ())
    with pytest.raises(JobFileError, match="no work 'D1'; the job has: none"):
        jobs.withdraw(job, "D1", "x")
    assert job.read_bytes() == before
    assert jobs.attach(job, "x.png", png()).key == "P1"
    assert jobs.did(job, ["replaced C42"])[0].key == "D1"
    db = sqlite3.connect(job)
    assert db.execute("PRAGMA user_version").fetchone() == (3,)
    db.close()


def test_the_commands(job: Path, tmp_path: Path) -> None:
    def run(*words: object) -> dict[str, object]:
        done = CliRunner().invoke(main, [*map(str, words), "--json"])
        assert done.exit_code == 0, done.output
        return dict(json.loads(done.stdout))

    (tmp_path / "c.png").write_bytes(png())
    assert run("did", job, "replaced C42", "--value", "1 nF", "--note", "mica")["work"][0]["note"] == "mica"
    assert run("attach", job, tmp_path / "c.png", "--to", "D1")["photo"]["belongs_to"] == "D1"
    run("photo", job, "P1", "-o", tmp_path / "again.png")
    assert (tmp_path / "again.png").read_bytes() == png()
    text = CliRunner().invoke(main, ["journal", str(job)]).stdout
    assert "D1  replaced C42 with 1 nF: mica" in text and "P1  photo of D1, c.png, PNG" in text


def test_before_and_after_and_what_a_clean_bill_lacks(job: Path) -> None:
    """From 3 dB to 0.4 dB of loss is more than the error of a sweeper; the other bands were not measured."""
    jobs.did(job, ["replaced C42"])
    jobs.add_typed(job, WHOLE, None, {"band": "31 m"})
    found = jobs.compare(job, "before D1", "after D1")
    loss = next(r for r in found.rows if r.name == "loss in the served band")
    assert (loss.before, loss.after, loss.word) == (-3.0, -0.4, "better")
    assert loss.change == pytest.approx(2.6) and 0.1 < loss.sigma < 0.3
    assert jobs.compare(job).rows == jobs.compare(job, "R1", "R2").rows == found.rows
    back = jobs.compare(job, "R2", "R1")
    assert {r.name: -r.change for r in back.rows} == pytest.approx({r.name: r.change for r in found.rows})
    with pytest.raises(InputError, match="have no figure in common"):
        jobs.compare(job, "R1", "R1")
    with pytest.raises(InputError, match="no reading R9 that counts"):
        jobs.compare(job, "R1", "R9")
    with pytest.raises(InputError, match="work that counts: D1"):
        jobs.compare(job, "before D4", "now")
    proof = jobs.signoff(job)
    assert not proof.clean and proof.count["failed"] == 0 and proof.live
    mine = {a.what: a for a in proof.asked if a.band == "31 m"}
    assert mine["loss at most 0.8 dB"].standing == "passed"
    assert mine["loss at most 0.8 dB"].margin == pytest.approx(0.4)
    assert mine["attenuation at 2 times at least 44 dB"].text == "the sweep does not reach there"
    assert {a.standing for a in proof.asked if a.band == "80 m"} == {"missing"}


def test_a_sweep_proves_only_what_it_covers(job: Path) -> None:
    """One point inside the band, or a sweep beside it, is no proof of the band; outside it fails wherever it is."""

    def path_and_loss() -> list[tuple[str, str]]:
        mine = [a for a in jobs.signoff(job).asked if a.band == "31 m" and a.what.startswith(("through", "loss"))]
        return [(a.standing, a.text) for a in mine]

    assert [standing for standing, _ in path_and_loss()] == ["failed", "failed"]  # 3 dB of loss at one point
    jobs.withdraw(job, "R1", "wrong lead")
    jobs.add_typed(job, ["9.65 MHz -0.4 dB"], None, {"band": "31 m"})
    for standing, text in path_and_loss():
        assert standing == "missing" and "R2 is one point, 9.65 MHz; all of 9.4 to 9.9 MHz is asked" in text
    jobs.add_typed(job, ["2 MHz -0.2 dB", "3 MHz -0.2 dB", "4 MHz -0.2 dB"], None, {"band": "31 m"})
    for standing, text in path_and_loss():
        assert standing == "missing" and "R3 is 2 to 4 MHz" in text
    jobs.add_typed(job, WHOLE, None, {"band": "31 m"})
    assert [standing for standing, _ in path_and_loss()] == ["passed", "passed"]


def test_a_reading_from_before_the_work_proves_nothing_after_it(job: Path) -> None:
    """Sound before, worked on since: what passed then is missing now, and says where it was last seen."""
    jobs.add_typed(job, WHOLE, None, {"band": "31 m"})
    before = jobs.signoff(job)
    assert next(a for a in before.asked if a.band == "31 m" and a.what.startswith("loss")).standing == "passed"
    jobs.did(job, ["squeezed L41"])
    after = jobs.signoff(job)
    loss = next(a for a in after.asked if a.band == "31 m" and a.what.startswith("loss"))
    assert loss.standing == "missing" and "since D1 (last: R2)" in loss.text
    jobs.withdraw(job, "D1", "it was not touched")
    assert jobs.signoff(job).asked == before.asked


def test_a_reading_that_fails_fails_the_sign_off(job: Path) -> None:
    done = CliRunner().invoke(main, ["signoff", str(job)])
    assert done.exit_code == 4
    assert done.stdout.startswith("FAILS") and "the manual asks at most 0.8 dB" in " ".join(done.stdout.split())
    jobs.withdraw(job, "R1", "wrong lead")
    jobs.add_typed(job, WHOLE, None, {"band": "31 m"})
    done = CliRunner().invoke(main, ["signoff", str(job)])
    assert done.exit_code == 3 and done.stdout.startswith("NOT CLEAN YET")
    assert "Caution: This is live power" in done.stdout
