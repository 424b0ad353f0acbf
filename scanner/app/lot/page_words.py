"""What was typed into the page's fields, read as the commands read their options."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.app.scanning.scan_request import ScanRequest, TypedOptions, scan_request
from scanner.errors import ScannerError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

# The command's words by the names of the page's fields; longer ones first.
_FIELDS = {
    "--strip-taped": "strip as taped",
    "--thickness": "thickness",
    "--batten": "batten",
    "--taped": "length as taped",
    "--twist": "twist",
    "--rule": "length of the rule",
    "--bow": "bow",
    "--cup": "cup",
    "mend the length and run it again": "mend it and scan again",
}


def read_typed(
    board_id: str, face_1: Path, face_2: Path | None, typed: TypedOptions
) -> ScanRequest:
    """Return the request; what cannot be read is named by the page's field.

    Raises
    ------
    ScannerError
        A text cannot be read, or fields exclude each other.
    """
    try:
        return scan_request(board_id, face_1, face_2, typed)
    except ScannerError as problem:
        raise renamed(problem, _FIELDS) from problem


def renamed(problem: ScannerError, names: Mapping[str, str]) -> ScannerError:
    """Return a problem that speaks of files and fields by the names the user knows."""
    told = type(problem)(named(problem.what, names), named(problem.mend, names))
    told.picture = problem.picture
    return told


def named(text: str, names: Mapping[str, str]) -> str:
    """Return a text with the user's names in the place of the program's."""
    for own, name in names.items():
        text = text.replace(own, name)
    return text
