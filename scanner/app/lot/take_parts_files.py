"""The errand "take parts from files": a list, the drawings of its curved parts, or both at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.lot.open_lot import new_stamp, parts_of, set_parts
from scanner.app.lot.part_drawings import drawing_of, drawings_in, with_drawings
from scanner.errors import PartsListError
from scanner.files.parts_list import read_parts_text
from scanner.files.rows import TABLE_ENCODING, text_of
from scanner.files.shape_file import is_shape
from scanner.units import size_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from scanner.files.shape_file import Points
    from scanner.storage.lots import Lot

_ROUND_MM = 4.0


@dataclass(frozen=True, slots=True)
class DrawingView:
    """A drawing in the lot: its size in words, the parts that name it, a picture (SVG)."""

    name: str
    size: str
    parts: tuple[str, ...]
    picture: str


def text_of_upload(content: bytes, name: str) -> str:
    """Return the text of a table or drawing that came from a browser, as the commands read it.

    Raises
    ------
    FileError
        It is no text.
    """
    return text_of(content, name, fallback_encoding=TABLE_ENCODING)


def take_parts_files(lot: Lot, files: Mapping[str, str]) -> None:
    """Keep what files hold, texts by their names: one parts list at most, and drawings.

    Raises
    ------
    PartsListError
        A file cannot be read, or a drawing and its part have different sizes; nothing is kept.
    """
    drawn = {name: text for name, text in files.items() if is_shape(text, name)}
    lists = [name for name in files if name not in drawn]
    if len(lists) > 1:
        raise PartsListError(f"{' and '.join(lists)} are two lists", "give one of them")
    drawings = drawings_in(drawn)
    if lists:
        set_parts(lot, files[lists[0]], lists[0], drawings)
        return
    every = {**lot.drawings(), **drawings}
    kept = lot.parts_text()
    if kept is not None:
        parts = read_parts_text(kept.text, kept.name, lot.shop().units)
        # Another drawing of a name that a part has must still be of that part's size.
        try:
            with_drawings(parts, every, kept.name, is_whole=False)
        except PartsListError as problem:
            raise PartsListError(
                problem.what,
                "change the row, or give the drawing another name and write that in the row",
            ) from None
    lot.set_drawings(every, new_stamp(lot, "page"), f"took {', '.join(drawings)}")


def take_out_drawing(lot: Lot, name: str) -> None:
    """Let a drawing go that no part names.

    Raises
    ------
    PartsListError
        A part names it.
    """
    view = next((one for one in drawing_views(lot) if one.name == name), None)
    if view is not None and view.parts:
        raise PartsListError(f"{', '.join(view.parts)} names {name}", "empty its cell first")
    left = {known: outline for known, outline in lot.drawings().items() if known != name}
    lot.set_drawings(left, new_stamp(lot, "page"), f"took out {name}")


def drawing_views(lot: Lot) -> tuple[DrawingView, ...]:
    """Return the drawings in the lot, as the page shows them."""
    drawings, parts, units = lot.drawings(), parts_of(lot), lot.shop().units
    return tuple(
        DrawingView(
            name=name,
            size=size_text(*_size_mm(outline), units),
            parts=tuple(part.name for part in parts if drawing_of(part, drawings) == outline),
            picture=_picture(outline),
        )
        for name, outline in drawings.items()
    )


def _size_mm(outline: Points) -> tuple[float, float]:
    return max(x for x, _ in outline), max(y for _, y in outline)


def _picture(outline: Points) -> str:
    """Return an outline as SVG, its grain along the picture."""
    length, width = _size_mm(outline)
    edge = max(length, width) / 120
    box = f"{-_ROUND_MM} {-_ROUND_MM} {length + 2 * _ROUND_MM:.1f} {width + 2 * _ROUND_MM:.1f}"
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in outline)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">'
        f'<polygon points="{points}" fill="#e8d9bd" stroke="#4a3a28" stroke-width="{edge:.2f}"/>'
        "</svg>"
    )
