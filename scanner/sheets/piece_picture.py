"""The photograph of one piece, cut out of its board's flat picture as the piece will be shown."""

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from scanner.board.assembly import Member
from scanner.board.board import Board
from scanner.sheets.drawing import Rgb

# Wood of which there is no picture.
PLAIN: Rgb = (226, 208, 178)


def piece_picture(
    member: Member, board: Board, picture: Image.Image | None, mm_per_px: float
) -> Image.Image:
    """Return the finished piece, its length to the right, at a scale of one's own.

    Parameters
    ----------
    picture
        The flat picture of the board's face that shows; None gives plain colour.
    mm_per_px
        Scale of the answer.
    """
    length, width = member.size_mm
    size = (max(1, round(length / mm_per_px)), max(1, round(width / mm_per_px)))
    face = board.faces[member.face]
    if picture is None or face.mm_per_px is None or face.picture_origin is None:
        return Image.new("RGB", size, PLAIN)
    a, b, c, d, e, f = member.board_from_piece()
    per, (x0, y0) = face.mm_per_px, face.picture_origin
    # Pillow asks for the picture's place of each answer's place, both with pixel edges on whole
    # numbers; it looks up the middles of pixels itself.
    sx, sy = length / size[0], width / size[1]
    to_picture = (
        a * sx / per, b * sy / per, (c - x0) / per + 0.5,
        d * sx / per, e * sy / per, (f - y0) / per + 0.5,
    )  # fmt: skip
    shrink = max(1.0, sx / per)
    if shrink <= 1.5:
        return picture.convert("RGB").transform(
            size, Image.Transform.AFFINE, to_picture, Image.Resampling.BILINEAR, fillcolor=PLAIN
        )
    # Taken fine and then made smaller, or thin dark lines come and go.
    fine = piece_picture(member, board, picture, per)
    return fine.resize(size, Image.Resampling.LANCZOS)


def piece_pixels(
    member: Member, board: Board, picture: Image.Image, mm_per_px: float
) -> NDArray[np.uint8]:
    """Return the same as pixels (H, W, 3)."""
    return np.asarray(piece_picture(member, board, picture, mm_per_px), dtype=np.uint8)
