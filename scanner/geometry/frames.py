"""The frames that the program speaks of, and the move from a flat picture to its face.

photo      px, x right, y down, centre of the first pixel = (0, 0), after the EXIF turn
reference  mm, x along the rule from its zero mark, y across, z up from the floor (right-handed)
face       mm, x along the board, y across, as in the board frame; z out of the face
board      mm, x from end A to end B, y down, z into the board, looking at face 1
"""

import numpy as np
from numpy.typing import NDArray


def face_from_picture(
    points_px: NDArray[np.float64], origin_mm: tuple[float, float], mm_per_px: float
) -> NDArray[np.float64]:
    """Return points on the face, mm, of picture pixels (column, row)."""
    points = np.asarray(points_px, dtype=np.float64)
    return np.add(points * mm_per_px, np.asarray(origin_mm, dtype=np.float64))
