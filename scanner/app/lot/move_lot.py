"""The errands "export" and "import": a lot with its photos as one ZIP."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
import unicodedata
from pathlib import Path
from typing import IO, TYPE_CHECKING

from scanner.app.lot.given_boards import LOT_ENDING
from scanner.app.lot.open_lot import begin_lot, open_lot
from scanner.errors import FileError, ScannerError
from scanner.files.write import refuse_given, refuse_unwritable
from scanner.storage.pack import pack_lot, unpack_lot

if TYPE_CHECKING:
    from scanner.storage.lots import Lot


def export_lot(lot: Lot, target: Path) -> None:
    """Write a lot with its photos into one ZIP, beside first and renamed when whole.

    Raises
    ------
    LotError
        The ZIP cannot be written.
    """
    half = target.with_name(f"{target.name}.half")
    try:
        pack_lot(lot, half)
        half.replace(target)
    finally:
        half.unlink(missing_ok=True)


def export_file(lot_file: Path, target: Path) -> None:
    """Pack the lot of a file (see `export_lot`); a file that is missing is not made.

    Raises
    ------
    FileError
        There is no such lot, or the ZIP would be written over a lot or a folder.
    """
    if not lot_file.is_file():
        raise FileError(f"there is no lot {lot_file}", "look at its name and folder")
    refuse_given(target, lot_file, ending=".zip")
    if target.suffix.lower() == LOT_ENDING:
        raise FileError(f"{target} has the name of a lot", "choose a name that ends in .zip")
    if not target.parent.is_dir():
        raise FileError(f"there is no folder {target.parent}", "make it, or choose another with -o")
    lot = open_lot(lot_file)
    try:
        export_lot(lot, target)
    finally:
        lot.close()


def import_lot(packed: Path, folder: Path, name: str) -> Path:
    """Make a lot of a packed one and return its file.

    Raises
    ------
    LotError
        The name is taken or no name for a lot, or the ZIP is none of ours.
    """
    target = begin_lot(folder, name)
    refuse_unwritable(folder)
    is_new = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        unpack_lot(packed, target)
    except ScannerError:
        if is_new:
            # Only if nothing lies in it.
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise
    return target


def name_of_packed(file_name: str) -> str:
    """Return the name for the lot in a ZIP: a browser calls a second download ``ash (1).zip``."""
    # Some systems write an accent as a sign of its own, which is no letter.
    stem = unicodedata.normalize("NFC", Path(file_name).stem)
    plain = (letter if letter.isalnum() or letter in "-_" else " " for letter in stem)
    return " ".join("".join(plain).split())


def bring_in(folder: Path, name: str, upload: IO[bytes]) -> Path:
    """Make a lot of an uploaded ZIP (see `import_lot`); ``name`` is the upload's own."""
    with tempfile.TemporaryDirectory(prefix="bothfaces-") as place:
        packed = Path(place) / "upload.zip"
        with packed.open("wb") as file:
            shutil.copyfileobj(upload, file)
        return import_lot(packed, folder, name)
