"""One function for each verb of the technician."""

from halfsplit.jobs.bench import add, add_file, add_found, add_typed, note, notebook, questions, start, tell, withdraw
from halfsplit.jobs.compared import Comparison, Difference, compare
from halfsplit.jobs.drawing import Load, check, checked_unit, known_of, load_unit, named_of, unit_text
from halfsplit.jobs.incoming import from_bytes, from_file, from_typed, sound_of
from halfsplit.jobs.opinions import advise, everything, expect, judge, suspects
from halfsplit.jobs.photos import attach, attach_file, attachment, photos, write_photo
from halfsplit.jobs.previewed import Preview, hookup_words, previewed
from halfsplit.jobs.records import Added, Checked, Job, JobData, Judged, Notebook
from halfsplit.jobs.reopened import OpenJobs, reopened
from halfsplit.jobs.response import Drawn, drawn_response
from halfsplit.jobs.signed_off import Asked, SignOff, signoff
from halfsplit.jobs.work import load_job
from halfsplit.jobs.work_done import did, places_of, work_in

__all__ = [
    "Added",
    "Asked",
    "Checked",
    "Comparison",
    "Difference",
    "Drawn",
    "Job",
    "JobData",
    "Judged",
    "Load",
    "Notebook",
    "OpenJobs",
    "Preview",
    "SignOff",
    "add",
    "add_file",
    "add_found",
    "add_typed",
    "advise",
    "attach",
    "attach_file",
    "attachment",
    "check",
    "checked_unit",
    "compare",
    "did",
    "drawn_response",
    "everything",
    "expect",
    "from_bytes",
    "from_file",
    "from_typed",
    "hookup_words",
    "judge",
    "known_of",
    "load_job",
    "load_unit",
    "named_of",
    "note",
    "notebook",
    "photos",
    "places_of",
    "previewed",
    "questions",
    "reopened",
    "signoff",
    "sound_of",
    "start",
    "suspects",
    "tell",
    "unit_text",
    "withdraw",
    "work_in",
    "write_photo",
]
