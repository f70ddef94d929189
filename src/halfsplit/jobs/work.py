"""A job brought back to life: the unit read again, every reading understood again."""

from __future__ import annotations

from dataclasses import replace
from errno import ENOENT

from halfsplit.emission import Spectrum
from halfsplit.errors import HalfsplitError, UnitError
from halfsplit.expect import LevelSet, Observation, observe
from halfsplit.expect.observe import Baseline
from halfsplit.fault import Finding
from halfsplit.history import History, history_of
from halfsplit.hookup import from_dict
from halfsplit.jobs.drawing import checked_unit
from halfsplit.jobs.found import found
from halfsplit.jobs.levels import level_set
from halfsplit.jobs.records import Job
from halfsplit.jobs.spectra_kept import is_spectrum, spectrum_again
from halfsplit.jobs.states import in_state, state_at, works_of
from halfsplit.journal import JobFile, StoredReading, work_of
from halfsplit.reading import Reading, What, answers_from, read_bytes, read_typed
from halfsplit.unit import Unit, read_unit

SOUND_WORDS: dict[Baseline, str] = {"": "", "unit": "earlier", "twin": "its twin"}


def unit_of(file: JobFile) -> Unit:
    """The unit of a job. raises UnitError where this version cannot read it any more."""
    head = file.head()
    files = dict(head.attachments)

    def load(name: str) -> bytes:
        if name not in files:
            raise FileNotFoundError(ENOENT, "not among the files that the job was started with", name)
        return files[name]

    unit, mistakes, _ = checked_unit(head.unit_text, head.unit_source, load)
    if unit is None:
        raise UnitError(*mistakes)
    return unit


def understood_again(stored: StoredReading) -> Reading:
    """A stored reading, read as it was read when it came in."""
    answers = answers_from(stored.how.get("answers", {}))
    if stored.how.get("typed"):
        lines = stored.original.decode("utf-8").split("\n")
        return read_typed(lines, What(stored.how["what"]), stored.how.get("resolution_db"), answers)
    return read_bytes(stored.name, stored.original, answers)


def history_in(file: JobFile) -> History:
    """Complaint and history of a job, without what was withdrawn."""
    return history_of((a.question, a.answer) for a in file.answers() if a.withdrawn is None)


def sound_before(unit: Unit, stored: StoredReading) -> list[Observation]:
    """A baseline as observations, with the drawing that it was built to, where that was another.

    raises HalfsplitError where it cannot be used
    """
    text = stored.how.get("drawing")
    drawing = None if text is None else read_unit(text, f"drawing of {stored.key}")
    kind: Baseline = "twin" if stored.how.get("twin") else "unit"
    found = observe(drawing or unit, from_dict(stored.hookup), understood_again(stored), stored.key)
    return [replace(o, baseline=kind, drawing=drawing, label=f"{o.label} (sound, {SOUND_WORDS[kind]})") for o in found]


def load_job(file: JobFile) -> Job:
    """The job: readings withdrawn do not count, those of a sound unit stand apart, those of no use are named."""
    unit, head = unit_of(file), file.head()
    observations: list[Observation] = []
    baselines: list[Observation] = []
    findings: list[tuple[str, Finding]] = []
    broken: list[tuple[str, str]] = []
    levels: list[LevelSet] = []
    spectra: list[Spectrum] = []
    readings, told = file.readings(), work_of(file)
    works = works_of(unit, told)
    for stored in readings:
        if stored.withdrawn is not None:
            continue
        try:
            if stored.how.get("found"):
                number = state_at(works, told, stored).number
                result = replace(found(unit, stored.original.decode("utf-8")), state=number)
                findings.append((stored.key, result))
                continue
            if stored.how.get("levels"):
                levels.append(replace(level_set(unit, stored), state=state_at(works, told, stored).number))
                continue
            if is_spectrum(stored):
                spectra.append(spectrum_again(unit, stored))
                continue
            if stored.baseline:
                baselines += sound_before(unit, stored)
                continue
            state = state_at(works, told, stored)
            seen = observe(unit, from_dict(stored.hookup), understood_again(stored), stored.key)
            observations += [in_state(o, state, works) for o in seen]
        except HalfsplitError as error:
            broken.append((stored.key, str(error)))
    history = history_in(file)
    return Job(
        head.name, head.complaint, unit, readings, tuple(observations), tuple(broken), history, tuple(findings),
        tuple(baselines), tuple(levels), tuple(spectra), works,
        tuple((r.key, state_at(works, told, r).number) for r in readings if r.withdrawn is None and not r.baseline),
    )  # fmt: skip
