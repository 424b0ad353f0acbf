"""Run the command: exit status, and problems as one sentence."""

import sys
from typing import NoReturn

from scanner.cli.common import app
from scanner.errors import FileError, ScannerError
from scanner.files.write import FULL

_STOPPED = 130


def main() -> None:
    """Run the command ``bothfaces``: status 0 done, 1 a bug, 2 the user can mend it."""
    try:
        app()
    except ScannerError as problem:
        _refuse(problem)
    except OSError as problem:
        if problem.errno not in FULL:
            raise
        # A temporary file: what is kept is written whole, and says its own sentence.
        _refuse(FileError("the disk is full, so the work was not done", "make room and try again"))
    except SystemExit as end:
        # Ctrl-C: typer catches it, gives this status and says nothing.
        if end.code == _STOPPED:
            print("stopped; nothing half-written was left", file=sys.stderr)
        raise


def _refuse(problem: ScannerError) -> NoReturn:
    print(problem, file=sys.stderr)
    raise SystemExit(2) from None
