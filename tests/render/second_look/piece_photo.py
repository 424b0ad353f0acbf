"""A photograph of a planed piece beside the strip: a small board whose wood is another board's."""

from unittest.mock import patch

import numpy as np

from tests.render import photo as photos
from tests.render.noise import F32
from tests.render.photo import Rendered
from tests.render.second_look.planed import PieceCut
from tests.render.shape import Shape
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.stage import Stage, surfaces_of
from tests.render.truth import board_truth


def piece_spec(board: BoardSpec, cut: PieceCut) -> BoardSpec:
    """Return the piece as a board of its own: straight, flat, no wane, both faces planed."""
    return BoardSpec(
        seed=board.seed + 500_000,
        species=board.species,
        length_mm=cut.length,
        width_mm=cut.width,
        thickness_mm=board.thickness_mm - 2 * cut.deep_mm,
        taper=0.0,
        crook=0.0,
        end_a_deg=0.0,
        end_b_deg=0.0,
        pith_y=board.pith_y,
        pith_z=board.pith_z,
        ring_mm=board.ring_mm,
        sap_mm=board.sap_mm,
        log_mm=board.log_mm,
        saw=board.saw,
        weather=0.0,
        dirt=0.0,
        coated_ends="",
    )


class _PlanedSurfaces:
    """The wood of the parent board at the piece's places, without marks of saw and weather."""

    def __init__(self, board: BoardSpec, cut: PieceCut) -> None:
        self._board, self._cut = board, cut
        self._truth = board_truth(Shape(board))
        self._wood = surfaces_of(board).wood
        self._marks = surfaces_of(board).marks

    def shade(
        self, x: F32, y: F32, z: F32, side: int, footprint: F32 | float
    ) -> tuple[F32, F32, F32]:
        """Return albedo (N, 3) and no relief of points of the piece (its own model frame)."""
        cut = self._cut
        along = cut.length - x if cut.is_turned else x
        across = -y if cut.is_turned != (cut.face == 2) else y
        deep = cut.deep_mm + z
        if cut.face == 2:
            deep = self._board.thickness_mm - deep
        points = np.column_stack([cut.x + along, cut.y + cut.width / 2 + across])
        model = self._truth.model_from_board(points)
        there = [np.ascontiguousarray(p, dtype=np.float32) for p in (*model.T, deep)]
        colour = self._wood.albedo(*there)
        colour = self._marks.paint(colour, *there, footprint)
        level = np.zeros(x.shape, dtype=np.float32)
        return np.clip(colour, 0.004, 0.95), level, level


def render_piece_photo(board: BoardSpec, cut: PieceCut, photo: PhotoSpec) -> Rendered:
    """Return a photograph of the piece, its seen face up; ``photo`` was drawn for `piece_spec`."""
    planed = _PlanedSurfaces(board, cut)

    class PieceStage(Stage):
        def __init__(self, piece: BoardSpec, shot: PhotoSpec) -> None:
            super().__init__(piece, shot)
            self.surfaces = planed  # type: ignore[assignment]

    with patch.object(photos, "Stage", PieceStage):
        return photos.render_photo(piece_spec(board, cut), photo)
