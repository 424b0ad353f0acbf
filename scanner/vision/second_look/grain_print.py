"""What of a face's grain outlives the planer: the pattern by which a piece is known again."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.grain import masked_blur, without_saw_marks

Singles = NDArray[np.float32]

# Ring lines and knots are some millimetres wide; what is finer is pores, dirt and teeth.
PRINT_MM_PER_PX = 1.0
_FINE_MM = 0.8
# What is wider than this is lamp, dust and weather, which the planer takes away.
_BROAD_MM = 12.0
_LOCAL_MM = 22.0
# What goes on like this along the board is the same at every place of it: only what changes
# sooner (wiggles, knots, the ends of streaks) tells where along the board a piece lay.
_ALONG_MM = 25.0
# An outline traced, and the dark line along an arris, are no grain.
_RIM_MM = 2.5
# Beyond this a knot would outvote all the grain round it.
_MOST_SD = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class GrainPrint:
    """The grain of a face at ``mm_per_px``, (H, W) each.

    ``lines`` is the pattern, about one sd, zero mean; ``along`` what of it changes along the
    board; ``wood`` 1 where the face is shown, else 0. Off the wood all are 0.
    """

    lines: Singles
    along: Singles
    wood: Singles
    mm_per_px: float = PRINT_MM_PER_PX

    def turned(self) -> "GrainPrint":
        """Return the print of the same face turned end for end."""
        return self._with(lambda part: part[::-1, ::-1])

    def mirrored(self) -> "GrainPrint":
        """Return the print as seen through the board."""
        return self._with(lambda part: part[::-1])

    def coarser(self, factor: int) -> "GrainPrint":
        """Return the print with pixels ``factor`` times as large."""
        size = (
            max(1, self.wood.shape[1] // factor),
            max(1, self.wood.shape[0] // factor),
        )
        small = self._with(
            lambda part: np.asarray(
                cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.float32
            )
        )
        return replace(small, mm_per_px=self.mm_per_px * factor)

    def _with(self, change: Callable[[Singles], Singles]) -> "GrainPrint":
        return GrainPrint(
            lines=np.ascontiguousarray(change(self.lines)),
            along=np.ascontiguousarray(change(self.along)),
            wood=np.ascontiguousarray(change(self.wood)),
            mm_per_px=self.mm_per_px,
        )


def grain_print(
    pixels: NDArray[np.uint8],
    wood: NDArray[np.bool_],
    mm_per_px: float,
    hidden: NDArray[np.bool_] | None = None,
) -> GrainPrint:
    """Return the grain print of a flat picture.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 RGB, the grain along x.
    wood
        (H, W), the flat face.
    mm_per_px
        Of the picture; the print has ``PRINT_MM_PER_PX``.
    hidden
        (H, W), wood that shows something else than itself (chalk).
    """
    shown = wood if hidden is None else wood & ~hidden
    shrink = mm_per_px / PRINT_MM_PER_PX
    size = (max(1, round(wood.shape[1] * shrink)), max(1, round(wood.shape[0] * shrink)))
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    share = cv2.resize(shown.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    inner = _inner(np.asarray(share > 0.99))
    # The eye and the lamp work in shares of light, not in differences.
    light = np.where(inner > 0, np.log(np.maximum(small, 4.0)), 0).astype(np.float32)
    calm = without_saw_marks(light, inner, PRINT_MM_PER_PX)
    broad, fine = _BROAD_MM / PRINT_MM_PER_PX, _FINE_MM / PRINT_MM_PER_PX
    band = calm - masked_blur(calm, inner, 3 * broad, broad)
    band = masked_blur(band.astype(np.float32), inner, 2 * fine, fine)
    local = _LOCAL_MM / PRINT_MM_PER_PX
    power = masked_blur(band * band, inner, 3 * local, local)
    floor = 0.25 * float((band * band * inner).sum() / max(float(inner.sum()), 1.0))
    pattern = band / np.sqrt(power + floor + 1e-8)
    lines = (np.clip(pattern, -_MOST_SD, _MOST_SD) * inner).astype(np.float32)
    steady = masked_blur(lines, inner, _ALONG_MM / PRINT_MM_PER_PX, 0.7)
    along = ((lines - steady) * inner).astype(np.float32)
    return GrainPrint(lines, along, inner)


def _inner(wood: NDArray[np.bool_]) -> Singles:
    """Return where there is wood and its rim is not near."""
    rim = max(1, round(_RIM_MM / PRINT_MM_PER_PX))
    padded = cv2.copyMakeBorder(
        wood.astype(np.uint8), rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=0
    )
    eroded = cv2.erode(padded, np.ones((2 * rim + 1, 2 * rim + 1), np.uint8))
    return np.asarray(eroded[rim:-rim, rim:-rim], dtype=np.float32)
