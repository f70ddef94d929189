"""Answers about complaint and history: as typed, as kept, as put together. All values invented."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from halfsplit.cli import main
from halfsplit.errors import InputError, JobFileError
from halfsplit.history import NOT_KNOWN, QUESTIONS, History, Named, Told, history_of, rows_of, taken_in
from halfsplit.journal import open_job, withdraw

ROOT = Path(__file__).parents[1]
UNIT = ROOT / "examples" / "larkfell-tarn-40.toml"
NAMED = Named(("80 m", "40 m", "20 m"), ("C1", "K1", "FINAL"))


def taken(*rows: str, before: History | None = None) -> tuple[tuple[str, str], ...]:
    return taken_in(rows_of(rows, "form"), NAMED, before or History())


def mistakes(*rows: str) -> str:
    with pytest.raises(InputError) as caught:
        taken(*rows)
    return str(caught.value)


def run(*words: object, given: str | None = None) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], input=given)


def said(*words: object, given: str | None = None) -> str:
    done = run(*words, given=given)
    assert (done.exit_code, done.stderr) == (0, ""), done.output
    return done.stdout


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "tarn.job"
    said("start", path, "--unit", UNIT)
    return path


def test_rows_are_understood_as_a_person_writes_them():
    assert taken("Knock=YES", "symptom =  No-Power  # since Monday", "", "# nothing", "warmth =") == (
        ("knock", "yes"), ("symptom", "no power"),
    )  # fmt: skip
    assert taken("bad = 40 M; 20 m", "good = The Others") == (("bad", "40 m"), ("bad", "20 m"), ("good", "80 m"))
    assert taken("good = the others", before=History(bad=("80 m",))) == (("good", "40 m"), ("good", "20 m"))
    assert taken("bad = all") == (("bad", "80 m"), ("bad", "40 m"), ("bad", "20 m"))
    assert taken("repaired = c1, k1", "modified = 40 m") == (
        ("repaired", "C1"),
        ("repaired", "K1"),
        ("modified", "40 m"),
    )
    assert taken("bad = not known", "knock = not-known") == (("bad", NOT_KNOWN), ("knock", NOT_KNOWN))


def test_every_mistake_is_named_with_its_row():
    text = mistakes("knok = yes", "knock = perhaps", "bad = 41 m", "repaired = C9", "good = the others")
    assert len(text.splitlines()) == 5
    for words in ("form row 1: no question 'knok'; expected one of: knock,", "'perhaps'; expected one of: yes, no",
                  "form row 3", "'C9'; expected one of: ", "no band is told to be bad yet"):  # fmt: skip
        assert words in text
    assert "form row 2: 'knock'; expected question = answer" in mistakes("knock = yes", "knock")
    assert "knock: yes and no; expected one answer" in mistakes("knock = yes", "knock = no")
    assert "40 m is told to be both" in mistakes("bad = 40 m", "good = 40 m")
    assert "none and C1; expected one answer" in mistakes("repaired = none, C1")
    assert "no answer" in mistakes("knock =")


def test_the_latest_answer_counts_and_designators_add_up():
    h = history_of([("knock", "yes"), ("bad", "40 m"), ("knock", "no"), ("good", "40 m"), ("repaired", "C1")])
    assert (h.answer("knock"), h.bad, h.good, h.repaired) == ("no", (), ("40 m",), ("C1",))
    h = history_of([("repaired", "C1"), ("repaired", "K1"), ("modified", "C1"), ("modified", "none")])
    assert (h.repaired, h.modified) == (("C1", "K1"), ())
    h = history_of([("knock", "yes"), ("knock", NOT_KNOWN)])
    assert (h, bool(h)) == (History(asked=frozenset({"knock"})), False)


SINGLE = [(q.key, q.answers[0]) for q in QUESTIONS if q.answers]
ROWS = [*SINGLE, ("bad", "40 m"), ("good", "20 m"), ("repaired", "C1"), ("repaired", "K1"), ("modified", "C1")]


@given(st.permutations(ROWS))
def test_the_order_of_answers_to_different_questions_does_not_matter(rows):
    assert history_of(rows) == history_of(ROWS)


def test_every_question_can_be_answered_in_its_own_words():
    for q in QUESTIONS:
        for answer in (*q.answers, NOT_KNOWN):
            assert taken_in([Told("x", q.key, answer)], NAMED, History()) == ((q.key, answer),)


def answers_in(job: Path) -> list[tuple[str, str, str, str | None]]:
    with open_job(job) as file:
        return [(a.key, a.question, a.answer, a.withdrawn) for a in file.answers()]


def test_tell_takes_options_rows_files_and_standard_input(job: Path, tmp_path: Path):
    assert "A1  knock = yes" in said("tell", job, "--knock", "yes")
    said("tell", job, "intermittent = yes", "keying = no")
    form = tmp_path / "form.txt"
    form.write_text("# form\nload = yes\nsupply =\n", "utf-8")
    said("tell", job, "--from", form)
    said("tell", job, "--from", "-", given="supply = off\n")
    kept = [("A1", "knock", "yes"), ("A2", "intermittent", "yes"), ("A3", "keying", "no"), ("A4", "load", "yes"),
            ("A5", "supply", "off")]  # fmt: skip
    assert [row[:3] for row in answers_in(job)] == kept


def test_the_form_comes_back_as_it_was_filled_in(job: Path):
    form = said("tell", job)
    assert all(q.text in " ".join(form.replace("#", "").split()) for q in QUESTIONS)
    assert answers_in(job) == []
    filled = form.replace("\nknock =", "\nknock = yes").replace("\nbad =", "\nbad = all")
    said("tell", job, "--from", "-", given=filled)
    assert [row[1:3] for row in answers_in(job)] == [
        *(("bad", band) for band in ("80 m", "60 m", "40 m", "31 m", "20 m")), ("knock", "yes"),
    ]  # fmt: skip
    assert "# told: 80 m, 60 m, 40 m, 31 m, 20 m" in said("tell", job)


def test_start_keeps_answers_or_makes_no_job(tmp_path: Path):
    path = tmp_path / "a.job"
    done = run("start", path, "--unit", UNIT, "--bad", "41 m", "--knock", "maybe")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "2 mistakes" in done.stderr and "--bad" in done.stderr and "--knock" in done.stderr
    assert not path.exists()
    said("start", path, "--unit", UNIT, "--bad", "40 m", "--good", "80 m, 20 m", "--repaired", "C43")
    assert [row[1:3] for row in answers_in(path)] == [
        ("bad", "40 m"), ("repaired", "C43"), ("good", "80 m"), ("good", "20 m"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["knock = perhaps", "bad = 40 m"], "row 1: knock = 'perhaps'; expected one of: yes, no"),
        (["--from", "gone.txt"], "gone.txt: No such file"),
        (["--from", "empty.txt"], "no answer"),
        (["--from", "raw.bin"], "not UTF-8 text"),
        (["--from", "long.txt"], "more than 65536 bytes"),
    ],
)
def test_tell_refuses_and_keeps_nothing(words, says, job: Path, tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty.txt").write_text("# nothing\n", "utf-8")
    (tmp_path / "raw.bin").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "long.txt").write_text("# x\n" * 20_000, "utf-8")
    done = run("tell", job, *words)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith("halfsplit: ") and says in " ".join(done.stderr.split())
    assert json.loads(run("tell", job, *words, "--json").stdout)["error"]["kind"] == "InputError"
    assert answers_in(job) == []


def test_a_withdrawn_answer_is_as_if_never_told(job: Path):
    said("tell", job, "bad = 40 m")
    before = json.loads(said("suspects", job, "--json"))
    said("tell", job, "knock = yes")
    assert json.loads(said("suspects", job, "--json"))["parts"] != before["parts"]
    said("withdraw", job, "A2", "--because", "it was another unit")
    assert json.loads(said("suspects", job, "--json")) == before
    assert "A2  knock = yes  [WITHDRAWN: it was another unit]" in said("journal", job)
    assert "withdrawn already" in run("withdraw", job, "A2", "--because", "x").stderr
    assert "no answer 'A9'; the job has: A1, A2" in run("withdraw", job, "A9", "--because", "x").stderr


def older(path: Path) -> None:
    """A job as version 1 wrote it: the same tables but the two for answers."""
    db = sqlite3.connect(path)
    db.executescript(
        "DROP TABLE retraction; DROP TABLE answer; DROP TABLE done; DROP TABLE photo; DROP TABLE struck;"
        "PRAGMA user_version = 1;"
    )
    db.close()


def test_a_job_of_version_1_opens_and_takes_answers(job: Path):
    said("add", job, "--band", "40 m", "--typed", "7.05 MHz -0.4 dB")
    older(job)
    before = job.read_bytes()
    assert "7.05" in said("journal", job)
    with pytest.raises(JobFileError, match="no answer 'A1'; the job has: none"), open_job(job) as file:
        withdraw(file, "A1", "x")
    with sqlite3.connect(f"file:{job}?mode=ro", uri=True) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
    db.close()
    assert job.read_bytes() == before
    said("tell", job, "knock = yes")
    assert answers_in(job) == [("A1", "knock", "yes", None)]
    db = sqlite3.connect(job)
    assert db.execute("PRAGMA user_version").fetchone() == (3,)
    with pytest.raises(sqlite3.IntegrityError, match="erased or changed"):
        db.execute("DELETE FROM answer")
    db.close()


def test_answers_of_one_act_are_all_kept_or_none(job: Path):
    with open_job(job) as file:
        with pytest.raises(JobFileError):
            file.tell([("knock", "yes"), ("load", None)])  # type: ignore[list-item]
        assert (file.answers(), len(file.acts())) == ((), 1)
        assert file.tell([("knock", "yes"), ("load", "no")]) == ("A1", "A2")
        assert [a.text for a in file.acts()][1:] == ["knock = yes", "load = no"]


def test_suspects_without_readings_and_without_answers_says_what_to_do(job: Path):
    text = " ".join(run("suspects", job).stderr.split())
    assert "no reading to work with yet" in text and f"halfsplit tell {job}" in text


def test_next_without_readings_asks_and_names_a_bad_and_a_good_band(job: Path):
    said("tell", job, "bad = 31 m", "good = 40 m")
    found = json.loads(said("next", job, "--json"))
    assert [t["hookup"]["band"] for t in found["tests"]] == ["31 m", "40 m"]
    assert all(t["cautions"] for t in found["tests"])
    assert found["ask"]["question"]
    shown = said("next", job)
    assert "Ask: " in shown and "Caution:" in shown
