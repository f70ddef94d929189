"""Stop with one sentence where the interpreter is too old. Must itself run on old interpreters."""

import sys

NEEDED = (3, 11)

if sys.version_info < NEEDED:
    found, needed = (".".join(str(n) for n in v[:2]) for v in (sys.version_info, NEEDED))
    again = "name another one: make test PYTHON=python" + needed
    sys.exit("Python " + found + " found, " + needed + " or newer needed; " + again)
