"""Find the reference (coded strip or plain rule), fit the camera; every length with its U."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.board import RuleKind
    from scanner.board.measured import Measured
    from scanner.vision.picture import Photo
    from scanner.vision.setup import Setup


@dataclass(frozen=True, eq=False)
class ScaleFit:
    """The cameras of one face's photos and what they know of the face.

    Rule frame: mm on the board's face, x along the strip or rule from its zero mark, y down as in
    a picture seen from above.
    """

    kind: RuleKind
    doubts: tuple[str, ...]
    largest_share: str
    corners: tuple[tuple[float, float], ...]
    tilt_deg: float
    u_scale: float
    u_point_mm: float

    def photo_from_face(self, index: int, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return photo px (N, 2) of face points (N, 2)."""
        raise NotImplementedError

    def face_from_photo(self, index: int, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return face points (N, 2) of photo px (N, 2)."""
        raise NotImplementedError

    def sees(self, index: int, points_mm: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which face points (N, 2) lie inside a photo."""
        raise NotImplementedError

    def u_between(
        self,
        p_mm: NDArray[np.float64],
        q_mm: NDArray[np.float64],
        *,
        sd_p_px: float = 0.7,
        sd_q_px: float = 0.7,
    ) -> float:
        """Return U (95 %), mm, of the distance of two face points; never below 0.5."""
        raise NotImplementedError

    def mm_per_px(self, index: int, point_mm: NDArray[np.float64]) -> float:
        """Return how many mm of the face one photo px covers at a face point."""
        raise NotImplementedError

    def rule_area(self, index: int) -> Polygon:
        """Return the strip or rule in a photo, px."""
        raise NotImplementedError

    def rule_area_mm(self) -> Polygon:
        """Return the strip or rule as it appears in the rule frame at face height, mm."""
        raise NotImplementedError


def fit_scale(
    photos: tuple[Photo, ...], setup: Setup, progress: Callable[[float], None] | None = None
) -> ScaleFit:
    """Return the scale of one face from all its photos (shared lens, own poses)."""
    raise NotImplementedError


def with_taped_length(
    fit: ScaleFit, end_a_mm: NDArray[np.float64], end_b_mm: NDArray[np.float64], taped: Measured
) -> ScaleFit:
    """Return the fit with the board's taped length between two face points, mm, rule frame."""
    raise NotImplementedError
