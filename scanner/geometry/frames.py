"""Photo, reference and face frames and the moves between them.

photo      px, x right, y down, centre of the first pixel = (0, 0), after the EXIF turn
reference  mm, x along the rule from its zero mark, y across, z up from the floor (right-handed)
face       mm, x along the board, y across, as in the board frame; z out of the face
board      mm, x from end A to end B, y down, z into the board, looking at face 1
"""

import numpy as np
from numpy.typing import NDArray


def face_2_from_own_view(
    points_mm: NDArray[np.float64], length_mm: float, width_mm: float, turned: str
) -> NDArray[np.float64]:
    """Return points of face 2, as a person sees that face, in a frame seen through the board.

    Parameters
    ----------
    points_mm
        Shape (N, 2), x along and y across face 2 as it lies in its own photo.
    length_mm, width_mm
        The extent of face 2 in its own view; mirrored coordinates stay positive.
    turned
        ``sideways`` (about the length: y is mirrored) or ``end_over_end`` (x is mirrored).
    """
    seen_through = np.array(points_mm, dtype=np.float64, copy=True)
    if turned == "sideways":
        seen_through[:, 1] = width_mm - seen_through[:, 1]
    elif turned == "end_over_end":
        seen_through[:, 0] = length_mm - seen_through[:, 0]
    else:
        raise ValueError(f"turned must be sideways or end_over_end, got {turned!r}")
    return seen_through


def picture_from_face(
    points_mm: NDArray[np.float64], origin_mm: tuple[float, float], mm_per_px: float
) -> NDArray[np.float64]:
    """Return picture pixels (column, row) of points on the face."""
    points = np.asarray(points_mm, dtype=np.float64)
    return np.subtract(points, np.asarray(origin_mm, dtype=np.float64)) / mm_per_px


def face_from_picture(
    points_px: NDArray[np.float64], origin_mm: tuple[float, float], mm_per_px: float
) -> NDArray[np.float64]:
    """Return points on the face, mm, of picture pixels (column, row)."""
    points = np.asarray(points_px, dtype=np.float64)
    return np.add(points * mm_per_px, np.asarray(origin_mm, dtype=np.float64))
