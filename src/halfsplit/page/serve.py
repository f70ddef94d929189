"""The server: one desk on one port, on this machine alone unless it is told otherwise."""

from __future__ import annotations

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from halfsplit.errors import InputError, JobFileError, Mistake
from halfsplit.page.app import create_app
from halfsplit.page.desk import JOB, Desk, plain

LOOPBACK = "127.0.0.1"
WARNING = (
    "Caution: every machine of this network that has the address above can read and change the jobs of this folder, "
    "and what is sent is not encrypted. Do this in your own workshop network only, and end it when you are done."
)


def desk_for(job: Path | None, *, lan: bool) -> Desk:
    """The desk of a job, or of the folder where we stand. raises JobFileError, InputError"""
    if job is not None and not job.is_file():
        raise JobFileError(
            f"{job}: no such job; start one with: halfsplit start {job} --unit UNIT.toml, or in the page"
        )
    if job is not None and (job.suffix != JOB or not plain(job.stem)):
        raise InputError(Mistake(str(job), "a name that the page cannot show", f"a plain file name that ends in {JOB}"))
    folder, first = (Path.cwd(), "") if job is None else (job.absolute().parent, job.stem)
    if not lan:
        return Desk(folder, first)
    own = tuple({address(), socket.gethostname().lower(), *Desk(folder).hosts})
    return Desk(folder, first, hosts=own, token=secrets.token_urlsafe(18))


def address() -> str:
    """The address of this machine in its local network; nothing is sent to find it out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address, RFC 5737: a route is looked up, no packet leaves
            return str(probe.getsockname()[0])
        except OSError:
            return LOOPBACK


def bound(host: str, port: int) -> socket.socket:
    """A socket that listens. raises InputError where the port is taken"""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((host, port))
    except OSError as error:
        found.close()
        said = error.strerror or str(error)
        raise InputError(
            Mistake(f"port {port}", said, "a free port: --port 0 takes any; or end the other one")
        ) from error
    return found


def serve(job: Path | None, port: int, *, lan: bool, browser: bool, say: Callable[[str], None]) -> int:
    """Serve until Ctrl-C.

    say : prints a line; lan : to other machines too, with a token
    raises InputError, JobFileError
    """
    desk = desk_for(job, lan=lan)
    host = address() if lan else LOOPBACK
    listening = bound(host, port)
    where = f"http://{host}:{listening.getsockname()[1]}/" + (f"?token={desk.token}" if lan else "")
    say(f"bench page: {where}")
    if lan:
        say(WARNING)
    say("Ctrl-C ends it; nothing is lost.")
    if browser:
        threading.Timer(0.5, webbrowser.open, (where,)).start()
    config = uvicorn.Config(create_app(desk), log_level="warning", server_header=False, timeout_graceful_shutdown=5)
    try:
        uvicorn.Server(config).run(sockets=[listening])
    except KeyboardInterrupt:
        say("ended; everything that was entered is held")
    return 0
