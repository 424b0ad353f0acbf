"""Run the command: exit status, and problems as one sentence."""

import re
import sys
from typing import Any, NoReturn

from scanner.cli.common import app
from scanner.cli.plain_signs import print_in_any_letters
from scanner.errors import FileError, ScannerError
from scanner.files.write import FULL

# What a shell says of a command that was stopped with Ctrl-C: 128 and the signal's number.
_STOPPED = 130
# The same of one whose reader has gone (``bothfaces tally boards.csv | head -1``).
_READER_GONE = 141
# How the parser's library speaks of a number, and how a person would.
_PLAINER = (
    (r"Input should be a valid number.*", "that is no number (write it with a point: 6.5)"),
    (r"Input should be a valid integer.*", "that is no whole number"),
    (r"Input should be greater than or equal to (\S+)", r"it must be \1 or more"),
    (r"Input should be less than or equal to (\S+)", r"it must be \1 or less"),
)


def main() -> None:
    """Run the command ``bothfaces``: status 0 done, 1 a bug, 2 the user can mend it."""
    print_in_any_letters()
    try:
        ended = app(prog_name="bothfaces", standalone_mode=False)
    except ScannerError as problem:
        _refuse(problem)
    except OSError as problem:
        if problem.errno not in FULL:
            raise
        # A temporary file: what is kept is written whole, and says its own sentence.
        _refuse(FileError("the disk is full, so the work was not done", "make room and try again"))
    except SystemExit as ending:
        # Typer's own status here is 1, which is a bug's.
        if isinstance(ending.__context__, BrokenPipeError):
            raise SystemExit(_READER_GONE) from None
        raise
    except Exception as problem:
        # A wrong option or argument. Typer's class for it has no public name, and its own way of
        # telling it is a box of several lines.
        if not hasattr(problem, "format_message"):
            raise
        _refuse_misuse(problem)
    if ended:
        # Ctrl-C: typer catches it, gives this status and says nothing.
        if ended == _STOPPED:
            print("stopped; nothing half-written was left", file=sys.stderr)
        raise SystemExit(ended)


def _refuse_misuse(problem: Exception) -> NoReturn:
    misuse: Any = problem
    if type(problem).__name__ == "NoArgsIsHelpError":
        misuse.show()
    else:
        said = misuse.format_message().rstrip(".")
        for theirs, plainer in _PLAINER:
            said = re.sub(theirs, plainer, said)
        # The parser itself does not know in which command it is.
        command = misuse.ctx.command_path if misuse.ctx else "bothfaces"
        print(f"{said}: see {command} --help.", file=sys.stderr)
    raise SystemExit(2) from None


def _refuse(problem: ScannerError) -> NoReturn:
    print(problem, file=sys.stderr)
    raise SystemExit(2) from None
