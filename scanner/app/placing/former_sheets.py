"""Sheets of a former layout: what a folder holds of them goes when the next layout is written.

A map of a layout that is no longer true, beside the new ones, gets sawn by.

Files are deleted here, so each is known by three things: it lies beside a ``layout.json``, its
name is one that `place` gives to a sheet of that layout, and its content says that this program
wrote it. What fails one of them stays.
"""

from __future__ import annotations

import contextlib
import re
from typing import TYPE_CHECKING

from scanner.errors import ScannerError
from scanner.files.layout_file import read_layout
from scanner.sheets.pdf import is_own_pdf
from scanner.sheets.png import is_own_png

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

# As `sheets/board_map` names them: one PDF a sheet, a picture a page, the first without a number.
_SHEET = re.compile(r"(layout|(?P<board>.+)-map)(\.pdf|(-([2-9]|[1-9][0-9]+))?\.png)")


def former_sheets(folder: Path) -> tuple[Path, ...]:
    """Return the sheets that lie beside a folder's ``layout.json`` and were drawn of it.

    Links are nobody's sheets: `place` writes none. A folder that cannot be read holds none.
    """
    try:
        layout = read_layout(folder / "layout.json")
        boards = {placement.board for placement in layout.placements}
        return tuple(sorted(path for path in folder.iterdir() if _is_sheet(path, boards)))
    except (ScannerError, OSError):
        return ()


def take_away(former: Collection[Path], written: Collection[Path]) -> int:
    """Delete the former sheets that were not written anew; return how many went.

    A search may take a day, so what lies there now is looked at again. Files are compared, not
    names: ``b01-map.pdf`` may be the ``B01-map.pdf`` of before.
    """
    now = {_identity(path) for path in written}
    gone = 0
    for path in former:
        with contextlib.suppress(OSError):
            if _is_sheet(path) and _identity(path) not in now:
                path.unlink()
                gone += 1
    return gone


def taken_away_line(count: int) -> tuple[str, ...]:
    """Return what is said where sheets went."""
    if not count:
        return ()
    sheets = "1 sheet" if count == 1 else f"{count} sheets"
    return (f"taken away: {sheets} of the layout that was there before",)


def _is_sheet(path: Path, boards: Collection[str] | None = None) -> bool:
    """Return whether a file is a sheet that this program wrote, of one of these boards if given."""
    named = _SHEET.fullmatch(path.name)
    if named is None or path.is_symlink() or not path.is_file():
        return False
    board = named["board"]
    if board is not None and boards is not None and board not in boards:
        return False
    content = path.read_bytes()
    if path.suffix == ".png":
        return is_own_png(content)
    return is_own_pdf(content, "Layout" if board is None else f"Board map {board}")


def _identity(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_dev, found.st_ino
