"""One function for each verb of the technician."""

from halfsplit.jobs.bench import add_file, add_typed, notebook, start, withdraw
from halfsplit.jobs.drawing import check, checked_unit, known_of, load_unit
from halfsplit.jobs.opinions import advise, everything, expect, judge, suspects
from halfsplit.jobs.records import Added, Checked, Job, JobData, Notebook
from halfsplit.jobs.work import load_job

__all__ = [
    "Added",
    "Checked",
    "Job",
    "JobData",
    "Notebook",
    "add_file",
    "add_typed",
    "advise",
    "check",
    "checked_unit",
    "everything",
    "expect",
    "judge",
    "known_of",
    "load_job",
    "load_unit",
    "notebook",
    "start",
    "suspects",
    "withdraw",
]
