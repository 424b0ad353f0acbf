"""What SQLite, the system and a broken document report is said in a sentence, with what to do."""

import errno
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import pytest
from shapely.geometry import Polygon

from scanner.board.flaw import FlawKind
from scanner.errors import LotError
from scanner.storage.refusals import told_plainly
from scanner.storage.rows import parse
from scanner.storage.values import DocumentError, from_document, to_document

LOT = Path("shop") / "ash.lot"


def by_sqlite(code):
    error = sqlite3.OperationalError("as SQLite says it")
    error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize(
    ("problem", "said"),
    [
        (
            by_sqlite(sqlite3.SQLITE_NOTADB),
            "ash.lot is no lot file: choose a lot that was made here",
        ),
        (by_sqlite(sqlite3.SQLITE_CORRUPT), "a page of the file cannot be read"),
        (by_sqlite(sqlite3.SQLITE_FULL), "is full, so the last action was not kept"),
        (by_sqlite(sqlite3.SQLITE_BUSY), "being written by another program"),
        # An extended code: its low byte is the kind.
        (by_sqlite(sqlite3.SQLITE_LOCKED | 1 << 8), "being written by another program"),
        (by_sqlite(sqlite3.SQLITE_READONLY), "may not be opened or written here"),
        (by_sqlite(sqlite3.SQLITE_IOERR), "could not be read or written"),
        (by_sqlite(sqlite3.SQLITE_ERROR), "is damaged .as SQLite says it."),
        (sqlite3.DatabaseError("no code"), "is damaged"),
        (OSError(errno.ENOSPC, "no space"), "is full"),
        (OSError(errno.EDQUOT, "over quota"), "is full"),
        (FileNotFoundError(errno.ENOENT, "none", "shop/photo.jpg"), "photo.jpg is not there"),
        (FileNotFoundError(), "ash.lot is not there"),
        (PermissionError(errno.EACCES, "no"), "may not be opened or written here"),
        (OSError(errno.EIO, "broken"), "cannot be used .broken."),
        (DocumentError("torn"), "is damaged .torn."),
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "no"), "its text cannot be read"),
    ],
)
def test_a_problem_of_disk_or_file_is_told_by_the_lot_s_name(problem, said):
    with pytest.raises(LotError, match=said), told_plainly(LOT):
        raise problem


@dataclass
class Kept:
    """Something of each kind that a document may hold."""

    widths: Mapping[int, float] = field(default_factory=dict)
    names: tuple[str, ...] = ()
    size: tuple[float, float] = (0.0, 0.0)
    outline: Polygon = field(default_factory=Polygon)
    kind: FlawKind | None = None
    way: Literal["in", "out"] | int = 1


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ({"widths": [1]}, "a mapping was expected"),
        ({"widths": {"wide": 1}}, "'wide' is no number"),
        ({"names": "rail"}, "a row was expected"),
        ({"size": [1]}, "2 entries were expected, not 1"),
        ({"outline": [[["a", "b"]]]}, "an outline cannot be read"),
        ({"outline": 4}, "an outline cannot be read"),
        ({"kind": "dent"}, "fits none of"),
        ({"way": "round"}, "fits none of"),
        ({"depth": 1}, "Kept has no depth"),
        ("rail", "Kept was expected"),
    ],
)
def test_a_document_says_what_of_it_does_not_fit(document, said):
    with pytest.raises(DocumentError, match=said):
        from_document(Kept, document)


def test_a_document_that_fits_is_read():
    document = {"widths": {"1": 2}, "outline": [], "kind": "knot", "way": "in"}
    kept = from_document(Kept, document)
    assert (kept.widths, kept.kind, kept.way) == ({1: 2.0}, FlawKind.KNOT, "in")
    assert kept.outline.is_empty


def test_torn_text_is_no_document_and_an_object_of_ours_has_no_form():
    with pytest.raises(DocumentError):
        parse('{"half')
    with pytest.raises(ValueError, match="object has no document form"):
        to_document(object())
