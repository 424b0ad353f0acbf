"""Sheets of a former layout: what a folder holds of them goes when the next layout is written.

A map of a layout that is no longer true, beside the new ones, gets sawn by.
"""

from __future__ import annotations

import contextlib
import re
from typing import TYPE_CHECKING

from scanner.errors import ScannerError
from scanner.files.layout_file import read_layout

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path


def former_sheets(folder: Path) -> tuple[Path, ...]:
    """Return the sheets that lie beside a folder's ``layout.json`` and were drawn of it.

    Only files by the names that `place` itself gives, of boards that this layout uses: nobody
    else's file is one.
    """
    try:
        layout = read_layout(folder / "layout.json")
    except ScannerError:
        return ()
    names = ["layout", *(re.escape(f"{p.board}-map") for p in layout.placements)]
    drawn = re.compile(rf"({'|'.join(sorted(set(names)))})(-[1-9]\d*)?\.(pdf|png)")
    return tuple(
        sorted(path for path in folder.iterdir() if drawn.fullmatch(path.name) and path.is_file())
    )


def take_away(former: Collection[Path], written: Collection[Path]) -> int:
    """Delete the former sheets that were not written anew; return how many went."""
    now = {path.resolve() for path in written}
    gone = 0
    for path in former:
        if path.resolve() not in now:
            with contextlib.suppress(OSError):
                path.unlink()
                gone += 1
    return gone


def taken_away_line(count: int) -> tuple[str, ...]:
    """Return what is said where sheets went."""
    if not count:
        return ()
    sheets = "1 sheet" if count == 1 else f"{count} sheets"
    return (f"taken away: {sheets} of the layout that was there before",)
