"""Keep what libraries print by themselves out of a command's answer."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def libraries_quiet() -> Iterator[None]:
    """Let nothing reach standard output meanwhile: print before and after.

    HiGHS writes a line there wherever it repairs an answer, past Python, and no option of it keeps
    it from that; whoever reads a command's answer by a program would read that line, too.
    """
    if sys.stdout is None:  # closed, as a program without a terminal may have it
        yield
        return
    sys.stdout.flush()
    shown = os.dup(1)
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        yield
    finally:
        _flush_libraries()
        os.dup2(shown, 1)
        os.close(shown)


def _flush_libraries() -> None:
    """Write out what C's own buffer holds, which would else appear at the end."""
    # Where the C library has no such handle, its buffer is its own affair.
    if os.name == "posix":
        ctypes.CDLL(None).fflush(None)
