"""The drawings of curved parts in a lot: found beside a list, or given, and laid to parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.errors import FileError, PartsListError
from scanner.files.parts_list import read_parts_text, with_shape
from scanner.files.rows import TABLE_ENCODING, read_text
from scanner.files.shape_file import Points, read_shape, shape_in

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from scanner.placement.parts import Part, PartsList
    from scanner.storage.parts_kept import Drawings

Drawing = tuple[str, Points]
# A lot is no archive of drawings.
MOST_DRAWINGS = 200


def drawings_beside(parts_file: Path, units: str = "mm") -> dict[str, Points]:
    """Return the drawings that a parts list names and that lie beside it, by the names it uses."""
    text = read_text(parts_file, fallback_encoding=TABLE_ENCODING)
    parts = read_parts_text(text, parts_file.name, units)
    named = {part.shape for part in parts if part.shape}
    found: dict[str, Points] = {}
    for name in sorted(named):
        try:
            found[name] = read_shape(parts_file.parent / name)
        except FileError:
            # Whoever keeps the list says which drawing it lacks.
            continue
    return found


def drawings_in(files: Mapping[str, str]) -> dict[str, Points]:
    """Return the outlines in drawings, texts by file name.

    Raises
    ------
    PartsListError
        One of them holds no outline with a grain line.
    """
    if len(files) > MOST_DRAWINGS:
        raise PartsListError(f"these are {len(files)} drawings", f"give {MOST_DRAWINGS} at most")
    return {_bare(name): shape_in(text, _bare(name)) for name, text in files.items()}


def drawing_of(part: Part, drawings: Drawings) -> Points | None:
    """Return the outline a part names, or None; a browser tells no folder, so its name counts."""
    if part.shape is None:
        return None
    return drawings.get(part.shape) or drawings.get(_bare(part.shape))


def with_drawings(
    parts: PartsList, drawings: Drawings, where: str, *, is_whole: bool = True
) -> PartsList:
    """Return a parts list whose curved parts have the outlines that they name.

    Parameters
    ----------
    is_whole
        Whether a drawing that is not there is a mistake; else its part stays a rectangle.

    Raises
    ------
    PartsListError
        A drawing is not there, or of another size than its part.
    """
    return tuple(_with_drawing(part, drawings, where, is_whole) for part in parts)


def _with_drawing(part: Part, drawings: Drawings, where: str, is_whole: bool) -> Part:
    outline = drawing_of(part, drawings)
    if outline is not None:
        return with_shape(part, outline, where)
    if part.shape is not None and is_whole:
        raise PartsListError(
            f'{where} ("{part.name}"): its drawing {part.shape} is not there',
            "give the drawing too, or empty the cell",
        )
    return part


def _bare(name: str) -> str:
    """Return a file's name without the folders before it."""
    return name.replace("\\", "/").rpartition("/")[2]
