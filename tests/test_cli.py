"""The command line: words in, one job, a record shown; one shape of error."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from halfsplit import __version__, jobs
from halfsplit.advise import costs
from halfsplit.cli import main, show
from halfsplit.journal import open_job

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "src" / "halfsplit" / "demo"
UNIT = DEMO / "larkfell-tarn-40.toml"
TYPED = "7.05 MHz -0.4 dB; 14.1 MHz at least 45 dB down"


@pytest.fixture(autouse=True)
def paper(monkeypatch: pytest.MonkeyPatch) -> None:
    """The width of a terminal, whatever it was that started the tests."""
    monkeypatch.setenv("COLUMNS", "110")


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def said(*words: object) -> str:
    done = run(*words)
    assert (done.exit_code, done.stderr) == (0, ""), done.stderr
    return done.stdout


def refused(*words: object) -> str:
    """What a refusal says: status 2, nothing on standard output, one message; with --json the same as an object."""
    done = run(*words)
    assert (done.exit_code, done.stdout) == (2, ""), done.output
    assert done.stderr.startswith("halfsplit: ")
    again = run(*words, "--json")
    assert again.exit_code == 2
    found = json.loads(again.stdout)
    assert (found["schema"], set(found)) == (1, {"schema", "error"})
    assert found["error"]["text"].split("\n")[0][:40] in done.stderr
    return done.stderr


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "tarn.job"
    said("start", path, "--unit", UNIT, "--complaint", "second harmonic on 31 m")
    return path


def count(job: Path) -> tuple[int, int]:
    with open_job(job) as file:
        return len(file.readings()), len(file.acts())


def test_version() -> None:
    assert said("--version").split() == ["halfsplit,", "version", __version__]


def test_the_installed_command_runs() -> None:
    name = Path(sys.executable).with_name("halfsplit")
    done = subprocess.run([name, "--version"], capture_output=True, text=True, check=True)
    assert __version__ in done.stdout


def test_add_says_what_was_understood(job: Path) -> None:
    text = said("add", job, "--band", "40 m", "--typed", TYPED, "--detector-lead", "60 mm", "--source-pad", "10 dB")
    assert " ".join(text.split()) == (
        "R1 typed: 2 points 7.05-14.1 MHz, S21 in dB 40 m: generator 50 ohm at TP1, detector 50 ohm at J2, "
        "through reference, detector lead 60 mm, generator pad 10 dB"
    )
    assert count(job) == (1, 2)


def test_add_keeps_all_or_nothing_and_lists_every_mistake(job: Path, tmp_path: Path) -> None:
    (tmp_path / "torn.csv").write_text("MHz,dB\n7,05,-0,32\n14,10,-48,10\n", "utf-8")
    good = DEMO / "sweep_40m.csv"
    text = refused("add", job, good, tmp_path / "torn.csv", tmp_path / "gone.csv", "--band", "40 m")
    assert "2 mistakes" in text and "torn.csv" in text and "gone.csv: No such file" in text
    assert count(job) == (0, 1)
    text = refused("add", job, good, tmp_path / "gone.csv", "--band", "41 m", "--drive", "TP9", "--lifted", "C999")
    assert all(x in text for x in ("4 mistakes", "'41 m'", "'TP9'", "'C999'", "gone.csv"))
    assert count(job) == (0, 1)
    assert said("add", job, good, DEMO / "sweep_20m.csv", "--band", "40 m").count("S21 in") == 2
    assert count(job) == (2, 3)


def test_the_words_of_typed_figures_say_what_they_are(job: Path) -> None:
    here = ("add", job, "--band", "40 m", "--typed")
    assert "S21" in said(*here, "7.05 MHz 0.4 dB loss")
    assert "S11" in said(*here, "7.05 MHz SWR 1.3")
    assert "S11" in said(*here, "7.05 MHz return loss 18 dB; 7.2 MHz 1.4:1")
    assert "S22" in said(*here, "7.05 MHz SWR 1.3", "--what", "return-loss-at-read")
    assert "S11" in said(*here, "7.05 MHz -18 dB", "--what", "return-loss")
    assert "1 of 2 figures" in refused(*here, "7.05 MHz SWR 1.3", "--typed", "7.05 MHz -0.4 dB")
    assert count(job) == (5, 6)


def test_options_without_what_they_are_for(job: Path) -> None:
    text = refused("add", job, DEMO / "sweep_40m.csv", "--band", "40 m", "--resolution", "1 dB", "--what", "through")
    assert "2 mistakes" in text and "--resolution" in text and "--what" in text
    assert "no file and no typed figure" in refused("add", job, "--band", "40 m")
    assert "--resolution" in refused("add", job, "--band", "40 m", "--typed", TYPED, "--resolution", "1 MHz")
    assert count(job) == (0, 1)


def test_the_same_reading_twice_is_said(job: Path) -> None:
    here = ("add", job, "--band", "40 m", "--typed", TYPED)
    assert "same figures" not in said(*here)
    assert "same figures and hook-up as R1" in " ".join(said(*here).split())
    assert "same figures" not in said(*here, "--drive", "TP2")
    said("withdraw", job, "R1", "--because", "twice")
    assert "hook-up as R2:" in " ".join(said(*here).split())


def test_a_question_names_the_option_that_answers_it(job: Path) -> None:
    text = " ".join(said("add", job, "--band", "40 m", "--typed", "7.05 0.4").split())
    assert "--frequency-unit" in text and "--sign" in text
    text = said(
        "add", job, "--band", "40 m", "--typed", "7.05 0.4", "--frequency-unit", "MHz", "--sign", "loss positive"
    )
    assert "asked" not in text


def test_withdraw_and_note_and_journal(job: Path) -> None:
    said("add", job, "--band", "40 m", "--typed", TYPED)
    assert said("withdraw", job, "r1", "--because", "lead was off") == "r1 withdrawn: lead was off\n"
    assert "withdrawn already (lead was off)" in refused("withdraw", job, "R1", "--because", "x")
    assert "the job has: R1" in refused("withdraw", job, "R9", "--because", "x")
    assert "no reason" in refused("withdraw", job, "R1", "--because", " ")
    assert said("note", job, "C43\n replaced") == "noted: C43 replaced\n"
    assert "nothing" in refused("note", job, "  ")
    text = said("journal", job)
    assert "WITHDRAWN: lead was off" in text
    assert [line.split("UTC  ")[1].split(":")[0] for line in text.splitlines() if "UTC  " in line] == [
        "start", "reading", "withdraw", "note",
    ]  # fmt: skip
    assert "no reading to work with yet" in refused("judge", job)


def test_expect_from_a_unit_and_from_a_job_are_the_same(job: Path) -> None:
    here = ("--band", "40 m", "--at", "7.1 MHz", "--at", "14.2 MHz", "--json")
    one, other = (json.loads(said("expect", source, *here)) for source in (UNIT, job))
    assert one == other
    assert one["f_hz"] == [7.1e6, 14.2e6]
    assert one["low"][0] < one["median"][0] < one["high"][0] < 0.1
    assert one["median"][1] < -35
    assert "no band 'x'" in refused("expect", UNIT, "--band", "x")
    assert "--at" in refused("expect", UNIT, "--band", "40 m", "--at", "7.1 parsec")


def test_looking_into_a_point_with_nothing_at_the_other_end(job: Path) -> None:
    """Nothing dissipates behind the point but the losses of the path: nearly all comes back."""
    here = ("expect", job, "--band", "40 m", "--at", "7.1 MHz", "--what", "return-loss", "--json")
    tied, open_end = (json.loads(said(*here, "--read", read))["median"][0] for read in ("J2", "nothing"))
    assert tied < 0.3 < 0.7 < open_end


def test_check_lists_every_mistake(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(UNIT.read_text("utf-8").replace('"TP1"', '"TQ1"').replace("560 pF", "560 parsec"), "utf-8")
    done = run("check", bad)
    assert done.exit_code == 2
    assert "TQ1" in done.stderr
    found = json.loads(run("check", bad, "--json").stdout)
    assert (found["ok"], found["unit"]) == (False, None)
    assert len(found["mistakes"]) >= 1
    assert "TQ1" in refused("start", tmp_path / "t.job", "--unit", bad)
    assert os.listdir(tmp_path) == ["bad.toml"]


def newer(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("PRAGMA user_version = 999")
    db.close()


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:9000])


def other(path: Path) -> None:
    path.write_text("a letter", "utf-8")


def test_results_at_single_places_are_kept_weighed_and_withdrawn(job):
    said("add", job, "--band", "31 m", "--typed", "9.4 MHz -0.3 dB; 9.65 MHz -6 dB; 9.9 MHz -11 dB; 19 MHz -43.5 dB")
    before = json.loads(said("suspects", job, "--json"))
    lead = next(p["part"] for p in before["parts"] if p["part"][0] in "CL")
    text = said("add", job, "--found", f"{lead} lifted = open")
    assert text.startswith("R2")
    after = json.loads(said("suspects", job, "--json"))
    shares = [{p["part"]: p["probability"] for p in x["parts"]} for x in (before, after)]
    assert shares[1].get(lead, 0.0) > shares[0][lead]
    assert after["what_changed"].startswith(f"R2 shows {lead} lifted: open; that ")
    assert f"{lead} lifted: open" in said("journal", job)
    said("withdraw", job, "R2", "--because", "wrong leg")
    again = json.loads(said("suspects", job, "--json"))
    assert again["parts"] == before["parts"]
    assert "one after the other" in refused("add", job, "--found", f"{lead} lifted = open", "--typed", "7 MHz -1 dB")
    assert "one of" in refused("add", job, "--found", "C999 lifted = open")


def test_an_own_table_of_minutes_is_used_and_its_mistakes_are_named(job, tmp_path):
    said("add", job, "--band", "31 m", "--typed", "9.4 MHz -0.3 dB; 9.65 MHz -6 dB; 9.9 MHz -11 dB; 19 MHz -43.5 dB")
    own = tmp_path / "mine.toml"
    kinds = sorted(costs())
    own.write_text("".join(f'[[test]]\nkind = "{kind}"\nminutes = 77\n' for kind in kinds))
    found = json.loads(said("next", job, "--costs", own, "--json"))
    assert found["tests"]
    assert all(t["minutes"] == 77 for t in found["tests"])
    own.write_text("[[test]]\nkind = 3\n")
    assert "one of" in refused("next", job, "--costs", own)
    assert "mine2" in refused("next", job, "--costs", tmp_path / "mine2.toml")


@pytest.mark.parametrize(
    ("spoil", "words"),
    [(newer, "update halfsplit"), (cut, "damaged"), (other, "not a halfsplit job"), (os.remove, "no such job")],
)
@pytest.mark.parametrize("verb", ["add", "tell", "withdraw", "note", "journal", "judge", "suspects", "next", "report"])
def test_every_verb_refuses_a_file_that_is_no_job(verb: str, spoil, words: str, job: Path) -> None:
    more = {
        "add": ["--band", "40 m", "--typed", TYPED], "withdraw": ["R1", "--because", "x"], "note": ["x"],
        "tell": ["knock = yes"], "report": ["-o", job.with_name("x.html")],
    }.get(verb, [])  # fmt: skip
    spoil(job)
    assert words in refused(verb, job, *more)
    assert [p for p in os.listdir(job.parent) if p != "tarn.job"] == []


def test_a_start_never_overwrites(job: Path) -> None:
    before = job.read_bytes()
    assert "exists already" in refused("start", job, "--unit", UNIT)
    assert job.read_bytes() == before


def test_a_name_cannot_steer_the_terminal(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "a\x1b[2J\u202eb.csv"
    path.write_bytes((DEMO / "sweep_40m.csv").read_bytes())
    text = said("add", job, path, "--band", "40 m", "--note", "x\x1b[31m") + said("journal", job)
    assert "\x1b" not in text and "\u202e" not in text
    assert "\x1b" not in refused("judge", tmp_path / "\x1b[2J.job")


def test_names_that_are_no_text(job: Path, tmp_path: Path) -> None:
    raw = os.fsdecode(os.fsencode(tmp_path) + b"/\xff.csv")
    Path(raw).write_bytes((DEMO / "sweep_40m.csv").read_bytes())
    assert "\\udcff.csv" in said("add", job, raw, "--band", "40 m")
    assert "R1" in said("judge", job)


@pytest.fixture(scope="module")
def two_bands(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with a good band, added first, and a bad one."""
    path = tmp_path_factory.mktemp("cli") / "tarn.job"
    said("start", path, "--unit", UNIT)
    said("add", path, "--band", "40 m", "--typed", TYPED)
    said("add", path, "--band", "31 m", "--typed", "9.4 MHz 0 dB; 9.9 MHz -0.5 dB; 19 MHz -43.5 dB; 19.8 MHz -47 dB")
    return path


def test_judge_prints_the_loudest_band_first_and_what_is_not_measured(two_bands: Path) -> None:
    lines = said("judge", two_bands).splitlines()
    assert lines[0].startswith("OUTSIDE      31 m: ")
    heads = [line.split("  ")[0] for line in lines if line[:1].isupper()]
    assert heads[:2] == ["OUTSIDE", "WITHIN"]
    found = json.loads(said("judge", two_bands, "--json"))
    assert found["unmeasured"] == ["80 m", "60 m", "20 m"]
    assert {b["band"]: b["word"] for b in found["bands"]} == {"40 m": "within", "31 m": "outside"}
    assert said("judge", two_bands) == said("judge", two_bands)


def test_suspects_and_next_agree_and_print_cautions(two_bands: Path) -> None:
    found = json.loads(said("suspects", two_bands, "--json"))
    assert 0.99 < sum(g["probability"] for g in found["groups"]) < 1.0 + 1e-9  # the smallest are left out
    shown = said("next", two_bands)
    assert "1. " in shown
    assert " ".join(found["belief"].split()) in " ".join(shown.split())
    assert "Caution:" in shown and "local codes" in shown
    advised = json.loads(said("next", two_bands, "--most", 1, "--json"))
    assert len(advised["tests"]) <= 1


def test_where_nothing_on_the_list_explains_it_the_reading_is_checked_and_the_path_halved(job: Path) -> None:
    """A pass band that falls by 11 dB over 5 % and a stop band as it should be: no single cause gives that."""
    said("add", job, "--band", "31 m", "--typed", "9.4 MHz -0.3 dB; 9.65 MHz -6 dB; 9.9 MHz -11 dB; 19 MHz -43.5 dB")
    said("add", job, "--band", "40 m", "--typed", TYPED)
    shown = said("next", job)
    assert "1. Check hook-up 1 and repeat it" in shown and "2. Sweep on" in shown
    assert "Caution:" in shown and "local codes" in shown
    bare = show.advice(jobs.suspects(job), ())  # cautions stand even where no test is left
    assert "No test on the list" in bare and "Caution:" in bare and "local codes" in bare


def test_text_fits_a_narrow_terminal(two_bands: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "64")
    for verb in ("judge", "suspects", "journal"):
        wide = [line for line in said(verb, two_bands).splitlines() if len(line) > 64]
        assert wide == [], verb


def test_progress_only_where_asked(two_bands: Path) -> None:
    code = "import halfsplit.cli.common as c\nc.SOON = 0.0\nfrom halfsplit.cli import main\nmain()"
    quiet, asked = (
        subprocess.run(
            [sys.executable, "-c", code, "judge", str(two_bands), "--json", *more],
            capture_output=True,
            text=True,
            check=True,
        )
        for more in ([], ["--progress"])
    )
    assert quiet.stderr == ""
    assert asked.stdout == quiet.stdout
    assert "judging: " in asked.stderr and " %" in asked.stderr
