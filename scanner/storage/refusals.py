"""Say in one sentence why the lot file or its photos cannot be read or written."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from scanner.errors import LotError
from scanner.storage.values import DocumentError


@contextmanager
def told_plainly(lot: Path) -> Iterator[None]:
    """Turn what SQLite and the system report into a `LotError` for the user."""
    try:
        yield
    except sqlite3.Error as error:
        raise _from_sqlite(lot, error) from error
    except OSError as error:
        raise _from_system(lot, error) from error
    except DocumentError as error:
        raise damaged(lot, str(error)) from error
    except UnicodeDecodeError as error:
        # Names in a broken file turn up in what SQLite says of it, and cannot be decoded.
        raise damaged(lot, "its text cannot be read") from error


def not_a_lot(lot: Path) -> LotError:
    """Return the refusal of a file that is something else."""
    is_named_so = lot.suffix.lower() == ".lot"
    mend = "choose a lot that was made here" if is_named_so else "choose a file that ends in .lot"
    return LotError(f"{lot.name} is no lot file", mend)


def damaged(lot: Path, detail: str) -> LotError:
    """Return the refusal of a lot file whose contents are broken."""
    return LotError(
        f"{lot.name} is damaged ({detail})",
        "open your last copy of it, or scan the boards into a new lot",
    )


def too_new(lot: Path) -> LotError:
    """Return the refusal of a lot file of a later release."""
    return LotError(
        f"{lot.name} was written by a newer bothfaces", "install the newer release to open it"
    )


def disk_full(lot: Path) -> LotError:
    """Return what to say when nothing more can be written."""
    return LotError(
        f"The disk with {lot.name} is full, so the last action was not kept",
        "make room and do it once more",
    )


def _from_sqlite(lot: Path, error: sqlite3.Error) -> LotError:
    # The low byte is the main kind of the result code (SQLite, "Result and Error Codes").
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    match code:
        case sqlite3.SQLITE_NOTADB:
            return not_a_lot(lot)
        case sqlite3.SQLITE_CORRUPT:
            return damaged(lot, "a page of the file cannot be read")
        case sqlite3.SQLITE_FULL:
            return disk_full(lot)
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return LotError(
                f"{lot.name} is being written by another program",
                "close the other one and try again",
            )
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_PERM | sqlite3.SQLITE_CANTOPEN:
            return _no_permission(lot)
        case sqlite3.SQLITE_IOERR:
            # The disk failed, which says nothing of the lot.
            return LotError(
                f"{lot.name} could not be read or written ({error})",
                "look at the disk and do it once more",
            )
    return damaged(lot, str(error))


def _from_system(lot: Path, error: OSError) -> LotError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return disk_full(lot)
    if isinstance(error, FileNotFoundError):
        missing = Path(error.filename).name if error.filename else lot.name
        return LotError(f"{missing} is not there", "look where the lot and its photos lie")
    if isinstance(error, PermissionError):
        return _no_permission(lot)
    return LotError(f"{lot.name} cannot be used ({error.strerror})", "look at the disk")


def _no_permission(lot: Path) -> LotError:
    return LotError(
        f"{lot.name} may not be opened or written here",
        "choose a folder of your own, or ask for the right to write in this one",
    )
