"""Find the coded strip: its markers, their corners to a tenth of a pixel, and none that is wood.

Markers by S. Garrido-Jurado and others, "Automatic generation and detection of highly reliable
fiducial markers under occlusion", Pattern Recognition 47 (2014), as OpenCV finds them; corners
where lines fitted to the four sides meet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError
from scanner.geometry.strip_layout import REFERENCES, STRIPS, Piece, position_of
from scanner.vision.cv import Bytes, Floats, grey_of, markers_in, shrunk
from scanner.vision.fit.assemble import FEWEST_MARKERS, SeenMarkers
from scanner.vision.fit.references import NAMES
from scanner.vision.rule.marker_bleed import measure_bleed
from scanner.vision.rule.marker_corners import refine_corners
from scanner.vision.rule.marker_order import are_whole, in_order, sides_px
from scanner.vision.rule.piece_order import are_of_one_strip, doubts_of_order
from scanner.vision.rule.read_markers import Look, ReadMarkers, look_once, read_markers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.photos.picture import Photo

# Edge width (10 to 90 % of an edge) above which no corner is believed: motion or focus.
LOST_EDGE_PX = 8.0
# So many markers seen twice are no grain that reads as one.
_DOUBLED = 4


def _refuse_doubled(name: str, ids: NDArray[np.int_], corners: Floats) -> None:
    centres, sides = corners.mean(axis=1), sides_px(corners)
    doubled = []
    for marker in np.unique(ids):
        rows = np.flatnonzero(ids == marker)
        if len(rows) > 1 and position_of(int(marker)) is not None:
            apart = np.linalg.norm(centres[rows[0]] - centres[rows[1]])
            if apart > 3 * sides[rows].max():
                doubled.append(int(marker))
    if len(doubled) < _DOUBLED:
        return
    if are_of_one_strip(corners[np.isin(ids, doubled)]):
        raise PhotoError(
            f"The strip in {name} has pieces of the same name at two places (marker {doubled[0]} "
            "is seen twice): a page was printed twice, and both were glued in",
            "glue its pieces in the order of their names, each once",
        )
    raise PhotoError(
        f"{name} shows two strips with the same numbers (marker {doubled[0]} lies at two places)",
        "lay only one strip beside the board, or print the second one with --second",
    )


def find_strip(
    photo: Photo,
    grey: Bytes | None = None,
    *,
    at_a_glance: bool = False,
    first: Look | None = None,
) -> SeenMarkers | None:
    """Return the markers of strip and arms in a photo, or None where there is no strip.

    ``at_a_glance`` looks less long where nothing reads as a marker, and begins with what `first`
    showed (`strip_at_once`) where that is known.

    Raises
    ------
    PhotoError
        Two strips with the same numbers, a mirrored picture, or a strip too blurred to measure.
    """
    picture = grey_of(photo.pixels) if grey is None else grey
    read = read_markers(picture, at_a_glance=at_a_glance, first=first)
    keep = _on_strips(photo.name, read)
    if keep is None and not read.is_all:
        # Grain that reads as markers may have led to a wrong line.
        read = read_markers(picture, everywhere=True)
        keep = _on_strips(photo.name, read)
    if keep is None:
        _refuse_mirrored(photo.name, picture, one_look=at_a_glance)
        return None
    ids, corners = read.ids[keep], read.corners[keep]
    refined, sd, widths = refine_corners(picture, corners)
    moved = np.linalg.norm(refined - corners, axis=2).max(axis=1)
    well = np.isfinite(refined).all(axis=(1, 2)) & (
        moved < np.maximum(3.0, 0.2 * sides_px(refined))
    )
    if float(np.median(widths)) > LOST_EDGE_PX:
        raise PhotoError(
            f"{photo.name} is too blurred to measure (edges are {np.median(widths):.0f} px wide)",
            "hold the phone still, tap on the board to focus, and take the photo again",
        )
    ids, refined, sd = ids[well], refined[well], sd[well]
    whole = np.ones(len(ids), dtype=bool)
    for reference in REFERENCES:
        rows, numbers = _of_reference(ids, reference)
        whole[rows] = are_whole(numbers, refined[rows])
    ids, refined, sd = ids[whole], refined[whole], sd[whole]
    return SeenMarkers(ids, refined, sd, measure_bleed(picture, ids, refined), _doubts(read, keep))


def _doubts(read: ReadMarkers, keep: NDArray[np.bool_]) -> tuple[str, ...]:
    out: list[str] = []
    for strip in STRIPS:
        rows, numbers = _of_reference(read.ids, strip)
        if keep[rows].sum() >= FEWEST_MARKERS:
            out += doubts_of_order(NAMES[strip], numbers, read.corners[rows], keep[rows])
    return tuple(out)


def strip_at_once(grey: Bytes) -> Look | None:
    """Return what one quick look shows of a coded strip, or None; a badly lit one is overlooked."""
    look = look_once(grey)
    rows, numbers = _of_reference(look[0], "A")
    if len(rows) < FEWEST_MARKERS:
        return None
    return look if in_order(numbers, look[1][rows]).sum() >= FEWEST_MARKERS else None


def _on_strips(name: str, read: ReadMarkers) -> NDArray[np.bool_] | None:
    """Return which markers lie in order on a reference, or None where they make no strip."""
    _refuse_doubled(name, read.ids, read.corners)
    keep = np.zeros(len(read.ids), dtype=bool)
    on_main = 0
    for reference in REFERENCES:
        rows, numbers = _of_reference(read.ids, reference)
        if len(rows) >= _fewest(reference):
            keep[rows[in_order(numbers, read.corners[rows])]] = True
            on_main += int(keep[rows].sum()) if reference in STRIPS else 0
    return keep if on_main >= FEWEST_MARKERS else None


def _of_reference(
    ids: NDArray[np.int_], reference: Piece
) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Return which rows are markers of a reference, and their numbers along it."""
    places = [position_of(int(marker)) for marker in ids]
    rows = [row for row, place in enumerate(places) if place and place.reference == reference]
    numbers = [place.number for place in places if place and place.reference == reference]
    return np.array(rows, dtype=np.int_), np.array(numbers, dtype=np.int_)


def _fewest(reference: Piece) -> int:
    return 2 if reference in ("arm", "arm2") else FEWEST_MARKERS


def _refuse_mirrored(name: str, grey: Bytes, *, one_look: bool) -> None:
    factor = 2 if max(grey.shape) > 2000 else 1
    small = shrunk(grey, factor) if factor > 1 else grey
    ids, corners = markers_in(np.ascontiguousarray(small[:, ::-1]), one_look=one_look)
    numbers = np.array([int(i) for i in ids if int(i) < 100])
    rows = np.array([row for row, i in enumerate(ids) if int(i) < 100], dtype=np.int_)
    if len(rows) >= FEWEST_MARKERS and in_order(numbers, corners[rows]).sum() >= FEWEST_MARKERS:
        raise PhotoError(
            f"{name} is mirrored", "switch mirroring off in the camera and take it again"
        )
